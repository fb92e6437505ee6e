"""What is in the patient, as a bundle tells it: a device in use, a flag, a task to take it out."""

from voicecount.report.facts import InsideFacts
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
from voicecount.report.words import said

INSIDE = "inside"
_NO_PLAN = "not_planned"


def add_inside(book: Book) -> None:
    """Add everything that is in the patient at the end of the record."""
    for n, one in enumerate(book.facts.in_patient):
        _number(book, n, one)
        if one.on_purpose:
            _device(book, n, one)
            _use(book, n, one)
            _task(book, n, one)
        _flag(book, n, one)


def _told(book: Book, one: InsideFacts) -> str:
    what = (
        "left in the patient on purpose"
        if one.on_purpose
        else "tucked in, and nobody told that it is out"
    )
    return (
        f"{isolated(book.name(one.item))}: {one.n} {what}; site: {isolated(said(one.site))}; "
        f"told {instant(one.when.wall)}."
    )


def removal(one: InsideFacts) -> str:
    """Tell when it is to come out, or that nothing is known of that."""
    if one.removal is None:
        return "When it is to come out is not in the record."
    told = "; ".join(isolated(said(part)) for part in one.removal.split("; "))
    return f"Removal: {told}."


def _number(book: Book, n: int, one: InsideFacts) -> None:
    code = "left_on_purpose" if one.on_purpose else "tucked_in"
    book.add(
        f"inside {n} number",
        "Observation",
        [_told(book, one)],
        {
            **basis(book, one.when),
            "status": "final",
            "code": coded("inside", code),
            "bodySite": concept(said(one.site)),
            "component": [
                {"code": coded("part", "item"), "valueString": book.name(one.item)},
                component("n", one.n, text="How many"),
            ],
        },
        section=INSIDE,
    )


def _device(book: Book, n: int, one: InsideFacts) -> None:
    name = book.name(one.item)
    book.add(
        f"inside {n} device",
        "Device",
        [f"{isolated(name)}. Not identified further: the count tells none from another."],
        {
            "deviceName": [{"name": name, "type": "user-friendly-name"}],
            "type": concept(name),
            "patient": book.to("patient"),
        },
        section=INSIDE,
    )


def _use(book: Book, n: int, one: InsideFacts) -> None:
    book.add(
        f"inside {n} use",
        "DeviceUseStatement",
        [_told(book, one), removal(one)],
        {
            "status": "active",
            "subject": book.to("patient"),
            "derivedFrom": [book.to("procedure"), book.to(f"inside {n} number")],
            "timingPeriod": period(one.when.wall, None),
            "recordedOn": instant(one.when.wall),
            "device": book.to(f"inside {n} device"),
            "bodySite": concept(said(one.site)),
            "note": notes(_told(book, one), removal(one)),
        },
        section=INSIDE,
    )


def _flag(book: Book, n: int, one: InsideFacts) -> None:
    code = "left_on_purpose" if one.on_purpose else "tucked_in"
    lines = [_told(book, one), removal(one)] if one.on_purpose else [_told(book, one)]
    book.add(
        f"inside {n} flag",
        "Flag",
        lines,
        {
            "status": "active",
            "code": coded("inside", code, clean(" ".join(lines))),
            "subject": book.to("patient"),
            "period": period(one.when.wall, None),
            "author": book.to("recorder"),
        },
        section=INSIDE,
    )


def _task(book: Book, n: int, one: InsideFacts) -> None:
    """Add that it has to come out: ready to be acted on only where a plan was said."""
    planned = one.removal is not None and _NO_PLAN not in one.removal.split("; ")
    body: Json = {
        "status": "requested" if planned else "draft",
        "intent": "plan",
        "code": coded("task", "take_out", "Take out what was left in the patient on purpose"),
        "description": clean(f"{_told(book, one)} {removal(one)}"),
        "focus": book.to(f"inside {n} use"),
        "for": book.to("patient"),
        "authoredOn": instant(one.when.wall),
    }
    lines = [_told(book, one), removal(one), "Nobody is named to do it."]
    book.add(f"inside {n} task", "Task", lines, body, section=INSIDE)
