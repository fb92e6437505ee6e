"""Pace and loudness of an attempt over its whole time, each with the range that the drill wants.

``strips.py`` draws what was called when.
"""

from collections.abc import Iterable, Sequence
from functools import partial
from itertools import pairwise

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from voicecount.drill.strip_layout import free
from voicecount.drill.strips import clock
from voicecount.drill.svg import FILL, INK, LINE, MARK, PAPER, QUIET, VOICE, Plot, drawn, line, text
from voicecount.drill.view import Line, View
from voicecount.report.timeline_text import width
from voicecount.show.console import clock_time

WIDTH = 7.2
LEFT, RIGHT = 0.78, 0.12
_TOP, _AXIS = 0.24, 0.22
_PACE, _LOUD = 1.75, 1.35
_TICKS = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600)
_MOST_TICKS = 13
_FAR = 1.9
"""How far above the range the picture goes; what is beyond stands at its edge."""


class _Frame:
    """Axes in inches with time along and one measure up."""

    def __init__(self, seconds: float, most: float, tall: float, least: float = 0.0) -> None:
        self.seconds = max(seconds, 1.0)
        self.least, self.most, self.tall = least, most, tall

    def x(self, at: float) -> float:
        """Give where a second stands."""
        share = min(max(at / self.seconds, 0.0), 1.0)
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def y(self, value: float) -> float:
        """Give where a value stands; what is outside stands at the edge."""
        share = (min(max(value, self.least), self.most) - self.least) / (self.most - self.least)
        return _TOP + self.tall * (1 - share)

    @property
    def size(self) -> tuple[float, float]:
        """The whole picture."""
        return WIDTH, _TOP + self.tall + _AXIS + 0.02

    def draw(self, axes: Axes, values: Iterable[float], unit: str) -> None:
        """Draw the axes."""
        bottom = _TOP + self.tall
        step = next((one for one in _TICKS if self.seconds / one <= _MOST_TICKS), 7200)
        for at in range(0, int(self.seconds) + 1, step):
            x = self.x(at)
            line(axes, (x, x), (bottom, bottom + 0.035))
            text(axes, x, bottom + 0.12, clock(at), ha="center", color=QUIET)
        line(axes, (LEFT, WIDTH - RIGHT), (bottom, bottom))
        line(axes, (LEFT, LEFT), (_TOP, bottom))
        for value in values:
            y = self.y(value)
            line(axes, (LEFT - 0.035, LEFT), (y, y))
            text(axes, LEFT - 0.06, y, f"{value:g}", ha="right", color=QUIET)
        text(axes, 0, 0.1, unit, color=QUIET)


def pace(view: View) -> Plot:
    """Draw the pace from number to number of every line, over the range of the drill."""
    wanted = view.drill.pace
    lines = [(one, _paces(one)) for one in view.lines]
    lines = [(one, found) for one, found in lines if found]
    fastest = max((value for _, found in lines for _, value in found), default=0.0)
    most = min(max(1.2 * wanted.most, 1.1 * fastest), _FAR * wanted.most)
    frame = _Frame(view.seconds, most, _PACE)
    svg = drawn("pace", frame.size, partial(_pace, view=view, lines=lines, frame=frame))
    told = "; ".join(_paced(one, found) for one, found in lines)
    return Plot(
        svg,
        f"Numbers a minute, from number to number; wanted {wanted.least:g} to {wanted.most:g}. "
        + (f"{told}." if told else "No line has two numbers or more, so there is no pace."),
    )


def _paces(step: Line) -> list[tuple[float, float]]:
    """Give (second, numbers a minute) between each two numbers."""
    return [
        ((one.start + after.start) / 2, 60 / (after.start - one.start))
        for one, after in pairwise(step.numbers)
        if after.start > one.start
    ]


def _paced(step: Line, found: Sequence[tuple[float, float]]) -> str:
    values = [value for _, value in found]
    usual = 60 * (len(step.numbers) - 1) / (step.numbers[-1].start - step.numbers[0].start)
    return (
        f"step {step.number}, {step.name}, {usual:.0f} "
        f"(slowest {min(values):.0f}, fastest {max(values):.0f})"
    )


