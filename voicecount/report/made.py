"""How a file says of itself that this program made it, and of which records.

HTML and PDF have it among their keywords: ``voicecount report, case 5f1c…`` with the whole head of
a case's records, or ``figures`` with the digits of a folder's. CSV has its columns. Files of
earlier versions say less; what cannot be told from them for certain is not guessed.
"""

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from voicecount.report.blocks import MAKER

Kind = Literal["html", "pdf", "csv"]
Of = Literal["case", "figures"]

_KEYWORDS: Mapping[Kind, re.Pattern[bytes]] = {
    "html": re.compile(rb'<meta name="keywords" content="' + MAKER.encode() + rb'([^"]*)">'),
    "pdf": re.compile(rb"/Keywords\(" + MAKER.encode() + rb"([^)]*)\)"),
}
_SAID = re.compile(rb", (case|figures) ([0-9a-f]{8,64})")

_HTML = b"<!DOCTYPE html>"
_PDF = b"%PDF-"
_GENERATOR = f'<meta name="generator" content="{MAKER}">'.encode()
_SHOWN = re.compile(rb'<p class="running">([^<]*) <code>([0-9a-f]{8})</code></p>')
"""What earlier versions show below the title: what the digits are, and the digits."""

_CASE = b'"case","journal",'
_FIGURES = b'"journal","case",'
_COLUMN = b',"head"'
_DIGITS = re.compile(r"[0-9a-f]{8}")


@dataclass(frozen=True)
class Made:
    """What a file was made of."""

    of: Of | None
    """None where the file does not tell."""
    heads: frozenset[str] = frozenset()
    """The heads that it names, or their first digits; none where it holds no row."""


def keywords(of: Of, head: str) -> tuple[str, str]:
    """Give what a file says of itself; ``head`` are hexadecimal digits."""
    return MAKER, f"{of} {head}"


def made_of(kind: Kind, data: bytes) -> Made | None:
    """Tell what a file was made of; None where this program did not make it."""
    if kind == "csv":
        return _of_rows(data)
    if kind == "html":
        head = data.partition(b"</head>")[0]
        if not (head.startswith(_HTML) and _GENERATOR in head):
            return None
        return _of_keywords(_KEYWORDS[kind].findall(head)) or _shown(data)
    if not data.startswith(_PDF):
        return None
    said = _KEYWORDS[kind].findall(data)
    return (_of_keywords(said) or Made(None)) if said else None


def _of_keywords(said: list[bytes]) -> Made | None:
    """Read all that is said in one file; several kinds are none that can be relied on."""
    found = [one for one in map(_SAID.fullmatch, said) if one is not None]
    kinds = {one[1].decode() for one in found}
    heads = frozenset(one[2].decode() for one in found)
    if len(found) < len(said) or not found:
        return None
    if kinds == {"case"}:
        return Made("case", heads)
    return Made("figures", heads) if kinds == {"figures"} else Made(None)


def _shown(data: bytes) -> Made:
    found = _SHOWN.search(data)
    if found is None:
        return Made(None)
    heads = frozenset({found[2].decode()})
    if found[1] == b"Head of the record":
        return Made("case", heads)
    return Made("figures", heads) if found[1].startswith(b"Digits of ") else Made(None)


def _of_rows(data: bytes) -> Made | None:
    """Read the heads of all rows of a table."""
    if not (data.startswith((_CASE, _FIGURES)) and _COLUMN in data.partition(b"\r\n")[0]):
        return None
    if data.startswith(_FIGURES):
        return Made("figures")
    text = io.StringIO(data.decode(errors="replace"), newline="")
    try:
        heads = {row["head"] or "" for row in csv.DictReader(text, strict=True)}
    except csv.Error:
        return Made(None)
    return Made("case", frozenset(heads)) if all(map(_DIGITS.fullmatch, heads)) else Made(None)
