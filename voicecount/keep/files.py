"""The few system calls that the journal needs, behind a port, so that tests can make each fail."""

import os
import sys
from pathlib import Path
from typing import Protocol

if sys.platform == "win32":  # pragma: no cover
    import msvcrt
else:
    import fcntl

_BINARY = getattr(os, "O_BINARY", 0)
_CLOEXEC = getattr(os, "O_CLOEXEC", 0)
_APPEND = os.O_RDWR | os.O_APPEND | _CLOEXEC | _BINARY

_LOCKED_BYTE = 0x7FFF_0000
"""Windows locks bytes and keeps others from reading them: lock one far behind the last record."""


class Disk(Protocol):
    """What a journal asks of a disk. Every call may raise OSError."""

    def create(self, path: Path) -> int:
        """Make a new file for appending and reading; FileExistsError when there is one."""
        ...

    def open(self, path: Path) -> int:
        """Open an existing file for appending and reading."""
        ...

    def lock(self, fd: int) -> bool:
        """Take the one writer's lock, without waiting; False when another writer holds it."""
        ...

    def size(self, fd: int) -> int:
        """Bytes in the file."""
        ...

    def read(self, fd: int, offset: int, length: int) -> bytes:
        """Read up to ``length`` bytes from ``offset``; fewer only at the file's end."""
        ...

    def write(self, fd: int, data: bytes) -> int:
        """Append in one call; the number of bytes that were taken, which may be too few."""
        ...

    def sync(self, fd: int) -> None:
        """Return when everything written is on the disk."""
        ...

    def truncate(self, fd: int, size: int) -> None:
        """Cut the file to its first ``size`` bytes."""
        ...

    def sync_folder(self, folder: Path) -> None:
        """Return when the folder's own entries are on the disk."""
        ...

    def close(self, fd: int) -> None:
        """Let go of the file and of its lock."""
        ...


class SystemDisk:
    """The machine's own disk."""

    def create(self, path: Path) -> int:
        """Make a new file that only its owner may read."""
        return os.open(path, _APPEND | os.O_CREAT | os.O_EXCL, 0o600)

    def open(self, path: Path) -> int:
        """Open an existing file."""
        return os.open(path, _APPEND)

    def lock(self, fd: int) -> bool:
        """Lock the file itself, so that nothing stale stays behind after a kill."""
        try:
            if sys.platform == "win32":  # pragma: no cover
                os.lseek(fd, _LOCKED_BYTE, os.SEEK_SET)
                msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
            else:
                fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except (BlockingIOError, PermissionError):
            return False
        return True

    def size(self, fd: int) -> int:
        """Bytes in the file."""
        return os.fstat(fd).st_size

    def read(self, fd: int, offset: int, length: int) -> bytes:
        """Read from one place; appending is not moved by it."""
        os.lseek(fd, offset, os.SEEK_SET)
        parts: list[bytes] = []
        while length > 0 and (part := os.read(fd, length)):
            parts.append(part)
            length -= len(part)
        return b"".join(parts)

    def write(self, fd: int, data: bytes) -> int:
        """Append in one call."""
        return os.write(fd, data)

    def sync(self, fd: int) -> None:
        """Sync data and size."""
        os.fsync(fd)

    def truncate(self, fd: int, size: int) -> None:
        """Cut the file."""
        os.ftruncate(fd, size)

    def sync_folder(self, folder: Path) -> None:
        """Sync the folder, where the system can."""
        if sys.platform == "win32":  # pragma: no cover
            return
        fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | _CLOEXEC)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)

    def close(self, fd: int) -> None:
        """Let go of the file."""
        os.close(fd)
