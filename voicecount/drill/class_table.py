"""A class in the terminal: one row for each attempt, then what was not graded."""

from collections import Counter
from collections.abc import Iterator

from rich.console import Console
from rich.table import Table

from voicecount.drill.class_result import ClassResult, Graded, percent, plain
from voicecount.drill.judgement import Judgement
from voicecount.show.console import printable

_MOST = 3
"""Kinds of findings that are named in a row."""


def show(console: Console, result: ClassResult) -> None:
    """Print all of it. Text of files and sheets cannot steer the terminal."""
    if result.judged:
        console.print(_table(result), markup=False)
        console.print(_sum(result), markup=False, soft_wrap=True)
    for same in result.alike:
        files = ", ".join(printable(file) for file in same)
        console.print(f"The very same recording: {files}", markup=False, soft_wrap=True)
    if result.bad:
        console.print(f"Not graded: {len(result.bad)}", markup=False)
        for one in result.bad:
            line = f"  {printable(one.file)}: {printable(one.why)}"
            console.print(line, markup=False, soft_wrap=True)


def _table(result: ClassResult) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("student", "drill", "attempt"):
        table.add_column(name, overflow="fold")
    table.add_column("score", justify="right", no_wrap=True)
    table.add_column("rows not all right", overflow="fold")
    table.add_column("not heard", justify="right")
    table.add_column("findings", overflow="fold")
    for one, judgement in result.judged:
        table.add_row(*(printable(cell) for cell in _cells(one, judgement)))
    return table


def _cells(one: Graded, judgement: Judgement) -> Iterator[str]:
    yield one.handed.student
    yield one.title
    yield str(one.handed.take)
    yield percent(judgement.score)
    yield rows(judgement)
    yield str(len(judgement.not_heard))
    yield findings(judgement)


def rows(judgement: Judgement) -> str:
    """Give the rows of the rubric that are not all right: ``order 3/4, cadence 8/9``."""
    judged = [mark for mark in judgement.marks if mark.of]
    told = [f"{mark.criterion} {mark.right}/{mark.of}" for mark in judged if mark.right < mark.of]
    if not judged:
        return "nothing could be judged"
    return ", ".join(told) or f"all {len(judged)} right"


def findings(judgement: Judgement) -> str:
    """Give how many findings there are, and the kinds that are there most often."""
    kinds = Counter(plain(one.fault) for one in judgement.findings)
    if not kinds:
        return "none"
    named = [
        f"{kind} {number}" if number > 1 else kind for kind, number in kinds.most_common(_MOST)
    ]
    more = ["…"] if len(kinds) > _MOST else []
    return f"{kinds.total()}: {', '.join([*named, *more])}"


def _sum(result: ClassResult) -> str:
    attempts, students = len(result.judged), len(result.students)
    return (
        f"{attempts} attempt{'' if attempts == 1 else 's'} of {students} "
        f"student{'' if students == 1 else 's'}. A score is practice, no licence; what was not "
        "heard is held against nobody."
    )
