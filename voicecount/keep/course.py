"""The course of a journal: its sessions and its times. Pure; the records are whole already.

A hash says that a line is as it was written. This says whether the lines tell a possible story: a
new session begins with the journal's own records, and no session's steady clock goes back.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from voicecount.keep.reading import OWN, RECOVERED, RESUMED
from voicecount.keep.record import Record


@dataclass(frozen=True)
class Session:
    """One run of the program."""

    name: str
    first: int
    """Number of its first record, from 1."""
    last: int
    software: str | None
    """What wrote it; None where its records do not say."""


@dataclass(frozen=True)
class SetBack:
    """A place where the wall clock shows less than before; that is no damage."""

    record: int
    by: timedelta


@dataclass(frozen=True)
class Recovered:
    """An unfinished last line that was found when the journal was opened again."""

    record: int
    size: int
    """Bytes cut off; 0 where the line lacked only its end, which it was given."""
    copy: str | None
    """Name of the file that keeps them, beside the journal."""


def impossible(records: Sequence[Record]) -> tuple[int, str] | None:
    """Give the first record that cannot have come about so, and why in a few words."""
    for at, record in enumerate(records):
        what = _not_by_itself(record) or _not_here(records, at)
        if what is not None:
            return record.seq, what
    return None


def sessions(records: Sequence[Record]) -> tuple[Session, ...]:
    """Give the sessions in order."""
    starts = [at for at, record in enumerate(records) if at == 0 or _begins(records, at)]
    return tuple(
        Session(
            records[start].session, start + 1, end, _software(records[start : min(end, start + 2)])
        )
        for start, end in pairwise([*starts, len(records)])
    )


def set_back(records: Sequence[Record]) -> tuple[SetBack, ...]:
    """Give every place where the wall clock went back."""
    return tuple(
        SetBack(record.seq, wall(before) - wall(record))
        for before, record in pairwise(records)
        if wall(record) < wall(before)
    )


def recovered(records: Sequence[Record]) -> tuple[Recovered, ...]:
    """Give every unfinished line that was found."""
    return tuple(
        Recovered(record.seq, record.payload["bytes"], record.payload["copy"])
        for record in records
        if record.kind == RECOVERED
    )


def wall(record: Record) -> datetime:
    """Give a record's time of day, in UTC."""
    return datetime.fromisoformat(record.wall).astimezone(UTC)


def unknown(records: Sequence[Record]) -> tuple[Record, ...]:
    """Give the journal's own records of a kind that this version does not know."""
    return tuple(
        record
        for record in records
        if record.kind.startswith(OWN) and record.kind not in {RECOVERED, RESUMED}
    )


def _begins(records: Sequence[Record], at: int) -> bool:
    """Tell whether a session begins here: its first own record does."""
    record, before = records[at], records[at - 1]
    if record.session != before.session or record.kind == RECOVERED:
        return True
    return record.kind == RESUMED and before.kind != RECOVERED


def _software(own: Sequence[Record]) -> str | None:
    for record in own:
        software = record.payload.get("software")
        if isinstance(software, str):
            return software
    return None


def _not_by_itself(record: Record) -> str | None:
    try:
        if datetime.fromisoformat(record.wall).tzinfo is None:
            return "its wall time has no time zone"
        wall(record)
    except (ValueError, OverflowError):
        return "its wall time is no time"
    if record.kind == RECOVERED and not _names_a_copy(record):
        return "it does not say what was recovered"
    return None


def _not_here(records: Sequence[Record], at: int) -> str | None:
    record, own = records[at], records[at].kind.startswith(OWN)
    if at == 0:
        return "the journal begins with a record of its own" if own else None
    if record.session != records[at - 1].session:
        return None if own else "a session begins without the journal's own record of it"
    if not _begins(records, at) and record.monotonic < records[at - 1].monotonic:
        return "the steady clock went back within a session"
    return None


def _names_a_copy(record: Record) -> bool:
    size, copy = record.payload.get("bytes"), record.payload.get("copy")
    return type(size) is int and (copy is None or isinstance(copy, str))
