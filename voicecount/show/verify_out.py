"""What ``verify`` tells: plain lines of a whole journal, one line of a damaged one."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

from voicecount.keep import course, witness
from voicecount.keep.reading import Reading
from voicecount.keep.record import Record
from voicecount.show.console import console, printable

LIMIT = (
    "The chain alone shows neither records cut off at its end nor a journal whose hashes someone "
    "computed anew; digits that people wrote down outside of it do."
)


@dataclass(frozen=True)
class Found:
    """Digits that people wrote down, and the records that they fit."""

    digits: str
    records: tuple[int, ...]
    """Their numbers, from 1; none where the digits fit no record."""


def report(
    path: Path,
    reading: Reading[Any],
    events: int,
    found: Sequence[Found],
    copies: Collection[str],
) -> None:
    """Print the lines of a whole journal. ``copies`` are the copies of lines that lie beside it."""
    out = console()
    records = reading.records
    total = f"{_count(len(records), 'record')}, {events} of them events of the count; whole"
    out.print(f"{printable(str(path))}: {total}", markup=False, soft_wrap=True)
    for name, text in _lines(reading, found, copies):
        out.print(f"  {name:<9} {printable(text)}", markup=False, soft_wrap=True)
    out.print(LIMIT, markup=False, soft_wrap=True)


def damaged(path: Path, reading: Reading[Any], found: Sequence[Found]) -> str:
    """Give the one line of a damaged journal: where, what, and what stands before it."""
    records = reading.records
    if not records:
        return f"{path}, {reading.damage}; nothing before it is whole; keep the file as it is"
    last = records[-1]
    which, head = _numbers(1, len(records)), witness.digits(last.hash)
    parts = [
        f"{path}, {reading.damage}",
        f"{which} before it can still be trusted, to {_moment(last)}, head {head}",
        *(f"witness {one.digits} {_fits(records, one)}" for one in found),
        "keep the file as it is and start a new journal",
    ]
    return "; ".join(parts)


def not_witnessed(path: Path, digits: Sequence[str]) -> str:
    """Give the one line about digits that fit no record of a whole journal."""
    which = ", ".join(digits)
    return (
        f"{path}: no record's hash begins with the witness {which}; it was written down wrongly, "
        "or this is not the file that was witnessed; keep the file and look at the paper again"
    )


def _lines(
    reading: Reading[Any], found: Sequence[Found], copies: Collection[str]
) -> Iterator[tuple[str, str]]:
    records = reading.records
    yield "written", f"{_moment(records[0])} to {_moment(records[-1])}, wall clock"
    for number, session in enumerate(course.sessions(records), start=1):
        software = session.software or "software not named"
        yield f"session {number}", f"{_numbers(session.first, session.last)}, {software}"
    yield from (("note", text) for text in notes(reading, copies))
    yield "head", f"{witness.digits(reading.head)}, spoken: {witness.spoken(reading.head)}"
    for one in found:
        yield "witness", f"{one.digits} {_fits(records, one)}"


def notes(reading: Reading[Any], copies: Collection[str] | None) -> Iterator[str]:
    """Give a line for all that is out of the ordinary in a journal and is no damage.

    ``copies`` are the copies of lines that lie beside it; None where nobody looked.
    """
    for back in course.set_back(reading.records):
        yield (
            f"record {back.record}: the wall clock went back by {_span(back.by)}; "
            "the order of the records does not depend on it"
        )
    named = set()
    for found in course.recovered(reading.records):
        if found.copy is None:
            yield f"record {found.record}: the line before lacked only its end, and was given it"
            continue
        named.add(found.copy)
        there = "is" if found.copy in (copies or ()) else "is not"
        there = "was kept" if copies is None else there
        yield (
            f"record {found.record}: an unfinished line of {_count(found.size, 'byte')} was cut "
            f"off; its copy {found.copy} {there} beside the journal"
        )
    for copy in sorted(set(copies or ()) - named):
        yield f"{copy} lies beside the journal, and no record names it; a recovery was cut short"
    for record in course.unknown(reading.records):
        yield f"record {record.seq} is of the kind {record.kind}, which this version does not know"
    place = f"line {len(reading.records) + 1}"
    at_work = "normal while a count is running; otherwise resume"
    if reading.torn:
        size = _count(len(reading.torn), "byte")
        yield f"{place} is unfinished, {size}: {at_work} keeps a copy and cuts it off"
    if reading.unended:
        yield f"line {len(reading.records)} lacks only its end: {at_work} gives it"


def _fits(records: Sequence[Record], found: Found) -> str:
    if not found.records:
        return "is the head of none of them"
    fitting = (records[number - 1] for number in found.records)
    return "was the head at " + " and ".join(
        f"record {record.seq} of {len(records)}, {_moment(record)}" for record in fitting
    )


def _moment(record: Record) -> str:
    return f"{course.wall(record):%Y-%m-%d %H:%M:%S} UTC"


def _span(span: timedelta) -> str:
    """Write a span of time: days if any, then hours, minutes and seconds."""
    minutes, seconds = divmod(span.seconds, 60)
    clock = f"{minutes // 60:02d}:{minutes % 60:02d}:{seconds:02d}"
    return f"{_count(span.days, 'day')} and {clock}" if span.days else clock


def _numbers(first: int, last: int) -> str:
    return f"record {first}" if first == last else f"records {first} to {last}"


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
