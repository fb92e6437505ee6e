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


def beginnings(numbers: Sequence[int]) -> list[int]:
    """Give the indexes at which a run begins from one once more; one said twice is none."""
    return [at for at, (one, two) in enumerate(pairwise(numbers), 1) if two == 1 != one]


def ends_odd(numbers: Sequence[int]) -> int:
    """Give how many numbers people may have said before the first that is none of a run; all.

    None is a number that is neither the next one nor past one, but for one that is said twice.
    """
    for at in range(1, len(numbers)):
        before, number = numbers[at - 1], numbers[at]
        twice = number == before and number + 1 in numbers[at + 1 : at + 2]
        if not (twice or number == 1 or 1 <= number - before <= _LEFT_OUT):
            return at
    return len(numbers)


def may_be_two(numbers: Sequence[int]) -> bool:
    """Tell whether a run may be two lines: it begins again, after a number that nobody goes on to.

    Such a number may be the name of the second line. Who has left one out, or said one twice,
    begins again, too.
    """
    return 1 in numbers[1:] and ends_odd(numbers) < len(numbers)


def last_run(numbers: Sequence[int]) -> tuple[int, ...]:
    """Give the numbers from where they begin again the last time; all where they do not."""
    again = beginnings(numbers)
    return tuple(numbers[again[-1] if again else 0 :])


def has_number_before(numbers: Sequence[int]) -> bool:
    """Tell whether a number stands before a run from one that is not what the run comes to.

    Who states how many there are and then counts them says that number twice.
    """
    return beginnings(numbers[:2]) == [1] and numbers[0] != numbers[-1]
