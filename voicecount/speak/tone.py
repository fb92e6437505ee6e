"""The one tone of the assistant: short, soft, and unlike any alarm.

IEC 60601-1-8 gives alarms groups of 3 or 5 pulses (1 or 2 for low priority) with a fundamental of
150 to 1000 Hz and at least four components within 15 dB. This tone is a single pulse of one pure
component above that range, soft, with slow edges, and it never repeats by itself. It rises where
people are heard again, and falls where they are not any more.
"""

from enum import IntEnum

import numpy as np

from voicecount.speak.port import Clip

RATE = 24_000
"""Samples a second."""
FREQUENCY = 1174.66
"""Hertz; above the range of an alarm's fundamental."""
SECONDS = 0.32
"""Longer than an alarm's pulse of 0.075 to 0.25 s."""
LEVEL = 0.08
"""Share of full scale at its loudest, about -22 dB."""


GLIDE = 0.19
"""Share of the frequency by which it rises or falls: about three semitones, which people who are
not musical hear as well (our choice)."""


class Glide(IntEnum):
    """Where the tone goes."""

    FALLS = -1
    """Nobody is heard from now on."""
    LEVEL = 0
    """Something was said that has to be heard."""
    RISES = 1
    """People are heard again."""


def tone(glide: Glide = Glide.LEVEL) -> Clip:
    """Give the tone: one pure pulse that swells and fades.

    A falling one begins as much higher: the end of each kind is its own pitch or that of another.
    """
    time = np.arange(round(SECONDS * RATE)) / RATE
    swell = np.sin(np.pi * time / SECONDS) ** 2
    way = GLIDE * time / SECONDS if glide is Glide.RISES else GLIDE * (1 - time / SECONDS)
    pitch = FREQUENCY * (1 + abs(glide) * way)
    phase = 2 * np.pi * np.cumsum(pitch) / RATE
    return Clip((LEVEL * swell * np.sin(phase)).astype(np.float32), RATE)
