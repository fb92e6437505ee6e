"""Differences in a bundle: what differed, what was done about it, who was told, what was imaged."""

from voicecount.report.facts import DiscrepancyFacts, StepFacts
from voicecount.report.fhir_counts import basis, key_of
from voicecount.report.fhir_parts import (
    Book,
    Json,
    clean,
    coded,
    component,
    concept,
    instant,
    isolated,
    words,
)
from voicecount.report.fhir_tenures import NOT_KNOWN, PEOPLE, people, who
from voicecount.report.words import (
    DIFFERENCES as KINDS,
)
from voicecount.report.words import (
    STEPS,
    came_of,
    place,
    said,
    settled,
    short_or_over,
)

DIFFERENCES = "differences"
_NOT_DONE = "not_done"
_LISTENERS = {"tell": "surgeon", "charge": "person in charge"}
"""Who is told in a step."""


def add_differences(book: Book) -> None:
    """Add every difference, with its numbers, steps and end."""
    for one in book.facts.discrepancies:
        _numbers(book, one)
        images = [
            _image(book, one, n, step) for n, step in enumerate(one.steps) if step.step == "image"
        ]
        _issue(book, one, images)
        for n, step in enumerate(one.steps):
            if step.step in _LISTENERS:
                _told(book, one, n, step)


def _numbers(book: Book, one: DiscrepancyFacts) -> None:
    """Add the numbers as they were when it came up."""
    book.add(
        f"difference {one.number} numbers",
        "Observation",
        [
            f"Difference {one.number}, as it came up. {isolated(book.name(one.item))}.",
            f"{_counted(one)}: {one.counted}.",
            f"Expected: {one.expected}. {short_or_over(one.off).capitalize()}.",
        ],
        {
            **basis(book, one.opened),
            "status": "final",
            "code": _code(one),
            "derivedFrom": book.found(key_of(one.count, one.item)),
            "component": [
                {"code": coded("part", "item"), "valueString": book.name(one.item)},
                component("counted", one.counted, text=_counted(one)),
                component("expected", one.expected, text="Expected when it came up"),
                component("difference", one.off, text="Counted less expected"),
            ],
        },
        section=DIFFERENCES,
    )


def _issue(book: Book, one: DiscrepancyFacts, images: list[Json]) -> None:
    name = isolated(book.name(one.item))
    where = f", {place(one.place)}" if one.place is not None else ""
    end = _end_text(book, one)
    last = "When the record ends" if one.closed is None else "When both closed it"
    lines = [
        f"Difference {one.number}, {name}{where}: {short_or_over(one.off)}, when it came up.",
        f"It came up {_in(book, one.count)}, {instant(one.opened.wall)}.",
        f"{_counted(one)}: {one.counted}. Expected: {one.expected}.",
        *(
            f"{_step_text(step)}{_teller(book, step)} {instant(step.when.wall)}."
            for step in one.steps
        ),
        f"{last}: {short_or_over(one.off_now)}.",
        end if one.closed is None else f"{end} {instant(one.closed.wall)}.",
    ]
    ended = one.settled is not None and one.settled != "not_found" and one.closed is not None
    mitigations: list[Json] = [
        {
            "action": coded("step", step.step, _step_text(step)),
            "date": instant(step.when.wall),
            "author": _first(people(book, (step.by, step.when))),
        }
        for step in one.steps
        if step.answer != _NOT_DONE
    ]
    if ended and one.closed is not None:
        mitigations.append(
            {
                "action": coded("settled", one.settled or "", end),
                "date": instant(one.closed.wall),
                "author": _first(people(book, (one.by, one.closed))),
            }
        )
    book.add(
        f"difference {one.number}",
        "DetectedIssue",
        lines,
        {
            "status": "final" if one.closed is not None else "preliminary",
            "code": _code(one),
            "patient": book.to("patient"),
            "identifiedDateTime": instant(one.opened.wall),
            "author": book.to("recorder"),
            "implicated": book.found(key_of(one.count, one.item)),
            "evidence": [
                {
                    "code": [concept("The numbers, and images if any were told of")],
                    "detail": [book.to(f"difference {one.number} numbers"), *images],
                }
            ],
            "detail": clean(" ".join(lines)),
            "mitigation": mitigations,
        },
        section=DIFFERENCES,
    )


def _counted(one: DiscrepancyFacts) -> str:
    """Say what the number is: that of a whole line has in it what is in the patient."""
    known = ", with what was known to be in the patient" if one.differs == "line" else ""
    return f"Counted{known}, when it came up"


