"""Draws in one strip: boxes, labels and lines, by the seconds of the attempt."""

from functools import cache

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from voicecount.drill.strip_layout import Strip, fitting
from voicecount.drill.svg import INK, PAPER, QUIET, line, text
from voicecount.report.timeline_text import width

WIDTH = 7.2
"""Inches; a page scales the drawing."""
LEFT = 0.78
RIGHT = 0.12
_LETTER = 0.12
"""How tall a label is, what hangs below the line included."""


@cache
def _advance(character: str) -> float:
    """Give how far a character moves the next one, in inches."""
    return width(f"{character}.") - width(".")


def measured(words: str) -> float:
    """Give how wide words are, in inches, from one letter to the next: cutting them asks often."""
    return sum(map(_advance, words))


Span = tuple[float, float]
"""From and to: seconds along, inches down."""


class Scale:
    """Puts seconds of a strip at inches of the drawing."""

    def __init__(self, strip: Strip) -> None:
        self.strip = strip

    def x(self, at: float) -> float:
        """Give where a second stands; what is outside stands at the edge."""
        inside = min(max(at, self.strip.start), self.strip.end) - self.strip.start
        return LEFT + inside / self.strip.length * (WIDTH - LEFT - RIGHT)


class Pen(Scale):
    """The same, with something to draw on."""

    def __init__(self, axes: Axes, strip: Strip) -> None:
        super().__init__(strip)
        self.axes = axes

    def line(self, xs: Span, ys: Span, **looks: object) -> None:
        """Draw a line, in inches."""
        line(self.axes, xs, ys, **looks)

    def text(self, x: float, y: float, words: str, **looks: object) -> None:
        """Write words, in inches."""
        text(self.axes, x, y, words, **looks)

    def box(self, part: Span, ys: Span, **looks: object) -> None:
        """Draw a box from second to second."""
        left, right = self.x(part[0]), self.x(part[1])
        bare = looks.get("edgecolor") == "none"
        known = {"edgecolor": INK, "linewidth": 0.7, "zorder": 0 if bare else 2, **looks}
        box = Rectangle((left, ys[0]), right - left, ys[1] - ys[0], **known)  # type: ignore[arg-type]
        self.axes.add_patch(box)

    def hatched(self, part: Span, ys: Span) -> None:
        """Draw a box as the partner's are drawn."""
        self.box(part, ys, facecolor="none", edgecolor=QUIET, hatch="/////", linewidth=0.5)

    def label(self, part: Span, after: float, middle: float, labels: tuple[str, str]) -> None:
        """Write the longer label, cut, or the short one, whole, or nothing.

        It begins in the box of ``part``, and may reach to where the next one begins, ``after``.
        """
        left = self.x(part[0]) + 0.03
        room = max(self.edge(after), self.x(part[1])) - left - 0.03
        words = fitting(labels[0], room, measured) or fitting(labels[1], room, measured)
        if words:
            right = left + measured(words)
            if right > self.x(part[1]):  # the box's edge would run through a letter
                edge, tall = self.x(part[1]) - 0.02, _LETTER
                back = Rectangle((edge, middle - tall / 2), right - edge, tall, zorder=4)
                back.set(facecolor=PAPER, edgecolor="none")
                self.axes.add_patch(back)
            self.text(left, middle, words)

    def edge(self, after: float) -> float:
        """Give how far a label may reach, in inches."""
        return WIDTH - RIGHT if after >= self.strip.end else self.x(after)
