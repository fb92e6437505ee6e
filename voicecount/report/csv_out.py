"""A case as rows for a spreadsheet: one for each item of each count, one for each of its places.

The form is RFC 4180, every cell in quotes. A cell of text that a spreadsheet would take for a
formula gets an apostrophe in front (OWASP, "CSV Injection", and OWASP ASVS 5.0, 1.2.10); cells
that are numbers are written as numbers.
"""

import csv
import io
from collections.abc import Iterator, Sequence

from voicecount.report.facts import CaseFacts, CountFacts, SumFacts

_CASE = ("case", "journal")
_COUNT = ("count", "count_id", "kind", "title")
_ROW = ("row", "item", "name", "group", "place")
_NUMBERS = ("counted", "expected", "inside", "tucked", "off", "confirmed", "flags")
_END = ("result", "opened", "finished", "chain_whole", "head")

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\0")
"""What makes a spreadsheet take a cell for a formula when it stands first in it."""

Cell = str | int | bool | None


def labels(*cases: CaseFacts) -> tuple[str, ...]:
    """Give the labels that users gave to tell these cases by, each once."""
    return tuple(dict.fromkeys(label for facts in cases for label, _ in facts.given))


def header(given: Sequence[str] = ()) -> list[str]:
    """Give the names of the columns; every label that users gave is one: ``given Theatre``.

    ``row`` is ``item`` for an item over all places, ``place`` for one of its places. Only an item
    has an expected number, what is inside, how far it is off, and flags.
    """
    mine = [f"given {label}" for label in given]
    return [*_CASE, *mine, *_COUNT, *_ROW, *_NUMBERS, *_END]


def rows(facts: CaseFacts, given: Sequence[str] | None = None) -> Iterator[list[str]]:
    """Give the rows of one case, without the header. ``given`` are the labels of the header."""
    columns = labels(facts) if given is None else given
    said = ["; ".join(text for name, text in facts.given if name == label) for label in columns]
    for count in facts.counts:
        for one in count.sums:
            for middle in (_item(one), *_places(count, one)):
                cells = [
                    *(facts.title, facts.journal, *said),
                    *(count.number, count.id, count.kind, count.title),
                    *_named(facts, one, middle),
                    *_ending(facts, count),
                ]
                yield [cell(value) for value in cells]


def text(*cases: CaseFacts) -> str:
    """Give the rows of cases under one header, as the text of a file with CRLF line ends."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    given = labels(*cases)
    writer.writerow(cell(name) for name in header(given))
    for facts in cases:
        writer.writerows(rows(facts, given))
    return out.getvalue()


def cell(value: Cell) -> str:
    """Write a value; text that would be taken for a formula gets an apostrophe in front."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value)
    return f"'{value}" if value.startswith(FORMULA) else value


def _named(facts: CaseFacts, one: SumFacts, middle: tuple[Cell, ...]) -> tuple[Cell, ...]:
    """Give a row's kind and place with the item's name, then its numbers."""
    row, place, *numbers = middle
    name, group = next((item.name, item.group) for item in facts.items if item.id == one.item)
    return (row, one.item, name, group, place, *numbers)


def _item(one: SumFacts) -> tuple[Cell, ...]:
    flags = " ".join(one.flags)
    numbers = (one.counted, one.expected, one.inside, one.tucked, one.off, one.confirmed, flags)
    return ("item", "", *numbers)


def _places(count: CountFacts, one: SumFacts) -> Iterator[tuple[Cell, ...]]:
    for place, counted in one.places:
        lines = [line for line in count.lines if (line.item, line.place) == (one.item, place)]
        standing = [line.confirmed for line in lines if line.stands]
        confirmed = bool(standing) and all(standing)
        yield ("place", place, counted, None, None, None, None, confirmed, None)


def _ending(facts: CaseFacts, count: CountFacts) -> tuple[Cell, ...]:
    finished = count.finished.wall if count.finished is not None else None
    return (count.result, count.opened.wall, finished, facts.chain.whole, facts.chain.digits)