def _code(one: DiscrepancyFacts) -> Json:
    """Give what differs; the text says that it is a difference, for who sees it alone."""
    what = KINDS.get(one.differs, words(one.differs))
    return coded("difference", one.differs, f"Difference in the count: {what}")


def _in(book: Book, number: int) -> str:
    titles = {count.number: isolated(count.title) for count in book.facts.counts}
    title = f", {titles[number]}" if number in titles else ""
    return f"in count number {number}{title}" if number else "outside of a count"


def _first(found: list[Json]) -> Json | None:
    return found[0] if found else None


def _teller(book: Book, step: StepFacts) -> str:
    return f" Told by {who(book, step.by, step.when)}." if step.by is not None else ""


def _note(book: Book, step: StepFacts) -> list[Json]:
    """Give a step as an annotation; R4 has no place in it for a role, so its author is a text."""
    author = who(book, step.by, step.when) if step.by is not None else None
    text = clean(_step_text(step))
    return [{"authorString": author, "time": instant(step.when.wall), "text": text}]


def _step_text(step: StepFacts) -> str:
    """Tell a step: what it is, where, what came of it."""
    answer, *more = came_of(step)
    if step.step == "search" and step.where is not None:
        answer = f"{place(step.where)}, {answer}"
    name = STEPS.get(step.step, words(step.step)).capitalize()
    return "; ".join([f"{name}: {isolated(answer)}", *map(isolated, more)]) + "."


def _end_text(book: Book, one: DiscrepancyFacts) -> str:
    parts = [
        settled(one.settled, one.off_now).capitalize(),
        f"how many: {one.n}" if one.n else "",
        place(one.where) if one.where is not None else "",
        isolated(said(one.reason)) if one.reason is not None else "",
    ]
    if one.closed is not None:
        parts += [
            f"{how} {who(book, role, one.closed)}"
            for how, role in (("said by", one.by), ("agreed by", one.agreed))
            if role is not None
        ]
    return "; ".join(part for part in parts if part) + "."


def _told(book: Book, one: DiscrepancyFacts, n: int, step: StepFacts) -> None:
    """Add that someone was told, or was not; the words themselves are in no record."""
    done = step.answer != _NOT_DONE
    listener = _listener(book, _LISTENERS[step.step])
    text = _step_text(step)
    book.add(
        f"difference {one.number} told {n}",
        "Communication",
        [
            f"{text}{_teller(book, step)} {instant(step.when.wall)}.",
            "The words are not in the record.",
        ],
        {
            "partOf": [book.to("procedure")],
            "status": "completed" if done else "not-done",
            "statusReason": (
                None
                if done
                else concept(said(step.reason) if step.reason else "no reason recorded")
            ),
            "category": [coded("step", step.step, STEPS[step.step])],
            "subject": book.to("patient"),
            "about": [book.to(f"difference {one.number}")],
            "sent": instant(step.when.wall) if done else None,
            "recipient": [
                listener,
                *([{"display": "The team in the room"}] if step.step == "tell" else []),
            ],
            "note": _note(book, step),
        },
        section=DIFFERENCES,
    )


def _listener(book: Book, whom: str) -> Json:
    key = f"listener {whom}"
    if book.has(key):
        return book.to(key)
    return book.add(
        key,
        "PractitionerRole",
        [f"{whom.capitalize()}: which person is not known to this record."],
        {
            "practitioner": {"display": NOT_KNOWN},
            "code": [coded("role", whom.replace(" ", "_"))],
        },
        section=PEOPLE,
    )


def _image(book: Book, one: DiscrepancyFacts, n: int, step: StepFacts) -> Json:
    """Add that an image was told of. Neither it nor its order is in the record."""
    taken = step.answer != _NOT_DONE
    text = _step_text(step)
    return book.add(
        f"difference {one.number} image {n}",
        "ImagingStudy",
        [
            f"{text}{_teller(book, step)} {instant(step.when.wall)}.",
            "The image itself is not in this record.",
        ],
        {
            "status": "unknown" if taken else "cancelled",
            "subject": book.to("patient"),
            "interpreter": (
                [_listener(book, words(step.reader))] if step.reader is not None else []
            ),
            "reasonReference": [book.to(f"difference {one.number} numbers")],
            "note": _note(book, step),
            "description": f"{'Image told of' if taken else 'Image NOT TAKEN'}, in the steps of a "
            "difference of the count",
        },
        section=DIFFERENCES,
    )
