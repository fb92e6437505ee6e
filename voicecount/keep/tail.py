"""Following a journal while another process writes it: only what is new is read and checked.

The file is only read, never locked. A last line that is not finished yet waits. If the file became
another one, or shorter, or the line that was read last stands in it no longer, everything is begun
anew: nothing of the old one stays.
"""

import os
from pathlib import Path
from typing import BinaryIO, Generic, TypeVar

from voicecount.errors import JournalError
from voicecount.keep.reading import OWN, Codec, Damage, fields, next_record, opened
from voicecount.keep.record import FIRST_PREV, Record

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
        self._size = 0
        self._offset = 0
        """Where the whole lines end."""
        self._line = b""
        """The last of them."""
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

    def poll_nothing(self) -> None:
        """Raise JournalError when the file is not there, is no file, or cannot be read."""
        with opened(self.path):
            pass

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
            shorter = self.damage is not None and state.st_size < self._size
            other = shorter or self._file != identity or not self._stands(file)
            if self._file is not None and other:
                self._begin()
                anew = True
            self._file = identity
            self._size = state.st_size
            file.seek(self._offset)
            rest = b""
            while self.damage is None and (data := file.read(_MOST)):
                *lines, rest = (rest + data).split(b"\n")
                events += self._take(lines)
            if self.damage is None and rest:
                self._look_at_unfinished(rest)
        return anew, events

    def _stands(self, file: BinaryIO) -> bool:
        file.seek(self._offset - len(self._line))
        return file.read(len(self._line)) == self._line

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
