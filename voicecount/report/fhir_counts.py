"""Counts in a bundle: one Observation a count, one for each of its items, and who confirmed them.

No standard code for such a count is known, so codes are our own and texts; the numbers are
components, so that none of them can be read without the others.
"""

from collections.abc import Iterator, Sequence

from voicecount.report.facts import (
    CaseFacts,
    CountFacts,
    HappeningFacts,
    LineFacts,
    Moment,
    SumFacts,
)
from voicecount.report.fhir_lines import line_parts, line_text
from voicecount.report.fhir_parts import (
    NOT_APPLICABLE,
    NOT_PERFORMED,
    UNKNOWN,
    Book,
    Json,
    coded,
    component,
    instant,
    isolated,
    notes,
    period,
    standard,
    words,
)
from voicecount.report.fhir_tenures import Said, people, told_by
from voicecount.report.words import RESULTS, flag, number, place, said, signed

COUNTS = "counts"
ADDITION = "addition"
PROCEDURE = standard("observation-category", "procedure", "Procedure")


def add_counts(book: Book) -> None:
    """Add every count that was held, was not held, or is still due."""
    before: dict[str, list[str]] = {}
    for count in book.facts.counts:
        _count(book, count)
        for one in count.sums:
            key = key_of(count.number, one.item)
            if count.kind == ADDITION:  # no count of all that is there, and derived from none
                _item(book, count, one, [])
                before.setdefault(one.item, []).append(key)
            else:
                _item(book, count, one, before.get(one.item, []))
                before[one.item] = [key]
    for happening in book.facts.told("count_waived"):
        _waived(book, happening)
    for title in book.facts.due:
        _due(book, title)


def key_of(count: int, item: str) -> str:
    """Give the key of an item's Observation in a count."""
    return f"count {count} item {item}"


def basis(book: Book, when: Moment, *said: Said) -> Json:
    """Give what every Observation here has; its performers are those who had a role then."""
    return {
        "category": [PROCEDURE],
        "partOf": [book.to("procedure")],
        "subject": book.to("patient"),
        "effectiveDateTime": instant(when.wall),
        "performer": people(book, *said),
        "device": book.to("recorder"),
    }


def _item(book: Book, count: CountFacts, one: SumFacts, before: list[str]) -> None:
    lines = [line for line in count.lines if line.item == one.item]
    name, title = book.name(one.item), isolated(count.title)
    sheet = "Expected by the count sheet" if count.kind == "initial" else "Expected"
    times = [line.answered or line.stored for line in lines if line.stands]
    last = max(times, key=lambda moment: moment.record, default=count.finished or count.opened)
    final = is_final(book.facts, count) and one.confirmed
    added = count.kind == ADDITION
    code = (
        coded("observation", "item-addition", f"Addition of {isolated(name)}, {title}")
        if added
        else coded("observation", "item-count", f"Count of {isolated(name)}, {title}")
    )
    why = NOT_APPLICABLE if added else UNKNOWN
    book.add(
        key_of(count.number, one.item),
        "Observation",
        [
            f"{isolated(name)}, {isolated(count.title)}.",
            (
                f"Counted: {number(one.counted)}. {sheet}: {number(one.expected)}. "
                f"Left in: {one.inside}. Tucked in: {one.tucked}. Difference: {signed(one.off)}."
            ),
            "A number from both people for every place: " + ("yes." if one.confirmed else "NO."),
            *(line_text(book, line) for line in lines),
            *(f"{flag(mark).capitalize()}." for mark in one.flags),
        ],
        {
            "code": code,
            **basis(
                book,
                last,
                *_said(lines),
            ),
            **based_on(book, count.id),
            "status": "final" if final else "preliminary",
            "dataAbsentReason": NOT_PERFORMED if one.counted is None else None,
            "derivedFrom": [book.to(key) for key in before],
            "component": [
                {"code": coded("part", "item"), "valueString": name},
                component("counted", one.counted, NOT_PERFORMED, "Counted, over all places"),
                component("inside", one.inside, text="Left in the patient on purpose"),
                component("tucked", one.tucked, text="Tucked in, to come out before the end"),
                component("expected", one.expected, why, sheet),
                component("difference", one.off, why, "Counted, left and tucked in, less expected"),
                *(_place(where, n) for where, n in one.places),
                *(_mark(mark) for mark in one.flags),
                *line_parts(book, *lines),
            ],
        },
        section=COUNTS,
    )


def _said(lines: Sequence[LineFacts]) -> Iterator[Said]:
    """Give who called and who answered, each at the time of it."""
    for line in lines:
        yield line.by, line.stored
        yield line.answered_by, line.answered or line.stored


def based_on(book: Book, planned: str) -> Json:
    """Give the plan of counts, for what is in it by its id or its title."""
    there = any(planned in {one.id, one.title} for one in book.facts.plan)
    return {"basedOn": [book.to("plan")]} if there else {}


