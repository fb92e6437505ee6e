"""The accounts of the hours-long benchmark: they balance, and they show what is planted."""

from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from benchmarks.soak import Account, FastClock, Machine
from benchmarks.soak_sound import Said, SoakCapture, Sound
from voicecount.count.events import LineStored
from voicecount.count.line_events import Entry
from voicecount.count.roles import Role
from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.sound.device import DeviceSource
from voicecount.sound.frame import RATE
from voicecount.words.meaning import Form


class Hiss:
    """A room in which there is only noise."""

    def sound(self) -> Iterator[Sound]:
        random = np.random.default_rng(1)
        while True:
            yield random.normal(0, 0.001, (RATE, 2)).astype(np.float32)


def listened(capture: SoakCapture, seconds: float) -> DeviceSource:
    """Read a device for so long, as fast as it goes."""
    clock = FastClock()
    clock.capture = capture
    source = DeviceSource(capture.opener, 2, clock)
    while capture.seconds < seconds:
        source.read(1.0)
    source.close()
    return source


def unaccounted(capture: SoakCapture, source: DeviceSource) -> float:
    return capture.seconds - source.account.delivered - source.account.missing


@pytest.fixture
def capture() -> SoakCapture:
    hiss: Any = Hiss()
    made = SoakCapture(hiss, 1.0, 3)
    made._next_away, made._next_loss = 20 * RATE, 8 * RATE
    return made


def test_what_a_device_loses_is_what_its_reader_misses(capture: SoakCapture) -> None:
    """A loss and an absence are found by the reader to within the wait that the device may have."""
    source = listened(capture, 40.0)

    assert capture.lost > 0.1 * RATE
    assert capture.away > 2.0 * RATE
    assert capture.given / RATE == pytest.approx(source.account.delivered, abs=0.5)
    assert abs(unaccounted(capture, source)) < 0.5
    assert source.account.missing > 2.0


def test_sound_that_vanishes_in_silence_is_not_hidden(capture: SoakCapture) -> None:
    """Where a reader's account leaves out two seconds of sound, the figures show them."""
    source = listened(capture, 40.0)
    source.account.delivered -= 2.0

    assert unaccounted(capture, source) > 1.5


def account() -> Account:
    """An account of a room in which talk was followed by a call of the team."""
    said = [
        Said(10.0, 12.0, 0, "two grams of that", scripted=False, inside=True),
        Said(20.0, 22.0, 0, "Skin blades, one, two.", scripted=True, inside=True),
    ]
    sound: Any = SimpleNamespace(said=said, talk_seconds={False: 1.0, True: 1.0})
    return Account(sound)


def heard(start: float, outcome: Outcome) -> Heard:
    reason = None if outcome is Outcome.ACCEPTED else Reason.CLOSE_CALL
    return Heard(0, start, start + 2.0, outcome, None, "two", reason=reason)


def stored(start: float, counted: int) -> LineStored:
    return LineStored(
        at=start + 3.5,
        by=Role.SCRUB,
        item="skin_blade",
        numbers=(counted,),
        pieces=None,
        start=start,
        end=start + 2.0,
        line=1,
        counted=counted,
        total=counted,
        expected=2,
        form=Form.RUN,
        entry=Entry.FIRST,
    )


def test_talk_that_is_taken_is_told() -> None:
    """An acceptance over talk is listed, and the line that it became as well."""
    kept = account()
    kept.heard(heard(10.0, Outcome.ACCEPTED), Role.SCRUB)
    kept.stored(stored(10.0, 2))
    kept.heard(heard(10.0, Outcome.UNSURE), Role.SCRUB)

    assert len(kept.taken) == 1
    assert "inside a count" in kept.taken[0]
    assert len(kept.stored_of_talk) == 1
    assert kept.asked == {"inside a count": 1}


def test_a_line_of_the_team_is_no_false_acceptance_but_may_be_wrong() -> None:
    """What was called is told from talk by its time; another number than its own is listed."""
    kept = account()
    kept.heard(heard(20.0, Outcome.ACCEPTED), Role.SCRUB)
    kept.stored(stored(20.0, 2))
    kept.stored(stored(20.0, 3))
    kept.stored(stored(20.0, 2).model_copy(update={"item": "kelly"}))

    assert (kept.taken, kept.stored_of_talk) == ([], [])
    assert len(kept.wrong) == 2


def test_growth_is_measured_from_when_it_is_warm() -> None:
    """The first half hour is left out; after it, a tenth more is a tenth more."""
    machine = Machine([(0.0, 500.0, 1, 9), (1800.0, 1000.0, 2, 9), (7200.0, 1100.0, 2, 9)])

    assert machine.growth == pytest.approx(0.1)
    assert Machine([(0.0, 500.0, 1, 9)]).growth is None
