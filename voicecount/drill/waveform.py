"""How loud a recording is over time, for a picture: one peak for every 32 ms, never held whole."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from voicecount.sound.files import FRAME_SAMPLES, FileSource
from voicecount.sound.frame import RATE

STEP = FRAME_SAMPLES / RATE
"""Seconds from one peak to the next."""


@dataclass(frozen=True)
class Envelope:
    """The loudest sample of each step, on any channel."""

    peaks: tuple[float, ...]
    """0 to 1, of full scale; a louder float sample counts as 1."""

    @property
    def seconds(self) -> float:
        """How long the sound is, to one step."""
        return len(self.peaks) * STEP

    def loudest(self) -> float:
        """Give the loudest peak; 0 where there is no sound."""
        return max(self.peaks, default=0.0)

    def between(self, start: float, end: float, most: int) -> list[tuple[float, float]]:
        """Give (second, peak) from start to end, at most so many, none of the peaks lost."""
        first, last = max(0, int(start / STEP)), min(len(self.peaks), round(end / STEP))
        each = max(1, -(-(last - first) // most))
        return [
            ((at + min(at + each, last)) / 2 * STEP, max(self.peaks[at : min(at + each, last)]))
            for at in range(first, last, each)
        ]


def envelope(path: Path) -> Envelope:
    """Read a sound file in blocks. RecordingError, one line, where it cannot be read."""
    peaks = [
        min(1.0, float(np.abs(frame.samples).max(initial=0.0)))
        for frame in FileSource(path).frames()
    ]
    return Envelope(tuple(peaks))
