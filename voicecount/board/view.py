"""What the board shows, as plain values: made of what is known, without any layout. Pure.

Three questions come first: who has to speak next, which line is open and what was heard of it, and
whether anybody is heard at all. Nothing here says that a count is right.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from voicecount.board import words
from voicecount.board.follow import Known
from voicecount.count.plan import due
from voicecount.count.roles import Role
from voicecount.count.standing import Ledger
from voicecount.count.sums import line_sum
from voicecount.count.tally import Key, State, Tally
from voicecount.sheet.plan import CountKind
from voicecount.words.numbers import read_number, words_of
from voicecount.words.places import BY_ID

_LONGEST_NUMBER = 6
"""Words of the longest number: "one hundred and twenty one" is five."""


@dataclass(frozen=True)
class Next:
    """Who has to speak next, and what."""

    who: str
    what: str


@dataclass(frozen=True)
class OpenLine:
    """The line that is being counted."""

    item: str
    place: str
    number: str
    """Digits; empty while there is none."""
    heard: str
    """Words that are not stored; empty once they are."""
    state: str
    """A code: ``calling``, ``heard``, ``waiting``, ``confirmed``, ``recount``, ``due``."""
    words: str
    """The same for people."""


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
    """A code: ``left``, ``waiting``, ``confirmed``, ``recount``, ``differs``, ``outside``."""
    words: str
    current: bool


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
    """A code: ``hears``, ``partly``, ``speaks``, ``stands_by``, ``deaf``, ``gone``, ``ended``."""
    hears_words: str
    next: Next
    line_title: str
    """Whether it is open, or was the last one."""
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
    return Board(
        title=ledger.opened.title if ledger.opened is not None else "",
        count=_count(ledger),
        hears=code,
        hears_words=words.HEARS[code],
        next=_next(known, code),
        line_title=words.OPEN_LINE if ledger.counting else words.LAST_LINE,
        line=_line(ledger, now) if known.fresh else _stored_line(ledger),
        said=_said(now),
        differences=tuple(_differences(known)),
        place_names=tuple(BY_ID[place].label for place in places),
        groups=tuple(_groups(ledger)),
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
    if known.ledger.closed:
        return "ended"
    if known.now is None or known.trouble is not None:
        return "gone"
    if not known.now.get("hears", True):
        return "deaf"
    if known.now.get("speaking"):
        return "speaks"
    if known.ledger.standing_by:
        return "stands_by"
    return "partly" if known.now.get("unheard") else "hears"


def _count(ledger: Ledger) -> str:
    if ledger.count is None:
        return words.NO_COUNT
    title = ledger.count.title
    return title if ledger.counting else words.after(title)


def _next(known: Known, code: str) -> Next:
    fixed = words.NEXT.get(code)
    if fixed is not None:
        return Next(*fixed)
    said = (known.now or {}).get("said") or {}
    kind, role = said.get("kind"), said.get("next")
    if kind == "question" or (kind == "alert" and role is not None):
        return Next(words.who(role), words.ANSWER)
    ledger = known.ledger
    waiting = ledger.waiting()
    line = _due(ledger) if ledger.counting else None
    if waiting and (kind == "readback" or ledger.last in waiting or line is None):
        return Next(words.who(Role.CIRCULATOR if ledger.told_apart else None), words.SAY_NUMBER)
    recount = ledger.counting and ledger.keys(State.RECOUNT)
    if ledger.discrepancies and not recount and kind in {"alert", "answer", "notice"}:
        return Next(words.who(role), words.STEP)
    return _next_line(ledger, line)


def _next_line(ledger: Ledger, line: Key | None) -> Next:
    """Say what is next where nothing is asked and no line waits."""
    if not ledger.counting:
        plan = due(ledger)
        return Next(words.NOBODY, words.planned(plan[0].say) if plan else words.NO_COUNT)
    who = words.who(Role.SCRUB if ledger.told_apart else None)
    if line is not None:
        return Next(who, words.call(_named(ledger, line)))
    addition = ledger.kind is CountKind.ADDITION and not ledger.tallies
    return Next(who, words.CALL_ADDED if addition else words.FINISH)


def _due(ledger: Ledger) -> Key | None:
    """Give the line that is to be called next: of the item in hand first."""
    keys = ledger.keys(State.RECOUNT, State.LEFT)
    last = ledger.last
    same = [key for key in keys if last is not None and key.item == last.item]
    return next(iter((*same, *keys)), None)


def _line(ledger: Ledger, now: Mapping[str, Any]) -> OpenLine | None:
    """Give the line in hand: being said, heard and not stored, or the one stored last."""
    stored = _stored_line(ledger)
    if not ledger.counting:
        return stored
    newest = _newest(ledger)
    since = newest.lines[-1].end if newest is not None and newest.lines else float("-inf")
    answered = (now.get("said") or {}).get("at", float("-inf"))
    for name, state in (("partial", "calling"), ("heard", "heard")):
        said = now.get(name)
        if not said or said.get("role") == Role.CIRCULATOR or said.get("at", since) <= since:
            continue
        if state == "heard" and (said.get("outcome") != "accepted" or said["at"] <= answered):
            continue
        item, text = said.get("item"), str(said.get("text", ""))
        number = last_number(text)
        if item not in ledger.items:
            # What names no item can be the circulator's number where nobody tells them apart, and
            # can be no line at all; else it goes on with the item in hand.
            if not number or (said.get("role") is None and ledger.last in ledger.waiting()):
                continue
            item = ledger.last.item if ledger.last is not None else None
        shown = ledger.items[item].name if item is not None else ""
        return OpenLine(shown, "", number, text, state, words.LINE[state])
    return stored


def _newest(ledger: Ledger) -> Tally | None:
    return ledger.tallies.get(ledger.last) if ledger.last is not None else None


def _stored_line(ledger: Ledger) -> OpenLine | None:
    tally = _newest(ledger)
    again = tally is not None and tally.state is State.RECOUNT and ledger.counting
    if tally is None or not tally.lines or again:
        key = _due(ledger) if ledger.counting else None
        if key is None:
            return None
        # What is to be counted again stands no more: its old number would be taken for one.
        state = "recount" if again else "due"
        name = ledger.items[key.item].name
        return OpenLine(name, _label(key.place), "", "", state, words.LINE[state])
    state = tally.state.value
    name = ledger.items[tally.key.item].name
    return OpenLine(name, _label(tally.key.place), str(tally.total), "", state, words.LINE[state])


def last_number(text: str) -> str:
    """Give the last number of a run as digits; empty where there is none."""
    said = words_of(text)
    for first in range(max(0, len(said) - _LONGEST_NUMBER), len(said)):
        number = read_number(said[first:])
        if number is not None:
            return str(number)
    return ""


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


def _groups(ledger: Ledger) -> Iterator[Group]:
    names = dict.fromkeys(item.group for item in ledger.items.values())
    for name in names:
        items = [item.id for item in ledger.items.values() if item.group == name]
        yield Group(name, tuple(_row(ledger, item) for item in items))


def _row(ledger: Ledger, item: str) -> Row:
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
        ledger.counting and ledger.last is not None and ledger.last.item == item,
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
    return worst.value


def _left(ledger: Ledger) -> tuple[str, ...]:
    keys = ledger.left() if ledger.counting else ()
    return tuple(dict.fromkeys(ledger.items[key.item].name for key in keys))


def _named(ledger: Ledger, key: Key) -> str:
    name = ledger.items[key.item].name
    return f"{name}, {_label(key.place)}" if key.place is not None else name


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
    return words.ROW_SIGNS["recount"] if due else _number(n)


def _label(place: str | None) -> str:
    return BY_ID[place].label if place is not None else ""


def _number(n: int | None) -> str:
    return "-" if n is None else str(n)
