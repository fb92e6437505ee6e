"""Where things stand in the strips of an attempt: which seconds, which row, which slot. Pure."""

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil

LENGTHS = (20.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0, 300.0, 600.0)
"""Seconds of one strip."""
MOST_STRIPS = 12
_SLOT = 3.5
"""Seconds that a step without a moment takes in the row of what was expected."""
_LEAST = 0.4
"""Share of the slot before that is left to it."""


@dataclass(frozen=True)
class Strip:
    """One strip."""

    start: float
    end: float
    length: float
    """Seconds of a whole strip; the last one may end before."""
    last: bool

    def holds(self, at: float) -> bool:
        """Tell whether a moment belongs here; what is past the end belongs to the last one."""
        return self.start <= at < self.end or (self.last and at >= self.end)

    def part(self, start: float, end: float) -> tuple[float, float] | None:
        """Give the part of a stretch that lies here."""
        left, right = max(start, self.start), min(end, self.end)
        return (left, right) if left < right else None


def cut(seconds: float) -> tuple[Strip, ...]:
    """Cut an attempt into strips of one length."""
    length = next((one for one in LENGTHS if seconds <= MOST_STRIPS * one), seconds / MOST_STRIPS)
    if length == LENGTHS[0] and seconds > length:
        length = LENGTHS[1]  # one short line is better read than two
    many = max(1, ceil(round(seconds / length, 6)))
    return tuple(
        Strip(at * length, min((at + 1) * length, max(seconds, 1.0)), length, at == many - 1)
        for at in range(many)
    )


def slots(
    moments: Sequence[tuple[float, float] | None], seconds: float
) -> list[tuple[float, float]]:
    """Give each step its place in the row of what was expected.

    Steps that were called in order stand above their calls. The others stand between them, where
    they were due.
    """
    kept = in_order([None if one is None else one[0] for one in moments])
    placed: list[tuple[float, float]] = []
    at = 0
    before = 0.0
    for index in [*sorted(kept), len(moments)]:
        here = moments[index] if index < len(moments) else None
        between = index - at
        right = here[0] if here is not None else max(seconds, before + 0.5)
        if between:
            need = _SLOT * between
            left = max(before, right - need)
            if right - left < need:
                left = _squeezed(placed, left, right, need)
                right = max(right, min(left + need, right if here is None else _middle(here)))
            each = (right - left) / between
            placed += [(left + one * each, left + (one + 1) * each) for one in range(between)]
        if here is not None:
            placed.append((min(right, here[1]), max(here[1], right)))
            before = here[1]
        at = index + 1
    return placed


def _squeezed(placed: list[tuple[float, float]], left: float, right: float, need: float) -> float:
    """Make room by taking some of the slot before; give where the room begins."""
    if not placed:
        return left
    start, _ = placed[-1]
    left = min(left, max(right - need, start + _LEAST * (right - start)))
    placed[-1] = (start, min(placed[-1][1], left))
    return left


def _middle(moment: tuple[float, float]) -> float:
    return (moment[0] + moment[1]) / 2


def in_order(starts: Sequence[float | None]) -> frozenset[int]:
    """Give the places of a longest part whose starts rise (patience sorting)."""
    tops: list[float] = []
    at: list[int] = []
    before: dict[int, int | None] = {}
    for index, start in enumerate(starts):
        if start is None:
            continue
        pile = bisect_left(tops, start)
        before[index] = at[pile - 1] if pile else None
        tops[pile : pile + 1] = [start]
        at[pile : pile + 1] = [index]
    found = []
    here = at[-1] if at else None
    while here is not None:
        found.append(here)
        here = before[here]
    return frozenset(found)


def rows(spans: Sequence[tuple[float, float]], gap: float) -> list[int]:
    """Give each span, by their order, the first row in which it touches no other."""
    ends: list[float] = []
    placed = []
    for left, right in spans:
        row = next((at for at, end in enumerate(ends) if end + gap <= left), len(ends))
        ends[row : row + 1] = [right]
        placed.append(row)
    return placed


def free(spans: Sequence[tuple[float, float]], gap: float) -> list[bool]:
    """Tell for each span whether it is kept so that no two that are kept touch."""
    last = float("-inf")
    kept = []
    for left, right in spans:
        keep = left >= last + gap
        last = right if keep else last
        kept.append(keep)
    return kept


def fitting(words: str, room: float, width: Callable[[str], float]) -> str:
    """Give as much of the words as fits, cut with a mark; nothing where hardly any does."""
    if width(words) <= room:
        return words
    least = 3
    low, high = 0, len(words)
    while low < high:
        middle = (low + high + 1) // 2
        if width(f"{words[:middle].rstrip()}…") <= room:
            low = middle
        else:
            high = middle - 1
    return f"{words[:low].rstrip()}…" if low >= least else ""
