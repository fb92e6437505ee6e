"""Noise during a case: told once when it is there, once when it is gone, and never guessed at."""

import numpy as np
import pytest
from numpy.typing import NDArray

from voicecount.count.sound_events import NoiseChanged
from voicecount.sound.findings import Noise, NoiseState
from voicecount.sound.frame import RATE
from voicecount.sound.noise_watch import NoiseLimits, NoiseWatch

FRAME = 512


class Room:
    """A watch with a voice at -25 dB on both channels, and a room whose noise a test sets."""

    def __init__(self, speech: tuple[float | None, ...] = (-25.0, -25.0)) -> None:
        self.watch = NoiseWatch(speech)
        self.channels = len(speech)
        self.rng = np.random.default_rng(7)
        self.told: list[tuple[float, NoiseState]] = []
        self.time = 0.0

    def hear(self, seconds: float, *levels: float, speech: bool = False) -> list[Noise]:
        """Let time pass with noise of these levels; the states that were told in it."""
        gains = 10 ** (np.array(levels) / 20)
        before = len(self.told)
        for _ in range(int(seconds * RATE / FRAME)):
            sound = self.rng.normal(size=(FRAME, self.channels)) * gains
            self.feed(sound.astype(np.float32), speech=speech)
        return [state.state for _, state in self.told[before:]]

    def feed(self, sound: NDArray[np.float32], *, speech: bool = False) -> None:
        self.time += len(sound) / RATE
        state = self.watch.feed(sound, speech=speech)
        if state is not None:
            self.told.append((self.time, state))


def test_a_quiet_room_is_not_talked_about() -> None:
    """With the voices far above the noise nothing is told, however long it lasts."""
    room = Room()

    assert room.hear(60, -60, -60) == []
    assert room.watch.state is Noise.FINE


@pytest.mark.parametrize(("level", "state"), [(-38.0, Noise.LOUD), (-33.0, Noise.TOO_LOUD)])
def test_noise_is_told_with_its_numbers(level: float, state: Noise) -> None:
    """Noise on one channel is told once, within seconds, with the level that was put in."""
    room = Room()
    room.hear(10, -60, -60)
    assert room.hear(20, -60, level)[-1:] == [state]
    when, found = room.told[-1]

    assert when < 16
    assert found.channel == 1
    assert found.floor == pytest.approx(level, abs=1)
    assert found.above == pytest.approx(-25 - level, abs=1)
    assert room.hear(60, -60, level) == []


def test_it_comes_back_only_well_below_the_limit() -> None:
    """At 14 dB loud, at 17 dB still loud, at 19 dB fine again (limit 15, 3 better to leave)."""
    room = Room()
    room.hear(5, -60, -60)

    assert room.hear(15, -39, -60) == [Noise.LOUD]
    assert room.hear(30, -42, -60) == []
    assert room.hear(15, -44, -60) == [Noise.FINE]


def test_too_loud_goes_back_by_one_step() -> None:
    """From too loud to loud above 13 dB, to fine above 18 dB."""
    room = Room()
    room.hear(5, -60, -60)
    room.hear(15, -30, -60)

    assert room.watch.state is Noise.TOO_LOUD
    assert room.hear(15, -37, -60) == []
    assert room.hear(15, -39, -60) == [Noise.LOUD]
    assert room.hear(15, -60, -60) == [Noise.FINE]


def test_noise_that_wavers_around_a_limit_is_told_once() -> None:
    """Going up and down by 2 dB around the limit is no news."""
    room = Room()
    room.hear(5, -60, -60)
    told = [
        state for _ in range(20) for state in (*room.hear(4, -39, -60), *room.hear(4, -41, -60))
    ]

    assert told == [Noise.LOUD]


def test_a_clatter_is_no_noise() -> None:
    """A second of anything is over before it is told of."""
    room = Room()
    room.hear(10, -60, -60)

    assert room.hear(1, -15, -15) + room.hear(20, -60, -60) == []


def test_voices_are_no_noise() -> None:
    """What is marked as speech is left out while there are pauses."""
    room = Room()
    room.hear(3, -60, -60)
    told = [
        state
        for _ in range(20)
        for state in (*room.hear(4, -25, -50, speech=True), *room.hear(1, -60, -60))
    ]

    assert told == []


def test_a_frame_half_of_speech_is_speech() -> None:
    """A stretch in which speech began or ended counts as speech, also across frames."""
    room = Room()
    room.hear(3, -60, -60)
    for _ in range(100):
        room.feed(np.full((800, 2), 0.5, np.float32), speech=True)
        room.feed(np.full((800, 2), 0.5, np.float32), speech=False)

    assert room.told == []


def test_speech_without_end_is_noise() -> None:
    """Babble that passes for speech all the time is told of all the same."""
    room = Room()
    room.hear(5, -60, -60)

    assert room.hear(30, -32, -32, speech=True)[-1:] == [Noise.TOO_LOUD]


def test_a_person_who_speaks_long_with_gaps_is_no_noise() -> None:
    """Words with the gaps that words have are no noise, even with no pause marked for a minute."""
    room = Room()
    room.hear(5, -60, -60)
    told = []
    for _ in range(60):
        told += room.hear(0.7, -25, -45, speech=True) + room.hear(0.3, -60, -60, speech=True)

    assert told == []


def test_nothing_is_judged_in_the_first_moment() -> None:
    """Before a second was heard there is no measure, and no state but the first."""
    room = Room()

    assert room.hear(0.9, -20, -20) == []
    assert room.watch.current is None


def test_a_channel_without_a_voice_is_not_watched() -> None:
    """Noise on a channel that is nobody's changes nothing; without any voice there is no watch."""
    room = Room((-25.0, None))

    assert room.hear(20, -60, -10) == []
    with pytest.raises(ValueError, match="no channel"):
        NoiseWatch([None])


def test_limits_can_be_others() -> None:
    """The limits are given, not built in."""
    watch = NoiseWatch([-25.0], NoiseLimits(loud=30.0, too_loud=25.0))
    noise = np.random.default_rng(1).normal(size=(20 * RATE, 1)) * 10 ** (-52 / 20)
    told = watch.feed(noise.astype(np.float32), speech=False)

    assert told is not None
    assert told.state is Noise.LOUD


def test_the_event_keeps_state_and_numbers() -> None:
    """What changed can be read back from the record as it was written."""
    event = NoiseChanged.of(NoiseState(Noise.LOUD, -38.04, 13.06, 1), at=12.0)
    again = NoiseChanged.model_validate_json(event.model_dump_json())

    assert again == event
    assert event.model_dump(mode="json") == {
        "at": 12.0,
        "by": None,
        "kind": "noise_changed",
        "state": "loud",
        "channel": 1,
        "floor": -38.0,
        "above_noise": 13.1,
    }
