"""Features for the second encoder, held against the published scale and simple sounds."""

import numpy as np
import pytest

from voicecount.hear.embedded import mel
from voicecount.hear.embedded.mel import BANDS, log_mel

RATE = 16_000


@pytest.mark.parametrize(("hz", "value"), [(1000.0, 15.0), (6400.0, 42.0)])
def test_the_scale_is_slaneys(hz: float, value: float) -> None:
    """1 kHz is 15 and 6.4 kHz is 42: Slaney, Auditory Toolbox, 1998 (from memory)."""
    assert mel._to_mel(hz) == pytest.approx(value)
    assert mel._to_hz(np.array([value]))[0] == pytest.approx(hz)


def test_below_one_kilohertz_the_scale_is_linear() -> None:
    """Each step is 200/3 Hz: Slaney, Auditory Toolbox, 1998 (from memory)."""
    assert mel._to_hz(np.array([0.0, 3.0, 7.5])).tolist() == pytest.approx([0.0, 200.0, 500.0])


def test_every_band_has_the_same_area() -> None:
    """Bands weigh the same whatever their width; narrow ones are sampled coarsely."""
    areas = mel._bands().sum(1) * (RATE / 400)

    assert areas.shape == (BANDS,)
    assert areas[30:] == pytest.approx(1.0, abs=0.1)
    assert areas[60:] == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("hz", [500.0, 1000.0, 3000.0])
def test_a_tone_is_loudest_in_its_own_band(hz: float) -> None:
    """The loudest band is the one whose middle is nearest to the tone."""
    tone = np.sin(2 * np.pi * hz * np.arange(RATE) / RATE).astype(np.float32)
    middles = mel._to_hz(np.linspace(0.0, mel._to_mel(RATE / 2), BANDS + 2))[1:-1]
    loudest = log_mel(tone).mean(1).argmax()

    assert abs(middles[loudest] - hz) <= np.diff(middles)[loudest]


def test_shape_and_range() -> None:
    """A frame for every 10 ms; nothing lies more than eight powers of ten under the loudest."""
    sound = np.random.default_rng(1).normal(0, 0.1, 16_123).astype(np.float32)
    features = log_mel(sound)

    assert features.shape == (BANDS, 16_123 // 160)
    assert features.dtype == np.float32
    assert features.max() - features.min() <= 2.0
    assert np.isfinite(log_mel(np.zeros(800, np.float32))).all()
