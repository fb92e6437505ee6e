"""How the numbers of a run follow each other. Pure."""

from collections.abc import Sequence
from itertools import pairwise

FURTHEST = 3
"""More numbers than this at once nobody leaves out: it was misheard."""
_LEFT_OUT = 2
"""How far the next number is where one was left out."""


def steps(numbers: Sequence[int]) -> list[int]:
    """Give how far each number is from the one before; a beginning from one is no step back."""
    return [1 if two == 1 else two - one for one, two in pairwise(numbers)]


def in_order(numbers: Sequence[int]) -> bool:
    """Tell whether each number is the next one."""
    return all(two - one == 1 for one, two in pairwise(numbers))


def leaps(numbers: Sequence[int]) -> bool:
    """Tell whether numbers leap further than anybody does, or fall back so."""
    return any(abs(step) > 1 + FURTHEST for step in steps(numbers))


def begins_again(numbers: Sequence[int]) -> bool:
    """Tell whether a run begins from one once more; one said twice is none."""
    return any(two == 1 != one for one, two in pairwise(numbers))


def may_be_two(numbers: Sequence[int]) -> bool:
    """Tell whether a run may be two lines: it begins again, after a number that nobody goes on to.

    Such a number may be the name of the second line. Who has left one out begins again, too.
    """
    return 1 in numbers[1:] and any(not usual(step) for step in steps(numbers))


def usual(step: int) -> bool:
    """Tell whether people go on by so much: to the next number, or past one."""
    return 1 <= step <= _LEFT_OUT
