"""Following a journal while another process writes it: only what is new is read and checked.

The file is only read, never locked. A last line that is not finished yet waits. If the file became
another one, or shorter, everything is begun anew: nothing of the old one stays.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Generic, TypeVar

from voicecount.errors import JournalError
from voicecount.keep.reading import OWN, Codec, Damage
from voicecount.keep.record import FIRST_PREV, Record, follows, parse

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
        self._rest = b""
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
        if self.path.exists() and not self.path.is_file():
            raise JournalError(f"{self.path}: it is not a file; name a journal")
        with _opened(self.path):
            pass

    def poll(self) -> tuple[bool, list[E]]:
        """Give whether the file was begun anew, and the events that were added since.

        Raises JournalError when the file is not there or cannot be read.
        """
        anew = False
        events: list[E] = []
        with _opened(self.path) as file:
            state = os.fstat(file.fileno())
            identity = (state.st_dev, state.st_ino)
            if self._file is not None and (self._file != identity or state.st_size < self._offset):
                self._begin()
                anew = True
            self._file = identity
            file.seek(self._offset)
            while self.damage is None and (data := file.read(_MOST)):
                self._offset += len(data)
                events += self._take(data)
        return anew, events

    def _take(self, data: bytes) -> list[E]:
        whole = self._rest + data
        offset = self._offset - len(whole)
        *lines, self._rest = whole.split(b"\n")
        events: list[E] = []
        for line in lines:
            try:
                record = parse(line + b"\n")
                wrong = follows(record, self.records + 1, self.head)
                if wrong is not None:
                    raise ValueError(wrong)  # noqa: TRY301 - said as what parse says
                if not record.kind.startswith(OWN):
                    events.append(self._codec.decode({**record.payload, "kind": record.kind}))
            except (ValueError, KeyError, TypeError, JournalError) as error:
                self.damage = Damage(self.records + 1, offset, str(error))
                break
            self.records += 1
            self.last = record
            offset += len(line) + 1
        return events


@contextmanager
def _opened(path: Path) -> Iterator[BinaryIO]:
    """Open a journal for reading; faults of opening and of reading become JournalError."""
    try:
        with path.open("rb") as file:
            yield file
    except FileNotFoundError:
        raise JournalError(f"{path}: there is no such journal; check the name") from None
    except OSError as error:
        raise JournalError(
            f"{path}: cannot read the journal ({error.strerror or error}); check that you may "
            "read it, and its disk"
        ) from error