def _pace(
    axes: Axes,
    *,
    view: View,
    lines: Sequence[tuple[Line, list[tuple[float, float]]]],
    frame: _Frame,
) -> None:
    wanted = view.drill.pace
    _band(axes, frame, wanted.least, wanted.most)
    frame.draw(axes, [0, wanted.least, wanted.most], "numbers a minute")
    for _, found in lines:
        xs = [frame.x(at) for at, _ in found]
        ys = [frame.y(value) for _, value in found]
        axes.plot(xs, ys, color=VOICE, linewidth=1.1, zorder=3)
        for x, y, (_, value) in zip(xs, ys, found, strict=True):
            out = not wanted.least <= value <= wanted.most
            beyond = value > frame.most
            axes.plot(
                [x],
                [y],
                marker="^" if beyond else "D" if out else "o",
                markersize=4.2 if out else 2.6,
                color=MARK if out else VOICE,
                markeredgecolor=PAPER,
                markeredgewidth=0.3,
                zorder=4,
                clip_on=False,
            )
    _labels(axes, frame, [(one, min(value for _, value in found)) for one, found in lines])


def loudness(view: View) -> Plot:
    """Draw how far each line is above the noise of the room, over the least that is wanted."""
    wanted = view.drill.loudness
    lines = [(one, one.above_room) for one in view.lines]
    known = [(one, value) for one, value in lines if value is not None and one.start is not None]
    most = max([wanted.above_room * 1.6, *(value * 1.25 for _, value in known)])
    least = min([0.0, *(value for _, value in known)])
    frame = _Frame(view.seconds, max(most, 10.0), _LOUD, least)
    svg = drawn("loudness", frame.size, partial(_loudness, view=view, known=known, frame=frame))
    told = "; ".join(f"step {one.number}, {one.name}, {value:.0f}" for one, value in known)
    return Plot(
        svg,
        f"Decibels above the noise of the room; wanted {wanted.above_room:g} at least. "
        + (f"{told}." if told else "No line was measured."),
    )


def _loudness(
    axes: Axes, *, view: View, known: Sequence[tuple[Line, float]], frame: _Frame
) -> None:
    wanted = view.drill.loudness.above_room
    _band(axes, frame, wanted, frame.most)
    frame.draw(axes, sorted({0.0, float(wanted)}), "dB above the room")
    for one, value in known:
        start = one.start or 0.0
        xs = (frame.x(start), max(frame.x(one.end or start), frame.x(start) + 0.03))
        y = frame.y(value)
        quiet = value < wanted
        line(axes, (xs[0], xs[0]), (y, frame.y(0.0)), color=LINE, linewidth=0.5, zorder=1)
        colour = MARK if quiet else VOICE
        line(axes, xs, (y, y), color=colour, linewidth=1.4 if quiet else 2.6, zorder=3)
        axes.plot([xs[0]], [y], marker="D" if quiet else "o", markersize=3.6, color=colour)
    _labels(axes, frame, known, above=True)


def _band(axes: Axes, frame: _Frame, least: float, most: float) -> None:
    low, high = frame.y(least), frame.y(most)
    axes.add_patch(
        Rectangle(
            (LEFT, high), WIDTH - LEFT - RIGHT, low - high, facecolor=FILL, edgecolor="none",
            zorder=0,
        )
    )  # fmt: skip
    for y in {low, high} - {frame.y(frame.most)}:
        line(axes, (LEFT, WIDTH - RIGHT), (y, y), color=QUIET, linewidth=0.6, linestyle=(0, (5, 3)))


def _labels(
    axes: Axes, frame: _Frame, known: Sequence[tuple[Line, float]], *, above: bool = False
) -> None:
    """Write the number of each step beside its line, where it touches no other."""
    placed = sorted(((_middle(one), one, value) for one, value in known), key=lambda one: one[0])
    spans = []
    for at, one, _ in placed:
        half = width(str(one.number)) / 2
        spans.append((frame.x(at) - half, frame.x(at) + half))
    for (at, one, value), fits in zip(placed, free(spans, 0.03), strict=True):
        if fits:
            low = frame.y(value) > _TOP + frame.tall - 0.18  # there the axis has its own digits
            y = frame.y(value) + (-0.1 if above or low else 0.11)
            text(axes, frame.x(at), y, str(one.number), ha="center", color=INK)


def _middle(step: Line) -> float:
    start = step.start or 0.0
    return (start + (step.end or start)) / 2


def too_far(view: View) -> list[str]:
    """Name the moments whose pace is beyond the picture."""
    most = _FAR * view.drill.pace.most
    return [
        f"{clock_time(at)} ({value:.0f})"
        for one in view.lines
        for at, value in _paces(one)
        if value > most
    ]
