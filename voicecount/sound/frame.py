"""The two nouns of sound: a timed frame as it comes in, and an utterance cut from frames."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

RATE = 16_000
"""Samples a second of everything past the sound port; resampled once, where sound comes in."""

Samples = NDArray[np.float32]
"""Mono sound, shape (n,), full scale ±1."""


@dataclass(frozen=True, eq=False)
class Frame:
    """A stretch of sound from every channel at once."""

    start: float
    """Seconds from the start of the stream."""
    samples: NDArray[np.float32]
    """Shape (n, channels), full scale ±1, at RATE."""
    lost: bool = False
    """True when sound before this frame was lost on its way in."""


@dataclass(frozen=True, eq=False)
class Utterance:
    """Speech on one channel between two silences."""

    channel: int
    """0 is the first (left) channel."""
    start: float
    """Seconds from the start of the stream to the first voiced sample."""
    end: float
    """Seconds from the start of the stream to the last voiced sample."""
    samples: Samples
    """Mono at RATE, with the pre-roll and the tail around the voice."""
    offset: float
    """Seconds from the start of the stream to samples[0]."""
    lost: bool = False
    """True when sound inside it was lost on its way in."""
    cut: bool = False
    """True for a piece of speech that went on for longer than an utterance may be: no words are
    whole at its ends."""


class FrameSource(Protocol):
    """The port through which sound comes in: a file, a device, or a fake."""

    @property
    def channels(self) -> int:
        """How many channels each frame holds."""
        ...

    def frames(self) -> Iterator[Frame]:
        """Give the frames in order until the sound ends."""
        ...
