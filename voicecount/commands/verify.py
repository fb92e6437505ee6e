"""``voicecount verify``: all that can be checked of a journal; its file is only read."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from voicecount.commands.journals import CODEC
from voicecount.count.events import Event
from voicecount.count.ledger import fold
from voicecount.errors import JournalError, UsageError
from voicecount.keep import course, witness
from voicecount.keep.journal import COPY
from voicecount.keep.reading import OWN, Damage, Reading, load_whole_part
from voicecount.show.verify_out import Found, damaged, not_witnessed, report


def verify(path: Path, witnesses: Sequence[str] = ()) -> None:
    """Print what a journal holds and whether it is whole.

    ``witnesses`` are digits that people wrote down, as they wrote them. Raises UsageError when
    these are no such digits, JournalError with the exact place when anything is wrong, and when
    a witness fits no record.
    """
    wanted = tuple(_digits(text) for text in witnesses)
    checked = check(load_whole_part(path, CODEC))
    reading = checked.reading
    found = tuple(Found(digits, _fitting(reading, digits)) for digits in wanted)
    if reading.damage is not None:
        raise JournalError(damaged(path, reading, found))
    if not reading.records:
        raise JournalError(
            f"{path}: it holds no whole record, so nothing was ever acknowledged in it; "
            "start a new journal"
        )
    report(path, reading, checked.events_of_records, found, copies(path))
    strangers = [one.digits for one in found if not one.records]
    if strangers:
        raise JournalError(not_witnessed(path, strangers))


@dataclass(frozen=True)
class Checked:
    """A reading whose damage is the first of any kind, also of what the records mean."""

    reading: Reading[Event]
    events_of_records: int
    """How many of its records are events of the count."""


def check(reading: Reading[Event]) -> Checked:
    """Look for the first record that is whole and yet cannot be, and cut the reading there."""
    wrong = [found for found in (course.impossible(reading.records), _unfolded(reading)) if found]
    if wrong:
        line, what = min(wrong)
        offset = sum(len(record.line()) for record in reading.records[: line - 1])
        records = reading.records[: line - 1]
        reading = Reading(
            records,
            reading.events[: _events(records)],
            damage=Damage(line, offset, what),
        )
    return Checked(reading, _events(reading.records))


def _events(records: Sequence[object]) -> int:
    return sum(not getattr(record, "kind", OWN).startswith(OWN) for record in records)


def _unfolded(reading: Reading[Event]) -> tuple[int, str] | None:
    """Give the record of the first event that cannot follow those before it, and why."""
    good, bad = 0, len(reading.events)
    why = _why_not(reading.events)
    if why is None:
        return None
    while bad - good > 1:
        middle = (good + bad) // 2
        found = _why_not(reading.events[:middle])
        good, bad, why = (middle, bad, why) if found is None else (good, middle, found)
    numbers = [record.seq for record in reading.records if not record.kind.startswith(OWN)]
    return numbers[bad - 1], why


def _why_not(events: Sequence[Event]) -> str | None:
    try:
        fold(events)
    except JournalError as error:
        return str(error).partition("; the journal")[0]
    return None


def _digits(text: str) -> str:
    try:
        return witness.written(text)
    except ValueError as error:
        raise UsageError(
            f'witness "{text}": {error}; give the eight digits as they were written down, words '
            "in quotes"
        ) from None


def _fitting(reading: Reading[Event], digits: str) -> tuple[int, ...]:
    return tuple(record.seq for record in reading.records if witness.digits(record.hash) == digits)


def copies(path: Path) -> frozenset[str]:
    """Give the names of the copies of unfinished lines that lie beside a journal."""
    start = f"{path.name}{COPY}"
    try:
        return frozenset(
            other.name for other in path.parent.iterdir() if other.name.startswith(start)
        )
    except OSError:  # a folder that may be passed through and not listed
        return frozenset()
