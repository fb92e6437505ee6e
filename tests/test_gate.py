"""Half duplex: the assistant is never heard as a person, and a person meanwhile is noticed."""

import threading
from collections.abc import Iterator
from functools import cache

import numpy as np
import pytest
import soxr
from numpy.typing import NDArray

from voicecount.errors import VoiceError
from voicecount.hear.port import Outcome
from voicecount.sheet.model import Sheet
from voicecount.sound.device import DeviceSource
from voicecount.sound.frame import RATE, Frame, Samples, Utterance
from voicecount.sound.gate import Echo, Gate, Noticed
from voicecount.sound.level import rms_db
from voicecount.sound.portaudio import DeviceError
from voicecount.sound.room_sound import MARGIN_SECONDS, RoomSound, echo_gain, tail_seconds
from voicecount.sound.segment import Segmenter
from voicecount.speak.duplex import UNMEASURED_TAIL, HalfDuplex, measure
from voicecount.speak.embedded import EmbeddedVoice
from voicecount.speak.port import Clip
from voicecount.testing.capture import CardClock, FakeCard, FakeLoudspeaker
from voicecount.words.grammar import build_grammar

Sound = NDArray[np.float32]

SAID = "Gauze, ten. Vessel loop, two. Say it again."
MINUS_10 = 10 ** (-10 / 20)
REVERBERATION = 0.4
"""Seconds to fall by 60 dB: a treated room of a hospital (from memory)."""


def noise(seconds: float, level: float = -65.0) -> Samples:
    rng = np.random.default_rng(4)
    return rng.normal(0, 10 ** (level / 20), round(seconds * RATE)).astype(np.float32)


@cache
def assistant(text: str = SAID) -> Samples:
    """The assistant's own voice, at RATE, at its own level."""
    clip = EmbeddedVoice.load().speak(text)
    return np.asarray(soxr.resample(clip.samples, clip.rate, RATE), np.float32)


@cache
def person(text: str) -> Samples:
    """Somebody with a deeper and slower voice, at the level of a headset's wearer."""
    sound = soxr.resample(EmbeddedVoice.load().speak(text).samples, 20_000, RATE)
    return np.asarray(sound / np.abs(sound).max(), np.float32) * np.float32(0.5)


def in_a_room(clip: Samples, gain: float, delay: float = 0.15) -> Samples:
    """What a microphone hears of a clip: late, weaker, and with the room behind it."""
    time = np.arange(round(1.5 * REVERBERATION * RATE)) / RATE
    answer = np.random.default_rng(2).normal(0, 0.02, len(time)) * 10 ** (-3 * time / REVERBERATION)
    answer[0] = 1.0
    heard = np.convolve(clip, answer)
    heard *= gain * np.sqrt(np.mean(np.square(clip)) / np.mean(np.square(heard[: len(clip)])))
    return np.concatenate((np.zeros(round(delay * RATE)), heard)).astype(np.float32)


def mixed(seconds: float, *parts: tuple[float, Samples]) -> Samples:
    """A quiet room with sounds in it, each from its own time."""
    sound = noise(seconds)
    for at, part in parts:
        first = round(at * RATE)
        sound[first : first + len(part)] += part[: len(sound) - first]
    return sound


def frames(*channels: Samples, size: int = 512) -> Iterator[Frame]:
    sound = np.stack(channels, axis=1)
    for first in range(0, len(sound), size):
        yield Frame(first / RATE, sound[first : first + size])


def through(gate: Gate, *channels: Samples, size: int = 512) -> list[Frame]:
    return [gate.feed(frame) for frame in frames(*channels, size=size)]


def cut_up(gated: list[Frame]) -> list[Utterance]:
    segmenter = Segmenter(gated[0].samples.shape[1])
    ended = [utterance for frame in gated for utterance in segmenter.feed(frame)]
    return [*ended, *segmenter.flush()]


