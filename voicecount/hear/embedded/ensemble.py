"""Two phone heads that learned apart: what each heard, and how well strings of phones fit both.

Their frames are never mixed, because each head marks a phone at its own time; the scores of whole
strings are. Heads that err apart and agree are right more often than either (measured on the
tuning part and on recorded people, see ``weights/CARD.md``).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.ctc import align, forward, strain
from voicecount.hear.embedded.head import WEIGHTS, PhoneHead
from voicecount.words.graph import Phones

SHARES = {"phone_head_a.npz": 2 / 3, "phone_head_b.npz": 1 / 3}
"""The files of the weights, and how much each head's score counts."""


@dataclass(frozen=True, eq=False)
class Hearing:
    """What the heads heard of one utterance."""

    log_probabilities: tuple[NDArray[np.float32], ...]
    """One array of shape (steps, 40) for each head."""
    shares: tuple[float, ...]
    """The weight of each head; they sum to 1."""

    @property
    def first(self) -> NDArray[np.float32]:
        """What the first head heard, which places the words."""
        return self.log_probabilities[0]

    def score(self, strings: Sequence[Phones]) -> NDArray[np.float64]:
        """Give the natural-log probability of each string, the weighted mean over the heads."""
        by_head = [forward(heard, strings) for heard in self.log_probabilities]
        return np.asarray(np.average(by_head, axis=0, weights=self.shares), np.float64)

    def align(self, phones: Phones) -> tuple[NDArray[np.int64], ...]:
        """Give where each head's steps stand in a string, see ctc.align."""
        return tuple(align(heard, phones) for heard in self.log_probabilities)

    def strain(self, phones: Phones, places: Sequence[NDArray[np.int64]]) -> float:
        """Tell how badly a string fits where it fits worst, the weighted mean over the heads."""
        heads = zip(self.log_probabilities, places, strict=True)
        by_head = [strain(heard, phones, placed) for heard, placed in heads]
        return float(np.average(by_head, weights=self.shares))


@dataclass(frozen=True)
class Ensemble:
    """Phone heads with the weight of each."""

    heads: tuple[PhoneHead, ...]
    shares: tuple[float, ...]

    @classmethod
    def load(cls, folder: Path = WEIGHTS) -> "Ensemble":
        """Load the committed weights. Raises ModelError."""
        heads = tuple(PhoneHead.load(folder / name) for name in SHARES)
        return cls(heads, tuple(SHARES.values()))

    @property
    def version(self) -> str:
        """The versions of all heads, for the record."""
        return " and ".join(head.version for head in self.heads)

    def hear(self, frames: NDArray[np.float32]) -> Hearing:
        """Hear the encoder's frames, shape (n, 288), with every head."""
        return Hearing(tuple(head.log_probabilities(frames) for head in self.heads), self.shares)
