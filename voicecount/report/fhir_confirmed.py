"""Who called and who confirmed, as Provenance of a bundle. It is no signature, and says so."""

from dataclasses import dataclass, field

from voicecount.report.facts import CountFacts, Moment
from voicecount.report.fhir_counts import key_of
from voicecount.report.fhir_parts import Book, Json, coded, instant, isolated, period, standard
from voicecount.report.fhir_tenures import Said, role_of, who

CONFIRMED = "confirmed"


def add_confirmed(book: Book) -> None:
    """Add who confirmed what in every count."""
    for count in book.facts.counts:
        _count(book, count)


@dataclass
class _Pair:
    """What one person called and another one confirmed in a count, as long as both were there."""

    called: Said
    confirmed: Said
    lines: dict[str, list[int]] = field(default_factory=dict)
    """By item."""
    last: Moment | None = None


def _count(book: Book, count: CountFacts) -> None:
    """Add a Provenance for each pair of people: who called, and who confirmed with the number."""
    pairs: dict[tuple[str, str], _Pair] = {}
    for line in count.lines:
        if line.confirmed and line.answered is not None:
            called, confirmed = (line.by, line.stored), (line.answered_by, line.answered)
            key = str(_who(book, called)), str(_who(book, confirmed))
            pair = pairs.setdefault(key, _Pair(called, confirmed))
            pair.lines.setdefault(line.item, []).append(line.line)
            last = pair.last or line.answered
            pair.last = max(last, line.answered, key=lambda moment: moment.record)
    for n, pair in enumerate(pairs.values()):
        _pair(book, count, n, pair)


def _pair(book: Book, count: CountFacts, n: int, pair: _Pair) -> None:
    last = pair.last or count.opened
    book.add(
        f"count {count.number} pair {n}",
        "Provenance",
        [
            (
                f"{isolated(count.title)}: called by {who(book, *pair.called)}, confirmed with the "
                f"number by {who(book, *pair.confirmed)}. A record of what was said, not a "
                "signature."
            ),
            *(
                f"{isolated(book.name(item))}, {'line' if len(lines) == 1 else 'lines'} "
                f"{', '.join(map(str, lines))}."
                for item, lines in pair.lines.items()
            ),
        ],
        {
            "target": book.found(*(key_of(count.number, item) for item in pair.lines))
            or [book.to(f"count {count.number}")],
            "occurredPeriod": period(pair.called[1].wall, last.wall),
            "recorded": instant(last.wall),
            "activity": coded("activity", "confirmed", "Called by one, confirmed by another"),
            "agent": [
                _agent(book, "author", "Author", pair.called),
                _agent(book, "verifier", "Verifier", pair.confirmed),
            ],
        },
        section=CONFIRMED,
    )


def _agent(book: Book, code: str, display: str, said: Said) -> Json:
    role, _ = said
    return {
        "type": standard("provenance-participant-type", code, display),
        "role": [coded("role", role)] if role is not None else [],
        "who": _who(book, said),
    }


def _who(book: Book, said: Said) -> Json:
    role, when = said
    if role is None:
        return {"display": "Not known: one channel for both people"}
    return role_of(book, role, when)
