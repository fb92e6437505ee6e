"""Stored lines of a count as texts of a bundle: as heard, who answered, what was said against them.

What was said against a line stands beside it as a component too, with its kind as a code.
"""

from voicecount.report.facts import DroppedFacts, LineFacts
from voicecount.report.fhir_parts import Book, Json, coded, instant, words
from voicecount.report.fhir_tenures import told_by, who
from voicecount.report.words import DIFFERS, DROPPED, ENTRIES, FORMS, WHY_AGAIN, place, run


def line_text(book: Book, line: LineFacts) -> str:
    """Give a line as one sentence, and what came of it."""
    where = f", {place(line.place)}" if line.place is not None else ""
    pieces = f", pieces of each {line.pieces}" if line.pieces is not None else ""
    answered = (
        f"confirmed by {who(book, line.answered_by, line.answered)}, {instant(line.answered.wall)}"
        if line.answered is not None
        else "not confirmed"
    )
    against = f" {_dropped_text(book, line.dropped)}" if line.dropped is not None else ""
    if not line.stands:
        end = " It did not stand when the count ended."
    else:  # what was confirmed once may have been disputed since
        lost = line.answered is not None and not line.confirmed
        end = " It was no longer confirmed when the count ended." if lost else ""
    return (
        f"Line {line.line}{where}: heard {run(line.numbers)}{pieces}, "
        f"{FORMS.get(line.form, words(line.form))}, {ENTRIES.get(line.entry, words(line.entry))}; "
        f"counted {line.counted}; called by {who(book, line.by, line.stored)}, "
        f"{instant(line.stored.wall)}; {answered}.{against}{end}"
    )


def line_parts(book: Book, *lines: LineFacts) -> list[Json]:
    """Give a component for each line that something was said against."""
    return [
        {
            "code": coded("part", "dropped", f"Said or done against line {line.line}"),
            "valueCodeableConcept": coded(
                "dropped", line.dropped.how, _dropped_text(book, line.dropped)
            ),
        }
        for line in lines
        if line.dropped is not None
    ]


def _dropped_text(book: Book, one: DroppedFacts) -> str:
    """Tell why a line is counted again, or stands no longer, and who said so."""
    how = DROPPED.get(one.how, words(one.how)).removeprefix(f"{DIFFERS} ").capitalize()
    if one.how == "disputed" and one.number is None:
        number = "the answer was no"
    else:
        number = f"the number said was {one.number}" if one.number is not None else ""
    why = WHY_AGAIN.get(one.why, words(one.why)) if one.why is not None else ""
    known = one.by is not None or one.agreed is not None  # the program has no role
    told = told_by(book, one.by, one.agreed, one.when) if known else ""
    parts = "; ".join(part for part in (how, number, why, told) if part)
    return f"{parts}; {instant(one.when.wall)}."
