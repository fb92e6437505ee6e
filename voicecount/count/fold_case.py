"""What each event of a case does to the ledger: counts, incidents, differences, people. Pure."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from voicecount.count.account import Account, Right, keeping, why_not, with_incident, with_initial
from voicecount.count.discrepancy import Discrepancy
from voicecount.count.events import (
    CaseClosed,
    CaseOpened,
    CountFinished,
    CountOpened,
    CountResult,
    CountWaived,
    Difference,
    DiscrepancyClosed,
    DiscrepancyOpened,
    IncidentTold,
    PeopleChanged,
    Settled,
    StepTold,
    TurnedOpen,
)
from voicecount.count.follow import both_said, wrong
from voicecount.count.plan import due
from voicecount.count.standing import Count, Ledger
from voicecount.count.sums import line_sum, result
from voicecount.count.tally import State
from voicecount.sheet.plan import CountKind


def opened(ledger: Ledger, event: CaseOpened) -> Ledger:
    """Begin the case, and with it the initial count."""
    items = MappingProxyType({item.id: item for item in event.items})
    title = next((count.say for count in event.plan if count.id == event.count), "initial count")
    first = Count(1, event.count, CountKind.INITIAL, title, tuple(items), (), event.at)
    return replace(ledger, opened=event, items=items, count=first)


def count_opened(ledger: Ledger, event: CountOpened) -> Ledger:
    """Begin a further count: nothing is counted in it yet."""
    number = ledger.count.number + 1 if ledger.count is not None else 1
    if not ledger.finished:
        raise wrong(event, "the count before it is not finished")
    if event.number != number:
        raise wrong(event, f"count {event.number} stands where count {number} has to")
    unknown = [item for item in event.items if item not in ledger.items]
    if unknown:
        raise wrong(event, f"item {unknown[0]!r} is not on the sheet of the case")
    count = Count(
        event.number,
        event.count,
        event.count_kind,
        event.title,
        event.items,
        event.places,
        event.at,
        event.tucked_counts,
    )
    nothing: Mapping[str, Discrepancy] = MappingProxyType({})
    return replace(
        ledger,
        count=count,
        tallies=MappingProxyType({}),
        last=None,
        finished=False,
        settled=nothing,
        relief_due=ledger.relief_due and not _is_full(ledger, event),
    )


def count_finished(ledger: Ledger, event: CountFinished) -> Ledger:
    """End a count, and take what both people gave into the accounts."""
    count = ledger.count
    if count is None or count.id != event.count or count.number != event.number:
        raise wrong(event, f"the count {event.count!r} is not the one that is open")
    if count.kind is CountKind.ADDITION and ledger.finished:
        raise wrong(event, "an addition is finished once")
    if count.kind is CountKind.ADDITION and ledger.keys(State.WAITING, State.RECOUNT):
        raise wrong(event, "an addition ends when both people gave its numbers")
    if event.result is not None:
        now = result(ledger)
        if event.result is not now:
            raise wrong(event, f"its result is {event.result.value!r}, its lines say {now.value!r}")
        if event.open != tuple(ledger.discrepancies):
            raise wrong(event, "it does not name the differences that are open")
    for item in count.items:
        ledger = _with_account(ledger, item, _after_count(ledger, count, item, event))
    held = dict(ledger.held)
    planned = ledger.opened is not None and any(count.id == one.id for one in ledger.opened.plan)
    if planned and event.result not in {None, CountResult.INCOMPLETE}:
        held[count.id] = event.result or CountResult.INCOMPLETE
    return replace(ledger, held=MappingProxyType(held), finished=True)


def count_waived(ledger: Ledger, event: CountWaived) -> Ledger:
    """Keep that a planned count is not done."""
    both_said(ledger, event, event.agreed)
    if event.count not in {one.id for one in due(ledger)}:
        raise wrong(event, f"the count {event.count!r} is not due")
    held = {**ledger.held, event.count: CountResult.NOT_DONE}
    count = ledger.count
    finished = ledger.finished or (count is not None and count.id == event.count)
    return replace(ledger, held=MappingProxyType(held), finished=finished)


def incident_told(ledger: Ledger, event: IncidentTold) -> Ledger:
    """Keep what happened to an item."""
    both_said(ledger, event, event.agreed)
    account = ledger.account(event.item)
    why = why_not(account, event, ledger.items[event.item].pieces)
    if why is not None:
        raise wrong(event, why)
    after = _kept(ledger, account, with_incident(account, event))
    if account.initial is None and ledger.kind is CountKind.INITIAL:
        # the count that is open takes it in: its entries are counted with the rest
        after = replace(
            after,
            added=account.added,
            changed=account.changed,
            handed_over=account.handed_over,
        )
    return _with_account(ledger, event.item, after)


def _kept(ledger: Ledger, before: Account, after: Account) -> Account:
    """Keep when something was told, as long as the initial count can be corrected."""
    initial = ledger.count is not None and ledger.count.kind is CountKind.INITIAL
    return keeping(before, after, ledger.next_line) if initial else after


def discrepancy_opened(ledger: Ledger, event: DiscrepancyOpened) -> Ledger:
    """Open a difference."""
    if event.number != ledger.next_discrepancy:
        raise wrong(event, f"difference {event.number} is not the next one")
    if event.counted == event.expected:
        raise wrong(event, "nothing differs")
    number = ledger.count.number if ledger.count is not None and ledger.counting else 0
    if event.differs is not Difference.PIECE and number and ledger.places:
        one = line_sum(ledger, event.item)
        at_place = event.differs is Difference.PLACE
        counted = one.off_field if at_place else one.counted
        expected = one.passed_off if at_place else one.expected
        told_outside = not one.complete and not at_place
        if not told_outside and (counted, expected) != (event.counted, event.expected):
            raise wrong(event, "its numbers are not those of the lines")
    new = Discrepancy(event, number, event.counted, event.expected)
    if event.differs is Difference.LINE:
        # what an open addition adds comes into the account at its end, and shifts it then
        to_come = ledger.expected(event.item) or 0
        new = new.shifted((ledger.account(event.item).expected or 0) - to_come)
    open_ = {**ledger.discrepancies, event.number: new}
    return replace(
        ledger,
        discrepancies=MappingProxyType(open_),
        next_discrepancy=event.number + 1,
        finished=ledger.finished,
    )


def step_told(ledger: Ledger, event: StepTold) -> Ledger:
    """Keep a step of a difference."""
    before = _open_one(ledger, event)
    if event.found < 0 or event.found > max(0, -before.off):
        raise wrong(event, f"{event.found} were found where {max(0, -before.off)} are missing")
    after = {**ledger.discrepancies, before.number: before.told(event)}
    return replace(ledger, discrepancies=MappingProxyType(after))


def discrepancy_closed(ledger: Ledger, event: DiscrepancyClosed) -> Ledger:
    """Close a difference, by the words of both people and nothing else."""
    both_said(ledger, event, event.agreed)
    before = _open_one(ledger, event)
    if event.settled is Settled.FOUND and event.n != -before.off:
        raise wrong(event, f"{event.n} found do not make up for {before.off}")
    if event.settled is Settled.RECOUNTED and before.off:
        raise wrong(event, "the recount still differs")
    closed = replace(before, settled=event.settled)
    old = ledger.settled.get(before.item)
    if old is not None and old.settled is Settled.NOT_FOUND:
        closed = old  # what was not found stays what the line came to
    left = {number: one for number, one in ledger.discrepancies.items() if number != before.number}
    after = replace(
        ledger,
        discrepancies=MappingProxyType(left),
        settled=MappingProxyType({**ledger.settled, before.item: closed}),
    )
    if event.settled is Settled.NOT_FOUND:
        after = replace(after, not_found=(*after.not_found, before.number))
    account = ledger.account(before.item)
    if event.settled is Settled.EXPLAINED and before.opened.differs is Difference.LINE:
        corrected = replace(account, explained=account.explained + before.off)
        account = _kept(ledger, account, corrected)
        after = _with_account(after, before.item, account)
    if event.settled is Settled.EXPLAINED and before.opened.differs is Difference.PLACE:
        account = replace(account, off_explained=account.off_explained + before.off)
        after = _with_account(after, before.item, account)
    return after


def people_changed(ledger: Ledger, event: PeopleChanged) -> Ledger:
    """Keep who took over."""
    both_said(ledger, event, event.agreed)
    people, away = dict(ledger.people), dict(ledger.away)
    before = people.pop(event.role, None)
    if event.incoming is not None:
        people[event.role] = event.incoming
    relieved = ledger.relieved - {event.role}
    if event.permanent or event.back:
        away.pop(event.role, None)
    else:
        relieved |= {event.role}
        if before is not None:
            away.setdefault(event.role, before)
    return replace(
        ledger,
        people=MappingProxyType(people),
        relieved=relieved,
        away=MappingProxyType(away),
        relief_due=ledger.relief_due or event.permanent,
    )


def turned_open(ledger: Ledger, event: TurnedOpen) -> Ledger:
    """Keep that what the plan leaves out is counted from now on."""
    both_said(ledger, event, event.agreed)
    return replace(ledger, turned_open=True)


def case_closed(ledger: Ledger, event: CaseClosed) -> Ledger:
    """End the record. What is open has to be named in it."""
    both_said(ledger, event, event.agreed)
    if event.open != tuple(ledger.discrepancies) or event.not_found != ledger.not_found:
        raise wrong(event, "it does not name the differences that are open or were not found")
    if event.due != tuple(count.id for count in due(ledger)):
        raise wrong(event, "it does not name the counts that were not held")
    accounts = [(item, ledger.account(item)) for item in ledger.items]
    inside = tuple(item for item, account in accounts if account.left_inside)
    tucked = tuple(item for item, account in accounts if account.tucked_in)
    if (event.inside, event.tucked) != (inside, tucked):
        raise wrong(event, "it does not name what is in the patient")
    return replace(ledger, closed=True)


def _after_count(ledger: Ledger, count: Count, item: str, event: CountFinished) -> Account:
    account, at = ledger.account(item), event.at
    if not count.places:
        tally = ledger.tally(item)
        if count.kind is CountKind.ADDITION:
            return replace(account, added=account.added + tally.confirmed)
        if tally.state is not State.CONFIRMED:
            return replace(account, initial=None, right=None)
        right = Right(at, count.title)
        if not event.takes_in:  # as records of before were made, and have to be read
            return replace(account, initial=tally.total, right=right)
        lines = sorted(line.number for line in tally.lines)
        return replace(with_initial(account, tally.total, lines), right=right)
    one = line_sum(ledger, item)
    if one.off != 0:
        return account
    places = tuple((place, n) for place, n in one.places if n)
    return replace(account, right=Right(at, count.title, places))


def _is_full(ledger: Ledger, event: CountOpened) -> bool:
    return bool(event.places) and set(event.items) == set(ledger.items)


def _with_account(ledger: Ledger, item: str, account: Account) -> Ledger:
    """Keep an item's account, and let its open differences follow what is expected now."""
    before = ledger.account(item)
    more = {Difference.PLACE: account.passed_off - before.passed_off}
    if before.expected is not None and account.expected is not None:
        more[Difference.LINE] = account.expected - before.expected
    open_ = {**ledger.discrepancies}
    for number, one in open_.items():
        if one.item == item:
            open_[number] = one.shifted(more.get(one.opened.differs, 0))
    accounts = {**ledger.accounts, item: account}
    return replace(
        ledger, accounts=MappingProxyType(accounts), discrepancies=MappingProxyType(open_)
    )


def _open_one(ledger: Ledger, event: StepTold | DiscrepancyClosed) -> Discrepancy:
    found = ledger.discrepancies.get(event.discrepancy)
    if found is None:
        raise wrong(event, f"difference {event.discrepancy} is not open")
    return found
