"""What happens at this moment, beside the journal: for a board, never for the record.

A small file that is written over several times a second and never synced: words that are still
being said, what the assistant says, whether it listens. Whoever reads it sees by its ``beat``,
which grows all the time, whether the assistant still runs. A reader never sees half of it: the line
begins with its own checksum. ``case`` names the journal that it stands beside, so that one left
behind by a kill is not taken for the next case's. It is removed when the case ends; its faults
never stop a count.
"""

import contextlib
import errno
import json
import os
import stat
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from voicecount.errors import JournalError
from voicecount.keep.reading import opened
from voicecount.keep.record import parse

SUFFIX = ".now"
FORM = "voicecount.now/1"
_LARGEST = 1 << 16
"""Bytes; a longer file is none of ours."""
_LONGEST_RECORD = 1 << 24


def path_of(journal: Path) -> Path:
    """Give the file beside a journal."""
    return journal.with_name(journal.name + SUFFIX)


def case_of(journal: Path) -> str | None:
    """Give the hash of a journal's first record, which no other has; None while there is none."""
    try:
        with opened(journal) as file:
            return parse(file.readline(_LONGEST_RECORD)).hash
    except (JournalError, OSError, ValueError):
        return None


class NowFile:
    """The writer. Every fault is kept in ``failed`` and nothing is raised."""

    def __init__(self, journal: Path) -> None:
        self.path = path_of(journal)
        self._journal = journal
        self._case: str | None = None
        self.failed: OSError | None = None
        self._fd: int | None = None
        self._closed = False

    def write(self, state: Mapping[str, Any]) -> None:
        """Put a state in the place of the one before; nothing once it is closed."""
        if self._closed:
            return
        if self._case is None:
            self._case = case_of(self._journal)
        case = {} if self._case is None else {"case": self._case}
        whole = {"form": FORM, **case, **state}
        text = json.dumps(whole, ensure_ascii=True, separators=(",", ":"))
        body = text.encode("ascii")
        data = b"%08x %s\n" % (zlib.crc32(body), body)
        try:
            if self._fd is not None and not os.fstat(self._fd).st_nlink:  # somebody removed it
                os.close(self._fd)
                self._fd = None
            if self._fd is None:
                self._fd = _made(self.path)
            os.lseek(self._fd, 0, os.SEEK_SET)
            if os.write(self._fd, data) != len(data):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))  # noqa: TRY301 - kept below
            os.ftruncate(self._fd, len(data))
        except OSError as error:
            self.failed = error

    def close(self) -> None:
        """Remove the file, where it was written at all."""
        self._closed = True
        fd, self._fd = self._fd, None
        if fd is None:
            return
        with contextlib.suppress(OSError):
            os.close(fd)
        with contextlib.suppress(OSError):
            self.path.unlink()


def _made(path: Path) -> int:
    """Make the file anew; OSError where anything but a file is in its place, as a link or a pipe.

    A file of that name is never written into: it may be the journal itself by another name, or
    somebody else's. Only the name is taken away.
    """
    with contextlib.suppress(FileNotFoundError):
        if not stat.S_ISREG(path.lstat().st_mode):
            raise OSError(errno.EINVAL, os.strerror(errno.EINVAL))
        path.unlink()
    return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)


def _owner(journal: Path, fd: int) -> int:
    """Give whose a journal is; whose its file of this moment is, where there is none."""
    try:
        return journal.stat().st_uid
    except FileNotFoundError:
        return os.fstat(fd).st_uid


def read(journal: Path) -> dict[str, Any] | None:
    """Give the state beside a journal; None where there is none, or only half of one just now."""
    try:
        # A pipe in its place must not hold up the reader.
        fd = os.open(path_of(journal), os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    except OSError:
        return None
    try:
        # Who may write into the folder, and is not whose journal it is, has no say here.
        if os.fstat(fd).st_uid != _owner(journal, fd):
            return None
        data = os.read(fd, _LARGEST)
    except OSError:
        return None
    finally:
        os.close(fd)
    line, _, _ = data.partition(b"\n")
    checksum, _, body = line.partition(b" ")
    try:
        if int(checksum, 16) != zlib.crc32(body):
            return None
        state = json.loads(body)
    except (ValueError, RecursionError):
        return None
    fits = isinstance(state, dict) and state.get("form") == FORM
    return state if fits else None
