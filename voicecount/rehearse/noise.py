"""What a room adds: noise by a fixed seed, and silence around the voice."""

from collections.abc import Callable
from typing import Any
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.frame import RATE, Samples, Utterance
from voicecount.sound.level import step_levels

_Gain = Callable[[NDArray[np.floating[Any]]], NDArray[np.floating[Any]]]
_EDGE = 0.4
"""Seconds around the voice."""
_PEAK = 0.3
_QUIET_ABOVE = 45.0
_PULSES = 5.0
"""Swells of the suction noise in a second."""


def in_room(sound: Samples, noise: str, above: float, seed: str) -> Utterance:
    """Put a voice into a room: ``above`` is how many dB its loud steps lie over the noise.

    ``noise`` is quiet, pink or suction. The same seed gives the same samples.
    """
    edge = np.zeros(round(_EDGE * RATE), np.float32)
    whole = np.concatenate([edge, sound, edge])
    whole *= _PEAK / max(float(np.abs(whole).max(initial=0.0)), 1e-6)
    rng = np.random.default_rng(crc32(seed.encode()))
    made = suction(len(whole), rng) if noise == "suction" else pink(len(whole), rng)
    made /= float(np.sqrt(np.mean(made**2))) + 1e-9
    loud = float(np.percentile(step_levels(whole), 85))
    level = 10 ** ((loud - (_QUIET_ABOVE if noise == "quiet" else above)) / 20)
    mixed = np.asarray(whole + level * made, np.float32)
    return Utterance(0, _EDGE, _EDGE + len(sound) / RATE, mixed, 0.0)


def pink(n: int, rng: np.random.Generator) -> Samples:
    """Noise that is weaker by 3 dB each octave up."""
    return _shaped(n, rng, lambda hertz: 1 / np.sqrt(np.maximum(hertz, 40.0)))


def suction(n: int, rng: np.random.Generator) -> Samples:
    """Hiss between about 700 and 4500 Hz that swells a few times a second."""
    hiss = _shaped(n, rng, lambda hertz: ((hertz > 700) & (hertz < 4500)) + 0.06)
    swell = 1 + 0.5 * np.sin(2 * np.pi * _PULSES * np.arange(n) / RATE)
    return np.asarray(hiss * swell, np.float32)


def _shaped(n: int, rng: np.random.Generator, gain: _Gain) -> Samples:
    spectrum = np.fft.rfft(rng.standard_normal(n))
    return np.fft.irfft(spectrum * gain(np.fft.rfftfreq(n, 1 / RATE)), n).astype(np.float32)
