"""What is in the patient, as a bundle tells it: a device in use, a flag, a task to take it out.

Each telling stands for itself, with its own plan. Where some of several came out again and nobody
said which, they stand together, and what was told of them is put down one by one.
"""

from dataclasses import dataclass

from voicecount.report.facts import CaseFacts, HappeningFacts, InsideFacts
from voicecount.report.fhir_counts import basis
from voicecount.report.fhir_parts import (
    Book,
    Json,
    clean,
    coded,
    component,
    concept,
    instant,
    isolated,
    notes,
    period,
)
from voicecount.report.fhir_tenures import Said, people, told_by
from voicecount.report.gather_case import NOT_SAID
from voicecount.report.words import said

INSIDE = "inside"
_NO_PLAN = "not_planned"


@dataclass(frozen=True)
class _There:
    """Something in the patient, with the tellings of it."""

    key: str
    one: InsideFacts
    tellings: tuple[HappeningFacts, ...]
    """Where some of several came out: all that were told; empty where they cannot be found."""


def add_inside(book: Book) -> None:
    """Add everything that is in the patient at the end of the record."""
    for n, one in enumerate(book.facts.in_patient):
        there = _There(f"inside {n}", one, _tellings(book.facts, one))
        _number(book, there)
        if one.on_purpose:
            _device(book, there)
            _use(book, there)
            _task(book, there)
        _flag(book, there)


def _tellings(facts: CaseFacts, one: InsideFacts) -> tuple[HappeningFacts, ...]:
    """Find what was told of something of which some came out: the last that make up the sum."""
    what = "incident.packed" if one.on_purpose else "incident.tucked"
    found: list[HappeningFacts] = []
    missing = one.of or 0
    for told in reversed(facts.happenings):
        same = (told.what, told.item, told.site or NOT_SAID) == (what, one.item, one.site)
        if same and missing > 0:
            found.insert(0, told)
            missing -= told.n or 0
    return tuple(found) if missing == 0 else ()


def is_planned(one: InsideFacts, tellings: tuple[HappeningFacts, ...]) -> bool:
    """Tell whether it was said when it is to come out; of several, of every one of them."""
    plans = [one.removal] if one.of is None else [told.reason for told in tellings]
    return bool(plans) and all(plan not in {None, _NO_PLAN} for plan in plans)


def _told(book: Book, there: _There) -> list[str]:
    one = there.one
    what = (
        "left in the patient on purpose"
        if one.on_purpose
        else "tucked in, and nobody told that it is out"
    )
    name, site = isolated(book.name(one.item)), isolated(said(one.site))
    if one.of is None:
        teller = told_by(book, one.by, one.agreed, one.when)
        return [f"{name}: {one.n} {what}; site: {site}; {teller}, {instant(one.when.wall)}."]
    return [
        f"{name}: {one.n} of {one.of} {what}; site: {site}; last told {instant(one.when.wall)}.",
        f"{one.of} were told in all, and some came out again. Nobody said which.",
        *(_telling(book, told, plan=one.on_purpose) for told in there.tellings),
    ]


def _telling(book: Book, told: HappeningFacts, *, plan: bool) -> str:
    teller = told_by(book, told.by, told.agreed, told.when)
    removal = f"; {_removal(told.reason)}" if plan else ""
    return f"Told: {told.n}{removal}; {teller}, {instant(told.when.wall)}."


def _removal(plan: str | None) -> str:
    return "nothing said of when it comes out" if plan is None else f"removal: {_plans(plan)}"


def _plans(plan: str) -> str:
    return "; ".join(isolated(said(part)) for part in plan.split("; "))


def removal(one: InsideFacts) -> str:
    """Tell when it is to come out, or that nothing is known of that."""
    if one.removal is None:
        return "When it is to come out is not in the record."
    return f"Removal: {_plans(one.removal)}."


def _tellers(there: _There) -> list[Said]:
    """Give who told it and who agreed, in turn, each at the time of it."""
    one = there.one
    told = [(one.by, one.agreed, one.when)]
    if there.tellings:
        told = [(each.by, each.agreed, each.when) for each in there.tellings]
    return [(role, when) for by, agreed, when in told for role in (by, agreed)]


def _since(there: _There) -> Json | None:
    """Give since when it is there; not known where those of several times are left."""
    if there.one.of is None:
        return period(there.one.when.wall, None)
    if len(there.tellings) == 1:
        return period(there.tellings[0].when.wall, None)
    return None


def _number(book: Book, there: _There) -> None:
    one = there.one
    code = "left_on_purpose" if one.on_purpose else "tucked_in"
    book.add(
        f"{there.key} number",
        "Observation",
        _told(book, there),
        {
            **basis(book, one.when, *_tellers(there)),
            "status": "final",
            "code": coded("inside", code),
            "bodySite": concept(said(one.site)),
            "component": [
                {"code": coded("part", "item"), "valueString": book.name(one.item)},
                component("n", one.n, text="How many"),
                *([component("of", one.of, text="Of how many that were told")] if one.of else []),
            ],
        },
        section=INSIDE,
    )


def _device(book: Book, there: _There) -> None:
    name = book.name(there.one.item)
    book.add(
        f"{there.key} device",
        "Device",
        [f"{isolated(name)}. Not identified further: the count tells none from another."],
        {
            "deviceName": [{"name": name, "type": "user-friendly-name"}],
            "type": concept(name),
            "patient": book.to("patient"),
        },
        section=INSIDE,
    )


def _use(book: Book, there: _There) -> None:
    one = there.one
    lines = [*_told(book, there), removal(one)]
    sources = people(book, *_tellers(there)[::2])
    book.add(
        f"{there.key} use",
        "DeviceUseStatement",
        lines,
        {
            "status": "active",
            "subject": book.to("patient"),
            "derivedFrom": [book.to("procedure"), book.to(f"{there.key} number")],
            "timingPeriod": _since(there),
            "recordedOn": instant(one.when.wall),
            "source": sources[0] if len(sources) == 1 else None,
            "device": book.to(f"{there.key} device"),
            "bodySite": concept(said(one.site)),
            "note": notes(*lines),
        },
        section=INSIDE,
    )


def _flag(book: Book, there: _There) -> None:
    one = there.one
    code = "left_on_purpose" if one.on_purpose else "tucked_in"
    lines = [*_told(book, there), *([removal(one)] if one.on_purpose else [])]
    book.add(
        f"{there.key} flag",
        "Flag",
        lines,
        {
            "status": "active",
            "code": coded("inside", code, clean(" ".join(lines))),
            "subject": book.to("patient"),
            "period": _since(there),
            "author": book.to("recorder"),
        },
        section=INSIDE,
    )


def _task(book: Book, there: _There) -> None:
    """Add that it has to come out: ready to be acted on only where all of its plan was said.

    It has no requester: to tell of a plan is not to order it.
    """
    one = there.one
    planned = is_planned(one, there.tellings)
    lines = [*_told(book, there), removal(one)]
    if one.of is not None and not planned:
        lines.append("Not every one that was told has a plan.")
    body: Json = {
        "status": "requested" if planned else "draft",
        "intent": "plan",
        "code": coded("task", "take_out", "Take out what was left in the patient on purpose"),
        "description": clean(" ".join(lines)),
        "focus": book.to(f"{there.key} use"),
        "for": book.to("patient"),
        "authoredOn": instant(one.when.wall),
    }
    book.add(
        f"{there.key} task", "Task", [*lines, "Nobody is named to do it."], body, section=INSIDE
    )
