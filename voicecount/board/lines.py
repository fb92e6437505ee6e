"""Which lines of the sheet fit on the board, in which tables; of the rest the number is told.

What differs, waits, or is due comes first; what both people have said goes first. Pure.
"""

from collections import Counter
from collections.abc import Mapping

from voicecount.board.view import Board, Row

ROOM = 22
"""Rows in two tables side by side."""
ROOM_BY_PLACE = 10
"""Rows of one table that is as wide as the screen: a count by places."""
_DIFFERENCES = (0, 4, 7)
"""Rows for which there is no room below no, one, more differences."""
_BANNER = 2
"""Rows for which there is none below the banner of a board that is not fresh."""

_FIRST: Mapping[str, int] = {
    "differs": 0,
    "recount": 1,
    "waiting": 2,
    "unlike_sheet": 3,
    "left": 4,
    "confirmed": 5,
    "outside": 6,
}
"""Order in which rows are given room, by their state."""

Table = list[tuple[str, Row]]
"""Rows with the name of their group where it begins, else an empty name."""


def tables(board: Board) -> tuple[list[Table], Counter[str]]:
    """Give the tables, and how many rows of each state found no room."""
    rows = [(group.name, row) for group in board.groups for row in group.rows]
    places = bool(board.place_names)
    less = _DIFFERENCES[min(len(board.differences), 2)] + (0 if board.fresh else _BANNER)
    room = ROOM_BY_PLACE - less if places else ROOM - 2 * less
    ranked = sorted(
        range(len(rows)), key=lambda at: (not rows[at][1].current, _FIRST[rows[at][1].state], at)
    )
    kept = sorted(ranked[:room])
    hidden = Counter(rows[at][1].state for at in ranked[room:])
    half = len(kept) if places else -(-len(kept) // 2)
    parts = [kept[:half], kept[half:]]
    return [_named([rows[at] for at in part]) for part in parts if part], hidden


def _named(rows: list[tuple[str, Row]]) -> Table:
    before = [None, *(name for name, _ in rows)]
    return [
        ("" if name == last else name, row) for (name, row), last in zip(rows, before, strict=False)
    ]
