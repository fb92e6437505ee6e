"""Draws the lanes of a case. The axes are in inches, from the upper left corner."""

from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from voicecount.report.timeline_lanes import (
    ADDED,
    ANSWERED,
    CHECK,
    CLOCK,
    GAP,
    HAPPENED,
    HATCHES,
    MEANINGS,
    MICROPHONE,
    NOISE,
    PERSON,
    STORED,
    WAIVED,
    Lane,
    Mark,
    kinds,
)
from voicecount.report.timeline_rows import Bar, Scale, Tick
from voicecount.report.timeline_text import font, width

WIDTH = 7.2
"""Inches; a page scales the drawing."""
LEFT = 0.92
RIGHT = 0.27

LOOKS: Any = {
    "svg.fonttype": "path",
    "svg.hashsalt": "voicecount",
    "hatch.linewidth": 0.6,
    "text.parse_math": False,
}
"""Settings of the drawing library; with the salt the same drawing has the same names in it."""

_INK = "#1b2026"
_QUIET = "#59626d"
_LINE = "#c8ced6"
_FILL = "#dfe4ea"
_ROW = 0.185
_BAR = 0.125
_PAD = 0.075
_TOP = 0.04
_AXIS = 0.38
_KEY = 0.19
_SYMBOL = 0.26

_SHAPES: dict[str, dict[str, Any]] = {
    STORED: {"marker": "|", "markersize": 6.0, "markeredgewidth": 0.8},
    ANSWERED: {"marker": "o", "markersize": 1.9, "markerfacecolor": _INK},
    ADDED: {"marker": "+", "markersize": 6.0, "markeredgewidth": 1.3},
    HAPPENED: {"marker": "D", "markersize": 4.2, "markerfacecolor": "none"},
    WAIVED: {"marker": "s", "markersize": 4.6, "markerfacecolor": "none"},
    PERSON: {"marker": "v", "markersize": 5.2, "markerfacecolor": _INK},
    CHECK: {"marker": "o", "markersize": 4.6, "markerfacecolor": "none"},
    NOISE: {"marker": "^", "markersize": 5.0, "markerfacecolor": "none"},
    MICROPHONE: {"marker": "x", "markersize": 4.8, "markeredgewidth": 1.3},
    CLOCK: {"marker": "d", "markersize": 5.0, "markerfacecolor": _INK},
}
_OFFSETS = {STORED: -0.03, ANSWERED: 0.05}
"""Lines stand above their answers."""


def shapes() -> dict[str, tuple[object, bool]]:
    """Give the shape of each mark, and whether it is filled."""
    return {
        kind: (looks["marker"], looks.get("markerfacecolor") == _INK)
        for kind, looks in _SHAPES.items()
    }


def draw(found: Sequence[Lane], along: Scale, marks_of_time: Sequence[Tick]) -> Figure:
    """Draw lanes over an axis, and what their shapes mean."""
    bottom = _TOP + sum(_height(lane) for lane in found)
    key = _key_rows(kinds(found))
    height = bottom + _AXIS + _KEY * len(key) + 0.06
    figure = Figure(figsize=(WIDTH, height))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, WIDTH)
    axes.set_ylim(height, 0)
    axes.axis("off")
    figure.patch.set_visible(False)
    _axis(axes, along, marks_of_time, bottom)
    top = _TOP
    for lane in found:
        _lane(axes, lane, top, along)
        top += _height(lane)
    for row, entries in enumerate(key):
        _legend(axes, entries, bottom + _AXIS + _KEY * (row + 0.5))
    return figure


def _height(lane: Lane) -> float:
    return _ROW * lane.rows + 2 * _PAD


