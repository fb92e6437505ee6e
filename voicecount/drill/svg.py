"""A drawing as SVG that can stand in a page with a strict policy: no style, no font, no file head.

The same drawing gives the same bytes. Its colours are attributes, so the page's own style sheet can
change them for a dark screen.
"""

import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.markers import MarkerStyle

from voicecount.report.svg_alone import UNTOLD, bare, with_names_of_its_own, without_style_sheet
from voicecount.report.timeline_text import font

INK = "#1b2026"
QUIET = "#59626d"
LINE = "#c8ced6"
FILL = "#e4e9ef"
VOICE = "#1f5f8b"
"""What the student said: dark on paper, and apart from the marks for colour-blind people."""
MARK = "#a63a00"
"""What was found."""
PAPER = "#ffffff"

_LOOKS: Any = {
    "svg.fonttype": "path",
    "svg.hashsalt": "voicecount",
    "font.family": "DejaVu Sans",
    "hatch.linewidth": 0.6,
    "hatch.color": QUIET,
    "text.parse_math": False,
    "axes.unicode_minus": True,
}
_DRAWN_AS_ATTRIBUTES = frozenset(
    (
        *("fill", "fill-opacity", "fill-rule", "opacity", "stroke", "stroke-width"),
        *("stroke-dasharray", "stroke-dashoffset", "stroke-linecap", "stroke-linejoin"),
        *("stroke-miterlimit", "stroke-opacity"),
    )
)
"""Properties that may be attributes (SVG 2, 6.6: presentation attributes)."""


@dataclass(frozen=True)
class Plot:
    """One picture."""

    svg: str
    alternative: str
    """The same in words."""


def drawn(name: str, size: tuple[float, float], draw: Callable[[Axes], None]) -> str:
    """Draw on axes in inches, from the upper left corner; ``name`` is unique in the page."""
    width, height = size
    with mpl.rc_context(_LOOKS):
        figure = Figure(figsize=size)
        figure.patch.set_visible(False)
        canvas = FigureCanvasSVG(figure)
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set(xlim=(0, width), ylim=(height, 0))
        axes.axis("off")
        draw(axes)
        written = io.StringIO()
        canvas.print_svg(written, metadata=UNTOLD)  # type: ignore[no-untyped-call]
    return _alone(name, written.getvalue())


def line(axes: Axes, xs: tuple[float, float], ys: tuple[float, float], **looks: Any) -> None:
    """Draw a line, in inches."""
    axes.plot(
        xs, ys, **{"color": INK, "linewidth": 0.7, "solid_capstyle": "butt", "zorder": 2, **looks}
    )


def text(axes: Axes, x: float, y: float, words: str, **looks: Any) -> None:
    """Write words that the font can draw (``drawable``)."""
    axes.text(
        x,
        y,
        words,
        **{"color": INK, "va": "center_baseline", "fontproperties": font(), "zorder": 5, **looks},
    )


@cache
def shape(marker: str) -> str:
    """Give a marker as the path of an SVG of 2 by 2 around its middle, to stand in a text."""
    style = MarkerStyle(marker)
    path = style.get_path().transformed(style.get_transform())
    size = float(np.abs(np.asarray(path.vertices)).max())
    parts = []
    for points, code in path.iter_segments():
        at = [f"{one / size * (-1 if place % 2 else 1):.3f}" for place, one in enumerate(points)]
        parts.append({1: "M", 2: "L", 3: "Q", 4: "C", 79: "Z"}[int(code)])
        parts += [] if int(code) == 79 else at
    return " ".join(parts)


def _alone(name: str, svg: str) -> str:
    body = without_style_sheet(bare(svg))
    body = re.sub(r'\s*style="([^"]*)"', _attributes, body)
    # no stop for the keyboard
    body = body.replace("<svg ", '<svg focusable="false" ', 1)
    return with_names_of_its_own(body, name)


def _attributes(found: re.Match[str]) -> str:
    """Turn a style into attributes: a strict policy lets no style stand on an element."""
    each = [part.split(":", 1) for part in found[1].split(";") if part.strip()]
    known = [(name.strip(), value.strip()) for name, value in each]
    return "".join(f' {name}="{value}"' for name, value in known if name in _DRAWN_AS_ATTRIBUTES)
