"""Which lines of the sheet are sent to the board, in which tables; of the rest the number is told.

What differs, waits, or is due comes first; what both people have said goes first. A page on which
even these have no room leaves out the last of them by their rank, and tells it. Pure.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from voicecount.board.rows import Row
from voicecount.board.view import Board

_ROOM = 40.0
"""Hundredths of a wide screen's height that a table has."""
_DIFFERENCES = (0.0, 13.0, 19.0)
"""What no, one, more differences take of them."""
_BANNER = 9.0
"""What the banner of a board that is not fresh takes."""
_GROUP = 2.8
"""Height of the name of a group."""
_SIZES = (("large", 4.5), ("medium", 3.75), ("small", 3.15))
"""Sizes of letters, with the height of a row."""
_WRAPS = 24
"""Characters of a name in a table that has half the screen; a longer one takes two rows."""

_FIRST: Mapping[str, int] = {
    "differs": 0,
    "recount": 1,
    "waiting": 2,
    "unlike_sheet": 3,
    "part": 4,
    "left": 5,
    "found": 6,
    "confirmed": 7,
    "nothing": 8,
    "outside": 9,
}
"""Order in which rows are given room, by their state."""


@dataclass(frozen=True)
class Placed:
    """A row in its table."""

    group: str
    """The name of its group where that begins in the table, else empty."""
    row: Row
    rank: int
    """0 for the row that goes last."""


@dataclass(frozen=True)
class Tables:
    """The rows that are sent, in one wide table or in two side by side."""

    parts: tuple[tuple[Placed, ...], ...]
    hidden: Mapping[str, int]
    """How many rows of each state are not sent."""
    size: str
    """A code of ``_SIZES``."""


def tables(board: Board) -> Tables:
    """Give as many rows as have room, in the largest letters that they all fit in."""
    rows = [(group.name, row) for group in board.groups for row in group.rows]
    room = _ROOM - _DIFFERENCES[min(len(board.differences), 2)] - (0 if board.fresh else _BANNER)
    wide = bool(board.place_names)
    ranked = sorted(
        range(len(rows)), key=lambda at: (not rows[at][1].current, _FIRST[rows[at][1].state], at)
    )
    found = [Placed(*rows[at], rank) for rank, at in enumerate(ranked)]
    in_order = {placed.rank: at for placed, at in zip(found, ranked, strict=True)}
    for n in range(len(found), 0, -1):
        kept = sorted(found[:n], key=lambda placed: in_order[placed.rank])
        parts = _split(kept, wide=wide)
        for size, height in _SIZES if n == len(found) else _SIZES[-1:]:
            if n == 1 or all(_height(part, height, wide=wide) <= room for part in parts):
                return Tables(parts, Counter(one.row.state for one in found[n:]), size)
    return Tables((), {}, "large")


def _split(rows: Sequence[Placed], *, wide: bool) -> tuple[tuple[Placed, ...], ...]:
    half = len(rows) if wide else -(-len(rows) // 2)
    return tuple(_named(part) for part in (rows[:half], rows[half:]) if part)


def _height(rows: Sequence[Placed], height: float, *, wide: bool) -> float:
    lines = sum(1 if wide or len(one.row.name) <= _WRAPS else 2 for one in rows)
    return height * lines + _GROUP * sum(bool(one.group) for one in rows)


def _named(rows: Sequence[Placed]) -> tuple[Placed, ...]:
    """Leave a group's name where it begins."""
    before = [None, *(one.group for one in rows)]
    return tuple(
        Placed("" if one.group == last else one.group, one.row, one.rank)
        for one, last in zip(rows, before, strict=False)
    )
