"""Scores of phone strings, against every alignment written out.

Source: Graves, Fernandez, Gomez and Schmidhuber, "Connectionist Temporal Classification", ICML
2006, section 3: a string's probability is the sum over all paths that collapse to it.
"""

from itertools import groupby, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicecount.hear.embedded.ctc import align, forward, strain, stray
from voicecount.words.pronounce import PHONES

KINDS = 40


def matrix(seed: int, steps: int, used: int) -> np.ndarray:
    """Make log-probabilities over the blank and a few phones."""
    rng = np.random.default_rng(seed)
    out = np.full((steps, KINDS), -60.0, np.float32)
    logits = rng.normal(0, 2, (steps, used + 1))
    out[:, : used + 1] = logits - np.log(np.exp(logits).sum(1, keepdims=True))
    return out


def collapsed(path: tuple[int, ...]) -> tuple[int, ...]:
    """Join repeats, then drop blanks."""
    return tuple(kind for kind, _ in groupby(path) if kind)


def paths(scores: np.ndarray, string: tuple[int, ...], used: int) -> list[float]:
    """Give the score of every path that collapses to a string."""
    steps = len(scores)
    return [
        float(sum(scores[step, kind] for step, kind in enumerate(path)))
        for path in product(range(used + 1), repeat=steps)
        if collapsed(path) == string
    ]


STRINGS = st.lists(st.integers(1, 3), min_size=1, max_size=3).map(tuple)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), steps=st.integers(1, 6), string=STRINGS)
def test_forward_is_the_sum_over_all_alignments(
    seed: int, steps: int, string: tuple[int, ...]
) -> None:
    """The forward sum equals the sum over every path written out."""
    scores = matrix(seed, steps, 3)
    each = paths(scores, string, 3)
    (got,) = forward(scores, [tuple(PHONES[kind - 1] for kind in string)])

    if each:
        assert got == pytest.approx(np.logaddexp.reduce(each), abs=1e-3)
    else:
        assert got < -1e8


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), steps=st.integers(3, 6), string=STRINGS)
def test_align_is_the_best_path(seed: int, steps: int, string: tuple[int, ...]) -> None:
    """The alignment's score is the best of all paths, and it collapses to the string."""
    scores = matrix(seed, steps, 3)
    each = paths(scores, string, 3)
    if not each:
        return
    places = align(scores, tuple(PHONES[kind - 1] for kind in string))
    kinds = [0 if place % 2 == 0 else string[place // 2] for place in places.tolist()]

    assert collapsed(tuple(kinds)) == string
    assert sum(scores[step, kind] for step, kind in enumerate(kinds)) == pytest.approx(
        max(each), abs=1e-3
    )


def test_strings_of_other_lengths_do_not_disturb_each_other() -> None:
    """A string scored among longer ones scores as it does alone."""
    scores = matrix(5, 8, 3)
    strings = [("AA",), ("AA", "AE", "AH"), ("AE", "AE")]

    together = forward(scores, strings)
    alone = [forward(scores, [string])[0] for string in strings]
    assert together == pytest.approx(alone)
    assert len(forward(scores, [])) == 0


def spoken(kinds: list[int]) -> np.ndarray:
    """Make the sound of certain phones: each for a step, with a blank after it."""
    out = np.full((2 * len(kinds), KINDS), -12.0, np.float32)
    for at, kind in enumerate(kinds):
        out[2 * at, kind] = -0.01
        out[2 * at + 1, 0] = -0.01
    return out


def test_a_word_that_is_not_in_the_string_is_stray() -> None:
    """Phones that were heard and are not in the reading are counted, and strain it."""
    heard = spoken([1, 2, 3, 0, 0, 0, 0, 4, 5, 6, 7])
    whole = tuple(PHONES[kind - 1] for kind in (1, 2, 3, 4, 5, 6, 7))
    part = whole[:3]

    full, missing = align(heard, whole), align(heard, part)
    assert stray(heard, full) == (0, 0)
    assert stray(heard, missing)[0] >= 3
    assert strain(heard, part, missing) > strain(heard, whole, full) + 30
