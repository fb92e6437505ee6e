"""Accounts of items, and what was told of them, as Observations of a bundle."""

from voicecount.report.fhir_counts import basis
from voicecount.report.fhir_parts import (
    Book,
    clean,
    coded,
    component,
    instant,
    isolated,
    notes,
    words,
)
from voicecount.report.fhir_tenures import told_by
from voicecount.report.words import HAPPENINGS, number, said

ACCOUNTS = "accounts"
TOLD = "told"


def add_accounts(book: Book) -> None:
    """Add what is expected of each item at the end of the record, and how it came about."""
    ended = book.facts.ended
    for item in book.facts.items:
        parts = (
            ("sheet", "On the count sheet", item.sheet),
            ("pack", "In one package", item.pack),
            ("pieces", "Pieces of one", item.pieces),
            ("initial", "Initial count, with what was in the patient then", item.initial),
            ("added", "Added", item.added),
            ("changed", "By cutting, breaking or other packs", item.changed),
            ("explained", "Mistake in the expected number", item.explained),
            ("handed_over", "Left the count, for a reason", item.handed_over),
            ("expected", "Expected at the end of the record", item.expected),
            ("tucked", "Tucked in, to come out", item.tucked),
            ("inside", "Left in the patient on purpose", item.inside),
            ("passed_off", "Passed off the field", item.passed_off),
        )
        book.add(
            f"account {item.id}",
            "Observation",
            [
                f"{isolated(item.name)} ({words(item.group)}), at the end of the record.",
                *(f"{what}: {number(n)}." for _, what, n in parts),
            ],
            {
                **basis(book, ended),
                "status": "final" if book.facts.closed is not None else "preliminary",
                "code": coded("observation", "item-account", f"Account of {isolated(item.name)}"),
                "component": [
                    {"code": coded("part", "item"), "valueString": book.name(item.id)},
                    {
                        "code": coded("part", "group"),
                        "valueCodeableConcept": coded("group", item.group),
                    },
                    *(component(code, n, text=what) for code, what, n in parts),
                ],
            },
            section=ACCOUNTS,
        )


def add_happenings(book: Book) -> None:
    """Add what was told between and inside counts; people and waivers stand elsewhere."""
    for told in book.facts.happenings:
        if told.what in {"people_changed", "count_waived"}:
            continue
        text = HAPPENINGS.get(told.what, words(told.what))
        about = isolated(book.name(told.item)) if told.item is not None else "The case"
        numbers = (
            ("count", "Told in count number", told.count),
            ("n", "How many", told.n),
            ("printed", "Printed on the pack", told.printed),
        )
        known = [(code, what, n) for code, what, n in numbers if n is not None]
        reason = said(told.reason) if told.reason is not None else None
        site = said(told.site) if told.site is not None else None
        book.add(
            f"told {told.when.record}",
            "Observation",
            [
                f"{about}: {text}.",
                *(f"{what}: {n}." for _, what, n in known),
                *(f"{isolated(one)}." for one in (site, reason) if one is not None),
                f"Who: {told_by(book, told.by, told.agreed, told.when)}.",
                f"{instant(told.when.wall)}.",
            ],
            {
                **basis(book, told.when, (told.by, told.when), (told.agreed, told.when)),
                "status": "final",
                "code": coded("happening", told.what, text),
                "bodySite": {"text": clean(site)} if site is not None else None,
                "component": [
                    *(
                        [{"code": coded("part", "item"), "valueString": book.name(told.item)}]
                        if told.item is not None
                        else []
                    ),
                    *(component(code, n, text=what) for code, what, n in known),
                ],
                "note": notes(reason),
            },
            section=TOLD,
        )