def _place(where: str, n: int | None) -> Json:
    value: Json = {"dataAbsentReason": NOT_PERFORMED} if n is None else {"valueInteger": n}
    return {"code": coded("place", where, f"Counted at this place: {place(where)}"), **value}


def _mark(mark: str) -> Json:
    return {"code": coded("part", "mark"), "valueCodeableConcept": coded("mark", mark, flag(mark))}


def is_final(facts: CaseFacts, count: CountFacts) -> bool:
    """Tell whether a count is over: said to be finished, and not changed after that.

    Records of the first version name no result; they hold no plan, and that is how they are known.
    """
    return count.finished is not None and (count.result is not None or not facts.plan)


def _count(book: Book, count: CountFacts) -> None:
    """Add what the whole count came to. It says what was said, never that anything is safe."""
    result = count.result
    text = RESULTS.get(result, words(result)) if result is not None else "No result is recorded."
    lists = (
        ("not_confirmed", "Stored and not confirmed", count.unconfirmed),
        ("differing", "Not the number that is expected", count.differing),
        ("left", "Not counted, or not at every place", count.left),
        ("not_in_it", "On the sheet, and not in this count", count.not_in_it),
    )
    value: Json = (
        {"dataAbsentReason": NOT_PERFORMED}
        if result == "not_done"
        else {"dataAbsentReason": UNKNOWN}
        if result is None
        else {"valueCodeableConcept": coded("result", result, text)}
    )
    summed = {one.item for one in count.sums}
    others = [line for line in count.lines if line.item not in summed]
    final = is_final(book.facts, count)
    status = "cancelled" if result == "not_done" else "final" if final else "preliminary"
    book.add(
        f"count {count.number}",
        "Observation",
        [
            f"{isolated(count.title)}, count number {count.number}: {text}",
            f"Opened {instant(count.opened.wall)}.",
            *([f"Places: {', '.join(map(place, count.places))}."] if count.places else []),
            f"Said to be finished {instant(count.finished.wall)}."
            if count.finished is not None
            else "Nobody said that it is finished.",
            *(
                f"{what}: {isolated(book.name(item))}."
                for _, what, items in lists
                for item in items
            ),
            (
                f"Calls not stored: {count.refused}. Lines disputed: {count.disputed}. "
                f"Lines counted again: {count.recounted}. Interruptions: {count.interruptions}."
            ),
            *(f"{isolated(book.name(line.item))}. {line_text(book, line)}" for line in others),
        ],
        {
            **basis(book, count.opened, *_said(count.lines)),
            **based_on(book, count.id),
            "effectiveDateTime": None,
            "effectivePeriod": period(
                count.opened.wall, count.finished.wall if count.finished is not None else None
            ),
            "status": status,
            "code": coded("count-kind", count.kind, count.title),
            **value,
            "hasMember": [book.to(key_of(count.number, one.item)) for one in count.sums],
            "component": [
                component("number", count.number, text="Number of the count"),
                component("refused", count.refused, text="Calls that were not stored"),
                component("disputed", count.disputed, text="Lines that were disputed"),
                component("recounted", count.recounted, text="Lines that were counted again"),
                component("interruptions", count.interruptions, text="Interruptions"),
                *(
                    {"code": coded("part", code, what), "valueString": book.name(item)}
                    for code, what, items in lists
                    for item in items
                ),
                *line_parts(book, *others),
            ],
        },
        section=COUNTS,
    )


def _waived(book: Book, told: HappeningFacts) -> None:
    title = told.title or "a planned count"
    reason = said(told.reason) if told.reason is not None else "no reason is recorded"
    book.add(
        f"waived {told.when.record}",
        "Observation",
        [
            f"{isolated(title)}: WAIVED, NOT DONE; {isolated(reason)}.",
            f"Who: {told_by(book, told.by, told.agreed, told.when)}. {instant(told.when.wall)}.",
        ],
        {
            **basis(book, told.when, (told.by, told.when), (told.agreed, told.when)),
            **based_on(book, title),
            "status": "cancelled",
            "code": coded("observation", "count-waived", title),
            "dataAbsentReason": NOT_PERFORMED,
            "note": notes(reason),
        },
        section=COUNTS,
    )


def not_held(facts: CaseFacts, title: str) -> str:
    """Say of a planned count that it was not held; of one that may still be, not so far."""
    begun = any(count.title == title for count in facts.counts)
    told = "begun, and NOT FINISHED" if begun else "NOT HELD"
    return told if facts.closed is not None else f"{told} so far"


def _due(book: Book, title: str) -> None:
    facts = book.facts
    book.add(
        f"due {title}",
        "Observation",
        [f"{isolated(title)}: planned; {not_held(facts, title)}."],
        {
            **basis(book, facts.ended),
            **based_on(book, title),
            "status": "cancelled" if facts.closed is not None else "registered",
            "code": coded("observation", "count-due", title),
            "dataAbsentReason": NOT_PERFORMED,
        },
        section=COUNTS,
    )
