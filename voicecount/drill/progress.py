"""Progress over attempts: the score and each row of the rubric, attempt after attempt."""

from collections.abc import Sequence
from functools import partial
from math import ceil

from matplotlib.axes import Axes

from voicecount.drill.document import percent, render
from voicecount.drill.model import Criterion
from voicecount.drill.past import Past
from voicecount.drill.svg import INK, LINE, PAPER, QUIET, VOICE, Plot, drawn, line, text
from voicecount.drill.view import ROWS
from voicecount.report.marks import visible

__all__ = ["Past", "panels", "progress_page"]

WIDTH = 7.2
_ACROSS = 3
_GAP = 0.32
_PANEL = (WIDTH - _GAP * (_ACROSS - 1)) / _ACROSS
_HEAD, _TALL, _FOOT = 0.26, 0.62, 0.2
_MOST_MARKED = 40
"""Attempts beyond which only the line is drawn, and its last point."""

_Series = tuple[str, list[tuple[int, float]]]


def progress_page(past: Sequence[Past], *, made: str, student: str = "") -> str:
    """Give the page as the text of an HTML file: by student, by drill, in order of time."""
    ordered = sorted(past, key=lambda one: one.when)
    parts: list[dict[str, object]] = []
    for code in sorted({one.student for one in ordered}):
        theirs = [one for one in ordered if one.student == code]
        for title in dict.fromkeys(one.drill for one in theirs):
            drill = [one for one in theirs if one.drill == title]
            parts.append(
                {
                    "student": visible(code or student),
                    "title": visible(title),
                    "past": drill,
                    "rows": _rows(drill),
                    "plot": panels(f"progress-{len(parts)}", drill),
                }
            )
    return render(
        "progress.html",
        script=False,
        student=visible(student),
        made=made,
        parts=parts,
        attempts=len(ordered),
        names=ROWS,
    )


def panels(name: str, past: Sequence[Past]) -> Plot:
    """Draw the attempts at one drill, a small picture for the score and for each row."""
    series = _series(past)
    down = ceil(len(series) / _ACROSS)
    size = (WIDTH, 0.02 + down * (_HEAD + _TALL + _FOOT))
    svg = drawn(name, size, partial(_draw, series=series, last=len(past)))
    told = "; ".join(_told(*one) for one in series)
    number = "one attempt" if len(past) == 1 else f"{len(past)} attempts"
    return Plot(svg, f"Share that was right, over {number}. {told}.")


def _rows(past: Sequence[Past]) -> list[Criterion]:
    """Give the rows of the rubric that any of the attempts has, in their order."""
    there = {mark.criterion for one in past for mark in one.marks}
    return [one for one in Criterion if one in there]


def _series(past: Sequence[Past]) -> list[_Series]:
    found: list[_Series] = [
        (
            "Score",
            [(at, one.score) for at, one in enumerate(past, start=1) if one.score is not None],
        )
    ]
    for row in _rows(past):
        each = [
            (at, mark.share)
            for at, one in enumerate(past, start=1)
            for mark in one.marks
            if mark.criterion is row and mark.share is not None
        ]
        found.append((ROWS[row], each))
    return found


def _told(name: str, points: Sequence[tuple[int, float]]) -> str:
    if not points:
        return f"{name}: nothing was judged"
    if len(points) == 1:
        return f"{name}: {percent(points[0][1])}, judged once"
    best = max(share for _, share in points)
    return (
        f"{name}: first {percent(points[0][1])}, last {percent(points[-1][1])}, "
        f"best {percent(best)}"
    )


def _draw(axes: Axes, *, series: Sequence[_Series], last: int) -> None:
    for place, (name, points) in enumerate(series):
        _panel(axes, name, points, last, place)


def _panel(
    axes: Axes,
    name: str,
    points: Sequence[tuple[int, float]],
    last: int,
    place: int,
) -> None:
    left = (place % _ACROSS) * (_PANEL + _GAP)
    top = 0.02 + (place // _ACROSS) * (_HEAD + _TALL + _FOOT) + _HEAD
    first = place == 0
    text(axes, left, top - 0.14, name, fontweight="bold" if first else "normal")
    start, end = left + 0.34, left + _PANEL - 0.42
    for share in (0.0, 0.5, 1.0):
        y = top + _TALL * (1 - share)
        line(axes, (start, end), (y, y), color=QUIET if share == 0 else LINE, linewidth=0.5)
        if share != 0.5:
            text(axes, start - 0.06, y, f"{100 * share:.0f}", ha="right", color=QUIET)
    middle = top + _TALL / 2
    if not points:
        text(axes, start + 0.06, middle - 0.08, "nothing to judge", color=QUIET)
        return
    step = (end - start - 0.16) / max(last - 1, 1)
    xs = [start + 0.08 + step * (at - 1) for at, _ in points]
    ys = [top + _TALL * (1 - share) for _, share in points]
    axes.plot(xs, ys, color=VOICE, linewidth=1.6 if first else 1.1, zorder=3)
    if len(points) <= _MOST_MARKED:
        axes.plot(
            xs[:-1], ys[:-1], linestyle="none", marker="o", markersize=3.2,
            markerfacecolor=PAPER, markeredgecolor=VOICE, zorder=4, clip_on=False,
        )  # fmt: skip
    axes.plot(
        xs[-1:], ys[-1:], linestyle="none", marker="s", markersize=4.2, color=VOICE, zorder=5,
        clip_on=False,
    )  # fmt: skip
    text(axes, xs[-1] + 0.08, ys[-1], percent(points[-1][1]), color=INK)
    text(axes, start + 0.08, top + _TALL + 0.1, "1", ha="center", color=QUIET)
    if last > 1:
        text(axes, end - 0.08, top + _TALL + 0.1, str(last), ha="center", color=QUIET)
