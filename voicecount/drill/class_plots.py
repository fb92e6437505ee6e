"""The pictures of a class: every mark carries its number, and everything is also said in words."""

from collections import Counter
from collections.abc import Sequence
from textwrap import wrap
from typing import Any

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from voicecount.drill.class_result import ClassResult, Line, Part, middle
from voicecount.drill.model import Criterion
from voicecount.drill.svg import FILL, INK, LINE, PAPER, QUIET, VOICE, Plot, drawn, line, text
from voicecount.report.timeline_text import drawable, width

WIDTH = 7.2
_STEPS = 10
"""Bars of the distribution: each is ten percent wide."""
_ROW = 0.24
_HIGHEST = 1.1
"""Inches of the highest bar."""
_LEAST_SHADE = 0.25
SHORT: dict[Criterion, str] = {
    Criterion.COMPLETE: "Every item",
    Criterion.ORDER: "Order",
    Criterion.CADENCE: "One by one",
    Criterion.NUMBERS: "As many as lie there",
    Criterion.WORDING: "Names",
    Criterion.PACE: "Pace",
    Criterion.FLUENCY: "No pauses, no new starts",
    Criterion.LOUDNESS: "Loudness",
    Criterion.CONFIRMING: "Con- firmed",
    Criterion.EVENTS: "What was planted",
}
"""Rows of the rubric as heads of narrow columns."""


def scores(result: ClassResult) -> Plot:
    """Draw how many attempts have which score."""
    found = result.scores()
    bars = Counter(min(int(score * _STEPS + 1e-9), _STEPS - 1) for score in found)
    most = max(bars.values(), default=1)
    left, wide, floor = 0.4, WIDTH - 0.8, _HIGHEST + 0.3

    def draw(axes: Axes) -> None:
        for place in range(_STEPS):
            x = left + wide * place / _STEPS
            if bars[place]:
                high = _HIGHEST * bars[place] / most
                _box(axes, (x + 0.04, floor - high, wide / _STEPS - 0.08, high), VOICE)
                text(axes, x + wide / _STEPS / 2, floor - high - 0.1, str(bars[place]), ha="center")
        line(axes, (left, left + wide), (floor, floor))
        for place in range(_STEPS + 1):
            x = left + wide * place / _STEPS
            line(axes, (x, x), (floor, floor + 0.05))
            text(axes, x, floor + 0.16, f"{100 * place // _STEPS}", ha="center", color=QUIET)
        text(axes, left + wide / 2, floor + 0.36, "score in percent", ha="center", color=QUIET)
        centre = middle(found)
        if centre is not None:
            x = left + wide * centre
            line(axes, (x, x), (0.16, floor), linestyle=(0, (4, 2)))
            near = "left" if centre < 1 / 2 else "right"
            gap = 0.05 if near == "left" else -0.05
            text(axes, x + gap, 0.09, f"median {100 * centre:.0f} %", ha=near)

    each = [
        f"{100 * place // _STEPS} to {100 * (place + 1) // _STEPS} %: {bars[place]}"
        for place in range(_STEPS)
        if bars[place]
    ]
    centre = middle(found)
    of = f"{len(found)} attempt{'' if len(found) == 1 else 's'}"
    told = f"Scores of {of}. {'; '.join(each)}."
    if centre is not None:
        told += f" Median {100 * centre:.0f} %."
    return Plot(drawn("scores", (WIDTH, floor + 0.5), draw), told)


def heat(
    name: str, result: ClassResult, students: Sequence[str], rows: Sequence[Criterion]
) -> Plot:
    """Draw a square for each student and row of the rubric: darker for more, and with numbers."""
    head = 0.62
    names = _room(students)
    across = (WIDTH - names) / max(len(rows), 1)
    cells = {(one, row): result.row(one, row) for one in students for row in rows}

    def draw(axes: Axes) -> None:
        for column, row in enumerate(rows):
            x = names + across * (column + 0.5)
            for place, words in enumerate(reversed(wrap(SHORT[row], 10))):
                text(axes, x, head - 0.13 - 0.14 * place, words, ha="center", color=QUIET)
        for down, student in enumerate(students):
            y = head + _ROW * down
            text(axes, names - 0.1, y + _ROW / 2, drawable(student), ha="right")
            for column, row in enumerate(rows):
                _cell(axes, names + across * column, y, across, cells[student, row])

    told = "; ".join(
        f"{student}: " + ", ".join(f"{SHORT[row]} {cells[student, row]}" for row in rows)
        for student in students
    )
    size = (WIDTH, head + _ROW * max(len(students), 1) + 0.05)
    return Plot(drawn(name, size, draw), f"Right of all chances, by student and row. {told}.")


