"""What each event of a line does to the ledger. Pure."""

from dataclasses import replace
from types import MappingProxyType

from voicecount.count.event_base import BaseEvent
from voicecount.count.events import (
    Entry,
    LineConfirmed,
    LineDisputed,
    LineRefused,
    LineStored,
    LineTakenBack,
    PackageSetAside,
    RecountCalled,
    Refusal,
    Why,
)
from voicecount.count.flags import Flag
from voicecount.count.follow import both_said, wrong
from voicecount.count.roles import Role
from voicecount.count.standing import Ledger
from voicecount.count.tally import Key, Line, State, Tally
from voicecount.sheet.plan import CountKind


def stored(ledger: Ledger, event: LineStored) -> Ledger:
    """Add a line."""
    key = Key(event.item, event.place)
    _must_be_counted(ledger, event)
    before = ledger.tally(*key)
    _must_stand(event, before, event.replaces)
    tally = before.without(event.replaces)
    if event.line != ledger.next_line:
        raise wrong(event, f"line {event.line} stands where line {ledger.next_line} has to")
    if event.total != tally.total + event.counted:
        raise wrong(event, f"its total {event.total} is not the sum of its lines")
    flags = {
        Flag.RECOUNTED: event.entry is Entry.RECOUNT,
        Flag.FURTHER_PACKAGE: event.entry is Entry.PACKAGE,
        Flag.ADDITION: event.entry is Entry.ADDITION,
        Flag.STATED: event.counted > 1 and event.numbers == (event.counted,),
        Flag.OUT_OF_ORDER: before.first is None and _passed(ledger, key),
    }
    line = Line(
        number=event.line,
        counted=event.counted,
        numbers=event.numbers,
        pieces=event.pieces,
        form=event.form,
        entry=event.entry,
        at=event.at,
        start=event.start,
        end=event.end,
    )
    first = line.number if before.first is None else before.first
    tally = replace(tally, lines=(*tally.lines, line), first=first)
    tally = tally.flagged(*(flag for flag, holds in flags.items() if holds))
    after = _with(ledger, tally)
    return replace(after, last=key, next_line=event.line + 1, finished=False)


def confirmed(ledger: Ledger, event: LineConfirmed) -> Ledger:
    """Mark all of a tally as given by both people."""
    _must_be_open(ledger, event)
    tally = _newest_is(ledger, event, event.line)
    if tally.state is not State.WAITING:
        raise wrong(event, f"line {event.line} does not wait for a confirmation")
    if event.number is not None and event.number != tally.total:
        raise wrong(event, f"the number {event.number} is not the stored {tally.total}")
    if ledger.told_apart and event.by is not Role.CIRCULATOR:
        raise wrong(event, "only the circulator confirms")
    lines = tuple(replace(line, confirmed=True) for line in tally.lines)
    return _changed(ledger, replace(tally, lines=lines))


def disputed(ledger: Ledger, event: LineDisputed) -> Ledger:
    """Mark all of a tally as to be counted again."""
    _must_be_open(ledger, event)
    tally = _newest_is(ledger, event, event.line)
    due = tuple(line.number for line in tally.lines)
    return _changed(ledger, replace(tally, due=due).flagged(Flag.DISPUTED))


def recount(ledger: Ledger, event: RecountCalled) -> Ledger:
    """Mark lines as to be counted again."""
    _must_be_open(ledger, event)
    tally = ledger.tally(event.item, event.place)
    _must_stand(event, tally, event.lines)
    due = tuple(sorted({*tally.due, *event.lines}))
    tally = replace(tally, due=due)
    if event.why is Why.INTERRUPTED:
        tally = tally.flagged(Flag.INTERRUPTED)
    if event.why is Why.RELIEF:
        ledger = replace(ledger, relief_due=False)
    return _changed(ledger, tally)


def refused(ledger: Ledger, event: LineRefused) -> Ledger:
    """Keep that a call was cut off; other refusals change nothing."""
    if event.refusal is not Refusal.INTERRUPTED:
        return ledger
    return _with(ledger, ledger.tally(event.item, event.place).flagged(Flag.INTERRUPTED))


def set_aside(ledger: Ledger, event: PackageSetAside) -> Ledger:
    """Keep what a package held that is not counted."""
    tally = ledger.tally(event.item, event.place)
    _must_stand(event, tally, event.replaces)
    tally = replace(tally.without(event.replaces), aside=(*tally.aside, event.held))
    after = _with(ledger, tally.flagged(Flag.PACKAGE_SET_ASIDE))
    # A package that came while another count went on is no line of that count.
    here = event.place in (ledger.places or {None})
    return replace(after, last=tally.key) if here else after


def taken_back(ledger: Ledger, event: LineTakenBack) -> Ledger:
    """Take lines out, by the words of both people."""
    _must_be_open(ledger, event)
    tally = ledger.tally(event.item, event.place)
    _must_stand(event, tally, event.lines)
    both_said(ledger, event, event.agreed)
    return _changed(ledger, tally.without(event.lines).flagged(Flag.TAKEN_BACK))


def _with(ledger: Ledger, tally: Tally) -> Ledger:
    return replace(ledger, tallies=MappingProxyType({**ledger.tallies, tally.key: tally}))


def _changed(ledger: Ledger, tally: Tally) -> Ledger:
    """Keep a tally that is no longer what it was when its count was finished."""
    return replace(_with(ledger, tally), finished=False)


def _passed(ledger: Ledger, key: Key) -> bool:
    """Tell whether a line that comes later in the count was stored before this one."""
    count = ledger.count
    items = count.items if count is not None else tuple(ledger.items)
    if count is not None and count.kind is CountKind.ADDITION:
        return False
    later = set(items[items.index(key.item) + 1 :])
    return any(
        other.item in later and tally.first is not None for other, tally in ledger.tallies.items()
    )


def _must_be_open(ledger: Ledger, event: BaseEvent) -> None:
    """Refuse what changes a line outside of a count; an initial count is reopened by it."""
    if not ledger.takes_lines:
        raise wrong(event, "no count is open")


def _must_be_counted(ledger: Ledger, event: LineStored) -> None:
    """Refuse a line outside of the open count."""
    _must_be_open(ledger, event)
    count = ledger.count
    if count is None:
        return
    if event.item not in count.items:
        raise wrong(event, f"{event.item!r} is left out of this count")
    if event.place not in (count.places or {None}):
        raise wrong(event, f"{event.place!r} is no place of this count")


def _newest_is(ledger: Ledger, event: LineConfirmed | LineDisputed, line: int) -> Tally:
    tally = ledger.tally(event.item, event.place)
    if tally.newest is None or tally.newest.number != line:
        raise wrong(event, f"line {line} is not the newest line of {event.item!r}")
    return tally


def _must_stand(event: BaseEvent, tally: Tally, numbers: tuple[int, ...]) -> None:
    standing = {line.number for line in tally.lines}
    for number in numbers:
        if number not in standing:
            raise wrong(event, f"line {number} does not stand in {tally.key.item!r}")
