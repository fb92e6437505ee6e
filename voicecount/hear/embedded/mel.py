"""Sound to log-mel features, the input of the second encoder.

Radford et al., "Robust Speech Recognition via Large-Scale Weak Supervision", 2022, section 2.2: 80
bands, windows of 25 ms every 10 ms. The bands are those of Slaney's Auditory Toolbox (1998).
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.frame import RATE, Samples

BANDS = 80
HOP = 160
"""Samples per feature frame."""
_WINDOW = 400
_DECADES = 8.0
"""Everything more than this many powers of ten below the loudest is raised to it."""


def log_mel(samples: Samples) -> NDArray[np.float32]:
    """Turn mono sound at 16 kHz, shape (n,), into features of shape (80, n // 160)."""
    padded = np.pad(samples, _WINDOW // 2, mode="reflect" if len(samples) > _WINDOW else "constant")
    windows = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[::HOP]
    windows = windows[: len(samples) // HOP]
    shape = np.hanning(_WINDOW + 1)[:-1].astype(np.float32)
    power = np.abs(np.fft.rfft(windows * shape, axis=1)) ** 2
    bands = np.log10(np.maximum(_bands() @ power.T, 1e-10))
    bands = np.maximum(bands, bands.max() - _DECADES)
    return np.asarray((bands + 4.0) / 4.0, np.float32)


@lru_cache(maxsize=1)
def _bands() -> NDArray[np.float64]:
    """Give the triangular filters, shape (80, 201), each of area 2 over its width in Hz."""
    corners = _to_hz(np.linspace(0.0, _to_mel(RATE / 2), BANDS + 2))
    at = np.fft.rfftfreq(_WINDOW, 1 / RATE)
    rising = (at - corners[:-2, None]) / np.diff(corners)[:-1, None]
    falling = (corners[2:, None] - at) / np.diff(corners)[1:, None]
    height = 2.0 / (corners[2:] - corners[:-2])
    return np.maximum(0.0, np.minimum(rising, falling)) * height[:, None]


def _to_mel(hz: float) -> float:
    """Turn a frequency above 1 kHz into Slaney's mel: linear to 1 kHz, then 27 steps for 6.4."""
    return float(15.0 + 27.0 * np.log(hz / 1000.0) / np.log(6.4))


def _to_hz(mel: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.where(mel < 15.0, mel * 200.0 / 3.0, 1000.0 * 6.4 ** ((mel - 15.0) / 27.0))
