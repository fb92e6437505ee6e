"""Which lines of the sheet are sent to the board, and in which order they give way there. Pure.

What differs goes last, before it the line in hand, before that what waits or is due; what both
people have said goes first. How many have room, only a page can tell: it leaves out the first to
go by their rank, and tells how many.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from voicecount.board.rows import Row
from voicecount.board.view import Board

MOST = 80
"""Rows that are sent; twice what any screen has room for. Of a longer sheet the number is told."""

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
    """The name of its group where that begins, else empty."""
    row: Row
    rank: int
    """0 for the row that goes last."""
    of: str
    """The name of its group."""


@dataclass(frozen=True)
class Tables:
    """The rows that are sent, in the order of the sheet."""

    parts: tuple[tuple[Placed, ...], ...]
    """One table, or none; a page that has room for two side by side makes them of it."""
    hidden: Mapping[str, int]
    """How many rows of each state are not sent."""


def tables(board: Board) -> Tables:
    """Give the rows in their order; of too many, those that go last."""
    rows = [(group.name, row) for group in board.groups for row in group.rows]
    ranked = sorted(range(len(rows)), key=lambda at: (*_pressing(rows[at][1]), at))
    ranks = {at: rank for rank, at in enumerate(ranked)}
    kept = sorted(ranked[:MOST])
    before = [None, *(rows[at][0] for at in kept)]
    part = tuple(
        Placed("" if rows[at][0] == last else rows[at][0], rows[at][1], ranks[at], rows[at][0])
        for at, last in zip(kept, before, strict=False)
    )
    return Tables((part,) if part else (), Counter(rows[at][1].state for at in ranked[MOST:]))


def _pressing(row: Row) -> tuple[bool, bool, int]:
    return row.state != "differs", not row.current, _FIRST[row.state]
