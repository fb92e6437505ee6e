"""Blocks as one HTML file: no script, nothing outside of it, every text escaped."""

import re
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources
from typing import Any

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from voicecount.report.blocks import MAKER, Block, as_data, every_page, title_of
from voicecount.report.pdf import Paper

_SIZES: Mapping[Paper, str] = {"a4": "A4", "us-letter": "letter"}
_CODE = re.compile(r"[0-9a-f]{8,64}")
"""A hash or its first digits; they are set in letters of one width."""


def html(
    blocks: Sequence[Block], paper: Paper = "a4", *, keywords: Sequence[str] = (MAKER,)
) -> str:
    """Give a record as the text of an HTML file; ``paper`` is what it is printed on.

    ``keywords`` are what the file says of itself (``made.py``).
    ValueError where the first block is no title.
    """
    title_of(blocks)
    data = as_data(blocks)
    return _template().render(
        maker=MAKER,
        keywords=", ".join(keywords),
        blocks=data,
        every_page=every_page(blocks),
        sections=[one["text"] for one in data if one["block"] == "heading" and one["level"] == 1],
        css=Markup(_read("report.css")),  # noqa: S704 - a file of this package
        page=Markup(_page(paper)),  # noqa: S704 - made here
    )


@cache
def _template() -> Template:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["drawn"] = _drawn
    environment.filters["share"] = _share
    environment.tests["code"] = _is_code
    return environment.from_string(_read("report.html"))


def _read(name: str) -> str:
    return resources.files("voicecount.report").joinpath(f"templates/{name}").read_text("utf-8")


def _page(paper: Paper) -> str:
    return f"@page {{ size: {_SIZES[paper]}; margin: 18mm 17mm; }}"


def _drawn(svg: str) -> Markup:
    """Let a drawing through: ``timeline.py`` made it, and its texts are outlines."""
    return Markup(svg)  # noqa: S704 - see above


def _share(column: Mapping[str, Any], columns: Sequence[Mapping[str, Any]]) -> str:
    return f"{100 * column['share'] / sum(one['share'] for one in columns):.2f}"


def _is_code(text: str) -> bool:
    return _CODE.fullmatch(text) is not None
