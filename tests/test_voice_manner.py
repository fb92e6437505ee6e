"""How the assistant speaks: tested before the case, at one loudness, given up when it hangs."""

import threading
import time
from collections.abc import Callable

import numpy as np
import pytest

from voicecount.errors import ModelError, VoicecountError, VoiceError
from voicecount.sound.frame import Samples
from voicecount.sound.level import measure
from voicecount.speak.ahead import AheadVoice
from voicecount.speak.choose import FallbackVoice, choose_voice
from voicecount.speak.embedded import EmbeddedVoice
from voicecount.speak.manner import LEVEL_DB, AtLoudness, Manner, WithinTime
from voicecount.speak.port import Clip, Voice
from voicecount.speak.self_test import SENTENCE, check_voice

RATE = 16_000


class Sounding:
    """A voice that gives the same sound for every text."""

    def __init__(self, sound: Callable[[], Samples], name: str = "sounding") -> None:
        self._sound = sound
        self._name = name
        self.said: list[str] = []

    @property
    def name(self) -> str:
        return self._name

    def speak(self, text: str) -> Clip:
        self.said.append(text)
        return Clip(self._sound(), RATE)


def hum(level: float, seconds: float = 3.0) -> Samples:
    """A tone whose peaks are at a share of full scale."""
    time = np.arange(round(seconds * RATE)) / RATE
    return (level * np.sin(2 * np.pi * 200 * time)).astype(np.float32)


def test_a_good_voice_passes() -> None:
    """A voice that says the sentence in a sensible time may be relied on."""
    assert check_voice(Sounding(lambda: hum(0.3))) == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("sound", "why"),
    [
        (lambda: hum(0.0), "silence"),
        (lambda: hum(0.001), "silence"),
        (lambda: np.clip(hum(9.0), -1.0, 1.0), "cut off"),
        (lambda: hum(0.0003) + (np.arange(48_000) == 9).astype(np.float32), "silence"),
        (lambda: hum(0.3, 0.2), "seconds a word"),
        (lambda: hum(0.3, 30.0), "seconds a word"),
        (lambda: hum(0.3) * np.float32("nan"), "damaged"),
        (lambda: np.zeros(0, np.float32), "silence"),
    ],
)
def test_a_voice_that_cannot_be_relied_on_is_told(sound: Callable[[], Samples], why: str) -> None:
    """Silence, sound that is cut off, damaged, or far too short or long: one line each."""
    with pytest.raises(VoiceError, match=why) as caught:
        check_voice(Sounding(sound))
    assert "\n" not in str(caught.value)
    assert "--voice" in str(caught.value)


@pytest.mark.parametrize("level", [0.01, 0.1, 0.9])
@pytest.mark.parametrize("loudness", [-12.0, 0.0])
def test_every_clip_is_as_loud(level: float, loudness: float) -> None:
    """Soft or loud as the voice may be, its loud parts come out at one level."""
    clip = AtLoudness(Sounding(lambda: hum(level)), loudness).speak("ten")

    assert measure(clip.samples).loud == pytest.approx(LEVEL_DB + loudness, abs=0.2)


def test_no_loudness_cuts_a_clip_off() -> None:
    """What would be cut off at full scale is louder only as far as it is not."""
    sound = hum(0.02)
    sound[5000] = 0.5
    clip = AtLoudness(Sounding(lambda: sound), 10.0).speak("ten")

    assert float(np.abs(clip.samples).max()) == pytest.approx(0.98)
    with pytest.raises(VoiceError, match="silence"):
        AtLoudness(Sounding(lambda: hum(0.0001)), 10.0).speak("ten")


def test_when_the_other_voice_cannot_be_had_each_text_is_told() -> None:
    """Both voices are gone: one line each time, nothing is tried anew, and the case goes on."""
    tried: list[str] = []

    def none() -> Voice:
        tried.append("once")
        raise ModelError("no weights; install them")

    silent = AtLoudness(Sounding(lambda: hum(0.0)))
    voice = FallbackVoice(silent, none, lambda _: None)
    for why in ("nor can the other voice speak", "gave silence"):
        with pytest.raises(VoiceError, match=why):
            voice.speak("ten")
    assert tried == ["once"]