def _cell(axes: Axes, x: float, y: float, across: float, part: Part) -> None:
    """Shade a square by the share that went wrong; white is all right, and the number is in it."""
    share = part.share
    if share is None:
        text(axes, x + across / 2, y + _ROW / 2, "none", ha="center", color=QUIET)
        return
    wrong = 1 - share
    looks = {"alpha": _LEAST_SHADE + (1 - _LEAST_SHADE) * wrong} if wrong else {}
    _box(axes, (x + 0.02, y + 0.02, across - 0.04, _ROW - 0.04), VOICE if wrong else PAPER, **looks)
    colour = PAPER if wrong > 1 / 2 else INK
    text(axes, x + across / 2, y + _ROW / 2, str(part), ha="center", color=colour)


def lines(found: Sequence[Line]) -> Plot:
    """Draw in how many attempts each line was left out (full) or faulty (hatched)."""
    wide, bar_left = 2.1, 3.9

    def draw(axes: Axes) -> None:
        for down, one in enumerate(found):
            y = _ROW * down
            text(axes, bar_left - 0.1, y + _ROW / 2, drawable(_short(one.name)), ha="right")
            _box(axes, (bar_left, y + 0.05, wide, _ROW - 0.1), FILL)
            missing = wide * one.missing / one.heard
            faulty = wide * one.faulty / one.heard
            _box(axes, (bar_left, y + 0.05, missing, _ROW - 0.1), VOICE)
            _box(axes, (bar_left + missing, y + 0.05, faulty, _ROW - 0.1), PAPER, hatch="////")
            told = f"{one.wrong} of {one.heard}"
            text(axes, bar_left + wide + 0.1, y + _ROW / 2, told)

    told = "; ".join(
        f"{one.name}: left out in {one.missing}, faulty in {one.faulty} of {one.heard}"
        for one in found
    )
    size = (WIDTH, _ROW * max(len(found), 1) + 0.05)
    return Plot(drawn("lines", size, draw), f"Lines that went wrong most often. {told}.")


def pace(result: ClassResult) -> Plot:
    """Draw the pace of each student's attempts, and what the drills take for right."""
    values = {
        student: result.of_student(student, lambda one: one.measured.numbers_per_minute)
        for student in result.students
    }
    students = [student for student, found in values.items() if found]
    wanted = [loaded.drill.pace for loaded in result.drills.values()]
    low, high = min(one.least for one in wanted), max(one.most for one in wanted)
    same = len({(one.least, one.most) for one in wanted}) == 1
    end = max(high, *(max(values[student]) for student in students)) * 1.08
    left = _room(students)
    wide, floor = WIDTH - left - 0.9, _ROW * len(students) + 0.25

    def draw(axes: Axes) -> None:
        x, far = (left + wide * bound / end for bound in (low, high))
        _box(axes, (x, 0.2, far - x, floor - 0.2), FILL, linewidth=0)
        text(axes, (x + far) / 2, 0.09, f"{low:g} to {high:g}", ha="center", color=QUIET)
        for down, student in enumerate(students):
            y = 0.22 + _ROW * (down + 0.5)
            text(axes, left - 0.1, y, drawable(student), ha="right")
            line(axes, (left, left + wide), (y, y), color=LINE)
            found = values[student]
            axes.plot(
                [left + wide * one / end for one in found],
                [y] * len(found),
                marker="o",
                linestyle="none",
                color=VOICE,
                markersize=4.5,
                zorder=4,
            )
            centre = middle(found)
            text(axes, left + wide + 0.1, y, f"{centre:.0f} (n = {len(found)})")
        line(axes, (left, left + wide), (floor, floor))
        for mark in range(0, int(end) + 1, 20):
            at = left + wide * mark / end
            line(axes, (at, at), (floor, floor + 0.05))
            text(axes, at, floor + 0.16, str(mark), ha="center", color=QUIET)
        text(axes, left + wide / 2, floor + 0.36, "numbers a minute", ha="center", color=QUIET)

    each = "; ".join(
        f"{student}: {middle(values[student]):.0f} (n = {len(values[student])})"
        for student in students
    )
    band = "The drills take" if same else "Over all drills, which differ, they take"
    told = (
        f"Numbers a minute by student, the median of n attempts. {each}. {band} {low:g} to "
        f"{high:g} for right."
    )
    return Plot(drawn("pace", (WIDTH, floor + 0.5), draw), told)


def _box(axes: Axes, place: tuple[float, float, float, float], fill: str, **looks: Any) -> None:
    """Draw a box from its upper left corner: x, y, width, height, in inches."""
    x, y, wide, high = place
    if wide > 0 and high > 0:
        named = {"facecolor": fill, "edgecolor": INK, "linewidth": 0.5, "zorder": 3, **looks}
        axes.add_patch(Rectangle((x, y), wide, high, **named))


def _room(students: Sequence[str]) -> float:
    """Give the inches that the longest code needs."""
    return 0.2 + max(width(drawable(student)) for student in students)


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST else f"{name[: _LONGEST - 1]}…"


_LONGEST = 46
"""Letters of a name that fit beside a bar."""
