"""The journal: events in, each synced to disk before anyone is told of it.

One file, one writer, one record a line, one write and one sync a record. Nothing is ever changed;
a correction is a new record. A line that a kill or a power cut left unfinished was never
acknowledged: it is kept in a copy and cut off when the journal is opened again. A whole record that
lacks only its line feed gets it. Anything else that is wrong means that the file was damaged or
changed, and it is refused with the exact line.

After a sync has failed, the system may have dropped the data and forgotten the failure, so nothing
is retried: the journal takes no further record, and counting has to stop.
"""

import json
import secrets
from collections.abc import Callable, Mapping
from contextlib import ExitStack, suppress
from itertools import count
from pathlib import Path
from types import TracebackType
from typing import Any, Generic, Self, TypeVar

from voicecount import __version__
from voicecount.errors import JournalError, StorageError
from voicecount.keep.clock import Clock, SystemClock
from voicecount.keep.files import Disk, SystemDisk
from voicecount.keep.reading import OWN, RECOVERED, RESUMED, Codec, Reading, read
from voicecount.keep.record import FIRST_PREV, Record, make, parse

E = TypeVar("E")

SUFFIX = ".vcj"

COPY = ".torn-"
"""Stands between a journal's name and the time in the name of a copy of an unfinished line."""


class Journal(Generic[E]):
    """The one writer of a journal's file. Make it with ``create`` or ``open``."""

    def __init__(
        self,
        path: Path,
        fd: int,
        codec: Codec[E],
        *,
        disk: Disk,
        clock: Clock,
        session: str,
    ) -> None:
        self.path = path
        self._fd = fd
        self._codec = codec
        self._disk = disk
        self._clock = clock
        self._session = session
        self._size = 0
        self._seq = 0
        self._head = FIRST_PREV
        self._failed: str | None = None
        self._closed = False
        self._events: tuple[E, ...] = ()

    @classmethod
    def create(
        cls,
        path: Path,
        first: E,
        codec: Codec[E],
        *,
        disk: Disk | None = None,
        clock: Clock | None = None,
        session: str | None = None,
    ) -> Self:
        """Start a journal in a new file with its first event; the folder must exist.

        Raises JournalError when there is such a file already or it cannot be made, StorageError
        when its first record could not be synced.
        """
        disk = disk or SystemDisk()
        try:
            fd = disk.create(path)
        except FileExistsError:
            raise JournalError(
                f"{path}: there is such a file already, and journals are never written over; "
                "give another name, or go on with it by the command resume"
            ) from None
        except OSError as error:
            raise JournalError(_cannot("make the journal", path, error)) from error
        journal = cls(
            path,
            fd,
            codec,
            disk=disk,
            clock=clock or SystemClock(),
            session=session or secrets.token_hex(4),
        )
        with ExitStack() as undo:
            undo.callback(journal.close)
            journal._take_lock()
            try:
                disk.sync_folder(path.parent)
            except OSError as error:
                raise StorageError(_cannot("make the journal", path, error)) from error
            journal._events = (journal.append(first),)
            undo.pop_all()
        return journal

    @classmethod
    def open(
        cls,
        path: Path,
        codec: Codec[E],
        *,
        check: Callable[[tuple[E, ...]], None] | None = None,
        disk: Disk | None = None,
        clock: Clock | None = None,
        session: str | None = None,
    ) -> Self:
        """Go on with a journal: lock it, walk it, cut off an unfinished last line.

        ``check`` sees the events before anything is changed and may refuse them by JournalError.
        Raises JournalError with the exact place for anything that is wrong; the file is then left
        as it is.
        """
        disk = disk or SystemDisk()
        try:
            fd = disk.open(path)
        except FileNotFoundError:
            raise JournalError(f"{path}: there is no such journal; check the name") from None
        except OSError as error:
            raise JournalError(_cannot("open the journal", path, error)) from error
        journal = cls(
            path,
            fd,
            codec,
            disk=disk,
            clock=clock or SystemClock(),
            session=session or secrets.token_hex(4),
        )
        with ExitStack() as undo:
            undo.callback(journal.close)
            journal._take_lock()
            try:
                data = journal._read_all()
                reading = read(data, path, codec)
                if check is not None:
                    check(reading.events)
                journal._adopt(reading, len(data))
                copy = journal._cut_torn(reading.torn) if reading.torn else None
                if reading.unended:
                    journal._end_line()
            except OSError as error:
                raise StorageError(_cannot("open the journal", path, error)) from error
            if copy is not None or reading.unended:
                name = None if copy is None else copy.name
                journal._append(RECOVERED, {"bytes": len(reading.torn), "copy": name})
            journal._append(RESUMED, {"software": f"voicecount {__version__}"})
            undo.pop_all()
        return journal

    @property
    def events(self) -> tuple[E, ...]:
        """The events that the file held when it was opened or made."""
        return self._events

    @property
    def head(self) -> str:
        """Hash of the last record."""
        return self._head

    def append(self, event: E) -> E:
        """Write and sync one event; give it back as it was read again from the file.

        Raises StorageError when it could not be kept; after that, no further event is taken. What
        could not be read again is not written: the codec's own error comes before the write.
        """
        fields = dict(self._codec.encode(event))
        if fields["kind"].startswith(OWN):
            raise ValueError(f"an event's kind must not begin with {OWN!r}")
        self._codec.decode(json.loads(json.dumps(fields, allow_nan=False)))
        kind = fields.pop("kind")
        record = self._append(kind, fields)
        return self._codec.decode({**record.payload, "kind": record.kind})

    def close(self) -> None:
        """Let go of the file. Everything acknowledged is already on the disk."""
        if not self._closed:
            self._closed = True
            with suppress(OSError):  # nothing waits to be written, so nothing is lost
                self._disk.close(self._fd)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _append(self, kind: str, payload: Mapping[str, Any]) -> Record:
        if self._closed:
            raise StorageError(f"{self.path}: the journal is closed; nothing more can be kept")
        if self._failed is not None:
            raise StorageError(self._failed)
        line = make(
            seq=self._seq + 1,
            wall=self._clock.wall(),
            monotonic=self._clock.monotonic(),
            session=self._session,
            kind=kind,
            payload=payload,
            prev=self._head,
        ).line()
        # Whatever stops this half-way, also a key press, must not be followed by another record.
        self._failed = self._sentence("writing it was interrupted")
        try:
            taken = self._disk.write(self._fd, line)
            if taken != len(line):
                raise self._fail(f"only {taken} of {len(line)} bytes were written")
            self._disk.sync(self._fd)
            kept = self._disk.read(self._fd, self._size, len(line))
            if kept != line or self._disk.size(self._fd) != self._size + len(line):
                raise self._fail(
                    "the file does not hold what was written; is another program in it?"
                )
        except OSError as error:
            raise self._fail(error.strerror or str(error)) from error
        record = parse(kept)
        self._size += len(line)
        self._seq = record.seq
        self._head = record.hash
        self._failed = None
        return record

    def _fail(self, why: str) -> StorageError:
        self._failed = self._sentence(why)
        return StorageError(self._failed)

    def _sentence(self, why: str) -> str:
        return (
            f"{self.path}: a record could not be kept ({why}); counting has to stop; everything "
            "acknowledged before is in the journal; free the disk, then resume"
        )

    def _take_lock(self) -> None:
        try:
            locked = self._disk.lock(self._fd)
        except OSError as error:
            raise JournalError(_cannot("lock the journal", self.path, error)) from error
        if not locked:
            raise JournalError(
                f"{self.path}: another running voicecount is writing this journal; stop it first"
            )

    def _read_all(self) -> bytes:
        size = self._disk.size(self._fd)
        data = self._disk.read(self._fd, 0, size)
        if len(data) != size:  # else the rest would look like a line that was cut off
            raise OSError(0, f"only {len(data)} of {size} bytes could be read")
        return data

    def _adopt(self, reading: Reading[E], size: int) -> None:
        self._events = reading.events
        self._seq = len(reading.records)
        self._head = reading.head
        self._size = size - len(reading.torn)

    def _end_line(self) -> None:
        """Give the last record the line feed that it lacks."""
        if self._disk.write(self._fd, b"\n") != 1:
            raise OSError(0, "the last line could not be ended")
        self._disk.sync(self._fd)
        self._size += 1

    def _cut_torn(self, torn: bytes) -> Path:
        """Save the unfinished line beside the journal, then cut it; the copy comes first."""
        copy, fd = self._new_copy()
        try:
            if self._disk.write(fd, torn) != len(torn):
                raise OSError(0, "the copy of the unfinished line was cut short")
            self._disk.sync(fd)
        finally:
            self._disk.close(fd)
        self._disk.sync_folder(copy.parent)
        self._disk.truncate(self._fd, self._size)
        self._disk.sync(self._fd)
        return copy

    def _new_copy(self) -> tuple[Path, int]:
        """Make the first file of a free name; an earlier copy is never written over."""
        stem = f"{self.path.name}{COPY}{self._clock.wall():%Y%m%dT%H%M%S}"
        for number in count(1):
            copy = self.path.with_name(stem if number == 1 else f"{stem}-{number}")
            with suppress(FileExistsError):
                return copy, self._disk.create(copy)
        raise AssertionError  # pragma: no cover - count does not end


def _cannot(what: str, path: Path, error: OSError) -> str:
    return (
        f"{path}: cannot {what} ({error.strerror or error}); "
        "choose a folder where you may write, on a disk with room"
    )
