"""Many cases as rows for a spreadsheet: one row for each journal, in one pass.

Guarded against formulas as ``csv_out.py`` is. A journal that is in no figure has its name, why it
is left out, and no numbers: what stands before a damage is only a part of its case. Who counted is
in no column.
"""

import csv
from collections.abc import Iterable, Sequence
from typing import TextIO

from voicecount.report.csv_out import Cell, cell
from voicecount.report.facts import CaseFacts
from voicecount.report.many import DIFFERENCES, ENDS, KINDS, LeftOut, Summary

_CASE = ("journal", "case", "left_out", "records", "head", "began", "ended", "closed")
_MADE = ("software", "recogniser", "roles_told_apart")
_COUNTS = ("counts", "finished", "waived", "not_held", "finished_seconds")
_LINES = ("lines", "standing", "confirmed", "refused", "disputed", "recounted")
_INTERRUPTED = ("interruptions", "interrupted_counts")
_DIFFERENCES = ("differences", "differences_seconds")
_REST = ("left_on_purpose", "tucked_not_out", "takeovers", "breaks", "utterances", "asked_again")


def header(given: Sequence[str] = ()) -> list[str]:
    """Give the names of the columns; ``given`` are the labels that users told cases by.

    ``finished_seconds`` is the time of all finished counts together, ``differences_seconds`` that
    of all closed differences, both to whole seconds each. What the record does not tell is empty.
    """
    return [
        *_CASE,
        *(f"given {label}" for label in given),
        *_MADE,
        *_COUNTS,
        *(f"counts_{kind}" for kind in KINDS),
        *_LINES,
        *_INTERRUPTED,
        *_DIFFERENCES,
        *(f"differs_{kind}" for kind in DIFFERENCES),
        *(f"ended_{end}" for end in ENDS),
        *_REST,
    ]


def row(facts: CaseFacts, left_out: str | None, given: Sequence[str] = ()) -> list[str]:
    """Give the row of a journal; ``left_out`` is why it is in no figure, None if it is in."""
    said = ["; ".join(text for name, text in facts.given if name == label) for label in given]
    cells: list[Cell] = [
        *(facts.journal, facts.title, left_out, facts.chain.records, facts.chain.digits),
        *(facts.began.wall, facts.ended.wall, facts.closed is not None),
        *said,
        *(facts.software, facts.recogniser, facts.roles_told_apart),
    ]
    if left_out is None:
        cells += _numbers(facts)
    cells += [None] * (len(header(given)) - len(cells))
    return [cell(value) for value in cells]


def write(out: TextIO, cases: Iterable[CaseFacts | LeftOut], given: Sequence[str] = ()) -> Summary:
    """Write all rows under one header, and give the sums of the same cases; none is kept.

    A ``LeftOut`` is a journal of which not even the opening is whole. ``out`` is a file opened
    with ``newline=""``; lines end with CRLF (RFC 4180).
    """
    summary = Summary()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow(cell(name) for name in header(given))
    for one in cases:
        if isinstance(one, LeftOut):
            summary.leave_out(one.journal, one.why)
            cells: list[Cell] = [one.journal, None, one.why]
            cells += [None] * (len(header(given)) - len(cells))
            writer.writerow(cell(value) for value in cells)
        else:
            writer.writerow(row(one, summary.add(one), given))
    return summary


def _numbers(facts: CaseFacts) -> list[Cell]:
    one = Summary.of([facts])
    counts = one.all_counts
    heard = facts.heard
    return [
        *(counts.held, counts.finished, one.waived, one.not_held, counts.times.total),
        *(one.kinds[kind].held if kind in one.kinds else 0 for kind in KINDS),
        *(counts.lines, counts.stood, counts.confirmed),
        *(counts.refused, counts.disputed, counts.recounted),
        *(counts.interruptions, counts.interrupted),
        *(one.differences, one.resolving.total),
        *(one.differences_by(0)[kind] for kind in DIFFERENCES),
        *(one.ended[end] for end in ENDS),
        *(one.left.total(), one.never_out),
        *(sum(times * n for times, n in found.items()) for found in (one.takeovers, one.breaks)),
        heard.utterances if heard is not None else None,
        one.asked.total() if heard is not None else None,
    ]
