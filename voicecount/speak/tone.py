"""The one tone of the assistant: short, soft, and unlike any alarm.

IEC 60601-1-8 gives alarms groups of 3 or 5 pulses (1 or 2 for low priority) with a fundamental of
150 to 1000 Hz and at least four components within 15 dB. This tone is a single pulse of one pure
component above that range, soft, with slow edges, and it never repeats by itself.
"""

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


def tone() -> Clip:
    """Give the tone: one pure pulse that swells and fades."""
    time = np.arange(round(SECONDS * RATE)) / RATE
    swell = np.sin(np.pi * time / SECONDS) ** 2
    return Clip((LEVEL * swell * np.sin(2 * np.pi * FREQUENCY * time)).astype(np.float32), RATE)
