"""A disk on which chosen calls fail."""

import errno
import os
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from voicecount.keep.files import SystemDisk

T = TypeVar("T")


class FaultyDisk(SystemDisk):
    """The real disk, until the n-th call of one kind.

    ``fail`` names the call ("write", "sync", "truncate", "sync_folder", "lock", "read", "create");
    ``at`` says which of those calls fails, from 1; ``error`` is the errno raised. With ``short``, a
    write takes only that many bytes instead and raises nothing. ``calls`` lists every call made.
    """

    def __init__(
        self, fail: str, at: int = 1, *, error: int = errno.ENOSPC, short: int | None = None
    ) -> None:
        self._fail = fail
        self._at = at
        self._error = error
        self._short = short
        self.calls: list[str] = []

    def create(self, path: Path) -> int:
        """Make a new file, or fail."""
        return self._call("create", lambda: super(FaultyDisk, self).create(path))

    def lock(self, fd: int) -> bool:
        """Lock, or fail."""
        return self._call("lock", lambda: super(FaultyDisk, self).lock(fd))

    def read(self, fd: int, offset: int, length: int) -> bytes:
        """Read, or fail."""
        return self._call("read", lambda: super(FaultyDisk, self).read(fd, offset, length))

    def write(self, fd: int, data: bytes) -> int:
        """Append, append too little, or fail."""
        if self._short is not None and self._due("write"):
            self.calls.append("write")
            return super().write(fd, data[: self._short])
        return self._call("write", lambda: super(FaultyDisk, self).write(fd, data))

    def sync(self, fd: int) -> None:
        """Sync, or fail."""
        self._call("sync", lambda: super(FaultyDisk, self).sync(fd))

    def truncate(self, fd: int, size: int) -> None:
        """Cut, or fail."""
        self._call("truncate", lambda: super(FaultyDisk, self).truncate(fd, size))

    def sync_folder(self, folder: Path) -> None:
        """Sync the folder, or fail."""
        self._call("sync_folder", lambda: super(FaultyDisk, self).sync_folder(folder))

    def _due(self, name: str) -> bool:
        return name == self._fail and self.calls.count(name) + 1 == self._at

    def _call(self, name: str, call: Callable[[], T]) -> T:
        due = self._due(name)
        self.calls.append(name)
        if due:
            raise OSError(self._error, os.strerror(self._error))
        return call()
