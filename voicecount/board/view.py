"""What the board shows, as plain values: made of what is known, without any layout. Pure.

Three questions come first: who has to speak next, which line is open and what was heard of it, and
whether anybody is heard at all. Nothing here says that a count is right.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from voicecount.board import words
from voicecount.board.follow import Known
from voicecount.board.turn import Next, OpenLine, label, line_in_hand, speaks_next, stored_line
from voicecount.count.standing import Ledger
from voicecount.count.sums import line_sum
from voicecount.count.tally import State
from voicecount.sheet.plan import CountKind


@dataclass(frozen=True)
class Said:
    """What the assistant said last."""

    text: str
    alert: bool
    spoken: bool
    """False where it could not be spoken, and has to be read."""


@dataclass(frozen=True)
class Row:
    """One line of the sheet."""

    item: str
    name: str
    counted: str
    places: tuple[str, ...]
    added: str
    expected: str
    state: str
    """A code: ``left``, ``waiting``, ``confirmed``, ``unlike_sheet``, ``recount``, ``differs``,
    ``nothing``, ``outside``."""
    words: str
    current: bool
    """Whether the line in hand is one of its."""


@dataclass(frozen=True)
class Group:
    """The lines of one group of items."""

    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Board:
    """Everything on the board."""

    title: str
    count: str
    hears: str
    """A code: ``hears``, ``partly``, ``speaks``, ``stands_by``, ``slow``, ``deaf``, ``gone``,
    ``ended``."""
    hears_words: str
    next: Next
    line: OpenLine | None
    said: Said | None
    differences: tuple[str, ...]
    """Those that are open, then those that were closed without the item."""
    place_names: tuple[str, ...]
    groups: tuple[Group, ...]
    left: tuple[str, ...]
    """Items of this count of which something has no number yet."""
    inside: tuple[str, ...]
    noise: str
    records: int
    digits: str
    written: str
    """Time of day of the last record, ISO 8601."""
    trouble: str
    fresh: bool
    silent: str
    """Since when there is no sign of life, in words; empty while there is."""


def board(known: Known) -> Board:
    """Make the board of what is known."""
    ledger = known.ledger
    now = known.now or {}
    code = _hears(known)
    places = ledger.count.places if ledger.count is not None else ()
    line = line_in_hand(ledger, now) if known.fresh else stored_line(ledger)
    return Board(
        title=ledger.opened.title if ledger.opened is not None else "",
        count=_count(ledger),
        hears=code,
        hears_words=words.HEARS[code],
        next=speaks_next(known, code, line),
        line=line,
        said=_said(now),
        differences=tuple(_differences(known)),
        place_names=tuple(label(place) for place in places),
        groups=tuple(_groups(ledger, line.id if line is not None and ledger.counting else None)),
        left=_left(ledger),
        inside=tuple(_inside(ledger)),
        noise=_noise(now),
        records=known.records,
        digits=known.digits,
        written=known.written.isoformat() if known.written is not None else "",
        trouble=known.trouble or "",
        fresh=known.fresh,
        silent=words.silent(known.silent) if not known.fresh else "",
    )


def _hears(known: Known) -> str:
    """Tell whether anybody is heard: the gravest that holds."""
    now = known.now or {}
    codes = (
        (known.ledger.closed, "ended"),
        (known.now is None or known.trouble is not None, "gone"),
        (not now.get("hears", True), "deaf"),
        (known.slow > 0, "slow"),
        (bool(now.get("speaking")), "speaks"),
        (known.ledger.standing_by, "stands_by"),
        (bool(now.get("unheard")), "partly"),
    )
    return next((code for holds, code in codes if holds), "hears")


def _count(ledger: Ledger) -> str:
    if ledger.count is None:
        return words.NO_COUNT
    title = ledger.count.title
    return title if ledger.counting else words.after(title)


def _said(now: Mapping[str, Any]) -> Said | None:
    said = now.get("said")
    if not said or not said.get("text"):
        return None
    return Said(str(said["text"]), said.get("kind") == "alert", bool(said.get("spoken", True)))


def _differences(known: Known) -> Iterator[str]:
    ledger = known.ledger
    for one in ledger.discrepancies.values():
        yield words.difference(ledger.items[one.item].name, one)
    for one in known.lost:
        yield words.not_found(ledger.items[one.item].name, one)


def _groups(ledger: Ledger, current: str | None) -> Iterator[Group]:
    names = dict.fromkeys(item.group for item in ledger.items.values())
    for name in names:
        items = [item.id for item in ledger.items.values() if item.group == name]
        yield Group(name, tuple(_row(ledger, item, current) for item in items))


def _row(ledger: Ledger, item: str, current: str | None) -> Row:
    count = ledger.count
    inside = count is not None and item in count.items
    places = count.places if count is not None and inside else ()
    one = line_sum(ledger, item)
    account = ledger.account(item)
    counted = one.counted if places and one.complete else ledger.tally(item).counted
    added = account.added + account.changed + account.explained - account.handed_over
    expected = ledger.expected(item)
    if expected is None and (count is None or count.kind is CountKind.INITIAL):
        expected = ledger.items[item].expect
    state = _state(ledger, item, inside=inside)
    return Row(
        item,
        ledger.items[item].name,
        _number(counted) if inside else "",
        tuple(_at_place(ledger, item, place, n) for place, n in one.places) if places else (),
        f"{added:+d}" if added else "",
        _number(expected),
        state,
        words.ROW[state],
        item == current,
    )


def _state(ledger: Ledger, item: str, *, inside: bool) -> str:
    if any(one.item == item for one in ledger.discrepancies.values()):
        return "differs"
    if not inside:
        return "outside"
    one = line_sum(ledger, item)
    if one.off or one.short_off_field:
        return "differs"
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
    return "nothing" if worst is State.LEFT and addition else worst.value


def _left(ledger: Ledger) -> tuple[str, ...]:
    keys = ledger.left() if ledger.counting else ()
    return tuple(dict.fromkeys(ledger.items[key.item].name for key in keys))


def _inside(ledger: Ledger) -> Iterator[str]:
    for item in ledger.items.values():
        account = ledger.account(item.id)
        for sites, on_purpose in ((account.inside, True), (account.tucked, False)):
            for site, n in sites.items():
                yield words.in_patient(item.name, n, site, on_purpose=on_purpose)


def _noise(now: Mapping[str, Any]) -> str:
    noise = now.get("noise")
    return words.noise(str(noise.get("state")), float(noise["above"])) if noise else words.NO_NOISE


def _at_place(ledger: Ledger, item: str, place: str, n: int | None) -> str:
    """Give what was counted at a place; a sign where it is to be counted again."""
    due = ledger.counting and ledger.tally(item, place).state is State.RECOUNT
    return words.PLACE_AGAIN if due else _number(n)


def _number(n: int | None) -> str:
    return "-" if n is None else str(n)
