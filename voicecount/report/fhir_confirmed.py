"""Who called and who confirmed, as Provenance of a bundle. It is no signature, and says so."""

from voicecount.report.facts import CountFacts, Moment
from voicecount.report.fhir_counts import key_of
from voicecount.report.fhir_parts import Book, Json, coded, instant, isolated, standard, words
from voicecount.report.fhir_people import people

CONFIRMED = "confirmed"


def add_confirmed(book: Book) -> None:
    """Add who confirmed what in every count."""
    for count in book.facts.counts:
        _count(book, count)


def _count(book: Book, count: CountFacts) -> None:
    """Add a Provenance for each pair of people: who called, and who confirmed with the number."""
    pairs: dict[tuple[str | None, str | None], dict[str, Moment]] = {}
    for line in count.lines:
        if line.confirmed and line.answered is not None:
            pairs.setdefault((line.by, line.answered_by), {})[line.item] = line.answered
    for n, ((by, answered_by), items) in enumerate(pairs.items()):
        last = max(items.values(), key=lambda moment: moment.record)
        called, confirmed = words(by or "not known"), words(answered_by or "not known")
        book.add(
            f"count {count.number} pair {n}",
            "Provenance",
            [
                (
                    f"{isolated(count.title)}: called by {called}, confirmed with the number by "
                    f"{confirmed}. A record of what was said, not a signature."
                ),
                *(f"{isolated(book.name(item))}." for item in items),
            ],
            {
                "target": book.found(*(key_of(count.number, item) for item in items))
                or [book.to(f"count {count.number}")],
                "occurredDateTime": instant(last.wall),
                "recorded": instant(last.wall),
                "activity": coded("activity", "confirmed", "Called by one, confirmed by another"),
                "agent": [
                    _agent(book, "author", "Author", by),
                    _agent(book, "verifier", "Verifier", answered_by),
                ],
            },
            section=CONFIRMED,
        )


def _agent(book: Book, code: str, display: str, role: str | None) -> Json:
    unsaid = {"display": "Not known: one channel for both people"}
    return {
        "type": standard("provenance-participant-type", code, display),
        "role": [coded("role", role)] if role is not None else [],
        "who": people(book, role)[0] if role is not None else unsaid,
    }
