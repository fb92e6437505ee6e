"""The state of a count: a pure fold of its events, the same whenever and wherever it is done."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import reduce
from types import MappingProxyType
from typing import Any

from voicecount.count.events import (
    CarriedOn,
    CaseItem,
    CaseOpened,
    CountFinished,
    Entry,
    Event,
    LineConfirmed,
    LineDisputed,
    LineRefused,
    LineStored,
    LineTakenBack,
    PackageSetAside,
    RecountCalled,
    Refusal,
    StoodBy,
    Why,
)
from voicecount.count.flags import Flag
from voicecount.count.roles import Role
from voicecount.count.tally import Key, Line, State, Tally
from voicecount.errors import JournalError


@dataclass(frozen=True)
class Ledger:
    """Immutable; ``apply`` gives the next one. Its cost per event does not grow with the case."""

    opened: CaseOpened | None = None
    items: Mapping[str, CaseItem] = field(default_factory=dict)
    """By id, in the sheet's order."""
    tallies: Mapping[Key, Tally] = field(default_factory=dict)
    """Only keys of which something is known, in the order in which that came about."""
    last: Key | None = None
    """The key called last: stored, or its package set aside."""
    next_line: int = 1
    standing_by: bool = False
    finished: bool = False
    """A person said that the count is finished, and nothing was stored since."""

    @property
    def told_apart(self) -> bool:
        """Whether each person has a channel."""
        return self.opened is not None and self.opened.roles_told_apart

    def tally(self, item: str, place: str | None = None) -> Tally:
        """Give what stands of an item; empty when nothing is stored."""
        key = Key(item, place)
        return self.tallies.get(key) or Tally(key)

    def keys(self, *states: State) -> tuple[Key, ...]:
        """Give the keys in these states, in the sheet's order."""
        order = {item: at for at, item in enumerate(self.items)}
        known = {*self.tallies, *(Key(item) for item in self.items)}
        found = (key for key in known if self.tally(*key).state in states)
        return tuple(sorted(found, key=lambda key: (order[key.item], key.place or "")))

    def waiting(self) -> tuple[Key, ...]:
        """Give the keys that wait for the circulator's number, the one stored last at the end."""
        keys = self.keys(State.WAITING)
        return tuple(sorted(keys, key=lambda key: self.tallies[key].lines[-1].number))

    def left(self) -> tuple[Key, ...]:
        """Give the keys with nothing stored, in the sheet's order."""
        return self.keys(State.LEFT)

    def flags(self, item: str, place: str | None = None) -> tuple[Flag, ...]:
        """Give an item's flags in the order of their list."""
        tally = self.tally(item, place)
        now = set(tally.lasting)
        if tally.lines:
            expect = self.items[item].expect
            if expect is not None and tally.total != expect:
                now.add(Flag.DIFFERS_FROM_SHEET)
            if tally.state is not State.CONFIRMED:
                now.add(Flag.NOT_CONFIRMED)
            if tally.state is State.RECOUNT:
                now.add(Flag.RECOUNT_DUE)
            if not self.told_apart:
                now.add(Flag.ROLES_NOT_TOLD_APART)
        return tuple(flag for flag in Flag if flag in now)


def fold(events: Iterable[Event]) -> Ledger:
    """Give the ledger that a list of events makes. Raises JournalError as ``apply`` does."""
    return reduce(apply, events, Ledger())


def apply(ledger: Ledger, event: Event) -> Ledger:
    """Give the ledger after one more event.

    Raises JournalError when the event cannot follow: a case not opened or opened twice, an item
    that is not on the sheet, a line that does not stand, a sum that does not add up, a
    confirmation that is not the circulator's or has another number.
    """
    if (ledger.opened is None) != isinstance(event, CaseOpened):
        raise _wrong(event, "a case is opened once, by its first record")
    item = getattr(event, "item", None)
    if item is not None and item not in ledger.items:
        raise _wrong(event, f"item {item!r} is not on the sheet of the case")
    return _STEPS[type(event)](ledger, event)


def _opened(ledger: Ledger, event: CaseOpened) -> Ledger:
    items = MappingProxyType({item.id: item for item in event.items})
    return replace(ledger, opened=event, items=items)