def test_the_self_test_hears_the_voice_as_it_is() -> None:
    """Noise that would be raised to the level of speech, and sound that is cut off, do not pass."""
    for sound in (lambda: hum(0.0001), lambda: np.clip(hum(20.0), -1.0, 1.0)):
        with pytest.raises(VoicecountError, match=r"silence|cut off"):
            choose("embedded", embedded=lambda sound=sound: Sounding(sound))


class Hanging(Sounding):
    """Answers once, then hangs until the test is over."""

    def __init__(self) -> None:
        super().__init__(lambda: hum(0.3), "hanging")
        self.over = threading.Event()

    def speak(self, text: str) -> Clip:
        clip = super().speak(text)
        if len(self.said) > 1:
            self.over.wait(30)
        return clip


def test_a_voice_that_hangs_is_given_up_and_the_other_says_so() -> None:
    """The limit passes once; the other voice says once that it took over, and then what is due.

    Also where the first one hung over words that were made ahead.
    """
    first, second, announced = Hanging(), Sounding(lambda: hum(0.3), "second"), list[str]()
    voice = FallbackVoice(
        WithinTime(first, 0.05, 0.0), lambda: second, announced.append, said="Another voice."
    )
    ahead = AheadVoice(voice, voice.words)
    ahead.speak("one")
    ahead.prepare("two")
    while not announced:
        time.sleep(0.01)
    for text in ("three", "two", "three"):
        ahead.speak(text)
    first.over.set()

    assert first.said == ["one", "two"]
    assert second.said == ["two", "three", "Another voice. three"]
    assert len(announced) == 1
    assert "gave no sound" in announced[0]


def test_a_voice_that_hung_is_not_asked_again() -> None:
    """A thread that hangs cannot be ended, so no second one is begun behind it."""
    hanging = Hanging()
    voice = WithinTime(hanging, 0.05, 0.0)
    voice.speak("one")
    for why in ("gave no sound", "does not answer any more"):
        with pytest.raises(VoiceError, match=why):
            voice.speak("two")
    hanging.over.set()

    assert hanging.said == ["one", "two"]
    assert voice.name == "hanging"


def test_an_error_of_an_engine_is_a_voice_that_fails() -> None:
    """Whatever an engine raises, the other voice can take over: it is one line that says so."""

    class Broken(Sounding):
        def speak(self, text: str) -> Clip:
            raise ZeroDivisionError(text)

    with pytest.raises(VoiceError, match=r"failed \(ZeroDivisionError"):
        WithinTime(Broken(lambda: hum(0.3))).speak("ten")
    second = Sounding(lambda: hum(0.3))
    voice = FallbackVoice(WithinTime(Broken(lambda: hum(0.3))), lambda: second, lambda _: None)
    voice.speak("ten")
    assert second.said == ["ten"]


def choose(kind: str | None, **makers: Callable[[], Voice]) -> tuple[Voice | None, list[str]]:
    """Choose a voice for a live room."""
    announced: list[str] = []
    voice = choose_voice(
        kind, announce=announced.append, makers=makers, manner=Manner(), said="Another voice."
    )
    return voice, announced


def test_a_voice_that_fails_its_test_is_replaced_before_the_case() -> None:
    """The default voice gives silence: the other one speaks, and one line says why."""
    silent, good = Sounding(lambda: hum(0.0)), Sounding(lambda: hum(0.3), "good")
    both = {"embedded": lambda: silent, "system": lambda: good}
    first = next(iter(both))
    voice, announced = choose(None, **both)

    assert voice is not None
    if voice.name == "good":  # where the embedded voice is the default
        assert first == "embedded"
        assert len(announced) == 1
        assert "silence" in announced[0]
    voice.speak("ten")
    assert good.said[-1] == "ten"


def test_a_voice_asked_for_by_name_that_fails_its_test_is_an_error() -> None:
    """Nobody gets another voice than the one named."""
    with pytest.raises(VoicecountError, match="silence"):
        choose("embedded", embedded=lambda: Sounding(lambda: hum(0.0)))


@pytest.mark.audio
def test_the_embedded_voice_keeps_its_pauses_at_any_pace() -> None:
    """Faster or slower, the words take as much less or more time, and pass the test."""
    lengths = {rate: check_voice(EmbeddedVoice.load(rate=rate)) for rate in (0.8, 1.0, 1.3)}

    assert lengths[0.8] > 1.1 * lengths[1.0] > 1.2 * lengths[1.3]
    assert check_voice(WithinTime(EmbeddedVoice.load())) == lengths[1.0]
    assert "ten" in SENTENCE
