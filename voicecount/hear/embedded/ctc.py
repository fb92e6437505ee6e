"""Exact scores: the probability of phone strings summed over all alignments.

Graves et al., "Connectionist Temporal Classification", ICML 2006, section 4.1 (forward variables).
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.head import BLANK, INDEX
from voicecount.words.graph import Phones

_NEVER = -1e9


def forward(
    log_probabilities: NDArray[np.float32], strings: Sequence[Phones]
) -> NDArray[np.float64]:
    """Give the natural-log probability of each string, shape (strings,).

    ``log_probabilities`` has the shape (steps, 40). A string that does not fit gets -1e9 or less.
    """
    if not strings:
        return np.zeros(0)
    longest = max(len(string) for string in strings)
    label = np.stack([_labels(string, longest) for string in strings])
    skip = _may_skip(label)
    alpha = np.full(label.shape, _NEVER)
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
    last = np.logaddexp(alpha[rows, ends], alpha[rows, np.maximum(ends - 1, 0)])
    return np.asarray(last, np.float64)


def align(log_probabilities: NDArray[np.float32], string: Phones) -> NDArray[np.int64]:
    """Give the place of every step in the likeliest alignment of a string, shape (steps,).

    Place 2 k + 1 is phone k, even places are blanks.
    """
    label = _labels(string, len(string))
    skip = _may_skip(label)
    steps = len(log_probabilities)
    came = np.zeros((steps, len(label)), np.int64)
    best = np.full(len(label), _NEVER)
    best[:2] = log_probabilities[0][label[:2]]
    for step in range(1, steps):
        from_one = np.concatenate([[_NEVER], best[:-1]])
        from_two = np.where(skip, np.concatenate([[_NEVER, _NEVER], best[:-2]]), _NEVER)
        options = np.stack([best, from_one, from_two])
        came[step] = options.argmax(0)
        best = options.max(0) + log_probabilities[step][label]
    places = np.empty(steps, np.int64)
    at = len(label) - (1 if best[-1] >= best[-2] else 2)
    for step in range(steps - 1, -1, -1):
        places[step] = at
        at -= came[step, at]
    return places


def strain(
    log_probabilities: NDArray[np.float32],
    string: Phones,
    places: NDArray[np.int64],
    window: int = 25,
) -> float:
    """Give how badly a string fits where it fits worst, in nats over ``window`` steps (0.3 s).

    At every step the aligned phone is held against the best phone: a word that is not in the
    string, in the middle or at an end of it, stands out here and is diluted everywhere else.
    """
    label = _labels(string, len(string))
    steps = np.arange(len(places))
    lacking = log_probabilities.max(1) - log_probabilities[steps, label[places]]
    sums = np.convolve(lacking, np.ones(min(window, len(lacking))), "valid")
    return float(sums.max())


def stray(
    log_probabilities: NDArray[np.float32], places: NDArray[np.int64], near: int = 2
) -> tuple[int, int]:
    """Count the phones that the head hears freely and that the alignment lacks.

    Gives the longest row of them, and how many there are. A phone is lacking if the alignment has
    only blanks at its steps and ``near`` to them. A word that is not in the reading shows as a row
    of several.
    """
    free = log_probabilities.argmax(1)
    in_phone = places % 2 == 1
    longest = row = every = first = 0
    for step in range(1, len(free) + 1):
        if step < len(free) and free[step] == free[first]:
            continue
        if free[first] != BLANK:
            lacking = not in_phone[max(0, first - near) : step + near].any()
            row = row + 1 if lacking else 0
            every += lacking
            longest = max(longest, row)
        first = step
    return longest, every


def _labels(string: Phones, longest: int) -> NDArray[np.int64]:
    """Give the phones with a blank around each, and blanks up to ``longest`` phones."""
    label = np.full(2 * longest + 1, BLANK)
    label[1 : 2 * len(string) : 2] = [INDEX[phone] for phone in string]
    return label


def _may_skip(label: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Tell at which places the blank before may be left out: not between two equal phones."""
    skip = np.zeros(label.shape, bool)
    skip[..., 3::2] = label[..., 3::2] != label[..., 1:-2:2]
    return skip
