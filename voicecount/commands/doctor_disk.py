"""What the doctor checks of the journals' disk, of who can look at it, and of the clock."""

import secrets
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

from voicecount.commands.doctor_lines import Line, fail, note, ok
from voicecount.commands.doctor_machine import Machine
from voicecount.keep.journal import SUFFIX
from voicecount.keep.record import parse

_LEAST_FREE = 50_000_000
_LITTLE_FREE = 500_000_000
"""Bytes. A full disk ends the count. Our choice."""
_SLOW_SYNC = 0.25
"""Seconds. Every line waits for it before it is read back. Our choice."""
_CLOCK_SLACK = timedelta(minutes=2)
"""Clocks that a server sets move less than this. Our choice."""
_TICK = 0.02
_TAIL = 65_536
"""Bytes at the end of a journal in which its last record is looked for."""
_JOURNALS = 20
"""How many of the newest journals are looked at."""
_OTHERS_WRITE = 0o022
_OTHERS = 0o077


def disk(machine: Machine) -> Line:
    """Do with a small file what a journal does: make, lock, write, sync, read."""
    folder = machine.journals
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        locked, whole, took = _try_file(machine, folder / f".doctor-{secrets.token_hex(4)}")
    except OSError as error:
        return fail(
            f"{folder}: a file cannot be made and synced ({_why(error)})",
            "make the folder writable, or free the disk",
        )
    if not locked:
        return fail(
            f"{folder}: locks do not hold, two programs could write one journal",
            "keep journals on a disk of this machine",
        )
    if not whole:
        return fail(f"{folder}: what was written does not come back", "use another disk")
    told = f"{folder}: written, locked and synced; the sync took {1000 * took:.0f} ms"
    if took > _SLOW_SYNC:
        return note(told, "each line waits so long: use a faster disk")
    return ok(told)


def space(machine: Machine) -> Line:
    """Check that there is room for journals."""
    try:
        free = machine.free(machine.journals)
    except OSError as error:
        return fail(
            f"{machine.journals}: free space unknown ({_why(error)})", "make the folder readable"
        )
    told = f"{free / 1e9:.1f} GB free" if free >= 1e9 else f"{free / 1e6:.0f} MB free"
    if free < _LEAST_FREE:
        return fail(told, "free the disk: a full disk ends the count")
    return note(told, "free the disk") if free < _LITTLE_FREE else ok(told)


def private(machine: Machine) -> Line:
    """Check that nobody else on this machine can read or change journals."""
    folder = machine.journals
    try:
        mode = machine.mode(folder)
    except OSError as error:
        return fail(f"{folder}: permissions unknown ({_why(error)})", "make the folder readable")
    if mode is None:
        return note("not looked at on this system", "keep journals in the user's own folder")
    if mode & _OTHERS_WRITE:
        return fail(f"{folder}: others can change it", f"run 'chmod 700 {folder}'")
    if mode & _OTHERS:
        return note(f"{folder}: others can look into it", f"run 'chmod 700 {folder}'")
    return ok(f"{folder}: nobody else can look into it")


def clock(machine: Machine) -> Line:
    """Check the time of day against what was written before, and that the steady clock runs."""
    wall = machine.clock.wall()
    before = machine.clock.monotonic()
    machine.clock.sleep(_TICK)
    if machine.clock.monotonic() <= before:
        return fail("the steady clock stands still", "start the machine again")
    told = f"{wall:%Y-%m-%d %H:%M} UTC"
    newest = _newest(machine.journals)
    if newest is not None and wall < newest - _CLOCK_SLACK:
        return fail(
            f"{told} is before the newest journal ({newest:%Y-%m-%d %H:%M})", "set the clock"
        )
    if wall < machine.built() - _CLOCK_SLACK:
        return fail(
            f"{told} is before this software was installed ({machine.built():%Y-%m-%d %H:%M})",
            "set the clock",
        )
    return ok(told)


def _try_file(machine: Machine, path: Path) -> tuple[bool, bool, float]:
    """Give whether a lock held, whether the bytes came back, and the seconds of the sync."""
    content = b"doctor\n"
    disk = machine.disk
    fd = disk.create(path)
    try:
        locked = disk.lock(fd)
        second = disk.open(path)
        try:
            locked = locked and not disk.lock(second)
        finally:
            disk.close(second)
        written = disk.write(fd, content)
        begun = machine.clock.monotonic()
        disk.sync(fd)
        took = machine.clock.monotonic() - begun
        disk.sync_folder(path.parent)
        whole = written == len(content) and disk.read(fd, 0, 2 * len(content)) == content
    finally:
        disk.close(fd)
        with suppress(OSError):
            path.unlink()
    return locked, whole, took


def _newest(folder: Path) -> datetime | None:
    """Give the time of the last whole record of the newest journals; None where there is none."""
    times: list[datetime] = []
    with suppress(OSError):
        files = sorted(folder.glob(f"*{SUFFIX}"), key=lambda path: -path.stat().st_mtime)
        for path in files[:_JOURNALS]:
            with suppress(OSError, ValueError, IndexError), path.open("rb") as file:
                file.seek(max(0, path.stat().st_size - _TAIL))
                last = file.read().rpartition(b"\n")[0].rpartition(b"\n")[2]
                times.append(datetime.fromisoformat(parse(last + b"\n").wall))
    return max((time for time in times if time.tzinfo is not None), default=None)


def _why(error: OSError) -> str:
    return error.strerror or type(error).__name__
