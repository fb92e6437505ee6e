"""Following a journal while another process writes it: only what is new is read and checked.

The file is only read, never locked. A last line that is not finished yet waits. If the file became
another one, or shorter, or the line that was read last stands in it no longer, everything is begun
anew: nothing of the old one stays. So it is when the line that was damage stands in it no longer.
"""

import os
from pathlib import Path
from typing import BinaryIO, Generic, TypeVar

from voicecount.errors import JournalError
from voicecount.keep.reading import OWN, Codec, Damage, fields, next_record, opened
from voicecount.keep.record import FIRST_PREV, START, Record

E = TypeVar("E")

_MOST = 1 << 20
"""Bytes that are read at once."""


class Tail(Generic[E]):
    """One reader of one journal. Call ``poll`` again and again."""

    def __init__(self, path: Path, codec: Codec[E]) -> None:
        self.path = path
        self._codec = codec
        self._begin()

    def _begin(self) -> None:
        self._file: tuple[int, int] | None = None
        self._offset = 0
        """Where the whole lines end."""
        self._line = b""
        """The last of them."""
        self._bad = b""
        """What stands behind it where that is damage."""
        self.first: str | None = None
        """Hash of the first record, by which one journal is told from another."""
        self.records = 0
        """How many whole records were read."""
        self.last: Record | None = None
        """The last of them."""
        self.damage: Damage | None = None
        """The first place that is not as a journal writes it; nothing after it is read."""

    @property
    def head(self) -> str:
        """Hash of the last record."""
        return self.last.hash if self.last is not None else FIRST_PREV

    def begun(self) -> bool:
        """Tell whether anything stands in the file; it is not looked at any further.

        Raises JournalError when the file is not there, cannot be read, or holds no journal.
        """
        with opened(self.path) as file:
            line = file.readline(_MOST)
        # A first line that is still being written waits, as any other does.
        if line and (line.endswith(b"\n") or not line.startswith(START[: len(line)])):
            try:
                next_record(line, 0, FIRST_PREV)
            except ValueError as error:
                raise JournalError(
                    f"{self.path}: it is no journal, or a damaged one (line 1: {error}); name a "
                    "journal"
                ) from None
        return bool(line)

    def poll(self) -> tuple[bool, list[E]]:
        """Give whether the file was begun anew, and the events that were added since.

        Raises JournalError when the file is not there or cannot be read.
        """
        anew = False
        events: list[E] = []
        with opened(self.path) as file:
            state = os.fstat(file.fileno())
            identity = (state.st_dev, state.st_ino)
            # A number of a file is given out again, and an unfinished line is cut off by a resume:
            # only the last line itself tells that the same journal goes on.
            other = self._file != identity or not self._stands(file)
            if self._file is not None and other:
                self._begin()
                anew = True
            self._file = identity
            file.seek(self._offset)
            rest = b""
            while self.damage is None and (data := file.read(_MOST)):
                *lines, rest = (rest + data).split(b"\n")
                events += self._take(lines)
            if self.damage is None and rest:
                self._look_at_unfinished(rest)
        return anew, events

    def _stands(self, file: BinaryIO) -> bool:
        known = self._line + self._bad
        file.seek(self._offset - len(self._line))
        return file.read(len(known)) == known

    def _take(self, lines: list[bytes]) -> list[E]:
        events: list[E] = []
        for bare in lines:
            line = bare + b"\n"
            try:
                record = self._next(line)
                if not record.kind.startswith(OWN):
                    events.append(self._codec.decode(fields(record)))
            except (ValueError, KeyError, TypeError, JournalError) as error:
                self.damage = Damage(self.records + 1, self._offset, str(error))
                self._bad = line
                break
            self.records += 1
            self.last = record
            self.first = self.first or record.hash
            self._line = line
            self._offset += len(line)
        return events

    def _next(self, line: bytes) -> Record:
        return next_record(line, self.records, self.head)

    def _look_at_unfinished(self, rest: bytes) -> None:
        """Find a line feed that was changed: no cut leaves a whole record and one byte more."""
        try:
            self._next(rest[:-1] + b"\n")
        except ValueError:
            return
        self.damage = Damage(self.records + 1, self._offset, "its last byte is not a line feed")
        self._bad = rest
