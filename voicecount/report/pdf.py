"""Blocks as a PDF: one template, embedded fonts, nothing from outside.

The file follows PDF/A-2a (ISO 19005-2) and PDF/UA-1 (ISO 14289-1), as far as the typesetter checks
them. Letters that none of its own fonts has are looked for in the machine's fonts, and what is in
none of them is written as its number, ``[U+4E2D]``.
"""

import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from importlib import resources
from typing import Literal, cast

import typst

from voicecount.report.blocks import MAKER, Block, as_data, every_page, title_of
from voicecount.report.pdf_letters import FONTS, STANDARDS, Letters

Paper = Literal["a4", "us-letter"]


def pdf(
    blocks: Sequence[Block], paper: Paper = "a4", *, keywords: Sequence[str] = (MAKER,)
) -> bytes:
    """Give a record as the bytes of a PDF; the same blocks give the same bytes on one machine.

    ``keywords`` are what the file says of itself (``made.py``).
    ValueError where the first block is no title.
    """
    made = datetime.fromisoformat(title_of(blocks).made).astimezone(UTC)
    content = {"blocks": as_data(blocks), "every_page": every_page(blocks)}
    letters = Letters.of(content)
    return _set(
        {
            **{name: json.dumps(letters.shown(value)) for name, value in content.items()},
            "paper": paper,
            "keywords": json.dumps(list(keywords)),
            "made": json.dumps([made.year, made.month, made.day]),
            "fonts": json.dumps(FONTS),
        },
        made,
        machine=letters.machine,
    )


def _set(inputs: Mapping[str, str], made: datetime, *, machine: bool) -> bytes:
    """Typeset, with the machine's fonts or without them."""
    source = resources.files("voicecount.report").joinpath("templates/report.typ").read_bytes()
    written = typst.Compiler(ignore_system_fonts=not machine).compile(
        source,
        sys_inputs=dict(inputs),
        pdf_standards=list(STANDARDS),
        timestamp=int(made.timestamp()),
    )
    return cast("bytes", written)  # a list only where pages become pictures
