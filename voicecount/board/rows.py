"""The lines of the sheet on the board, by group: what was counted, what is expected, how it stands.

Pure.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from voicecount.board import words
from voicecount.count.events import Settled
from voicecount.count.standing import Ledger
from voicecount.count.sums import line_sum
from voicecount.count.tally import State
from voicecount.sheet.plan import CountKind


@dataclass(frozen=True)
class Row:
    """One line of the sheet."""

    item: str
    name: str
    counted: str
    places: tuple[str, ...]
    inside: str
    """How many of the sum are in the patient; empty for none."""
    change: str
    """How many more or fewer are expected than at first, for reasons that were told."""
    expected: str
    state: str
    """A code: ``left``, ``part``, ``waiting``, ``confirmed``, ``unlike_sheet``, ``recount``,
    ``differs``, ``found``, ``nothing``, ``outside``."""
    words: str
    current: bool
    """Whether the line in hand is one of its."""


@dataclass(frozen=True)
class Group:
    """The lines of one group of items."""

    name: str
    rows: tuple[Row, ...]


def groups(ledger: Ledger, current: str | None) -> Iterator[Group]:
    """Give the lines of every group. ``current`` is the item of the line in hand."""
    names = dict.fromkeys(item.group for item in ledger.items.values())
    for name in names:
        items = [item.id for item in ledger.items.values() if item.group == name]
        yield Group(name, tuple(_row(ledger, item, current) for item in items))


def _row(ledger: Ledger, item: str, current: str | None) -> Row:
    count = ledger.count
    counts = count is not None and item in count.items
    places = count.places if count is not None and counts else ()
    one = line_sum(ledger, item)
    inside = one.inside + one.tucked if places else 0
    change = _change(ledger, item)
    expected = ledger.expected(item)
    if expected is None and (count is None or count.kind is CountKind.INITIAL):
        expected = ledger.items[item].expect
    state = _state(ledger, item, counts=counts)
    return Row(
        item,
        ledger.items[item].name,
        _counted(ledger, item) if counts else "",
        tuple(_stands(ledger, item, place, n) for place, n in one.places) if places else (),
        str(inside) if inside else "",
        f"{change:+d}" if change else "",
        _number(expected),
        state,
        _words(ledger, item, state),
        item == current,
    )


def _counted(ledger: Ledger, item: str) -> str:
    """Give what was counted in all: of several places only once each has its number."""
    one = line_sum(ledger, item)
    if one.places:
        return _number(one.counted if one.complete else None)
    return _stands(ledger, item, None, ledger.tally(item).counted)


def _change(ledger: Ledger, item: str) -> int:
    """Give by how much what is expected has changed; what an open addition adds is in both."""
    account = ledger.account(item)
    told = account.added + account.changed + account.explained - account.handed_over
    now = ledger.expected(item)
    return told + (now - account.expected if now and account.expected is not None else 0)


def _state(ledger: Ledger, item: str, *, counts: bool) -> str:
    if any(one.item == item for one in ledger.discrepancies.values()):
        return "differs"
    if not counts:
        return "outside"
    one = line_sum(ledger, item)
    if one.off or one.short_off_field:
        closed = ledger.settled.get(item)
        return "found" if closed is not None and closed.settled is Settled.FOUND else "differs"
    places = ledger.count.places if ledger.count is not None else ()
    states = [ledger.tally(item, place).state for place in places or (None,)]
    worst = next(
        state
        for state in (State.RECOUNT, State.WAITING, State.LEFT, State.CONFIRMED)
        if state in states
    )
    tally = ledger.tally(item)
    sheet = ledger.items[item].expect
    initial = ledger.count is not None and ledger.count.kind is CountKind.INITIAL
    if worst is State.CONFIRMED and initial and sheet is not None and tally.total != sheet:
        return "unlike_sheet"
    addition = ledger.count is not None and ledger.count.kind is CountKind.ADDITION
    if worst is State.LEFT and addition:
        return "nothing"
    return "part" if worst is State.LEFT and State.CONFIRMED in states else worst.value


def _words(ledger: Ledger, item: str, state: str) -> str:
    """Say how a line stands, with the numbers that belong to it."""
    sheet = ledger.items[item].expect
    if state == "unlike_sheet" and sheet is not None:
        return words.unlike(sheet)
    if state == "part":
        places = [place for place, _ in line_sum(ledger, item).places]
        both = [ledger.tally(item, place).state is State.CONFIRMED for place in places]
        return words.in_part(sum(both), len(places))
    if state == "nothing" and ledger.counting:
        return words.NOTHING_YET
    return words.ROW[state]


def _stands(ledger: Ledger, item: str, place: str | None, n: int | None) -> str:
    """Give what was counted; a sign where it is to be counted again and stands no more."""
    due = ledger.counting and ledger.tally(item, place).state is State.RECOUNT
    return words.AGAIN if due else _number(n)


def _number(n: int | None) -> str:
    return "-" if n is None else str(n)
