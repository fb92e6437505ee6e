"""What is said of a case's events, read from the events and the ledger. See readback.py."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from voicecount.count.account import Account
from voicecount.count.events import (
    CaseClosed,
    CountFinished,
    CountOpened,
    CountResult,
    CountWaived,
    Difference,
    DiscrepancyClosed,
    DiscrepancyOpened,
    Event,
    IncidentTold,
    LineConfirmed,
    LineStored,
    PeopleChanged,
    Step,
    StepTold,
    TurnedOpen,
)
from voicecount.count.plan import due
from voicecount.count.roles import Role
from voicecount.count.standing import Ledger
from voicecount.count.sums import line_sum
from voicecount.count.tally import State
from voicecount.sheet.model import Item, Sheet
from voicecount.sheet.plan import CountKind
from voicecount.talk import guide, wording, wording_case, wording_differences, wording_forms
from voicecount.talk.points import not_confirmed, open_differences, summary
from voicecount.talk.reply import Reply, ReplyKind
from voicecount.talk.told import incident_words, person, site_words

_GUIDED = (LineConfirmed, StepTold, DiscrepancyOpened, DiscrepancyClosed)
"""Events after which people are told what comes next."""


def tell(sheet: Sheet, before: Ledger, after: Ledger, event: Event) -> Reply | None:
    """Give the words for one event of a case; None where others say all."""
    words = _WORDS.get(type(event))
    return None if words is None else words(sheet, before, after, event)


def stored_at(sheet: Sheet, event: LineStored) -> Reply:
    """Read the line of a place."""
    text = wording_case.read_back_at(
        sheet.item(event.item), event.total, event.place or "", event.pieces
    )
    return Reply(text, ReplyKind.READBACK, Role.CIRCULATOR)


def is_none_at(event: Event | None) -> bool:
    """Tell whether an event stores that there is none at a place."""
    return isinstance(event, LineStored) and event.place is not None and not event.counted


def none_at(sheet: Sheet, events: Sequence[Event]) -> Reply:
    """Read the places of an item where there is none, in one sentence."""
    stored = [event for event in events if isinstance(event, LineStored)]
    places = [event.place or "" for event in stored]
    text = wording_case.none_at(sheet.item(stored[0].item), places)
    return Reply(text, ReplyKind.READBACK, Role.CIRCULATOR)


def confirmed(sheet: Sheet, event: LineConfirmed, after: Ledger) -> Reply:
    """Say that a place is confirmed, and what the item comes to when it was the last one."""
    said = [wording.confirmed_now()]
    one = line_sum(after, event.item)
    if one.complete and not one.off:
        item = sheet.item(event.item)
        said.append(wording_case.together(item, one.counted, one.inside, one.tucked))
        if one.expected is None:
            said.append(wording_case.no_initial_count(item))
    return Reply(" ".join(said), ReplyKind.NOTICE, Role.SCRUB)


def added(sheet: Sheet, event: LineConfirmed, after: Ledger) -> Reply:
    """Say what was added and what is expected from now on."""
    total = after.tally(event.item, event.place).total
    text = wording_case.added_now(sheet.item(event.item), total, after.expected(event.item))
    return Reply(text, ReplyKind.NOTICE, Role.SCRUB)


def then(sheet: Sheet, after: Ledger, events: Sequence[Event]) -> Reply | None:
    """Say what comes next, after the events that ask for it."""
    if not any(isinstance(event, _GUIDED) for event in events) or after.closed:
        return None
    waits = after.places and after.waiting() and not after.discrepancies
    begins = any(isinstance(event, (StepTold, DiscrepancyOpened)) for event in events)
    text = "" if waits else guide.guidance(sheet, after, step_begins=begins)
    return Reply(text, ReplyKind.NOTICE, Role.SCRUB) if text else None


def at_the_end(sheet: Sheet, ledger: Ledger) -> list[str]:
    """Say all that is open when a case ends; what was not found is told again."""
    said = open_differences(sheet, ledger)
    told = [one for one in ledger.settled.values() if one.number in ledger.not_found]
    if before := len(ledger.not_found) - len(told):
        said.append(wording_case.not_found_before(before))
    if ledger.relief_due and sheet.policy.relief_counts:
        said.append(wording_case.relief_count_missing())
    following = due(ledger)
    if following:
        said.append(wording_case.counts_due([count.say for count in following]))
    waived = [
        count.say
        for count in (ledger.opened.plan if ledger.opened is not None else ())
        if ledger.held.get(count.id) is CountResult.NOT_DONE
    ]
    said += [wording_case.waived(title) for title in waived]
    return [*said, *_in_the_patient(sheet, ledger)]


def _opened(sheet: Sheet, _before: Ledger, ledger: Ledger, event: CountOpened) -> Reply:
    text = _opening(sheet, ledger, event)
    return Reply(text, ReplyKind.NOTICE, Role.SCRUB)


def _opening(sheet: Sheet, ledger: Ledger, event: CountOpened) -> str:
    if event.count_kind is CountKind.ADDITION:
        return wording_case.addition_opened()
    first = ledger.left()[0] if ledger.left() else None
    item = None if first is None else sheet.item(first.item)
    said = [wording_case.count_opened(event.title, item, None if first is None else first.place)]
    tucked = list(_sites(sheet, ledger, tucked=True))
    if tucked:
        said.insert(0, wording_case.tucked_in(tucked))
    return " ".join(said)


def _finished(sheet: Sheet, before: Ledger, ledger: Ledger, event: CountFinished) -> Reply:
    if ledger.count is None or ledger.count.kind is CountKind.INITIAL:
        return Reply(summary(sheet, ledger), ReplyKind.ANSWER)
    return Reply(" ".join(_result(sheet, before, ledger, event)), ReplyKind.ANSWER)


def _result(sheet: Sheet, before: Ledger, ledger: Ledger, event: CountFinished) -> Iterator[str]:
    title = ledger.count.title if ledger.count is not None else event.count
    if event.unconfirmed:
        yield from not_confirmed(sheet, before, State.WAITING, State.RECOUNT)
    if event.left:
        yield wording.left([sheet.item(item) for item in event.left])
    yield from open_differences(sheet, ledger)
    yield from _in_the_patient(sheet, ledger)
    if event.result is not None and ledger.count is not None:
        if ledger.count.kind is CountKind.ADDITION:
            yield wording_case.addition_finished()
        else:
            yield wording_case.finished(title, event.result)


def _in_the_patient(sheet: Sheet, ledger: Ledger) -> Iterator[str]:
    tucked = list(_sites(sheet, ledger, tucked=True))
    inside = list(_sites(sheet, ledger, tucked=False))
    if tucked:
        yield wording_case.tucked_in(tucked)
    if inside:
        yield wording_case.inside(inside)


def _sites(sheet: Sheet, ledger: Ledger, *, tucked: bool) -> Iterator[tuple[Item, int, str]]:
    for item in ledger.items:
        account = ledger.account(item)
        for site, n in (account.tucked if tucked else account.inside).items():
            yield sheet.item(item), n, site_words(sheet, site)


def _waived(_sheet: Sheet, _before: Ledger, _after: Ledger, event: CountWaived) -> Reply:
    return Reply(wording_case.waived(event.title), ReplyKind.NOTICE)


def _happened(sheet: Sheet, before: Ledger, after: Ledger, event: IncidentTold) -> Reply:
    said = [incident_words(sheet, event)]
    expected = after.expected(event.item)
    if expected is not None and expected != before.expected(event.item):
        said.append(wording_forms.expected_now(expected))
    return Reply(" ".join(said), ReplyKind.READBACK)


def _differs(sheet: Sheet, _before: Ledger, _after: Ledger, event: DiscrepancyOpened) -> Reply:
    return Reply(_difference(sheet, event), ReplyKind.ALERT, tone=True)


def _difference(sheet: Sheet, event: DiscrepancyOpened) -> str:
    item = sheet.item(event.item)
    match event.differs:
        case Difference.PLACE:
            return wording_differences.discrepancy_off_field(item, event.counted, event.expected)
        case Difference.PIECE:
            return wording_differences.discrepancy_pieces(item, event.counted, event.expected)
        case Difference.LINE:
            said = [wording_differences.discrepancy(item, event.counted, event.expected)]
    if event.right_in is not None and event.right_at is not None:
        minutes = int((event.at - event.right_at) // 60)
        said.append(wording_differences.last_right(event.right_in, minutes, event.right_places))
    return " ".join(said)


def _closed(sheet: Sheet, before: Ledger, _after: Ledger, event: DiscrepancyClosed) -> Reply:
    one = before.discrepancies[event.discrepancy]
    text = wording_differences.settled(sheet.item(one.item), event.settled, over=one.off > 0)
    return Reply(text, ReplyKind.READBACK)


def _step(sheet: Sheet, _before: Ledger, after: Ledger, event: StepTold) -> Reply | None:
    if event.step is not Step.RECOUNT or event.n is None:
        return None
    discrepancy = after.discrepancies[event.discrepancy]
    if not discrepancy.off:
        return None  # both are asked for their words
    item = sheet.item(discrepancy.item)
    at_place = discrepancy.opened.differs is Difference.PLACE
    words = (
        wording_differences.discrepancy_off_field if at_place else wording_differences.discrepancy
    )
    text = words(item, event.n, discrepancy.expected)
    return Reply(text, ReplyKind.ALERT, tone=True)


def _open_surgery(_sheet: Sheet, _before: Ledger, _after: Ledger, _event: TurnedOpen) -> Reply:
    return Reply(wording_case.turned_open(), ReplyKind.READBACK)


def _ended(sheet: Sheet, before: Ledger, _after: Ledger, _event: CaseClosed) -> Reply:
    said = [*at_the_end(sheet, before), wording_case.case_closed()]
    return Reply(" ".join(said), ReplyKind.ANSWER)


def _people(sheet: Sheet, _before: Ledger, after: Ledger, event: PeopleChanged) -> Reply:
    return Reply(" ".join(_handing_over(sheet, after, event)), ReplyKind.READBACK)


def _handing_over(sheet: Sheet, ledger: Ledger, event: PeopleChanged) -> Iterator[str]:
    outgoing, incoming = person(sheet, event.outgoing), person(sheet, event.incoming)
    if event.back:
        yield wording_case.is_back(event.role)
    elif event.permanent:
        yield wording_case.changes(event.role, outgoing, incoming)
    else:
        yield wording_case.stands_in(event.role, incoming)
    accounts: list[tuple[Item, Account]] = [
        (sheet.item(item), ledger.account(item)) for item in ledger.items
    ]
    known = [(item, ledger.expected(item.id)) for item, _ in accounts]
    yield wording_case.expected_all([(item, n) for item, n in known if n is not None])
    yield wording_case.off_field_so_far(
        [(item, account.passed_off) for item, account in accounts if account.passed_off]
    )
    yield from _in_the_patient(sheet, ledger)
    yield from open_differences(sheet, ledger)


_WORDS: Mapping[type[Any], Callable[[Sheet, Ledger, Ledger, Any], Reply | None]] = {
    CountOpened: _opened,
    CountFinished: _finished,
    CountWaived: _waived,
    IncidentTold: _happened,
    DiscrepancyOpened: _differs,
    StepTold: _step,
    DiscrepancyClosed: _closed,
    PeopleChanged: _people,
    TurnedOpen: _open_surgery,
    CaseClosed: _ended,
}
