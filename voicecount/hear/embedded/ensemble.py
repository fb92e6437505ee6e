"""Phone heads that learned apart: what each heard, and how well strings of phones fit them all.

Two listen through the first encoder, one through the second. Their frames are never mixed, because
each head marks a phone at its own time; the scores of whole strings are. Heads that err apart and
agree are right more often than any (measured on the tuning part and on recorded people, see
``weights/CARD.md``).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.ctc import align, forward, strain
from voicecount.hear.embedded.head import WEIGHTS, PhoneHead
from voicecount.words.graph import Phones

HEADS = (
    ("phone_head_a.npz", 0, 0.4),
    ("phone_head_b.npz", 0, 0.2),
    ("phone_head_c.npz", 1, 0.4),
)
"""Files of weights, the encoder that each listens through, and how much its score counts."""


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

    def by_head(self, strings: Sequence[Phones]) -> NDArray[np.float64]:
        """Give the natural-log probability of each string by each head, (heads, strings)."""
        return np.stack([forward(heard, strings) for heard in self.log_probabilities])

    def mean(self, by_head: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the weighted mean over the heads, shape (strings,)."""
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
    """Phone heads, the encoder of each, and the weight of each."""

    heads: tuple[PhoneHead, ...]
    ears: tuple[int, ...]
    """The number of the encoder that each head listens through."""
    shares: tuple[float, ...]

    @classmethod
    def load(cls, folder: Path = WEIGHTS) -> "Ensemble":
        """Load the committed weights. Raises ModelError."""
        heads = tuple(PhoneHead.load(folder / name) for name, _, _ in HEADS)
        return cls(heads, tuple(ear for _, ear, _ in HEADS), tuple(share for *_, share in HEADS))

    @property
    def version(self) -> str:
        """The versions of all heads, for the record."""
        return " and ".join(dict.fromkeys(head.version for head in self.heads))

    def hear(self, frames: Sequence[NDArray[np.float32]]) -> Hearing:
        """Hear the frames of both encoders, shapes (n, 288) and (m, 384), with every head."""
        pairs = zip(self.heads, self.ears, strict=True)
        return Hearing(tuple(head.log_probabilities(frames[e]) for head, e in pairs), self.shares)
