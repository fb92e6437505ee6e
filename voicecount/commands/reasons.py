"""``voicecount reasons``: every code that can come out, with its meaning."""

from collections.abc import Mapping
from typing import Any

from rich.table import Table

from voicecount.count import flags
from voicecount.reasons import MEANINGS
from voicecount.show.console import console

_REASONS = "Why speech was not accepted"
_FLAGS = "What a line of the tally is marked with"


def reasons(*, as_markdown: bool) -> None:
    """Print both lists, as tables or as the text of docs/reasons.md."""
    if as_markdown:
        print(markdown(), end="")  # noqa: T201 - this is the output
        return
    out = console()
    for title, meanings in ((_REASONS, MEANINGS), (_FLAGS, flags.MEANINGS)):
        table = Table("code", "meaning", title=title, title_justify="left")
        for code, meaning in meanings.items():
            table.add_row(code.value, meaning)
        out.print(table)


def markdown() -> str:
    """Give the text of docs/reasons.md."""
    return (
        "# Codes\n\n"
        "This page is made by `voicecount reasons --markdown`; change the code, not the page.\n\n"
        f"## {_REASONS}\n\n"
        "`unsure` and `ignored` answers carry one of these in `reason`.\n\n"
        f"{_rows(MEANINGS)}\n"
        f"## {_FLAGS}\n\n"
        "None of them says that a count is right: the two people decide.\n\n"
        f"{_rows(flags.MEANINGS)}"
    )


def _rows(meanings: Mapping[Any, str]) -> str:
    rows = "".join(f"| `{code.value}` | {meaning} |\n" for code, meaning in meanings.items())
    return f"| code | meaning |\n|---|---|\n{rows}"
