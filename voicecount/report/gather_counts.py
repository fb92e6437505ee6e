"""The counts of a case, gathered while its events are folded: each as it stood when it ended."""

from dataclasses import dataclass, field

from voicecount.count.compare import compare_key, differing
from voicecount.count.events import (
    CountFinished,
    CountOpened,
    CountResult,
    CountWaived,
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
)
from voicecount.count.flags import Flag
from voicecount.count.plan import left_out
from voicecount.count.standing import Count, Ledger
from voicecount.count.sums import differing_items, line_sum
from voicecount.count.tally import Key, State
from voicecount.report.facts import CountFacts, DroppedFacts, LineFacts, Moment, SumFacts
from voicecount.sheet.plan import CountKind


@dataclass
class _Held:
    """A count and what came in it so far."""

    count: Count
    opened: Moment
    finish: tuple[Moment, CountFinished] | None = None
    """The last time that somebody said that it is finished."""
    ended: Ledger | None = None
    """As it stood at its end; None while it is open."""
    waived: bool = False
    """Whether it was ended by a waiver."""
    lines: list[tuple[Moment, LineStored]] = field(default_factory=list)
    answers: dict[int, tuple[Moment, LineConfirmed]] = field(default_factory=dict)
    dropped: dict[int, DroppedFacts] = field(default_factory=dict)
    refused: int = 0
    disputed: int = 0
    recounted: int = 0
    interruptions: int = 0
    cut_at: float | None = None
    """When a call was cut off last."""


class Counts:
    """Follows the fold of a case, event by event."""

    def __init__(self) -> None:
        self._done: list[CountFacts] = []
        self._held: _Held | None = None

    def take(self, when: Moment, event: Event, before: Ledger, after: Ledger) -> None:
        """Take one event, with the ledger before and after it."""
        count = after.count
        if count is not None and (self._held is None or isinstance(event, CountOpened)):
            self._close(before)
            self._held = _Held(count, when)
        held = self._held
        if held is None:
            return
        if held.ended is not None and not after.finished:
            held.ended, held.waived = None, False  # a line was changed after the end
        match event:
            case CountFinished():
                held.finish, held.ended, held.waived = (when, event), before, False
            case CountWaived() if after.finished and not before.finished:
                held.ended, held.waived = before, True
            case StoodBy() if before.counting:
                # words to stand by that cut a call off are one interruption, and of one time
                held.interruptions += event.at != held.cut_at
            case _:
                _take_line(held, when, event, after)

    def facts(self, ledger: Ledger) -> tuple[CountFacts, ...]:
        """Give all counts; ``ledger`` is the last one."""
        self._close(ledger)
        self._held = None
        return tuple(self._done)

    def _close(self, last: Ledger) -> None:
        if self._held is not None:
            self._done.append(_facts(self._held, last))


def _take_line(held: _Held, when: Moment, event: Event, after: Ledger) -> None:
    match event:
        case LineStored():
            held.lines.append((when, event))
            held.recounted += event.entry is Entry.RECOUNT
            _drop(held, event.replaces, DroppedFacts(when=when, how="replaced", by=event.by))
        case LineConfirmed():
            for line in after.tally(event.item, event.place).lines:
                held.answers[line.number] = (when, event)
        case LineRefused():
            held.refused += 1
            if event.refusal is Refusal.INTERRUPTED:
                held.interruptions += 1
                held.cut_at = event.at
        case LineDisputed():
            held.disputed += 1
            lines = tuple(line.number for line in after.tally(event.item, event.place).lines)
            said = DroppedFacts(when=when, how="disputed", by=event.by, number=event.number)
            _drop(held, lines, said)
        case RecountCalled():
            again = DroppedFacts(when=when, how="recount", by=event.by, why=event.why.value)
            _drop(held, event.lines, again)
        case PackageSetAside():
            _drop(held, event.replaces, DroppedFacts(when=when, how="set_aside", by=event.by))
        case LineTakenBack():
            taken = DroppedFacts(when=when, how="taken_back", by=event.by, agreed=event.agreed)
            _drop(held, event.lines, taken)
        case _:
            pass