@pytest.mark.parametrize("size", [512, 160, 1000])
def test_a_closed_gate_gives_silence_of_the_same_length_at_the_same_time(size: int) -> None:
    """To the sample: silent from the closing to the opening, untouched before and after."""
    sound = noise(4.0, -30.0)
    gate = Gate(1)
    gate.close(1.0)
    gate.open_after(0.5, 2.0)
    gated = through(gate, sound, size=size)
    whole = np.concatenate([frame.samples[:, 0] for frame in gated])
    closed = slice(RATE, RATE * 5 // 2)

    assert [frame.start for frame in gated] == [frame.start for frame in frames(sound, size=size)]
    assert not whole[closed].any()
    assert np.array_equal(whole[: closed.start], sound[: closed.start])
    assert np.array_equal(whole[closed.stop :], sound[closed.stop :])


def test_an_open_gate_hands_frames_on_as_they_are() -> None:
    """Without a reply nothing is copied or marked, and what came lost stays so."""
    gate = Gate(1)
    for frame in [*frames(noise(0.5)), Frame(0.5, np.zeros((512, 1), np.float32), lost=True)]:
        given = gate.feed(frame)
        assert given.samples is frame.samples
        assert given.lost == frame.lost


def test_the_gate_says_whether_it_is_closed() -> None:
    """Closed from the beginning of the voice until the tail is over; open before and after."""
    gate = Gate(1)
    gate.close(1.0)
    assert [gate.closed(at) for at in (0.9, 1.0, 99.0)] == [False, True, True]
    gate.open_after(0.25, 3.0)
    assert [gate.closed(at) for at in (0.9, 1.0, 3.2, 3.25)] == [False, True, True, False]


def test_two_replies_close_one_gate() -> None:
    """A second reply within the tail of the first keeps the gate closed throughout."""
    gate = Gate(1)
    gate.close(1.0)
    gate.open_after(0.5, 2.0)
    gate.close(2.2)
    gate.open_after(0.5, 3.0)

    assert all(gate.closed(at) for at in (1.0, 2.1, 2.6, 3.4))
    assert not gate.closed(3.5)
    assert sum(frame.lost for frame in through(gate, noise(5.0))) == 1


def test_frames_that_waited_are_treated_by_their_own_time() -> None:
    """Read long after the reply, what was heard during it is still silent."""
    gate = Gate(1)
    gate.close(1.0)
    gate.open_after(0.2, 2.0)
    gate.close(3.0)
    gate.open_after(0.2, 4.0)
    levels = [rms_db(frame.samples) > -100 for frame in through(gate, noise(5.0), size=1600)]

    assert levels == [True] * 10 + [False] * 12 + [True] * 8 + [False] * 12 + [True] * 8


@pytest.mark.audio
def test_words_that_the_gate_cuts_are_marked_lost() -> None:
    """What had begun before the gate closed is asked again, never taken as whole."""
    words = person("gauze, fourteen")
    gate = Gate(1)
    gate.close(2.0 + len(words) / RATE / 2)
    gate.open_after(0.2, 6.0)
    [utterance] = cut_up(through(gate, mixed(8.0, (2.0, words))))

    assert utterance.lost


@pytest.mark.audio
def test_words_that_had_ended_before_the_reply_are_whole() -> None:
    """The usual reply, after the silence that ends an utterance, marks nothing."""
    words = person("gauze, fourteen")
    ended = 1.0 + len(words) / RATE
    gate = Gate(1)
    gate.close(ended + 0.85)
    gate.open_after(0.2, ended + 3.0)
    [utterance] = cut_up(through(gate, mixed(8.0, (1.0, words))))

    assert not utterance.lost


@pytest.mark.audio
def test_words_into_which_the_gate_opens_are_marked_lost() -> None:
    """A word whose beginning the gate swallowed is asked again; it was noticed, too."""
    words = person("sixteen, seventeen, eighteen")
    gate = Gate(1)
    gate.close(1.0)
    gate.open_after(0.2, 2.0 + len(words) / RATE / 2)
    utterances = cut_up(through(gate, mixed(8.0, (2.0, words))))

    assert utterances
    assert utterances[0].lost
    assert [noticed.goes_on for noticed in gate.take_noticed()][-1:] == [True]


@pytest.mark.audio
def test_an_answer_right_after_the_reply_is_whole() -> None:
    """0.3 s after the gate has opened a person is heard as ever, whatever the echo was."""
    voice = assistant()
    ended = 1.0 + len(voice) / RATE
    tail = 0.6
    sound = mixed(
        ended + 5.0, (1.0, in_a_room(voice, MINUS_10)), (ended + tail + 0.3, person("yes, two"))
    )
    gate = Gate(1)
    gate.close(1.0, voice)
    gate.open_after(tail, ended)
    [utterance] = cut_up(through(gate, sound))

    assert not utterance.lost
    assert utterance.start == pytest.approx(ended + tail + 0.4, abs=0.2)
    assert gate.take_noticed() == []


def listen(
    voice: Samples, gain: float, said: Samples, at: float, echo: Echo | None = None
) -> list[Noticed]:
    """Let the assistant speak from 1 s on while a person says something."""
    ended = 1.0 + len(voice) / RATE
    gate = Gate(1, echo)
    gate.close(1.0, voice)
    gate.open_after(0.6, ended)
    through(gate, mixed(ended + 3.0, (1.0, in_a_room(voice, gain)), (at, said)))
    return gate.take_noticed()


@pytest.mark.audio
@pytest.mark.parametrize("gain", [MINUS_10, 0.1, 0.01])
def test_the_assistant_alone_is_nobody(gain: float) -> None:
    """Its own voice in the microphone, at -10 dB and less, is not noticed as a person."""
    assert listen(assistant(), gain, np.zeros(1, np.float32), 2.0) == []


@pytest.mark.audio
def test_without_the_clip_the_assistant_would_be_taken_for_a_person() -> None:
    """The check can fail: a gate that does not know what is played notices the voice itself."""
    gate = Gate(1)
    gate.close(1.0)
    through(gate, mixed(8.0, (1.0, in_a_room(assistant(), MINUS_10))))

    assert gate.take_noticed()


@pytest.mark.audio
@pytest.mark.parametrize("text", ["stop", "no, it was five", "wait"])
def test_a_person_who_speaks_into_the_reply_is_noticed(text: str) -> None:
    """Their words are found with their time, though the assistant speaks at the same time."""
    said = person(text)
    gain = 10 ** (-25 / 20)
    [noticed, *more] = listen(assistant(), gain, said, 2.5, Echo((-25.0,)))
    utterance = noticed.utterance

    assert all(other.utterance.start < 2.6 + len(said) / RATE for other in more)
    assert utterance.channel == 0
    assert utterance.start == pytest.approx(2.6, abs=0.2)
    assert utterance.offset < utterance.start < utterance.end
    assert not noticed.goes_on
    assert len(utterance.samples) / RATE >= utterance.end - utterance.offset


@pytest.mark.audio
def test_the_one_who_speaks_is_told_by_the_channel() -> None:
    """Of two microphones the nearer one names the person, though the other hears them, too."""
    voice, said = assistant(), person("wait, wait")
    ended = 1.0 + len(voice) / RATE
    echo = in_a_room(voice, 0.05)
    gate = Gate(2, Echo((-26.0, -26.0)))
    gate.close(1.0, voice)
    gate.open_after(0.6, ended)
    near = mixed(ended + 3.0, (1.0, echo), (2.5, said))
    far = mixed(ended + 3.0, (1.0, echo), (2.5, said * np.float32(0.2)))
    through(gate, far, near)

    assert {noticed.utterance.channel for noticed in gate.take_noticed()} == {1}


@pytest.mark.audio
def test_what_was_noticed_is_given_once() -> None:
    """A second call gives nothing that was given before."""
    gate = Gate(1)
    gate.close(0.5)
    through(gate, mixed(4.0, (1.0, person("wait"))))

    assert len(gate.take_noticed()) == 1
    assert gate.take_noticed() == []


SHEET = {
    "title": "A few lines",
    "items": [
        {"id": "gauze", "group": "sponges", "say": ["gauze"], "expect": 10, "pack": 10},
        {"id": "loop", "group": "miscellaneous", "say": ["vessel loop"], "expect": 2},
    ],
}
REPLIES = ["Gauze, ten.", "Vessel loop, two.", "I heard ten gauze.", "Gauze. Ten. Yes.", "Yes."]


@pytest.mark.audio
def test_the_voice_of_the_assistant_is_never_recognised() -> None:
    """Played into the microphone at -10 dB it gives no utterance, so nothing can be recognised.

    Without the gate the recogniser accepts it as a person's count: the check can fail.
    """
    from voicecount.hear.embedded.adapter import EmbeddedRecogniser  # noqa: PLC0415 - 2 s to load

    recogniser = EmbeddedRecogniser.load()
    grammar = build_grammar(Sheet.model_validate(SHEET))
    accepted = 0
    for text in REPLIES:
        voice = assistant(text)
        ended = 1.0 + len(voice) / RATE
        sound = mixed(ended + 3.0, (1.0, in_a_room(voice, MINUS_10)))
        after = np.ascontiguousarray(sound[round(ended * RATE) :])
        gate = Gate(1)
        gate.close(1.0, voice)
        gate.open_after(tail_seconds(after, RATE), ended)

        assert cut_up(through(gate, sound)) == []
        heard = [recogniser.hear(utterance, grammar) for utterance in cut_up(list(frames(sound)))]
        accepted += sum(one.outcome is Outcome.ACCEPTED for one in heard)
    assert accepted >= 1


@pytest.mark.parametrize("reverberation", [0.3, 0.6, 1.2])
@pytest.mark.parametrize("rate", [16_000, 48_000])
def test_the_tail_of_a_room_is_its_decay(reverberation: float, rate: int) -> None:
    """A sound that falls by 60 dB in the reverberation time (ISO 3382) from -20 dB under full scale

    has fallen to -60 dB after two thirds of it.
    """
    time = np.arange(3 * rate) / rate
    decay = 10 ** (-20 / 20) * 10 ** (-3 * time / reverberation)
    sound = decay * np.random.default_rng(6).normal(0, 1, len(time))
    expected = reverberation * (60 - 20) / 60 + MARGIN_SECONDS

    assert tail_seconds(sound.astype(np.float32), rate) == pytest.approx(expected, abs=0.04)


def test_the_tail_ends_in_the_noise_of_the_room() -> None:
    """In a louder room the echo is over where it cannot be told from the noise."""
    time = np.arange(3 * RATE) / RATE
    rng = np.random.default_rng(6)
    decay = 0.1 * 10 ** (-3 * time / 0.6) * rng.normal(0, 1, len(time))
    loud = (decay + 0.01 * rng.normal(0, 1, len(time))).astype(np.float32)

    assert 0.15 < tail_seconds(loud, RATE) - MARGIN_SECONDS < 0.3


def test_the_slower_channel_gives_the_tail() -> None:
    """Of two microphones the one that hears the room longer decides."""
    time = np.arange(3 * RATE) / RATE
    decays = [0.1 * 10 ** (-3 * time / seconds) for seconds in (0.3, 0.9)]
    sound = np.stack(decays, axis=1) * np.random.default_rng(6).normal(0, 1, (len(time), 1))
    both = sound.astype(np.float32)

    assert tail_seconds(both, RATE) == tail_seconds(both[:, 1], RATE)


def test_a_clang_long_after_is_no_tail() -> None:
    """Once the room was quiet, what comes later is something else."""
    sound = noise(3.0, -80.0)
    sound[RATE : RATE + 3000] = 0.1

    assert tail_seconds(sound, RATE) == MARGIN_SECONDS


def test_a_room_that_does_not_fall_quiet_is_an_error() -> None:
    """Somebody who speaks through the measurement is told so, in one line."""
    sound = noise(2.0, -20.0)
    sound[-RATE * 3 // 10 :] *= np.float32(1e-4)
    with pytest.raises(DeviceError, match="does not fall quiet"):
        tail_seconds(sound, RATE)
    with pytest.raises(DeviceError, match="does not fall quiet"):
        tail_seconds(noise(2.0, -20.0), RATE, noise(1.0, -70.0))
    assert tail_seconds(noise(2.0, -20.0), RATE, noise(1.0, -20.0)) == MARGIN_SECONDS
    with pytest.raises(DeviceError, match="too short"):
        tail_seconds(noise(0.3), RATE)


@pytest.mark.parametrize("decibels", [-30.0, -10.0, 3.0])
def test_the_gain_of_a_room_is_measured(decibels: float) -> None:
    """A clip that comes back late and weaker gives that many dB."""
    clip = np.repeat([0.0, 1.0, 0.1, 1.0, 0.0], RATE // 2) * noise(2.5, -20.0)
    back = np.concatenate((np.zeros(RATE // 5), clip * 10 ** (decibels / 20)))

    assert echo_gain(clip.astype(np.float32), back.astype(np.float32)) == pytest.approx(
        decibels, abs=1.0
    )


def test_nothing_recorded_is_no_gain() -> None:
    """Without sound there is nothing to compare."""
    assert echo_gain(noise(1.0), np.zeros(0, np.float32)) <= -100


class Live:
    """A fake room: a card that hears the loudspeaker and one person, and the pair of both."""

    def __init__(self, sound: Samples, **room: float) -> None:
        self.clock = CardClock()
        self.card = FakeCard(self.clock, sound, RATE)
        self.speaker = FakeLoudspeaker(self.clock, self.card, **room)
        self.source = DeviceSource(self.card.opener, 1, self.clock)

    def duplex(self, **options: object) -> HalfDuplex:
        return HalfDuplex(self.source, self.speaker, **options)  # type: ignore[arg-type]


def take(given: Iterator[Frame], until: float) -> list[Frame]:
    taken = [next(given)]
    while taken[-1].start + len(taken[-1].samples) / RATE < until:
        taken.append(next(given))
    return taken


BEEP = Clip(
    np.full(24_000, 0.5, np.float32) * np.tile([1.0, -1.0], 12_000).astype(np.float32), 24_000
)


def test_what_is_played_never_comes_in() -> None:
    """Frames go on without a gap through a reply; none of it is in them, to the last sample."""
    hiss = noise(30.0, -80.0)
    live = Live(hiss.copy(), gain=0.3, delay=0.3)
    duplex = live.duplex()
    given = duplex.frames()
    before = take(given, 2.0)
    duplex.play(Clip(noise(1.5, -10.0), RATE))
    duplex.play(Clip(noise(0.5, -10.0), RATE))
    after = take(given, 9.0)
    sound = np.concatenate([frame.samples[:, 0] for frame in before + after])

    assert len(live.speaker.played) == 2
    assert np.abs(live.card.sound).max() > 0.1
    assert np.abs(sound).max() < 0.01
    assert len(sound) / RATE == pytest.approx(before[0].start + 9.0, abs=0.1)
    (begun, _), (_, ended) = live.speaker.played
    silent = np.flatnonzero(sound == 0.0) / RATE
    assert silent[0] <= begun
    assert silent[-1] >= ended + UNMEASURED_TAIL - 0.05
    assert duplex.heard_from == pytest.approx(silent[-1], abs=0.05)
    assert silent[-1] <= ended + UNMEASURED_TAIL + 0.3


def test_a_first_reply_before_anything_was_read_is_gated() -> None:
    """The opening words are spoken before the stream is read: they are not heard, either."""
    live = Live(noise(30.0, -80.0))
    duplex = live.duplex()
    duplex.play(Clip(noise(1.0, -10.0), RATE))
    sound = np.concatenate([frame.samples for frame in take(duplex.frames(), 5.0)])

    assert np.abs(sound).max() < 0.01


@pytest.mark.audio
def test_a_spoken_stop_cuts_the_voice_off() -> None:
    """Who is heard into the reply is asked about at once; a stop ends it, and is not asked again.

    What else was said stays noticed.
    """
    long = Clip(np.tile(assistant(), 3), RATE)
    room = RoomSound(0.4, Echo((-26.0,)))
    cuts = []
    for answer in (True, False):
        live = Live(mixed(40.0, (4.0, person("stop"))), gain=0.05)
        asked: list[Utterance] = []
        answers = iter([answer])

        def stops(
            said: Utterance, asked: list[Utterance] = asked, answers: Iterator[bool] = answers
        ) -> bool:
            asked.append(said)
            return next(answers)

        duplex = live.duplex(room=room, stops=stops)
        taken = take(duplex.frames(), 2.0)
        assert taken
        duplex.play(long)
        [(begun, ended)] = live.speaker.played
        cuts.append((duplex.cut, ended - begun < long.seconds - 1.0, len(duplex.take_noticed())))
        assert len(asked) == 1
        assert asked[0].start == pytest.approx(4.1, abs=0.2)
    assert cuts == [(True, True, 0), (False, False, 1)]


def test_a_loudspeaker_that_fails_opens_the_gate() -> None:
    """The error comes back in the thread that asked, and people are heard again."""

    class Broken(FakeLoudspeaker):
        def play(self, clip: Clip) -> None:
            assert threading.current_thread() is not threading.main_thread()
            raise VoiceError(f"no device for {clip.seconds} s; connect one")

    live = Live(noise(30.0, -30.0))
    live.speaker = Broken(live.clock, live.card)
    duplex = live.duplex()
    given = duplex.frames()
    take(given, 1.0)
    with pytest.raises(VoiceError, match="connect one"):
        duplex.play(BEEP)
    assert np.abs(take(given, 5.0)[-1].samples).max() > 0.0


def test_a_reply_while_the_microphone_is_gone_comes_to_its_end() -> None:
    """A microphone that vanishes does not hold the voice up."""
    live = Live(noise(30.0))
    live.card.unplug(1.0, 20.0)
    duplex = live.duplex()
    duplex.play(Clip(noise(3.0, -10.0), RATE))

    assert live.speaker.played[0][1] == pytest.approx(3.0, abs=0.5)


def test_a_room_is_measured_by_one_playback() -> None:
    """Tail and gain are those of the fake room: 0.2 s late, 20 dB weaker."""
    live = Live(noise(30.0, -80.0), gain=0.1, delay=0.2)
    room = measure(live.source, live.speaker, Clip(noise(2.0, -10.0), RATE))

    assert room.tail == pytest.approx(0.2 + MARGIN_SECONDS, abs=0.1)
    assert room.echo.gain(0) == pytest.approx(-20.0, abs=2.0)


def test_a_room_without_a_microphone_cannot_be_measured() -> None:
    """A device that gives nothing, or goes away meanwhile, is one line, never a wait for ever."""
    for gone in (0.0, 1.5, 3.9):
        live = Live(noise(60.0, -80.0))
        live.card.unplug(gone + 0.001, 60.0)
        with pytest.raises(DeviceError, match="gave no sound or lost some"):
            measure(live.source, live.speaker, Clip(noise(2.0, -10.0), RATE))
