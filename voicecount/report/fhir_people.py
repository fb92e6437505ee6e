"""Who and what stands behind a bundle: patient, operation, the two people, the programs.

The record knows neither the patient nor who the two people are. Nobody is made up: these resources
hold what is known, and a receiving system has to put its own in their place.
"""

from voicecount.report.facts import CaseFacts
from voicecount.report.fhir_counts import is_final
from voicecount.report.fhir_parts import (
    OURS,
    Book,
    Json,
    clean,
    coded,
    concept,
    instant,
    isolated,
    notes,
    unknown,
)
from voicecount.report.fhir_tenures import add_tenures, performers

CASE = "case"


def add_case(book: Book) -> None:
    """Add the patient whom nobody named, the programs, the operation and the people."""
    facts = book.facts
    book.add(
        "patient",
        "Patient",
        ["The patient is not known to this record. Put the right patient here before it is filed."],
        {"name": [unknown()]},
        section=CASE,
    )
    recorder = [("program", facts.software), ("recogniser", facts.recogniser)]
    _device(book, "recorder", "Recorder of the count", [*recorder, ("voice", facts.voice)])
    _device(book, "maker", "Maker of this document", [("program", facts.made_by)])
    add_tenures(book)
    _procedure(book)


def operation_status(facts: CaseFacts) -> str:
    """Say completed only where both ended a whole record that holds a finished last count."""
    last = any(count.kind == "final" and is_final(facts, count) for count in facts.counts)
    whole = facts.chain.whole and facts.closed is not None
    return "completed" if whole and last else "unknown"


def _device(book: Book, key: str, title: str, versions: list[tuple[str, str]]) -> None:
    book.add(
        key,
        "Device",
        [f"{title}.", *(f"{what}: {clean(version)}" for what, version in versions)],
        {
            "deviceName": [{"name": "voicecount", "type": "user-friendly-name"}],
            "type": concept(title),
            "version": [
                {"type": concept(what), "value": clean(version)} for what, version in versions
            ],
        },
        section=CASE,
    )


def _procedure(book: Book) -> None:
    facts = book.facts
    span = f"{instant(facts.began.wall)} to {instant((facts.closed or facts.ended).wall)}"
    book.add(
        "procedure",
        "Procedure",
        [
            f"Operation, by the title of the count sheet: {isolated(facts.title)}.",
            *(f"{isolated(label)}: {isolated(text)}" for label, text in facts.given),
            f"Recorded from {span}. The operation's own times are not in the record.",
        ],
        {
            "identifier": [
                {"type": concept(label), "value": clean(text)}
                for label, text in facts.given
                if text.strip()
            ],
            "status": operation_status(facts),
            "code": concept(facts.title),
            "subject": book.to("patient"),
            "_performedDateTime": unknown(),
            "performer": performers(book),
            "note": notes(*facts.cautions),
        },
        section=CASE,
    )


def head_of(facts: CaseFacts) -> Json:
    """Give the identifier that the journal's head is."""
    return {"system": f"{OURS}journal-head", "value": clean(facts.chain.head)}


def add_origin(book: Book) -> Json:
    """Add the Provenance of the whole document: which journal, its head, and whether it is whole.

    The chain is checked when the document is made, which is what a Provenance tells; an AuditEvent
    would tell of someone's access at a system, which nobody recorded.
    """
    facts = book.facts
    chain = facts.chain
    return book.add(
        "origin",
        "Provenance",
        origin_lines(facts),
        {
            "target": [book.to("composition")],
            "recorded": instant(facts.made),
            "activity": coded(
                "chain", "whole" if chain.whole else "not_whole", origin_lines(facts)[0]
            ),
            "agent": [
                {
                    "type": {
                        "coding": [
                            {
                                "system": "http://terminology.hl7.org/CodeSystem/"
                                "provenance-participant-type",
                                "code": "assembler",
                                "display": "Assembler",
                            }
                        ]
                    },
                    "who": book.to("maker"),
                }
            ],
            "entity": [
                {
                    "role": "source",
                    "what": {
                        "identifier": head_of(facts),
                        "display": f"Journal {clean(facts.journal)}",
                    },
                }
            ],
        },
        section="origin",
    )


def origin_lines(facts: CaseFacts) -> list[str]:
    """Say whether the journal is whole, and how that can be checked."""
    chain = facts.chain
    if chain.whole:
        first = "Every record of the journal follows the one before: the chain of hashes is whole."
    else:
        damage = isolated(chain.damage or "the place is not known")
        first = (
            f"THE JOURNAL DOES NOT VERIFY: {damage}. Nothing after that place is in this document."
        )
    return [
        first,
        f"Records: {chain.records}. Head: {clean(chain.head)}.",
        f"Digits to compare with paper: {clean(chain.digits)} (spoken: {clean(chain.spoken)}).",
        *(isolated(note) for note in chain.notes),
    ]
