"""A record as one HL7 FHIR R4 (4.0.1) bundle. docs/fhir.md tells which fact goes where."""

from collections.abc import Callable, Sequence
from uuid import NAMESPACE_URL, uuid5

from voicecount.cautions import NEVER_SAFE, NOT_REPLACED, SILENCE
from voicecount.report.facts import CaseFacts
from voicecount.report.fhir_confirmed import CONFIRMED, add_confirmed
from voicecount.report.fhir_counts import COUNTS, add_counts
from voicecount.report.fhir_differences import DIFFERENCES, add_differences
from voicecount.report.fhir_inside import INSIDE, add_inside
from voicecount.report.fhir_parts import (
    OURS,
    Book,
    Json,
    clean,
    coded,
    concept,
    instant,
    isolated,
    narrative,
    period,
    words,
)
from voicecount.report.fhir_people import (
    CASE,
    add_case,
    add_origin,
    head_of,
    origin_lines,
)
from voicecount.report.fhir_plan import add_plan
from voicecount.report.fhir_tenures import PEOPLE, unmatched_changes
from voicecount.report.fhir_told import ACCOUNTS, TOLD, add_accounts, add_happenings
from voicecount.report.words import HEARD_UP_TO

_LIMITS = (
    f"What two people said in a count, as it was heard. {NEVER_SAFE}; {SILENCE}. This record does "
    f"not replace {NOT_REPLACED}."
)
_NONE = "The record holds none."


def bundle(facts: CaseFacts) -> Json:
    """Give a record as a bundle of plain JSON values.

    It is a ``document``, not a ``collection``: a record of a count is read as one thing, at one
    time, by someone who was not there, and only a document has what R4 demands for that: one
    author, a date, a text for each part in a fixed order, and an identifier of its own. Every
    resource stands in a section of its Composition. Ids come from the journal's head and are the
    same for every report of the same records; the document's own identifier is new for each.
    Raises ValueError where a time of the facts is no ISO 8601.
    """
    book = Book(facts)
    for add in _PARTS:
        add(book)
    add_origin(book)
    _composition(book)
    return {
        "resourceType": "Bundle",
        "id": book.id_of("bundle"),
        "identifier": {"system": "urn:ietf:rfc:3986", "value": f"urn:uuid:{_document_id(book)}"},
        "type": "document",
        "timestamp": instant(facts.made),
        "entry": book.entries("composition"),
    }


_PARTS: tuple[Callable[[Book], None], ...] = (
    add_case,
    add_plan,
    add_counts,
    add_confirmed,
    add_accounts,
    add_happenings,
    add_differences,
    add_inside,
)


def _document_id(book: Book) -> str:
    """Give another identifier for each report, as R4 asks of a document that is made anew."""
    facts = book.facts
    told = "\x1f".join((facts.made, facts.made_by, *(part for one in facts.given for part in one)))
    return str(uuid5(NAMESPACE_URL, f"{OURS}{book.id_of('bundle')} {clean(told)}"))


def _composition(book: Book) -> None:
    facts = book.facts
    final = facts.chain.whole and facts.closed is not None
    lines = [
        f"Record of the surgical count: {isolated(facts.title)}.",
        *origin_lines(facts)[:1],
        "Both people ended the record."
        if facts.closed is not None
        else "NOT ENDED: nobody ended the record, and it may go on.",
        _LIMITS,
    ]
    book.add(
        "composition",
        "Composition",
        lines,
        {
            "identifier": head_of(facts),
            "status": "final" if final else "preliminary",
            "type": coded("document", "count_record", "Record of the surgical count"),
            "subject": book.to("patient"),
            "date": instant(facts.made),
            "author": [book.to("maker")],
            "title": f"Surgical count record: {isolated(facts.title)}",
            "event": [
                {
                    "code": [concept("The time from the first record to the last")],
                    "period": period(facts.began.wall, (facts.closed or facts.ended).wall),
                    "detail": [book.to("procedure")],
                }
            ],
            "section": [
                _section("origin", "Whether the record is whole", book, _origin(facts)),
                _section(COUNTS, "Counts", book, _plan(facts)),
                _section(DIFFERENCES, "Differences", book),
                _section(INSIDE, "In the patient at the end of the record", book),
                _section(ACCOUNTS, "What is expected of each item", book),
                _section(TOLD, "What was told", book),
                _section(CONFIRMED, "Who called and who confirmed", book),
                _section(PEOPLE, "People", book, _people(book)),
                _section(CASE, "Case and programs", book),
                _section("sound", "How it was heard", book, _sound(facts)),
                _section("cautions", "Cautions", book, [*map(isolated, facts.cautions), _LIMITS]),
            ],
        },
        section="composition",
    )


def _section(code: str, title: str, book: Book, lines: Sequence[str] = ()) -> Json:
    """Give a section. Its text holds that of all its resources; an empty one says so in words."""
    return {
        "title": title,
        "code": coded("section", code, title),
        "text": narrative([*lines, *book.lines_of(code)] or [_NONE]),
        "entry": book.of_section(code),
    }


def _origin(facts: CaseFacts) -> list[str]:
    sessions = (
        f"Run of the program, records {one.first} to {one.last}: "
        f"{isolated(one.software or 'program not named')}."
        for one in facts.sessions
    )
    return [*sessions, f"Sheet, SHA-256: {clean(facts.sheet)}."]


def _plan(facts: CaseFacts) -> list[str]:
    if facts.plan:
        return []
    return ["The record holds no plan of counts: it cannot tell which counts were not held."]


def _people(book: Book) -> list[str]:
    how = (
        "Two channels: who spoke is known by role."
        if book.facts.roles_told_apart
        else "One channel for both people: who spoke is known from the turn, not the voice."
    )
    return [
        how,
        "Who had a role is known as far as people told it by name. Identifiers are not known.",
        *unmatched_changes(book),
    ]


def _sound(facts: CaseFacts) -> list[str]:
    heard = facts.heard
    told = (
        [
            f"Heard: {heard.utterances}. Taken: {heard.accepted}. Passed over: {heard.ignored}.",
            *(f"Asked to be said again, {words(why)}: {n}." for why, n in heard.asked),
            f"All this up to {HEARD_UP_TO}.",
        ]
        if heard is not None
        else ["How often something was heard is not in the record."]
    )
    return [*told, *(f"{isolated(one.text)} {instant(one.when.wall)}." for one in facts.sound)]
