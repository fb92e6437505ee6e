"""What ``hear`` shows without ``--json``: a table that grows line by line."""

from rich.console import Console
from rich.table import Table

from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import MEANINGS
from voicecount.show.console import clock_time, printable

_WIDTHS = (24, 2, 17, 10)
_NARROW = 90
"""Columns below which the last cell runs on instead of standing in a column."""
_NAMES = ("file", "ch", "from - to", "outcome", "understood")


class HeardTable:
    """Prints the head when it is made, then a row for each answer."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._row(_NAMES, "bold")

    def add(self, file: str, heard: Heard) -> None:
        """Print one answer with its reason in words."""
        understood = printable(heard.text)
        if heard.outcome is Outcome.IGNORED:
            understood = ""
        if heard.reason is not None:
            understood = f"{understood}  ({MEANINGS[heard.reason]})".strip()
        span = f"{clock_time(heard.start)} - {clock_time(heard.end)}"
        self._row(
            (_shortened(printable(file)), str(heard.channel), span, heard.outcome.value, understood)
        )

    def _row(self, cells: tuple[str, ...], style: str = "") -> None:
        if not self._console.is_terminal or self._console.width < _NARROW:
            fixed = (f"{cell:<{width}}" for cell, width in zip(cells[:-1], _WIDTHS, strict=True))
            self._console.print("  ".join((*fixed, cells[-1])), markup=False, soft_wrap=True)
            return
        grid = Table.grid(padding=(0, 2), expand=True)
        for width in _WIDTHS:
            grid.add_column(width=width, overflow="ellipsis", no_wrap=True)
        grid.add_column(ratio=1)
        grid.add_row(*cells, style=style)
        self._console.print(grid, markup=False)


def _shortened(file: str) -> str:
    """Keep the end of a long name: files of one folder differ there."""
    return file if len(file) <= _WIDTHS[0] else f"…{file[1 - _WIDTHS[0] :]}"
