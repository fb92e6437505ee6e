"""Exact scores: the probability of phone strings summed over all alignments.

Graves et al., "Connectionist Temporal Classification", ICML 2006, section 4.1 (forward variables).
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.head import BLANK
from voicecount.words.graph import Phones
from voicecount.words.pronounce import PHONES

_NEVER = -1e9
_INDEX = {phone: number for number, phone in enumerate(PHONES, 1)}


def forward(
    log_probabilities: NDArray[np.float32], strings: Sequence[Phones]
) -> NDArray[np.float64]:
    """Give the natural-log probability of each string, shape (strings,).

    ``log_probabilities`` has the shape (steps, 40). A string that does not fit gets -1e9 or less.
    """
    if not strings:
        return np.zeros(0)
    longest = max(len(string) for string in strings)
    label = np.full((len(strings), 2 * longest + 1), BLANK)
    for row, string in enumerate(strings):
        label[row, 1 : 2 * len(string) : 2] = [_INDEX[phone] for phone in string]
    skip = np.zeros(label.shape, bool)
    skip[:, 3::2] = label[:, 3::2] != label[:, 1:-2:2]
    alpha = np.full(label.shape, _NEVER)
    alpha[:, 0] = 0.0
    first = log_probabilities[0].astype(np.float64)
    alpha[:, 0] = first[BLANK]
    alpha[:, 1] = first[label[:, 1]]
    one = np.full(label.shape, _NEVER)
    two = np.full(label.shape, _NEVER)
    for sound in log_probabilities[1:].astype(np.float64):
        one[:, 1:] = alpha[:, :-1]
        two[:, 2:] = np.where(skip[:, 2:], alpha[:, :-2], _NEVER)
        top = np.maximum(np.maximum(alpha, one), two)
        total = np.exp(alpha - top) + np.exp(one - top) + np.exp(two - top)
        alpha = top + np.log(total) + sound[label]
    rows = np.arange(len(strings))
    ends = np.array([2 * len(string) for string in strings])
    return np.logaddexp(alpha[rows, ends], alpha[rows, np.maximum(ends - 1, 0)])


def greedy(log_probabilities: NDArray[np.float32]) -> float:
    """Give the natural-log probability of the best phone at every step: speech that fits freely."""
    return float(log_probabilities.max(1).sum())
