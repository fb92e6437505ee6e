"""The page of a class: where it stands, with how many of how many beside every figure."""

from typing import Any

from voicecount.drill import class_plots as plots
from voicecount.drill.class_result import ClassResult, Graded, middle, percent, plain
from voicecount.drill.class_table import findings, rows
from voicecount.drill.document import render
from voicecount.drill.judgement import Judgement
from voicecount.drill.model import Criterion
from voicecount.drill.view import ROWS
from voicecount.report.marks import visible

NAME = "class.html"
_ON_ONE = 30
"""Students in one picture."""
_MOST_LINES = 15


def class_page(result: ClassResult, *, made: str) -> str:
    """Give the page as the text of an HTML file. ``made`` is ISO 8601, UTC."""
    students, criteria = result.students, result.rows()
    lines = [line for line in result.lines() if line.wrong]
    paced = any(judged.measured.numbers_per_minute is not None for _, judged in result.judged)
    parts = [students[at : at + _ON_ONE] for at in range(0, len(students), _ON_ONE)]
    return render(
        "class.html",
        script=False,
        title=visible(result.name),
        made=made,
        attempts=len(result.judged),
        students=len(students),
        drills=sorted({one.title for one, _ in result.judged}),
        median=percent(middle(result.scores())),
        scored=len(result.scores()),
        scores=plots.scores(result) if result.scores() else None,
        heats=[plots.heat(f"heat-{at}", result, part, criteria) for at, part in enumerate(parts)]
        if criteria
        else [],
        criteria=[ROWS[row] for row in criteria],
        by_student=[_student(result, student, criteria) for student in students],
        lines=lines,
        lines_plot=plots.lines(lines[:_MOST_LINES]) if lines else None,
        most_lines=_MOST_LINES,
        faults=[(plain(fault), part) for fault, part in result.faults()],
        pace=plots.pace(result) if paced else None,
        table=[_attempt(one, judgement) for one, judgement in result.judged],
        alike=result.alike,
        bad=result.bad,
        recognisers=sorted({one.recogniser for one, _ in result.judged}),
    )


def _student(result: ClassResult, student: str, criteria: tuple[Criterion, ...]) -> dict[str, Any]:
    scores = result.of_student(student, lambda judgement: judgement.score)
    paces = result.of_student(student, lambda judgement: judgement.measured.numbers_per_minute)
    centre = middle(paces)
    return {
        "student": student,
        "score": f"{percent(middle(scores))} (n = {len(scores)})",
        "pace": "none" if centre is None else f"{centre:.0f} (n = {len(paces)})",
        "rows": [str(result.row(student, row)) for row in criteria],
    }


def _attempt(one: Graded, judgement: Judgement) -> dict[str, Any]:
    return {
        "student": one.handed.student,
        "title": one.title,
        "take": one.handed.take,
        "score": percent(judgement.score),
        "rows": rows(judgement),
        "not_heard": len(judgement.not_heard),
        "findings": findings(judgement),
        "file": one.handed.file,
    }
