"""Levels in dB against their definitions, and the speaker's own stretch of a noisy clip."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicecount.sound.frame import RATE, Samples
from voicecount.sound.level import (
    SILENCE_DB,
    STEP,
    clipped_share,
    measure,
    own_stretch,
    rms_db,
    step_levels,
)


def sine(amplitude: float, seconds: float = 1.0) -> Samples:
    time = np.arange(int(seconds * RATE)) / RATE
    return (amplitude * np.sin(2 * np.pi * 437 * time)).astype(np.float32)


@pytest.mark.parametrize(
    ("samples", "decibels"),
    [
        (np.ones(1_000), 0.0),
        (sine(1.0), -3.01),  # a full sine lies 10 log10(1/2) under a full square wave
        (sine(0.1), -23.01),
        (np.full(1_000, 0.5), -6.02),
        (np.zeros(1_000), SILENCE_DB),
        (np.zeros(0), SILENCE_DB),
        (np.full(10, 1e-9), SILENCE_DB),
    ],
)
def test_level_by_definition(samples: Samples, decibels: float) -> None:
    """The level is 20 log10 of the root mean square (the definition of dBFS by AES17, from
    memory, less its 3 dB for a sine)."""
    assert rms_db(samples.astype(np.float32)) == pytest.approx(decibels, abs=0.01)


def test_steps_cover_every_sample() -> None:
    """A short last step counts too, as if silence followed."""
    levels = step_levels(np.ones(STEP + STEP // 2, dtype=np.float32))

    assert levels == pytest.approx([0.0, -3.01], abs=0.01)
    assert len(step_levels(np.zeros(0, dtype=np.float32))) == 0


def test_loud_and_floor_are_voice_and_noise() -> None:
    """A tone between noise gives the tone's level, the noise's level, and their distance."""
    noise = np.random.default_rng(0).normal(0, 0.001, 2 * RATE).astype(np.float32)
    level = measure(np.concatenate((noise, sine(0.5), noise)))

    assert level.loud == pytest.approx(-9.0, abs=0.3)
    assert level.floor == pytest.approx(-60.0, abs=0.7)
    assert level.above_noise == pytest.approx(51.0, abs=1.0)
    assert level.clipped == 0.0
    assert measure(np.zeros(0, dtype=np.float32)).loud == SILENCE_DB


def test_clipping_is_the_share_at_full_scale() -> None:
    """A tone of four times full scale, cut at it, stands there for most of its time."""
    assert clipped_share(np.clip(sine(4.0), -1, 1)) == pytest.approx(0.84, abs=0.02)
    assert clipped_share(sine(0.95)) == 0.0
    assert clipped_share(np.zeros(0, dtype=np.float32)) == 0.0


def test_the_own_stretch_leaves_weaker_talk_out() -> None:
    """Talk 20 dB weaker before and after is dropped, a pause in the middle is kept."""
    weak, loud, pause = sine(0.05), sine(0.5), np.zeros(RATE // 2, dtype=np.float32)
    first, stop = own_stretch(np.concatenate((weak, loud, pause, loud, weak)), pad=0.1)

    assert first / RATE == pytest.approx(0.9, abs=0.03)
    assert stop / RATE == pytest.approx(3.6, abs=0.03)


def test_the_own_stretch_of_nothing_is_nothing() -> None:
    """No samples, no stretch."""
    assert own_stretch(np.zeros(0, dtype=np.float32)) == (0, 0)


@pytest.mark.parametrize("gain", [0.5, 0.05, 0.003])
def test_the_own_stretch_does_not_depend_on_the_gain(gain: float) -> None:
    """The level is the speaker's own: a soft recording is cut at the same places."""
    clip = np.concatenate((sine(0.05), sine(0.5), sine(0.05)))

    assert own_stretch(clip * np.float32(gain)) == own_stretch(clip)


@settings(deadline=None)
@given(st.lists(st.floats(-60, 0), min_size=1, max_size=40))
def test_the_own_stretch_holds_the_loudest_step(levels: list[float]) -> None:
    """Whatever the levels are, the stretch lies within the clip and keeps its loudest step."""
    steps = [np.full(STEP, 10 ** (level / 20), dtype=np.float32) for level in levels]
    samples = np.concatenate(steps)

    first, stop = own_stretch(samples)

    assert 0 <= first <= int(np.argmax(levels)) * STEP < stop <= len(samples)
