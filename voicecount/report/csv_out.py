"""A case as rows for a spreadsheet: one for each item of each count, one for each of its places.

A planned count that was waived or not held has a row, too. The form is RFC 4180, every cell in
quotes. A cell of text that a spreadsheet would take for a formula gets an apostrophe in front
(OWASP, "CSV Injection", and OWASP ASVS 5.0, 1.2.10), and what could not be seen in it becomes a
mark that can; cells that are numbers are written as numbers.
"""

import csv
import io
import re
from collections.abc import Iterator, Sequence

from voicecount.count.case_events import Difference, Settled
from voicecount.report.facts import CaseFacts, CountFacts, DiscrepancyFacts, SumFacts
from voicecount.report.many import how_it_ended
from voicecount.report.marks import visible

_CASE = ("case", "journal")
_COUNT = ("count", "count_id", "kind", "title")
_ROW = ("row", "item", "name", "group", "place")
_NUMBERS = ("counted", "expected", "inside", "tucked", "off")
_AFTER = ("found", "settled", "confirmed", "flags")
_END = ("result", "reason", "opened", "finished", "chain_whole", "head")

WAIVED = "waived"
NOT_HELD = "not_held"

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "＝", "＋", "－", "＠")  # noqa: RUF001
"""What makes a spreadsheet take a cell for a formula when it stands first in it."""

_LATER = re.compile(r"(;\s*)([=+\-@])")
"""Where a spreadsheet that takes a semicolon for the end of a cell would see a formula."""

Cell = str | int | bool | None


def labels(*cases: CaseFacts) -> tuple[str, ...]:
    """Give the labels that users gave to tell these cases by, each once."""
    return tuple(dict.fromkeys(label for facts in cases for label, _ in facts.given))


def header(given: Sequence[str] = ()) -> list[str]:
    """Give the names of the columns; every label that users gave is one: ``given Theatre``.

    ``row`` is ``item`` for an item over all places, ``place`` for one of its places, ``count`` for
    a planned count that was not done. Only an item has an expected number, what is inside, how far
    it is off, and flags. ``found`` is how many were found since it was counted last.
    """
    mine = [f"given {label}" for label in given]
    return [*_CASE, *mine, *_COUNT, *_ROW, *_NUMBERS, *_AFTER, *_END]


def rows(facts: CaseFacts, given: Sequence[str] | None = None) -> Iterator[list[str]]:
    """Give the rows of one case, without the header. ``given`` are the labels of the header."""
    columns = labels(facts) if given is None else given
    said = ["; ".join(text for name, text in facts.given if name == label) for label in columns]
    case = (facts.title, facts.journal, *said)
    whole = (facts.chain.whole, facts.chain.digits)
    for count in facts.counts:
        named = (count.number, count.id, count.kind, count.title)
        for one in count.sums:
            for middle in (_item(facts, count, one), *_places(facts, count, one)):
                cells = (*case, *named, *_named(facts, one, middle), *_ending(count), *whole)
                yield [cell(value) for value in cells]
    for not_done in _not_done(facts):
        yield [cell(value) for value in (*case, *not_done, *whole)]


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
    """Write a value; text is seen as it is, and is no formula."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value)
    # spaces before a formula may be dropped where the file is read
    formula = value.startswith(FORMULA) or value.lstrip().startswith(FORMULA)
    text_ = _LATER.sub(r"\1'\2", visible(value))
    return f"'{text_}" if formula else text_


def _named(facts: CaseFacts, one: SumFacts, middle: tuple[Cell, ...]) -> tuple[Cell, ...]:
    """Give a row's kind and place with the item's name, then its numbers."""
    row, place, *numbers = middle
    name, group = next((item.name, item.group) for item in facts.items if item.id == one.item)
    return (row, one.item, name, group, place, *numbers)


def _item(facts: CaseFacts, count: CountFacts, one: SumFacts) -> tuple[Cell, ...]:
    places = {place for place, _ in one.places}
    mine = [found for found in _differences(facts, count, one) if found.place not in places]
    numbers = (one.counted, one.expected, one.inside, one.tucked, one.off)
    return ("item", "", *numbers, *_after(mine), one.confirmed, " ".join(one.flags))


def _places(facts: CaseFacts, count: CountFacts, one: SumFacts) -> Iterator[tuple[Cell, ...]]:
    for place, counted in one.places:
        lines = [line for line in count.lines if (line.item, line.place) == (one.item, place)]
        standing = [line.confirmed for line in lines if line.stands]
        confirmed = bool(standing) and all(standing)
        mine = [found for found in _differences(facts, count, one) if found.place == place]
        numbers = (counted, None, None, None, None)
        yield ("place", place, *numbers, *_after(mine), confirmed, None)


def _differences(facts: CaseFacts, count: CountFacts, one: SumFacts) -> list[DiscrepancyFacts]:
    here = (count.number, one.item)
    return [found for found in facts.discrepancies if (found.count, found.item) == here]


def _after(differences: Sequence[DiscrepancyFacts]) -> tuple[Cell, Cell]:
    """Give how many were found, and how each difference ended; a piece is none of these items."""
    whole = [one for one in differences if one.differs != Difference.PIECE]
    found = sum(map(_found, whole)) if whole else None
    return found, " ".join(map(how_it_ended, differences))


def _found(one: DiscrepancyFacts) -> int:
    """Add up what was found since it was counted last: that number holds what came before."""
    found = 0
    for step in one.steps:
        found = step.found if step.n is not None else found + step.found
    return found + (one.n if one.settled == Settled.FOUND else 0)


def _ending(count: CountFacts) -> tuple[Cell, ...]:
    finished = count.finished.wall if count.finished is not None else None
    return (count.result, None, count.opened.wall, finished)


def _not_done(facts: CaseFacts) -> Iterator[tuple[Cell, ...]]:
    """Give the planned counts that were waived, with when and why, then those not held."""
    planned = {one.title: (one.id, one.kind, one.title) for one in facts.plan}
    held = {(one.number, one.title) for one in facts.counts}
    nothing: tuple[Cell, ...] = (None,) * len((*_ROW[1:], *_NUMBERS, *_AFTER))
    for told in facts.told("count_waived"):
        if told.title is not None:
            named = planned.get(told.title, (None, None, told.title))
            number = told.count if (told.count, told.title) in held else None
            ending = (WAIVED, told.reason, None, told.when.wall)
            yield (number, *named, "count", *nothing, *ending)
    for title in facts.due:
        named = planned.get(title, (None, None, title))
        yield (None, *named, "count", *nothing, NOT_HELD, None, None, None)
