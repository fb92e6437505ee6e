"""Two clocks that drift apart: a click heard by both stays together, by steps that are told.

Clocks of sound cards differ by up to some 100 parts in a million (common practice, no source).
"""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pair_rig import PairRig, apart

from voicecount.sound.frame import RATE, Frame
from voicecount.sound.lane import BEGIN_SECONDS, LIMIT_SECONDS, STEP_SAMPLES, Lane, drawn_out

APART_MS = 1000.0 * BEGIN_SECONDS + 1.0
"""What the two may be apart where somebody is quiet now and then: the start of steps, and the
rounding of a step and of the followed clock."""
HISS = np.random.default_rng(1).normal(0, 0.001, 400 * 512).astype(np.float32)


@pytest.mark.parametrize("ppm", [(0, 100), (0, -100), (100, -100), (-100, 100)])
def test_a_click_stays_together(ppm: tuple[int, int]) -> None:
    """Clocks up to 200 parts in a million apart, 0.7 s an hour, and no click parts by 3 ms.

    Ten minutes; whole hours were run once.
    """
    seconds = 600.0
    slow = (ppm[0] * 1e-6, ppm[1] * 1e-6)
    rig = PairRig(seconds + 1.0, slow=slow, every=5.0, block=0.2)
    frames = rig.read(seconds, timeout=1.0)
    found = apart(frames, every=5.0)
    account = rig.source.account.lanes[1]
    difference = (1.0 + slow[1]) / (1.0 + slow[0]) - 1.0

    assert len(found) >= seconds / 5.0 - 3
    assert max(map(abs, found)) < APART_MS
    assert account.added - account.removed == pytest.approx(
        difference * seconds * RATE, abs=2 * BEGIN_SECONDS * RATE
    )
    assert rig.source.account.lanes[0].steps == account.steps_in_speech == 0
    assert not any(frame.lost for frame in frames)
    assert rig.source.account.missing == 0.0
    rig.check_accounts()


@pytest.mark.parametrize("rates", [(44_100, 48_000), (48_000, 44_100), (16_000, 44_100)])
def test_jitter_moves_nothing(rates: tuple[int, int]) -> None:
    """Sound that comes up to a tenth of a second late, at random, loses nothing and stays put."""
    rig = PairRig(300.0, rates, (0.0001, -0.0001))
    random = np.random.default_rng(5)
    for card in rig.cards:
        for at in np.arange(2.0, 298.0, 0.7):
            card.stall(at, at + float(random.uniform(0.0, 0.1)))
    frames = rig.read(299.0)

    assert len(apart(frames)) >= 290
    assert max(map(abs, apart(frames))) < APART_MS
    assert not any(frame.lost for frame in frames)
    assert rig.source.account.missing == 0.0


def hour(lane: Lane, off_ppm: float, sound: np.ndarray, frames: int) -> list[float]:
    """Put frames into a lane whose device is slow by so much; how far off each one was, in ms."""
    off = []
    for number in range(frames):
        first = number * 512
        chunk = np.take(sound, np.arange(first, first + 512), mode="wrap")
        at = first / RATE
        shift = at * off_ppm * 1e-6
        lane.put(Frame(at, chunk[:, np.newaxis].astype(np.float32)), shift)
        off.append(1000.0 * ((at + shift + 0.032) * RATE - lane.end) / RATE)
        lane.take(lane.end - 512, 512)
    return off


@pytest.mark.parametrize("ppm", [100.0, -100.0])
def test_somebody_who_never_stops_is_stepped_at_the_limit(ppm: float) -> None:
    """Where nobody is ever quiet, steps are made in speech, no sooner than the limit is reached."""
    loud = HISS * np.repeat(np.tile([30.0, 1.0, 60.0, 20.0], 100), 512).astype(np.float32)
    lane = Lane()
    off = hour(lane, ppm, loud, 20_000)
    account = lane.account

    assert 1000 * BEGIN_SECONDS < max(map(abs, off)) <= 1000.0 * LIMIT_SECONDS + 0.2
    assert account.steps == account.steps_in_speech > 0
    assert all(step.speaking for step in account.latest)


def test_steps_are_made_where_nobody_speaks() -> None:
    """Between two calls of half a minute the second channel is put right, in the pause alone."""
    syllables = np.repeat(np.tile([50.0, 5.0, 50.0, 10.0], 235), 512).astype(np.float32)
    talk = np.concatenate((np.resize(HISS, 940 * 512) * syllables, HISS[: 60 * 512]))
    lane = Lane()
    hour(lane, 100.0, talk, 20_000)

    assert lane.account.steps > 20
    assert lane.account.steps_in_speech == 0
    places = [int(step.at / 0.032) % 1000 for step in lane.account.latest]
    assert min(places) >= 940 - 2


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 700), st.floats(-0.03, 0.03), st.booleans()), max_size=40))
def test_every_sample_is_accounted_for(script: list[tuple[int, float, bool]]) -> None:
    """Whatever lengths come, wherever they belong, nothing is lost or doubled without a number."""
    lane, at, place = Lane(), 0.0, 0
    for size, shift, take in script:
        lane.put(Frame(at, np.full((size, 1), 0.5, np.float32)), shift)
        at += size / RATE
        if take:
            sound, covered, _ = lane.take(place, 300)
            place += 300
            assert len(sound) == 300
            assert np.count_nonzero(sound) == covered
    account = lane.account
    gone = account.removed + account.early + account.late + account.handed_on

    assert account.came == sum(size for size, _, _ in script)
    assert account.came + account.added == gone + lane.held
    assert account.handed_on + account.filled == place


def test_a_step_is_smooth() -> None:
    """A tone of 440 Hz stays that tone, without a click, one step longer or shorter."""
    tone = np.sin(2 * np.pi * 440 / RATE * np.arange(512)).astype(np.float32)
    for change in (-STEP_SAMPLES, STEP_SAMPLES):
        stepped = drawn_out(tone, 512 + change)
        steepest = max(abs(after - before) for before, after in pairwise(stepped))

        assert len(stepped) == 512 + change
        assert (stepped[0], stepped[-1]) == (tone[0], tone[-1])
        assert steepest < 1.05 * float(np.abs(np.diff(tone)).max())
