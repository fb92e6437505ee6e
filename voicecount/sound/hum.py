"""Mains hum: how much of a noise lies on the lines of 50 or 60 Hz."""

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.frame import RATE, Samples
from voicecount.sound.level import STEP

_RUN_STEPS = 10
"""Steps (0.2 s) of one stretch: lines 10 Hz apart are told apart."""
_LINES = 8
"""The mains and its multiples, up to 400 or 480 Hz."""
_RUNS = 20
"""Stretches that are looked at; 4 s are enough."""


def hum_share(samples: Samples, pause: NDArray[np.bool_]) -> float:
    """Give how much of the noise lies on the lines of 50 or 60 Hz, 0 to 1.

    ``pause`` says of every step (level.STEP) whether nobody speaks in it; 0 where no pause lasts
    0.2 s. Such stretches are fitted one by one, as the mains drift and the pauses lie apart.
    """
    runs = _runs(samples, pause)
    if not len(runs):
        return 0.0
    runs = runs - runs.mean(axis=1, keepdims=True)
    whole = float(np.square(runs).sum())
    if whole <= 0.0:
        return 0.0
    time = np.arange(runs.shape[1]) / RATE
    shares = []
    for mains in (50, 60):
        turns = 2 * np.pi * mains * np.outer(np.arange(1, _LINES + 1), time)
        lines, _ = np.linalg.qr(np.concatenate([np.sin(turns), np.cos(turns)]).T)
        shares.append(float(np.square(runs @ lines).sum()) / whole)
    return max(shares)


def _runs(samples: Samples, pause: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Give stretches of pause, shape (runs, samples)."""
    kept: list[NDArray[np.float64]] = []
    length = _RUN_STEPS * STEP
    first = 0
    while first + _RUN_STEPS <= len(pause) and len(kept) < _RUNS:
        stretch = samples[first * STEP : first * STEP + length].astype(np.float64)
        if pause[first : first + _RUN_STEPS].all() and len(stretch) == length:
            kept.append(stretch)
            first += _RUN_STEPS
        else:
            first += 1
    return np.array(kept).reshape(len(kept), length)
