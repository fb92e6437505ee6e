"""One plain line for every event of a record, for the list of all records.

A line tells what is in the record and judges nothing. ``ledger`` is the one before the event, for
the names of items and differences.
"""

from collections.abc import Callable, Mapping
from typing import Any

from voicecount.count.events import (
    CarriedOn,
    CaseClosed,
    CaseOpened,
    CountFinished,
    CountOpened,
    CountWaived,
    DiscrepancyClosed,
    DiscrepancyOpened,
    Event,
    Incident,
    IncidentTold,
    PeopleChanged,
    StepTold,
    StoodBy,
    TurnedOpen,
)
from voicecount.count.standing import Ledger
from voicecount.keep.reading import RECOVERED, RESUMED
from voicecount.keep.record import Record
from voicecount.report import words
from voicecount.report.marks import isolated
from voicecount.report.tell_lines import TELLING as OF_LINES
from voicecount.report.tell_names import both, by_whom, difference, differences, item, items, person


def tell(event: Event, ledger: Ledger) -> str:
    """Give one line for a person; ``ledger`` is the one before the event."""
    return TELLING[type(event)](event, ledger)


def tell_own(record: Record) -> str:
    """Give one line about a record of the journal's own."""
    if record.kind == RESUMED:
        software = record.payload.get("software")
        named = f" by {isolated(software)}" if isinstance(software, str) else ""
        return f"The journal was opened again{named}."
    if record.kind == RECOVERED and record.payload["copy"] is None:
        return "The line before lacked only its end, and was given it."
    if record.kind == RECOVERED:
        size = words.counted(record.payload["bytes"], "byte")
        return (
            f"An unfinished line of {size} was cut off, and a copy of it kept; it was never "
            "acknowledged."
        )
    return f"A record of the journal's own, of a kind not known here: {isolated(record.kind)}."


def _opened(event: CaseOpened, _: Ledger) -> str:
    told = "each person on a channel" if event.roles_told_apart else "one channel for both"
    lines = words.counted(len(event.items), "line")
    return f"Case opened: {isolated(event.title)}, {lines} on the sheet, {told}."


def _count_opened(event: CountOpened, _: Ledger) -> str:
    return f"Count {event.number} opened{by_whom(event)}: {isolated(event.title)}."


def _count_finished(event: CountFinished, ledger: Ledger) -> str:
    parts = [
        f"Count {event.number} said to be finished{by_whom(event)}",
        words.RESULTS[event.result.value].rstrip(".") if event.result is not None else "",
    ]
    for what, codes in (
        ("Not confirmed", event.unconfirmed),
        ("Differing", event.differing),
        ("Not counted", event.left),
        ("Tucked in", event.tucked),
    ):
        parts.append(f"{what}: {items(ledger, codes)}" if codes else "")
    parts.append(f"Differences open: {differences(event.open)}" if event.open else "")
    return " ".join(f"{part}." for part in parts if part)


def _count_waived(event: CountWaived, _: Ledger) -> str:
    return (
        f"Not done: {isolated(event.title)}; {words.said(event.reason)}; "
        f"{both(event.by, event.agreed)}."
    )


def _incident(event: IncidentTold, ledger: Ledger) -> str:
    name, n = item(ledger, event.item), event.n
    told = {
        Incident.BROKEN: f"one broken into {n} fragments",
        Incident.INCOMPLETE: f"one lacks a piece, {n} of its pieces there",
        Incident.OTHER_NUMBER: f"a pack held {n}, printed on it is {event.printed}",
    }.get(event.incident, f"{n} {words.INCIDENTS[event.incident]}")
    site = f", {words.said(event.site)}" if event.site is not None else ""
    reason = f", {words.said(event.reason)}" if event.reason is not None else ""
    return f"Told of {name}: {told}{site}{reason}; {both(event.by, event.agreed)}."


def _differs(event: DiscrepancyOpened, ledger: Ledger) -> str:
    off = words.short_or_over(event.counted - event.expected)
    return (
        f"Difference {event.number} came up: {item(ledger, event.item, event.place)}, "
        f"{words.DIFFERENCES[event.differs]}; counted {event.counted}, expected {event.expected}, "
        f"{off}."
    )


def _step(event: StepTold, ledger: Ledger) -> str:
    where = f" {words.place(event.where)}" if event.where is not None else ""
    told = ", ".join([f"{words.STEPS[event.step]}{where}", *words.came_of(event)])
    return f"{difference(ledger, event.discrepancy)}: {told}{by_whom(event)}."


def _settled(event: DiscrepancyClosed, ledger: Ledger) -> str:
    found = ledger.discrepancies.get(event.discrepancy)
    how = words.settled(event.settled.value, found.off if found is not None else 0)
    n = f", {event.n}" if event.n else ""
    where = f", {words.place(event.where)}" if event.where is not None else ""
    reason = f", {words.said(event.reason)}" if event.reason is not None else ""
    words_of = both(event.by, event.agreed)
    return f"{difference(ledger, event.discrepancy)} {how}{n}{where}{reason}; {words_of}."


def _change(event: PeopleChanged, ledger: Ledger) -> str:
    who = f"{person(ledger, event.incoming)} for {person(ledger, event.outgoing)}"
    if event.incoming is None and event.outgoing is None:
        who = "no names were given"
    how = "back from a break" if event.back else "for a break"
    how = "to stay" if event.permanent else how
    return f"Another {event.role.value}, {how}: {who}; {both(event.by, event.agreed)}."


def _turned_open(event: TurnedOpen, _: Ledger) -> str:
    return f"The operation turned open; {both(event.by, event.agreed)}."


def _stood_by(event: StoodBy, _: Ledger) -> str:
    return f"Standing by{by_whom(event)}: nothing is taken."


def _carried_on(event: CarriedOn, _: Ledger) -> str:
    return f"Listening again{by_whom(event)}."


def _closed(event: CaseClosed, ledger: Ledger) -> str:
    plan = ledger.opened.plan if ledger.opened is not None else ()
    due = [isolated(count.say) for count in plan if count.id in event.due]
    parts = [
        ("differences open", differences(event.open)),
        ("differences closed without the item, or with too many", differences(event.not_found)),
        ("counts not held", ", ".join(due)),
        ("left in the patient on purpose", items(ledger, event.inside)),
        ("tucked in and never told to be out", items(ledger, event.tucked)),
    ]
    told = [f"{what}: {which}" for what, which in parts if which]
    return "; ".join(["Record ended", *told, both(event.by, event.agreed)]) + "."


TELLING: Mapping[type[Any], Callable[[Any, Ledger], str]] = {
    CaseOpened: _opened,
    CountOpened: _count_opened,
    CountFinished: _count_finished,
    CountWaived: _count_waived,
    IncidentTold: _incident,
    DiscrepancyOpened: _differs,
    StepTold: _step,
    DiscrepancyClosed: _settled,
    PeopleChanged: _change,
    TurnedOpen: _turned_open,
    StoodBy: _stood_by,
    CarriedOn: _carried_on,
    CaseClosed: _closed,
    **OF_LINES,
}
"""By kind of event what gives its line: one for every kind."""
