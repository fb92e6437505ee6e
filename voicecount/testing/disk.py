"""Disks that fail, die, or forget: what a journal is tried on.

    FaultyDisk     one chosen call fails, or takes too little
    DyingDisk      the program ends at a chosen call: a kill, or the power goes
    MemoryDisk     no disk at all; a power cut drops what was not synced

The first two stand before another disk, the real one by default.
"""

import errno
import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, TypeVar

from voicecount.keep.files import Disk, SystemDisk

T = TypeVar("T")

CALLS = (
    *("create", "open", "lock", "size", "read", "write"),
    *("sync", "truncate", "sync_folder", "close"),
)
"""Every call that a journal can make."""


class WatchedDisk:
    """Another disk, with a list of all calls made; subclasses step in between."""

    def __init__(self, disk: Disk | None = None) -> None:
        self.disk: Disk = disk or SystemDisk()
        self.calls: list[str] = []
        """The names of all calls, in order."""

    def create(self, path: Path) -> int:
        """Make a new file."""
        return self._call("create", lambda: self.disk.create(path))

    def open(self, path: Path) -> int:
        """Open a file."""
        return self._call("open", lambda: self.disk.open(path))

    def lock(self, fd: int) -> bool:
        """Lock."""
        return self._call("lock", lambda: self.disk.lock(fd))

    def size(self, fd: int) -> int:
        """Bytes in the file."""
        return self._call("size", lambda: self.disk.size(fd))

    def read(self, fd: int, offset: int, length: int) -> bytes:
        """Read."""
        return self._call("read", lambda: self.disk.read(fd, offset, length))

    def write(self, fd: int, data: bytes) -> int:
        """Append."""
        return self._call("write", lambda: self.disk.write(fd, data))

    def sync(self, fd: int) -> None:
        """Sync."""
        self._call("sync", lambda: self.disk.sync(fd))

    def truncate(self, fd: int, size: int) -> None:
        """Cut."""
        self._call("truncate", lambda: self.disk.truncate(fd, size))

    def sync_folder(self, folder: Path) -> None:
        """Sync the folder."""
        self._call("sync_folder", lambda: self.disk.sync_folder(folder))

    def close(self, fd: int) -> None:
        """Close."""
        self._call("close", lambda: self.disk.close(fd))

    def _call(self, name: str, call: Callable[[], T]) -> T:
        self.calls.append(name)
        return call()


class FaultyDisk(WatchedDisk):
    """A disk until the n-th call of one kind.

    ``fail`` is one of CALLS; ``at`` says which of those calls fails, from 1; ``error`` is the errno
    raised. With ``short``, a write or read takes only that many bytes instead and raises nothing;
    below zero, that many too few. A close that fails has let go of the file all the same.
    """

    def __init__(
        self,
        fail: str,
        at: int = 1,
        *,
        error: int = errno.ENOSPC,
        short: int | None = None,
        disk: Disk | None = None,
    ) -> None:
        super().__init__(disk)
        self._fail = fail
        self._at = at
        self._error = error
        self._short = short

    @property
    def happened(self) -> bool:
        """Whether the call came that was to fail."""
        return self.calls.count(self._fail) >= self._at

    def read(self, fd: int, offset: int, length: int) -> bytes:
        """Read, read too little, or fail."""
        if self._short is not None and self._due("read"):
            self.calls.append("read")
            return self.disk.read(fd, offset, self._fewer(length))
        return super().read(fd, offset, length)

    def write(self, fd: int, data: bytes) -> int:
        """Append, append too little, or fail."""
        if self._short is not None and self._due("write"):
            self.calls.append("write")
            fewer = self._fewer(len(data))
            return self.disk.write(fd, data[:fewer]) if fewer else 0
        return super().write(fd, data)

    def _fewer(self, length: int) -> int:
        short = self._short or 0
        return max(0, length + short if short < 0 else min(short, length))

    def _due(self, name: str) -> bool:
        return name == self._fail and self.calls.count(name) + 1 == self._at

    def _call(self, name: str, call: Callable[[], T]) -> T:
        due = self._due(name)
        self.calls.append(name)
        if not due:
            return call()
        if name == "close":
            call()
        raise OSError(self._error, os.strerror(self._error))


class PowerCut(BaseException):
    """The program is over, without a chance to do anything about it."""


def cut_power() -> None:
    """End the program as far as one can that goes on to look at what is left."""
    raise PowerCut


