"""Reading a journal: every line walked, every link of the chain checked.

``read`` is for a writer: all is whole or nothing is. ``read_whole_part`` and ``load_whole_part``
are for readers: they give what is whole and the exact place where that ends, and need no lock.
"""

import os
import stat
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, Generic, TypeVar

from voicecount.errors import JournalError
from voicecount.keep.record import FIRST_PREV, Record, follows, parse

E = TypeVar("E")

RESUMED = "journal.resumed"
RECOVERED = "journal.recovered"
OWN = "journal."
"""What the kinds of the journal's own records begin with."""


@dataclass(frozen=True)
class Codec(Generic[E]):
    """How events become plain JSON and back. The journal does not know what they mean."""

    encode: Callable[[E], Mapping[str, Any]]
    """A dict whose ``kind`` names the event; no kind begins with ``journal.``."""
    decode: Callable[[Mapping[str, Any]], E]
    """The inverse of ``encode``; JournalError, ValueError, KeyError or TypeError otherwise."""


@dataclass(frozen=True)
class Damage:
    """The first place of a file that is not as a journal writes it."""

    line: int
    """From 1."""
    offset: int
    """Bytes of the file before that line."""
    what: str
    """What is wrong, in a few words."""

    def __str__(self) -> str:
        return f"line {self.line}: {self.what} (from byte {self.offset})"


@dataclass(frozen=True)
class Reading(Generic[E]):
    """What a journal's file holds, up to its end or to the first damage."""

    records: tuple[Record, ...]
    events: tuple[E, ...]
    torn: bytes = b""
    """Bytes of an unfinished last line; normally none."""
    unended: bool = False
    """Whether the last record lacks its line feed and nothing else; normally not."""
    damage: Damage | None = None
    """Where the file stops being a journal; nothing from there on is in ``records``."""

    @property
    def head(self) -> str:
        """Hash of the last record; people who wrote down its first digits witness the file."""
        return self.records[-1].hash if self.records else FIRST_PREV


def read(data: bytes, path: Path, codec: Codec[E]) -> Reading[E]:
    """Walk all records of a journal's bytes. JournalError names the first line that is wrong."""
    reading = read_whole_part(data, codec)
    if reading.damage is not None:
        raise JournalError(
            f"{path}, {reading.damage}; the journal was damaged or changed there and is not "
            "written to; keep the file, see by the command verify what is whole before it, and "
            "start a new one"
        )
    if not reading.records:
        raise JournalError(
            f"{path}: it holds no whole record, so nothing was ever kept in it; start a new journal"
        )
    return reading


def read_whole_part(data: bytes, codec: Codec[E]) -> Reading[E]:
    """Give the good records before the first damage, and the damage; never raises for content."""
    *lines, rest = data.split(b"\n")
    records: list[Record] = []
    events: list[E] = []
    offset = 0

    def take(line: bytes) -> str | None:
        """Add a line; say in a few words why it cannot be."""
        try:
            record = _next(line, records)
            event = None if record.kind.startswith(OWN) else codec.decode(fields(record))
        except (ValueError, KeyError, TypeError, JournalError) as error:
            return _few_words(error)
        records.append(record)
        if event is not None:
            events.append(event)
        return None

    for line in lines:
        what = take(line + b"\n")
        if what is not None:
            damage = Damage(len(records) + 1, offset, what)
            return Reading(tuple(records), tuple(events), damage=damage)
        offset += len(line) + 1
    if not rest:
        return Reading(tuple(records), tuple(events))
    # No cut leaves a whole record and one byte more: its line feed was changed.
    if _is_next(rest[:-1] + b"\n", records):
        damage = Damage(len(records) + 1, offset, "its last byte is not a line feed")
        return Reading(tuple(records), tuple(events), damage=damage)
    if not _is_next(rest + b"\n", records):
        return Reading(tuple(records), tuple(events), torn=rest)
    what = take(rest + b"\n")
    damaged = None if what is None else Damage(len(records) + 1, offset, what)
    return Reading(tuple(records), tuple(events), unended=what is None, damage=damaged)


def load_whole_part(path: Path, codec: Codec[E]) -> Reading[E]:
    """Read a journal's file as ``read_whole_part`` does; the file is only read, never locked.

    Its writer may be at work: then the last line may be unfinished, which is no damage. Raises
    JournalError when there is no such file or it cannot be read.
    """
    with opened(path) as file:
        data = file.read()
    return read_whole_part(data, codec)


@contextmanager
def opened(path: Path) -> Iterator[BinaryIO]:
    """Open a journal for reading; faults of opening and of reading become JournalError.

    It is not locked.
    """
    try:
        # What is no file must not hold up the reader: a pipe waits for its writer.
        with open(path, "rb", opener=_without_waiting) as file:
            yield file
    except FileNotFoundError:
        raise JournalError(f"{path}: there is no such journal; check the name") from None
    except IsADirectoryError:
        raise JournalError(f"{path}: it is not a file; name a journal") from None
    except OSError as error:
        raise JournalError(
            f"{path}: cannot read the journal ({error.strerror or error}); check that you may "
            "read it, and its disk"
        ) from error


def _without_waiting(path: str, flags: int) -> int:
    fd = os.open(path, flags | getattr(os, "O_NONBLOCK", 0))
    if not stat.S_ISREG(os.fstat(fd).st_mode):
        os.close(fd)
        raise IsADirectoryError
    return fd


def next_record(line: bytes, count: int, head: str) -> Record:
    """Read the line after so many records, the last of which has this hash.

    ValueError says in a few words why it cannot be.
    """
    record = parse(line)
    wrong = follows(record, count + 1, head)
    if wrong is not None:
        raise ValueError(wrong)
    return record


def _next(line: bytes, records: list[Record]) -> Record:
    return next_record(line, len(records), records[-1].hash if records else FIRST_PREV)


def _is_next(line: bytes, records: list[Record]) -> bool:
    try:
        _next(line, records)
    except ValueError:
        return False
    return True


def fields(record: Record) -> dict[str, Any]:
    """Give an event's fields as its codec takes them."""
    return {**record.payload, "kind": record.kind}


def _few_words(error: Exception) -> str:
    text = str(error.args[0]) if error.args else type(error).__name__
    return f"unknown or missing field {text}" if isinstance(error, KeyError) else text
