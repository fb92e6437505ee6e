"""How the numbers of a run follow each other. Pure."""

from collections.abc import Sequence
from itertools import pairwise

_LEFT_OUT = 2
"""How far the next number is where one was left out."""


def steps(numbers: Sequence[int]) -> list[int]:
    """Give how far each number is from the one before; a beginning from one is no step back."""
    return [1 if two == 1 else two - one for one, two in pairwise(numbers)]


def may_be_two(numbers: Sequence[int]) -> bool:
    """Tell whether a run may be two lines: it begins again, after a number that nobody goes on to.

    Such a number may be the name of the second line. Who has left one out begins again, too.
    """
    return 1 in numbers[1:] and any(not 1 <= step <= _LEFT_OUT for step in steps(numbers))
