"""Sound without a device: frames from an array."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.frame import RATE, Frame


class FakeSource:
    """Gives an array, shape (n,) or (n, channels) at RATE, as frames of ``frame`` samples."""

    def __init__(self, samples: NDArray[np.float32], frame: int = 512) -> None:
        self._samples = samples[:, np.newaxis] if samples.ndim == 1 else samples
        self._frame = frame

    @property
    def channels(self) -> int:
        """How many channels each frame holds."""
        return int(self._samples.shape[1])

    def frames(self) -> Iterator[Frame]:
        """Give the frames in order; the last one may be shorter."""
        for first in range(0, len(self._samples), self._frame):
            yield Frame(first / RATE, self._samples[first : first + self._frame])
