"""What is said of stored events, read from the events themselves and not from what was heard."""

from collections.abc import Sequence

from voicecount.count.compare import compare_key
from voicecount.count.events import (
    CarriedOn,
    CaseOpened,
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
from voicecount.count.ledger import Ledger, apply
from voicecount.count.package import packages_to_come
from voicecount.count.roles import Role
from voicecount.count.tally import Key, State
from voicecount.sheet.model import Item, Sheet
from voicecount.sheet.plan import CountKind
from voicecount.talk import readback_case, wording, wording_case
from voicecount.talk.points import with_counts
from voicecount.talk.reply import Reply, ReplyKind
from voicecount.talk.scene import join


def tell(
    sheet: Sheet, before: Ledger, events: Sequence[Event], *, guided: bool = True
) -> Reply | None:
    """Give the words for events that were synced one after the other.

    With ``guided``, what comes next in a count with places or in a difference is said at the end.
    """
    said: list[Reply | None] = []
    stored: LineStored | None = None
    behind: Key | None = None
    zeros: list[Event] = []
    for at, event in enumerate(events):
        after = apply(before, event)
        if isinstance(event, LineConfirmed) and after.places:
            more = isinstance(events[at + 1] if at + 1 < len(events) else None, LineConfirmed)
            said.append(None if more else readback_case.confirmed(sheet, event, after))
            said.append(None if more else _next_waiting(sheet, after, told=None))
        elif isinstance(event, LineConfirmed) and after.kind is CountKind.ADDITION:
            said.append(readback_case.added(sheet, event, after))
            said.append(_next_waiting(sheet, after, told=behind))
        elif isinstance(event, LineConfirmed):
            said.append(_confirmed(sheet, event, after, just=stored))
            said.append(_next_waiting(sheet, after, told=behind))
        elif readback_case.is_none_at(event):
            zeros.append(event)
            if not readback_case.is_none_at(events[at + 1] if at + 1 < len(events) else None):
                said.append(readback_case.none_at(sheet, zeros))
        elif not isinstance(event, RecountCalled):
            said.append(_tell(sheet, before, after, event))
        stored = event if isinstance(event, LineStored) else None
        behind = None if stored is None else before.last
        before = after
    refused = {event.item for event in events if isinstance(event, LineRefused)}
    told = {Why.DIFFERS, Why.CHANGED} if before.places else set()
    called = {
        event.item for event in events if isinstance(event, RecountCalled) and event.why not in told
    } - refused
    if called:
        text = wording.again([item for item in sheet.items if item.id in called])
        said.append(Reply(text, ReplyKind.ALERT, Role.SCRUB, tone=True))
    if guided:
        said.append(readback_case.then(sheet, before, events))
    return join(said)


def tally(sheet: Sheet, ledger: Ledger) -> str:
    """Read all stored lines, each with its place."""
    keys = ledger.keys(State.WAITING, State.CONFIRMED, State.RECOUNT)
    if any(key.place is not None for key in keys):
        lines = [(sheet.item(key.item), ledger.tally(*key).total, key.place or "") for key in keys]
        return " ".join(wording_case.read_back_at(*line, None) for line in lines)
    return wording.tally(with_counts(sheet, ledger, State.WAITING, State.CONFIRMED, State.RECOUNT))


def _tell(sheet: Sheet, before: Ledger, after: Ledger, event: Event) -> Reply | None:
    reply: Reply | None = None
    match event:
        case CaseOpened():
            text = wording.opened(event.title, sheet.items[0])
            reply = Reply(text, ReplyKind.NOTICE, Role.SCRUB)
        case LineStored():
            reply = _stored(sheet, before, event)
        case LineDisputed():
            item = sheet.item(event.item)
            text = wording.disputed(item, event.total, event.number, event.pieces)
            reply = Reply(text, ReplyKind.ALERT, Role.SCRUB, tone=True)
        case LineRefused():
            reply = _refused(sheet.item(event.item), after, event)
        case PackageSetAside():
            reply = _set_aside(sheet.item(event.item), after, event)
        case LineTakenBack():
            lines = before.tally(event.item, event.place).lines
            n = sum(line.counted for line in lines if line.number in event.lines)
            reply = Reply(wording.taken_back(sheet.item(event.item), n), ReplyKind.NOTICE)
        case StoodBy():
            reply = Reply(wording.standing_by(), ReplyKind.NOTICE, listens=False)
        case CarriedOn():
            listening = wording.carrying_on()
            reply = Reply(listening, ReplyKind.NOTICE, Role.SCRUB, listens=True)
        case _:
            reply = readback_case.tell(sheet, before, after, event)
    return reply


def _stored(sheet: Sheet, before: Ledger, event: LineStored) -> Reply | None:
    if event.place is not None:
        return readback_case.stored_at(sheet, event)
    return join((_left_behind(sheet, before, event), _read_back(sheet, before, event)))


def _read_back(sheet: Sheet, before: Ledger, event: LineStored) -> Reply:
    item = sheet.item(event.item)
    if before.kind is CountKind.ADDITION and event.entry is not Entry.PACKAGE:
        text = wording_case.added_line(item, event.total)
        return Reply(text, ReplyKind.READBACK, Role.CIRCULATOR)
    match event.entry:
        case Entry.PACKAGE:
            text = wording.read_back_more(item, event.counted, event.total)
        case Entry.ADDITION:
            text = wording.read_back_added(item, event.counted, event.total)
        case _ if event.total != event.counted:
            text = wording.read_back_more(item, event.counted, event.total)
        case Entry.RECOUNT:
            text = wording.read_back_again(item, event.total, event.pieces)
        case _:
            text = wording.read_back(item, event.total, event.pieces)
    expect = event.expected
    differs = expect is not None and event.total != expect
    if expect is not None and differs and not packages_to_come(event.total, expect, item.pack):
        return Reply(
            f"{text} {wording.sheet_says(expect)}", ReplyKind.READBACK, Role.CIRCULATOR, tone=True
        )
    return Reply(text, ReplyKind.READBACK, Role.CIRCULATOR)


def _left_behind(sheet: Sheet, before: Ledger, event: LineStored) -> Reply | None:
    """Tell what is open of the line before, when the scrub has gone on to another one."""
    last = before.last
    if last is None or last == Key(event.item, event.place):
        return None
    line = compare_key(before, last)
    item = sheet.item(last.item)
    said = []
    if line.state is State.RECOUNT:
        said.append(wording.again([item]))
    elif line.state is State.WAITING and line.counted is not None:
        said.append(wording.still_waits(item, line.counted))
    elif line.to_come and line.counted is not None:
        said.append(wording.stays_at(item, line.counted))
    if line.to_come and line.expected is not None:
        said.append(wording.sheet_says(line.expected))
    return Reply(" ".join(said), ReplyKind.NOTICE) if said else None


def _confirmed(sheet: Sheet, event: LineConfirmed, after: Ledger, just: LineStored | None) -> Reply:
    if just is not None:
        return Reply(wording.confirmed_now(), ReplyKind.NOTICE, Role.SCRUB)
    total = after.tally(event.item, event.place).total
    text = wording.confirmed(sheet.item(event.item), total)
    return Reply(text, ReplyKind.NOTICE, Role.SCRUB)


def _next_waiting(sheet: Sheet, after: Ledger, told: Key | None) -> Reply | None:
    """Read the line that waits next, unless it was just told of."""
    waiting = after.waiting()
    if not waiting or waiting[-1] == told:
        return None
    key = waiting[-1]
    text = wording.still_waits(sheet.item(key.item), after.tally(*key).total)
    return Reply(text, ReplyKind.READBACK, Role.CIRCULATOR)


def _refused(item: Item, after: Ledger, event: LineRefused) -> Reply:
    last = event.numbers[-1] if event.numbers else None
    tally = after.tally(event.item, event.place)
    package = item.pack is not None and bool(tally.lines) and not tally.due
    text = wording.refused(item, event.refusal, event.after, event.heard, last, package=package)
    if event.refusal is Refusal.STARTED_OVER:
        return Reply(text, ReplyKind.NOTICE, Role.SCRUB)
    return Reply(text, ReplyKind.ALERT, Role.SCRUB, tone=True)


def _set_aside(item: Item, after: Ledger, event: PackageSetAside) -> Reply:
    text = wording.set_aside(item, event.held, event.pack)
    stands = after.tally(event.item, event.place)
    if stands.lines:
        text = f"{text} {wording.stays_at(item, stands.total)}"
    return Reply(text, ReplyKind.ALERT, Role.SCRUB, tone=True)
