"""The pictures of many records, as SVG: everything that is drawn is also said in words.

They are read without colour: what differs has a hatch or a shape of its own, and every bar, row
and point carries its number. Letters are drawn as outlines, so no font is needed, and the same
figures give the same bytes.
"""

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.patches import Patch, Rectangle
from matplotlib.ticker import MaxNLocator

from voicecount.report import words
from voicecount.report.many import DIFFERENCES, GROUPS, KINDS, Held, Summary, in_order
from voicecount.report.many_figures import Share, Spread, Times, duration
from voicecount.report.svg_alone import UNTOLD, bare, with_names_of_its_own, without_style_sheet
from voicecount.report.timeline_text import drawable

INK = "#1b1f27"
GREY = "#8b94a3"
HATCHES = ("", "////", "xxx", "---", "+++")
MOST_POINTS = 300
"""Of one kind of count; beyond it the points would hide each other, and only the box is drawn."""
LEAST_LABELLED = 0.03
"""Parts of a bar below this share of the longest one have no room for their number."""
FAR = 8
"""A time this many times the usual one would leave no room for the others on an even scale."""
_SHOWN = (1, 5, 15, 60, 300, 900, 3600, 14_400, 43_200, 172_800)
_OFF = (0.0, 0.09, -0.09, 0.18, -0.18)
"""Where points stand beside the middle of their row, in turn, so that near ones can be seen."""
_SETTINGS: Any = {
    "svg.hashsalt": "voicecount",
    "svg.fonttype": "path",
    "font.family": "DejaVu Sans",
    "font.size": 8.5,
    "hatch.linewidth": 0.7,
    "hatch.color": INK,
    "text.parse_math": False,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
}


@dataclass(frozen=True)
class Plot:
    """One picture."""

    svg: str
    alternative: str
    """The same in words."""


def kind_name(kind: str) -> str:
    """Name a kind of count as it stands beside a row."""
    return words.KINDS.get(kind, words.plain(kind))


def shown_kinds(summary: Summary) -> list[tuple[str, Held]]:
    """Give the kinds of count that were held, in their usual order."""
    order = in_order(summary.kinds, KINDS)
    return [(kind, summary.kinds[kind]) for kind in order if kind in summary.kinds]


