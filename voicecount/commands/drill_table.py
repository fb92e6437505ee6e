"""What ``drill`` shows on a terminal: the drills, the rubric of an attempt, the attempts kept."""

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from voicecount.drill.document import CAUTION
from voicecount.drill.judgement import Finding, Judgement
from voicecount.drill.load import Loaded
from voicecount.drill.model import Drill
from voicecount.drill.store import Kept
from voicecount.drill.view import ROWS
from voicecount.drill.wording import told
from voicecount.sheet.model import Sheet
from voicecount.show.console import clock_time, printable


def drills_table(drills: Iterable[Loaded]) -> Table:
    """Show the drills that ship."""
    table = _table("Drills, by level", ("level", "drill", "title", "what it trains"))
    for loaded in drills:
        drill = loaded.drill
        table.add_row(str(drill.level), *map(_plain, (loaded.name, drill.title, drill.goal)))
    return table


def kept_table(kept: Sequence[Kept]) -> Table:
    """Show the attempts of a folder."""
    table = _table("Attempts", ("student", "when (UTC)", "drill", "state", "folder"))
    for one in kept:
        head = one.head
        table.add_row(
            *map(_plain, (head.student, head.when[:16].replace("T", " "), head.title)),
            one.state.value,
            _plain(one.path.name),
        )
    return table


def show_judgement(judgement: Judgement, drill: Drill, sheet: Sheet, out: Console) -> None:
    """Show the rubric with what was right, then every finding with its moment."""
    out.print(rubric_table(judgement, drill))
    for line in findings(judgement.findings, drill, sheet):
        out.print(line, markup=False, soft_wrap=True)
    for one in judgement.not_heard:
        span = f"{clock_time(one.start)} - {clock_time(one.end)}"
        out.print(f"{span}  not heard; not held against anybody", markup=False, soft_wrap=True)


def rubric_table(judgement: Judgement, drill: Drill) -> Table:
    """Show every row of the rubric, with its share in words."""
    table = _table(drill.title, ("row", "right", "share", "weight"))
    for mark in judgement.marks:
        share = "nothing to judge" if mark.share is None else f"{100 * mark.share:.0f} %"
        right = f"{mark.right} of {mark.of}" if mark.of else "-"
        weight = "shown only" if mark.weight == 0 else f"{mark.weight:g}"
        table.add_row(ROWS[mark.criterion], right, share, weight)
    score = judgement.score
    table.add_section()
    table.add_row("all", "", "-" if score is None else f"{100 * score:.0f} %", "")
    return table


def findings(found: Iterable[Finding], drill: Drill, sheet: Sheet) -> list[str]:
    """Give a line for each finding, with its moment."""
    return [f"{clock_time(one.start)}  {_plain_text(told(one, drill, sheet))}" for one in found]


def _table(title: str, columns: Iterable[str]) -> Table:
    table = Table(
        title=_plain(title), title_justify="left", caption=CAUTION, caption_justify="left"
    )
    for column in columns:
        table.add_column(column)
    return table


def _plain(text: str) -> str:
    return escape(printable(text))


def _plain_text(text: str) -> str:
    return printable(text)
