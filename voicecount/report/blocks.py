"""What a record for people is made of: blocks that say what a thing is, never how it looks.

``pages.py`` makes them; ``html.py`` and ``pdf.py`` draw them. Every text in a block is plain text:
nothing in it is ever markup.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from voicecount.report.marks import shown

MAKER = "voicecount report"
"""What a file says of itself, so that a later one may take its place and no other file's."""


@dataclass(frozen=True)
class Title:
    """The first block: what the record is called, and what stands on every page."""

    text: str
    kind: str
    """What this document is, in a few words; above the title."""
    head: str
    """The digits that tell this document's records from others; on every page."""
    caution: str
    """One short sentence; on every page."""
    made: str
    """When the record was made, ISO 8601, UTC; the date in the file's own description."""
    label: str = "Head of the record"
    """What these digits are."""
    case: str = ""
    """What the case is told by; on every page, for a page that goes astray."""
    lang: str = "en"


@dataclass(frozen=True)
class Heading:
    """Begins a section (level 1) or a part of one (level 2)."""

    text: str
    level: int = 1


@dataclass(frozen=True)
class Text:
    """One paragraph."""

    text: str


@dataclass(frozen=True)
class Points:
    """Short sentences, one below the other."""

    texts: tuple[str, ...]


@dataclass(frozen=True)
class Notice:
    """Something that must not be missed."""

    title: str
    text: str
    every_page: str | None = None
    """One line that has to stand on every page; None for a notice that stands once."""


@dataclass(frozen=True)
class Facts:
    """Labels and what they name."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Column:
    """One column of a table."""

    head: str
    share: float = 1.0
    """How wide it is, against the shares of the others."""
    number: bool = False
    """Whether it holds numbers, which stand below each other."""


@dataclass(frozen=True)
class Table:
    """Rows below a head. ``title`` names the table to those who do not see it, too."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    marked: tuple[int, ...] = ()
    """Rows, from 0, in which something differs; their text says so, the mark only helps to find
    them."""
    note: str = ""
    groups: tuple[tuple[int, str], ...] = ()
    """Rows, from 0, before which a group begins, with its name."""

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"table {self.title!r}: a row has {len(row)} cells")


@dataclass(frozen=True)
class Picture:
    """A drawing made by this program."""

    svg: str
    alternative: str
    """The same in words."""
    caption: str


@dataclass(frozen=True)
class Signatures:
    """Lines to be signed by hand; they stay on one page, below what a signature means."""

    text: str
    people: tuple[tuple[str, str], ...]
    """Who is to sign, role and name; what is empty is left to be written in."""
    pairs: tuple[tuple[str, str], ...] = ()
    """Labels and what they name: what nobody should sign without having seen it."""
    fields: tuple[str, ...] = ("Role", "Name", "Signature", "Date and time")


@dataclass(frozen=True)
class PageBreak:
    """What follows begins on a new page, where there are pages."""


Block = Title | Heading | Text | Points | Notice | Facts | Table | Picture | Signatures | PageBreak


def as_data(blocks: Sequence[Block]) -> list[dict[str, Any]]:
    """Give the blocks as plain JSON values, each with its ``block``, for a template.

    What cannot be seen in a text is replaced by a visible mark; a picture's drawing is kept.
    """
    return [{"block": type(block).__name__.lower(), **_fields(block)} for block in blocks]


def title_of(blocks: Sequence[Block]) -> Title:
    """Give the title. ValueError where the first block is none."""
    first = blocks[0] if blocks else None
    if not isinstance(first, Title):
        raise ValueError("the first block of a record is its title")  # noqa: TRY004 - a value
    return first


def every_page(blocks: Sequence[Block]) -> list[str]:
    """Give the lines that have to stand on every page."""
    notices = [block for block in blocks if isinstance(block, Notice)]
    return [shown(one.every_page) for one in notices if one.every_page is not None]


def _fields(block: Block) -> dict[str, Any]:
    fields = asdict(block)
    return {name: value if name == "svg" else _visible(value) for name, value in fields.items()}


def _visible(value: Any) -> Any:
    if isinstance(value, str):
        return shown(value)
    if isinstance(value, dict):
        return {name: _visible(one) for name, one in value.items()}
    if isinstance(value, tuple | list):
        return [_visible(one) for one in value]
    return value