class DyingDisk(WatchedDisk):
    """A disk until the n-th call of some kinds; at that call, ``die`` ends the program.

    ``when`` says whether that call is still made: not at all, half of it (of a write's bytes), or
    whole. Later calls die as well, so that nothing is tidied up.
    """

    def __init__(
        self,
        die: Callable[[], None],
        at: int,
        *,
        calls: tuple[str, ...] = CALLS,
        when: Literal["before", "half", "after"] = "before",
        disk: Disk | None = None,
    ) -> None:
        super().__init__(disk)
        self._die = die
        self._left = at
        self._mortal = calls
        self._when = when

    @property
    def dead(self) -> bool:
        """Whether the chosen call has come."""
        return self._left <= 0

    def write(self, fd: int, data: bytes) -> int:
        """Append, or die of it, perhaps half-way."""
        if self._when == "half" and self._left == 1 and "write" in self._mortal:
            self.disk.write(fd, data[: len(data) // 2])
        return super().write(fd, data)

    def _call(self, name: str, call: Callable[[], T]) -> T:
        self.calls.append(name)
        if not self.dead and name not in self._mortal:
            return call()
        self._left -= 1
        if self._left == 0 and self._when == "after":
            call()
        if self.dead:
            self._die()
        return call()


@dataclass
class _File:
    """What a disk holds for sure, and the changes that were not synced: bytes added or a cut."""

    synced: bytes = b""
    changes: list[bytes | int] = field(default_factory=list)
    named: bool = False
    """Whether the folder was synced since the file was made."""

    def now(self) -> bytes:
        data = self.synced
        for change in self.changes:
            data = data + change if isinstance(change, bytes) else data[:change]
        return data

    def after_a_cut(self, keep: int, *, holes: bool) -> bytes:
        """Give what a power cut leaves when ``keep`` more bytes had reached the disk."""
        data = self.synced
        for change in self.changes:
            if keep == 0 and not holes:
                break
            if isinstance(change, int):
                data = data[:change]
                continue
            kept, keep = change[:keep], max(0, keep - len(change))
            data += kept + (b"\0" * (len(change) - len(kept)) if holes else b"")
        return data


class MemoryDisk:
    """Files in memory that behave as on a disk with a cache: only what was synced is sure."""

    def __init__(self) -> None:
        self.files: dict[Path, _File] = {}
        self._open: dict[int, Path] = {}
        self._locked: dict[Path, int] = {}
        self._next = 3

    def create(self, path: Path) -> int:
        """Make a new file; its name is not sure before the folder is synced."""
        if path in self.files:
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
        self.files[path] = _File()
        return self.open(path)

    def open(self, path: Path) -> int:
        """Open a file."""
        if path not in self.files:
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))
        self._next += 1
        self._open[self._next] = path
        return self._next

    def lock(self, fd: int) -> bool:
        """Lock a file for one opening of it."""
        return self._locked.setdefault(self._open[fd], fd) == fd

    def size(self, fd: int) -> int:
        """Bytes in the file, synced or not."""
        return len(self._file(fd).now())

    def read(self, fd: int, offset: int, length: int) -> bytes:
        """Read what was written, synced or not."""
        return self._file(fd).now()[offset : offset + length]

    def write(self, fd: int, data: bytes) -> int:
        """Append in memory only."""
        self._file(fd).changes.append(data)
        return len(data)

    def sync(self, fd: int) -> None:
        """Make the file's bytes sure."""
        file = self._file(fd)
        file.synced, file.changes = file.now(), []

    def truncate(self, fd: int, size: int) -> None:
        """Cut the file, not surely before a sync."""
        self._file(fd).changes.append(size)

    def sync_folder(self, folder: Path) -> None:
        """Make the names of all files in a folder sure."""
        for path, file in self.files.items():
            file.named = file.named or path.parent == folder

    def close(self, fd: int) -> None:
        """Let go of the file and its lock; nothing becomes sure by it."""
        path = self._open.pop(fd)
        if self._locked.get(path) == fd:
            del self._locked[path]

    def put(self, path: Path, data: bytes) -> None:
        """Put a synced file there, whatever was there before."""
        self.files[path] = _File(data, named=True)

    def content(self, path: Path) -> bytes:
        """Give a file's bytes as any reader sees them."""
        return self.files[path].now()

    def power_cut(self, keep: int = 0, *, holes: bool = False) -> None:
        """Lose all that was not synced, and every opening and lock.

        ``keep`` bytes of what was not synced had reached the disk, in each file; with ``holes`` the
        file had grown to its new size already, and the rest of it is zeros.
        """
        self.files = {
            path: _File(file.after_a_cut(keep, holes=holes), named=True)
            for path, file in self.files.items()
            if file.named or keep or holes
        }
        self._open.clear()
        self._locked.clear()

    def _file(self, fd: int) -> _File:
        return self.files[self._open[fd]]