def _axis(axes: Axes, along: Scale, marks_of_time: Sequence[Tick], bottom: float) -> None:
    for tick in marks_of_time:
        x = along.x(tick.at)
        _line(axes, (x, x), (_TOP, bottom), _LINE, 0.3, behind=True)
        _line(axes, (x, x), (bottom, bottom + 0.04), _INK, 0.7)
        _text(axes, x, bottom + 0.11, tick.minutes, ha="center")
        _text(axes, x, bottom + 0.23, tick.time, ha="center", color=_QUIET)
    _line(axes, (LEFT, along.right), (bottom, bottom), _INK, 0.7)
    _text(axes, 0, bottom + 0.11, "minutes")
    _text(axes, 0, bottom + 0.23, "time, UTC", color=_QUIET)


def _lane(axes: Axes, lane: Lane, top: float, along: Scale) -> None:
    middle = top + _height(lane) / 2
    _line(axes, (0, along.right), (top, top), _LINE, 0.5)
    _text(axes, 0, middle, lane.title, color=_QUIET if lane.empty else _INK)
    if lane.empty:
        _text(axes, LEFT + GAP, middle, "none", color=_QUIET)
    for bar in lane.bars:
        _bar(axes, bar, top + _PAD + _ROW * (bar.row + 0.5))
    for kind in MEANINGS:
        _marks(axes, [mark for mark in lane.marks if mark.kind == kind], kind, top + _PAD)


def _bar(axes: Axes, bar: Bar, middle: float) -> None:
    box = _box(axes, bar.left, bar.right, middle, bar.hatch)
    box.set_gid(bar.name)
    if bar.label:
        _text(axes, bar.text_at, middle, bar.label)


def _box(axes: Axes, left: float, right: float, middle: float, hatch: str) -> Rectangle:
    box = Rectangle(
        (left, middle - _BAR / 2),
        right - left,
        _BAR,
        facecolor="none" if hatch else _FILL,
        edgecolor=_INK,
        linewidth=0.6,
        hatch=hatch or None,
    )
    axes.add_patch(box)
    return box


def _marks(axes: Axes, found: Sequence[Mark], kind: str, top: float) -> None:
    if not found:
        return
    middles = [top + _ROW * (mark.row + 0.5) for mark in found]
    ys = [middle + _OFFSETS.get(kind, 0.0) for middle in middles]
    line = axes.plot([mark.x for mark in found], ys, **_shape(kind))[0]
    line.set_gid(kind)
    for mark, middle in zip(found, middles, strict=True):
        if mark.label:
            _text(axes, mark.text_at, middle, mark.label)


def _key_rows(shown: Sequence[str]) -> list[list[tuple[str, float]]]:
    """Set the legend in rows: each kind with where it begins."""
    rows: list[list[tuple[str, float]]] = [[]]
    x = 0.0
    for kind in shown:
        wide = _SYMBOL + width(MEANINGS[kind]) + 0.22
        if x and x + wide > WIDTH:
            rows.append([])
            x = 0.0
        rows[-1].append((kind, x))
        x += wide
    return rows


def _legend(axes: Axes, entries: Sequence[tuple[str, float]], middle: float) -> None:
    for kind, x in entries:
        if kind in HATCHES:
            _box(axes, x, x + _SYMBOL - 0.05, middle, HATCHES[kind])
        else:
            axes.plot([x + _SYMBOL / 2 - 0.02], [middle], **_shape(kind))
        _text(axes, x + _SYMBOL, middle, MEANINGS[kind], color=_QUIET)


def _shape(kind: str) -> dict[str, Any]:
    return {
        "linestyle": "none",
        "color": _INK,
        "markeredgecolor": _INK,
        "markeredgewidth": 0.8,
        "clip_on": False,
        **_SHAPES[kind],
    }


def _line(
    axes: Axes,
    xs: tuple[float, float],
    ys: tuple[float, float],
    colour: str,
    width: float,
    *,
    behind: bool = False,
) -> None:
    order = 0 if behind else 2
    axes.plot(xs, ys, color=colour, linewidth=width, solid_capstyle="butt", zorder=order)


def _text(axes: Axes, x: float, y: float, text: str, **looks: Any) -> None:
    axes.text(
        x,
        y,
        text,
        **{"color": _INK, "va": "center_baseline", "fontproperties": font(), **looks},
    )