def _stored(ledger: Ledger, event: LineStored) -> Ledger:
    key = Key(event.item, event.place)
    before = ledger.tally(*key)
    _must_stand(event, before, event.replaces)
    tally = before.without(event.replaces)
    if event.line != ledger.next_line:
        raise _wrong(event, f"line {event.line} stands where line {ledger.next_line} has to")
    if event.total != tally.total + event.counted:
        raise _wrong(event, f"its total {event.total} is not the sum of its lines")
    flags = {
        Flag.RECOUNTED: event.entry is Entry.RECOUNT,
        Flag.FURTHER_PACKAGE: event.entry is Entry.PACKAGE,
        Flag.ADDITION: event.entry is Entry.ADDITION,
        Flag.STATED: event.counted > 1 and event.numbers == (event.counted,),
        Flag.OUT_OF_ORDER: before.first is None and _passed(ledger, event.item),
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


def _confirmed(ledger: Ledger, event: LineConfirmed) -> Ledger:
    tally = _newest_is(ledger, event, event.line)
    if tally.state is not State.WAITING:
        raise _wrong(event, f"line {event.line} does not wait for a confirmation")
    if event.number is not None and event.number != tally.total:
        raise _wrong(event, f"the number {event.number} is not the stored {tally.total}")
    if ledger.told_apart and event.by is not Role.CIRCULATOR:
        raise _wrong(event, "only the circulator confirms")
    return _with(
        ledger, replace(tally, lines=tuple(replace(line, confirmed=True) for line in tally.lines))
    )


def _disputed(ledger: Ledger, event: LineDisputed) -> Ledger:
    tally = _newest_is(ledger, event, event.line)
    due = tuple(line.number for line in tally.lines)
    return _with(ledger, replace(tally, due=due).flagged(Flag.DISPUTED))


def _recount(ledger: Ledger, event: RecountCalled) -> Ledger:
    tally = ledger.tally(event.item, event.place)
    _must_stand(event, tally, event.lines)
    due = tuple(sorted({*tally.due, *event.lines}))
    tally = replace(tally, due=due)
    return _with(ledger, tally.flagged(Flag.INTERRUPTED) if event.why is Why.INTERRUPTED else tally)


def _refused(ledger: Ledger, event: LineRefused) -> Ledger:
    if event.refusal is not Refusal.INTERRUPTED:
        return ledger
    return _with(ledger, ledger.tally(event.item, event.place).flagged(Flag.INTERRUPTED))


def _set_aside(ledger: Ledger, event: PackageSetAside) -> Ledger:
    tally = ledger.tally(event.item, event.place)
    _must_stand(event, tally, event.replaces)
    tally = replace(tally.without(event.replaces), aside=(*tally.aside, event.held))
    return replace(_with(ledger, tally.flagged(Flag.PACKAGE_SET_ASIDE)), last=tally.key)


def _taken_back(ledger: Ledger, event: LineTakenBack) -> Ledger:
    tally = ledger.tally(event.item, event.place)
    _must_stand(event, tally, event.lines)
    if ledger.told_apart and (event.by is None or event.agreed in {None, event.by}):
        raise _wrong(event, "a line is taken back by both people")
    return _with(ledger, tally.without(event.lines).flagged(Flag.TAKEN_BACK))


def _stood_by(ledger: Ledger, _: StoodBy) -> Ledger:
    return replace(ledger, standing_by=True)


def _carried_on(ledger: Ledger, _: CarriedOn) -> Ledger:
    return replace(ledger, standing_by=False)


def _finished(ledger: Ledger, _: CountFinished) -> Ledger:
    return replace(ledger, finished=True)


_STEPS: dict[type[Any], Callable[[Ledger, Any], Ledger]] = {
    CaseOpened: _opened,
    LineStored: _stored,
    LineConfirmed: _confirmed,
    LineDisputed: _disputed,
    RecountCalled: _recount,
    LineRefused: _refused,
    PackageSetAside: _set_aside,
    LineTakenBack: _taken_back,
    StoodBy: _stood_by,
    CarriedOn: _carried_on,
    CountFinished: _finished,
}


def _with(ledger: Ledger, tally: Tally) -> Ledger:
    return replace(ledger, tallies=MappingProxyType({**ledger.tallies, tally.key: tally}))


def _passed(ledger: Ledger, item: str) -> bool:
    """Tell whether a line that stands later on the sheet was stored before this item."""
    order = list(ledger.items)
    later = set(order[order.index(item) + 1 :])
    return any(
        key.item in later and tally.first is not None for key, tally in ledger.tallies.items()
    )


def _newest_is(ledger: Ledger, event: LineConfirmed | LineDisputed, line: int) -> Tally:
    tally = ledger.tally(event.item, event.place)
    if tally.newest is None or tally.newest.number != line:
        raise _wrong(event, f"line {line} is not the newest line of {event.item!r}")
    return tally


def _must_stand(event: Event, tally: Tally, numbers: tuple[int, ...]) -> None:
    standing = {line.number for line in tally.lines}
    for number in numbers:
        if number not in standing:
            raise _wrong(event, f"line {number} does not stand in {tally.key.item!r}")


def _wrong(event: Event, what: str) -> JournalError:
    return JournalError(
        f"record {event.kind!r} at {event.at:.1f} s: {what}; the journal cannot be trusted"
    )
