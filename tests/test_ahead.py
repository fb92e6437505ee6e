"""Speech made ahead: what will be said is foreseen, and its sound is there when it is due."""

import threading

import numpy as np
import pytest

from voicecount.errors import VoiceError
from voicecount.speak.ahead import KEPT, AheadVoice
from voicecount.speak.port import Clip
from voicecount.testing.voice import FakeVoice


class Slow:
    """Makes nothing until it is let go."""

    def __init__(self) -> None:
        self.go = threading.Event()
        self.begun = threading.Event()
        self.made: list[str] = []

    @property
    def name(self) -> str:
        return "slow"

    def speak(self, text: str) -> Clip:
        self.begun.set()
        assert self.go.wait(10)
        self.made.append(text)
        return Clip(np.full(len(text), 0.1, np.float32), 1000)


def test_what_was_prepared_is_not_made_again() -> None:
    """A text that was foreseen is spoken from the clip that was made meanwhile."""
    voice = Slow()
    ahead = AheadVoice(voice)
    ahead.prepare("Gauze, ten.")
    assert voice.begun.wait(10)
    voice.go.set()
    clip = ahead.speak("Gauze, ten.")

    assert voice.made == ["Gauze, ten."]
    assert len(clip.samples) == len("Gauze, ten.")
    assert ahead.speak("Gauze, ten.") is clip
    assert ahead.name == "slow"


def test_only_the_latest_of_what_waits_is_made() -> None:
    """While one text is made, a later one takes the place of one that waits."""
    voice = Slow()
    ahead = AheadVoice(voice)
    ahead.prepare("one")
    assert voice.begun.wait(10)
    for text in ("two", "one", "", "three"):
        ahead.prepare(text)
    voice.go.set()
    ahead.speak("one")
    ahead.speak("four")

    assert "two" not in voice.made
    assert voice.made[0] == "one"
    assert voice.made.count("one") == 1


def test_a_text_that_was_not_foreseen_is_made_when_it_is_due() -> None:
    """A wrong guess costs nothing but time."""
    voice = FakeVoice()
    ahead = AheadVoice(voice)
    ahead.prepare("two")
    clip = ahead.speak("one two three")

    assert len(clip.samples) == 750
    assert voice.said[-1] == "one two three"


def test_a_voice_that_fails_is_told_when_it_is_due() -> None:
    """A failure ahead of time is silent; the one at its time is raised, each time."""
    ahead = AheadVoice(FakeVoice(failing={"no"}))
    ahead.prepare("no")
    for _ in range(2):
        with pytest.raises(VoiceError):
            ahead.speak("no")
    assert len(ahead.speak("yes").samples) == 250


def test_no_more_clips_are_kept_than_needed() -> None:
    """A long case does not fill the memory: the clips used longest ago are forgotten."""
    voice = FakeVoice()
    ahead = AheadVoice(voice)
    for number in range(KEPT + 1):
        ahead.speak(f"text {number}")
    ahead.speak(f"text {KEPT}")
    ahead.speak("text 0")

    assert len(voice.said) == KEPT + 2
