"""Blocks as one HTML file: no script, nothing outside of it, every text escaped."""

import re
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources
from typing import Any

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup, escape

from voicecount.report.blocks import MAKER, Block, Title, as_data, every_page, title_of
from voicecount.report.marks import CLOSES, OPENS, visible
from voicecount.report.pdf import Paper

_SIZES: Mapping[Paper, str] = {"a4": "A4", "us-letter": "letter"}
_CODE = re.compile(r"[0-9a-f]{8,64}")
"""A hash or its first digits; they are set in letters of one width."""

_LONGEST = 70
"""Letters of the title in the margin of a page."""
_BOX = "font: 8pt/1.3 serif; color: #444; unicode-bidi: isolate;"


def html(
    blocks: Sequence[Block], paper: Paper = "a4", *, keywords: Sequence[str] = (MAKER,)
) -> str:
    """Give a record as the text of an HTML file; ``paper`` is what it is printed on.

    ``keywords`` are what the file says of itself (``made.py``).
    ValueError where the first block is no title.
    """
    title = title_of(blocks)
    data = as_data(blocks)
    return _template().render(
        maker=MAKER,
        keywords=", ".join(keywords),
        blocks=data,
        every_page=every_page(blocks),
        sections=[one["text"] for one in data if one["block"] == "heading" and one["level"] == 1],
        css=Markup(_read("report.css")),  # noqa: S704 - a file of this package
        page=Markup(_page(paper, title)),  # noqa: S704 - made here
    )


@cache
def _template() -> Template:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["drawn"] = _drawn
    environment.filters["named"] = _named
    environment.filters["share"] = _share
    environment.tests["code"] = _is_code
    return environment.from_string(_read("report.html"))


def _read(name: str) -> str:
    return resources.files("voicecount.report").joinpath(f"templates/{name}").read_text("utf-8")


def _page(paper: Paper, title: Title) -> str:
    """Say what stands in the margins of each page; a browser that knows no such boxes has none."""
    name = visible(" · ".join(part for part in (title.case, title.text) if part))
    name = name if len(name) <= _LONGEST else f"{name[:_LONGEST]}…"
    boxes = {
        "top-left": _string(name),
        "top-right": _string(f"{title.label} {title.head}"),
        "bottom-left": _string(title.caution),
        "bottom-right": '"page " counter(page) " of " counter(pages)',
    }
    return "\n".join(
        (
            f"@page {{ size: {_SIZES[paper]}; margin: 21mm 17mm 19mm;",
            *(f"  @{place} {{ content: {shown}; {_BOX} }}" for place, shown in boxes.items()),
            "}",
        )
    )


def _string(text: str) -> str:
    """Write a text as a string of CSS, in which nothing but letters and digits is itself."""
    shown = (one if one.isascii() and one.isalnum() else f"\\{ord(one):x} " for one in text)
    return f'"{"".join(shown)}"'


def _drawn(svg: str) -> Markup:
    """Let a drawing through: ``timeline.py`` made it, and its texts are outlines."""
    return Markup(svg)  # noqa: S704 - see above


def _named(text: str) -> Markup:
    """Give a text; names that keep their direction to themselves are elements for that."""
    marked = str(escape(text)).replace(OPENS, "<bdi>").replace(CLOSES, "</bdi>")
    return Markup(marked)  # noqa: S704 - escaped


def _share(column: Mapping[str, Any], columns: Sequence[Mapping[str, Any]]) -> str:
    return f"{100 * column['share'] / sum(one['share'] for one in columns):.2f}"


def _is_code(text: str) -> bool:
    return _CODE.fullmatch(text) is not None