def _drop(held: _Held, lines: tuple[int, ...], dropped: DroppedFacts) -> None:
    """Keep why lines are to stand no longer: the first reason is what people have to look up."""
    for line in lines:
        held.dropped.setdefault(line, dropped)


def _facts(held: _Held, last: Ledger) -> CountFacts:
    count, end = held.count, held.ended or last
    finish = held.finish[1] if held.finish is not None and not held.waived else None
    if finish is not None and held.ended is not None:
        result = finish.result
        unconfirmed, differ, left = finish.unconfirmed, finish.differing, finish.left
    else:
        result = CountResult.NOT_DONE if held.waived else None
        unconfirmed = _items(end.keys(State.WAITING, State.RECOUNT))
        differ = _differing(end)
        left = (*_items(end.keys(State.LEFT)), *left_out(end))
    return CountFacts(
        number=count.number,
        id=count.id,
        kind=count.kind.value,
        title=count.title,
        places=count.places,
        opened=held.opened,
        finished=held.finish[0] if held.finish is not None else None,
        result=result.value if result is not None else None,
        lines=tuple(_line(held, when, event, end) for when, event in held.lines),
        sums=tuple(_sum(end, item) for item in _counted_items(count, end)),
        unconfirmed=unconfirmed,
        differing=differ,
        left=left,
        not_in_it=_not_in_it(count, end),
        refused=held.refused,
        disputed=held.disputed,
        recounted=held.recounted,
        interruptions=held.interruptions,
    )


def _line(held: _Held, when: Moment, event: LineStored, end: Ledger) -> LineFacts:
    tally = end.tally(event.item, event.place)
    standing = next((line for line in tally.lines if line.number == event.line), None)
    answered, answer = held.answers.get(event.line, (None, None))
    return LineFacts(
        line=event.line,
        item=event.item,
        place=event.place,
        numbers=event.numbers,
        pieces=event.pieces,
        counted=event.counted,
        form=event.form.value,
        entry=event.entry.value,
        stands=standing is not None,
        confirmed=standing is not None and standing.confirmed and event.line not in tally.due,
        stored=when,
        by=event.by,
        answered=answered,
        answered_by=answer.by if answer is not None else None,
        dropped=held.dropped.get(event.line),
    )


def _not_in_it(count: Count, end: Ledger) -> tuple[str, ...]:
    """Give the sheet's items that a count has no line for; an addition is of whatever is added."""
    if count.kind is CountKind.ADDITION:
        return ()
    return tuple(item for item in end.items if item not in count.items)


def _counted_items(count: Count, end: Ledger) -> tuple[str, ...]:
    """Give the items of a count; of an addition only those that were called in it."""
    if count.kind is not CountKind.ADDITION:
        return count.items
    called = {key.item for key in end.tallies}
    return tuple(item for item in count.items if item in called)


def _sum(end: Ledger, item: str) -> SumFacts:
    """Give what an item came to, beside what is expected of it."""
    flags = _flags(end, item)
    if end.count is not None and end.count.places:
        one = line_sum(end, item)
        stored = [n for _, n in one.places if n is not None]
        return SumFacts(
            item=item,
            places=one.places,
            counted=sum(stored) if stored else None,
            inside=one.inside,
            tucked=one.tucked,
            expected=one.expected,
            off=one.off,
            confirmed=one.complete,
            flags=flags,
        )
    line = compare_key(end, Key(item))
    return SumFacts(
        item=item,
        places=(),
        counted=line.counted,
        inside=0,
        tucked=0,
        expected=line.expected,
        off=line.off,
        confirmed=line.state is State.CONFIRMED,
        flags=flags,
    )


def _flags(end: Ledger, item: str) -> tuple[str, ...]:
    found = {flag for key in end.tallies if key.item == item for flag in end.flags(item, key.place)}
    return tuple(flag.value for flag in Flag if flag in found)


def _differing(end: Ledger) -> tuple[str, ...]:
    if end.count is not None and end.count.places:
        return differing_items(end)
    return tuple(line.key.item for line in differing(end))


def _items(keys: tuple[Key, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(key.item for key in keys))