def differences(summary: Summary) -> Plot:
    """Draw differences by the item's group, each group's bar parted by what differed."""
    groups = in_order(summary.differences_by(1), GROUPS)
    kinds = in_order(summary.differences_by(0), DIFFERENCES)
    found = summary.differs
    by_kind = summary.differences_by(0)

    totals = summary.differences_by(1)
    most = max(totals.values(), default=1)

    def draw(axes: Axes) -> None:
        left = [0] * len(groups)
        for place, kind in enumerate(kinds):
            here = [row for row, group in enumerate(groups) if found[kind, group]]
            parts = [found[kind, groups[row]] for row in here]
            bars = axes.barh(
                here,
                parts,
                left=[left[row] for row in here],
                height=0.62,
                color="white" if place else GREY,
                edgecolor=INK,
                hatch=HATCHES[place % len(HATCHES)],
            )
            axes.bar_label(
                bars,
                [str(part) if part >= LEAST_LABELLED * most else "" for part in parts],
                label_type="center",
                bbox={"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "none"},
            )
            for row, part in zip(here, parts, strict=True):
                left[row] += part
        for row, total in enumerate(left):
            _beside(axes, f"n = {total}", total, row)
        axes.set(xlim=(0, most * 1.15), xlabel="differences")
        axes.xaxis.set_major_locator(MaxNLocator(integer=True, nbins=6))
        axes.legend(
            handles=[
                Patch(
                    facecolor="white" if place else GREY,
                    edgecolor=INK,
                    hatch=HATCHES[place % len(HATCHES)],
                    label=drawable(f"{_difference_name(kind)}: {by_kind[kind]}"),
                )
                for place, kind in enumerate(kinds)
            ],
            loc="lower left",
            bbox_to_anchor=(0, 1),
            frameon=False,
            handlelength=2.4,
        )

    names = [words.plain(group) for group in groups]
    each = "; ".join(_group_in_words(summary, group, kinds) for group in groups)
    return Plot(
        _drawn("differences", names, draw, above=0.22 * len(kinds)),
        f"{words.counted(summary.differences, 'difference')} in "
        f"{words.counted(summary.cases, 'case')}, by group of items: {each}.",
    )


def _difference_name(kind: str) -> str:
    return words.DIFFERENCES.get(kind, words.plain(kind))


def _group_in_words(summary: Summary, group: str, kinds: Sequence[str]) -> str:
    parts = [
        f"{summary.differs[kind, group]} ({_difference_name(kind)})"
        for kind in kinds
        if summary.differs[kind, group]
    ]
    return f"{words.plain(group)} {', '.join(parts) or 'none'}"


def times(summary: Summary) -> Plot:
    """Draw how long finished counts took: every one as a point, and the middle half as a box."""
    rows = [
        (kind, held.times, spread)
        for kind, held in shown_kinds(summary)
        if (spread := held.times.spread()) is not None
    ]
    longest = max((spread.high for _, _, spread in rows), default=60)
    usual = max((spread.median for _, _, spread in rows), default=60)

    def draw(axes: Axes) -> None:
        for row, (_, one, spread) in enumerate(rows):
            _strip(axes, row, one, spread)
        if longest > FAR * usual:
            _by_factors(axes, min(spread.low for _, _, spread in rows), longest)
        else:
            axes.set(
                xlim=(0, max(longest, 60) / 60 * 1.18), xlabel="minutes from opening to finished"
            )

    names = [kind_name(kind) for kind, _, _ in rows]
    told = "; ".join(f"{kind_name(kind)}: {times_in_words(one)}" for kind, one, _ in rows)
    return Plot(
        _drawn("times", names, draw),
        f"Time per finished count, by kind of count. {told}."
        if rows
        else "No finished count is in these records.",
    )


def _by_factors(axes: Axes, shortest: int, longest: int) -> None:
    """Lay times out by their size, so that very long ones leave room for the others."""
    first, last = max(shortest, 1) / 2, longest * 2.5
    axes.set(
        xscale="log",
        xlim=(first / 60, last / 60),
        xlabel="from opening to finished; the scale is not even: equal steps are equal factors",
    )
    shown = [second for second in _SHOWN if first <= second <= last]
    axes.set_xticks([second / 60 for second in shown], [duration(second) for second in shown])
    axes.minorticks_off()


def times_in_words(one: Times) -> str:
    """Say what is known of some times: all of a few, of more the median, quartiles and range."""
    spread = one.spread()
    if spread is None:
        return "none"
    if not spread.told:
        return f"n = {spread.n}: {', '.join(duration(second) for second in one)}"
    return (
        f"n = {spread.n}: median {duration(spread.median)}, middle half "
        f"{duration(spread.first)} to {duration(spread.third)}, range {duration(spread.low)} to "
        f"{duration(spread.high)}"
    )


def _strip(axes: Axes, row: int, one: Times, spread: Spread) -> None:
    if spread.told:
        low, first, median, third, high = (
            max(at, 1) / 60
            for at in (spread.low, spread.first, spread.median, spread.third, spread.high)
        )
        axes.plot([low, high], [row, row], color=INK, linewidth=0.8)
        box = Rectangle(
            (first, row - 0.3), third - first, 0.6, facecolor="#e4e7ec", edgecolor=INK, zorder=2
        )
        axes.add_patch(box)
        axes.plot([median, median], [row - 0.3, row + 0.3], color=INK, linewidth=2.4, zorder=4)
    if spread.n <= MOST_POINTS:
        at = [max(second, 1) / 60 for second in one]
        axes.plot(
            at,
            [row + _OFF[place % len(_OFF)] for place in range(len(at))],
            "o",
            markersize=3.2,
            markerfacecolor="white",
            markeredgecolor=INK,
            markeredgewidth=0.7,
            zorder=5,
        )
    _beside(axes, f"n = {spread.n}", spread.high / 60, row)


def interruptions(summary: Summary) -> Plot:
    """Draw the share of counts that were interrupted, with its interval, by kind of count."""
    rows = [(kind, Share(held.interrupted, held.held)) for kind, held in shown_kinds(summary)]

    def draw(axes: Axes) -> None:
        for row, (_, share) in enumerate(rows):
            counted = f"{share.k} of {share.n}"
            if share.value is None or share.interval is None:
                _beside(axes, f"{counted}: too few for a share", 0, row)
                continue
            low, high = (100 * limit for limit in share.interval)
            axes.plot([low, high], [row, row], "|-", color=INK, linewidth=1.2, markersize=9)
            axes.plot(100 * share.value, row, "D", color=INK, markersize=5.5, clip_on=False)
            _beside(axes, counted, high, row)
        axes.set(xlim=(-2, 102), xlabel="% of counts with an interruption (line: 95 % interval)")

    names = [kind_name(kind) for kind, _ in rows]
    told = "; ".join(f"{kind_name(kind)}: {share}" for kind, share in rows)
    return Plot(
        _drawn("interruptions", names, draw),
        f"Counts with at least one interruption, by kind of count. {told}."
        if rows
        else "No count is in these records.",
    )


def _beside(axes: Axes, text: str, x: float, row: float) -> None:
    axes.annotate(text, (x, row), (7, 0), textcoords="offset points", va="center")


def _drawn(
    name: str, rows: Sequence[str], draw: Callable[[Axes], None], *, above: float = 0.0
) -> str:
    """Draw rows, the first at the top; ``above`` is the room for a legend, in inches."""
    with mpl.rc_context(_SETTINGS):
        figure = Figure(
            figsize=(6.8, 0.75 + above + 0.42 * max(len(rows), 1)), layout="constrained"
        )
        canvas = FigureCanvasSVG(figure)
        axes = figure.add_subplot()
        if rows:
            axes.set_yticks(range(len(rows)), [drawable(name) for name in rows])
            axes.tick_params(axis="y", length=0)
            draw(axes)
            axes.set_ylim(len(rows) - 0.5, -0.5)
        else:
            axes.axis("off")
            axes.text(0.5, 0.5, "nothing to draw", ha="center", va="center")
        written = io.StringIO()
        canvas.print_svg(written, metadata=UNTOLD)  # type: ignore[no-untyped-call]
    # a drawing for a page: nothing in it reaches another one
    return with_names_of_its_own(without_style_sheet(bare(written.getvalue())), name)
