"""Letters in the drawing of a case: one font that comes with the drawing library."""

from functools import cache
from pathlib import Path

import matplotlib as mpl
from matplotlib.font_manager import FontProperties, get_font
from matplotlib.textpath import TextPath

from voicecount.report.marks import mark, visible

SIZE = 6.8
"""Points, of every label."""

_FILE = Path(mpl.get_data_path(), "fonts", "ttf", "DejaVuSans.ttf")


@cache
def font() -> FontProperties:
    """Give the font: its own file, whatever is installed."""
    return FontProperties(fname=str(_FILE), size=SIZE)


@cache
def width(text: str) -> float:
    """Measure a label, in inches."""
    if not text:
        return 0.0
    with mpl.rc_context({"text.parse_math": False}):
        return float(TextPath((0, 0), text, size=SIZE, prop=font()).get_extents().x1) / 72


def drawable(text: str) -> str:
    """Give the text with marks for what the font has no letter for."""
    known = _known()
    return "".join(
        character if ord(character) in known else mark(character) for character in visible(text)
    )


@cache
def _known() -> frozenset[int]:
    return frozenset(get_font(str(_FILE)).get_charmap())
