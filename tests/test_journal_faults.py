"""Every system call of the journal made to fail: nothing is acknowledged that is not kept."""

import errno
from pathlib import Path

import pytest
from journals import CASE, CODEC, Event, event, reopen, twelve_records

from voicecount.errors import JournalError, StorageError
from voicecount.keep.files import Disk, SystemDisk
from voicecount.keep.journal import Journal
from voicecount.testing.clock import FakeClock
from voicecount.testing.disk import FaultyDisk, MemoryDisk

ERRORS = [errno.ENOSPC, errno.EIO, errno.EDQUOT, errno.EROFS]


def run(path: Path, disk: Disk) -> list[Event]:
    """Append until it fails; what was acknowledged."""
    with Journal.create(path, CASE, CODEC, disk=disk) as journal:
        return [journal.append(event(number)) for number in range(1, 6)]


@pytest.mark.parametrize("error", ERRORS)
@pytest.mark.parametrize("call", ["write", "sync", "read"])
@pytest.mark.parametrize("at", range(2, 7))
def test_a_failed_call_stops_the_journal(tmp_path: Path, call: str, at: int, error: int) -> None:
    """After any failed write, sync or read-back, no further event is taken; the rest is kept."""
    disk = FaultyDisk(call, at, error=error)
    with Journal.create(tmp_path / "a.vcj", CASE, CODEC, disk=disk) as journal:
        acknowledged = [journal.append(event(number)) for number in range(1, at - 1)]
        with pytest.raises(StorageError, match="counting has to stop"):
            journal.append(event(at - 1))
        writes = disk.calls.count("write")
        with pytest.raises(StorageError, match="counting has to stop"):
            journal.append(event(at))
        assert disk.calls.count("write") == writes
    attempted = [event(number) for number in range(1, at)]
    with reopen(tmp_path / "a.vcj") as journal:
        recovered = list(journal.events[1:])

    assert recovered[: len(acknowledged)] == acknowledged
    assert recovered == attempted[: len(recovered)]


@pytest.mark.parametrize("taken", [0, 1, 50, 200])
def test_a_short_write_is_not_acknowledged_and_is_cut_at_the_next_start(
    tmp_path: Path, taken: int
) -> None:
    """A write that takes too few bytes stops the journal; what it left is saved and cut off."""
    path = tmp_path / "a.vcj"
    with Journal.create(path, CASE, CODEC, disk=FaultyDisk("write", 3, short=taken)) as journal:
        journal.append(event(1))
        with pytest.raises(StorageError, match=f"only {taken} of"):
            journal.append(event(2))
    with reopen(path) as journal:
        assert journal.events[1:] == (event(1),)
    copies = list(tmp_path.glob("*.torn-*"))
    assert [len(copy.read_bytes()) for copy in copies] == ([taken] if taken else [])


@pytest.mark.parametrize("call", ["create", "lock", "sync_folder", "write", "sync", "read", "size"])
def test_a_journal_that_cannot_be_started_says_so(tmp_path: Path, call: str) -> None:
    """A failure while the file is made is one line, and nothing is acknowledged."""
    with pytest.raises(JournalError) as caught:
        run(tmp_path / "a.vcj", FaultyDisk(call, error=errno.EIO))

    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "call",
    [
        *("open", "lock", "size", "read", "create", "write"),
        *("sync", "close", "sync_folder", "truncate"),
    ],
)
def test_a_failed_recovery_leaves_what_was_kept(tmp_path: Path, call: str) -> None:
    """When recovery itself fails, the next one still finds every acknowledged record."""
    path = tmp_path / "a.vcj"
    data = twelve_records(path)
    path.write_bytes(data[:-20])
    with pytest.raises(JournalError):
        Journal.open(path, CODEC, disk=FaultyDisk(call, error=errno.EIO))
    with reopen(path) as journal:
        assert journal.events[1:] == tuple(event(number) for number in range(1, 11))


def test_two_copies_of_torn_lines_do_not_overwrite_each_other(tmp_path: Path) -> None:
    """Torn twice within one second, both unfinished lines are kept."""
    path = tmp_path / "a.vcj"
    for _ in range(2):
        with reopen(path) if path.exists() else Journal.create(path, CASE, CODEC) as journal:
            journal.append(event(1))
        path.write_bytes(path.read_bytes() + b'{"torn')
        reopen(path).close()

    assert len(list(tmp_path.glob("*.torn-*"))) == 2


def test_another_program_writing_into_the_file_stops_the_journal(tmp_path: Path) -> None:
    """Bytes that someone else put into the file are noticed before the event is acknowledged."""
    path = tmp_path / "a.vcj"
    with Journal.create(path, CASE, CODEC) as journal:
        journal.append(event(1))
        with path.open("ab") as other:
            other.write(b"x")
        with pytest.raises(StorageError, match="another program"):
            journal.append(event(2))


def test_a_key_press_in_the_middle_of_a_write_stops_the_journal(tmp_path: Path) -> None:
    """An interrupt between write and sync leaves no way to write a second record number two."""

    class Interrupted(SystemDisk):
        armed = False

        def sync(self, fd: int) -> None:
            if self.armed:
                raise KeyboardInterrupt
            super().sync(fd)

    disk = Interrupted()
    with Journal.create(tmp_path / "a.vcj", CASE, CODEC, disk=disk) as journal:
        disk.armed = True
        with pytest.raises(KeyboardInterrupt):
            journal.append(event(1))
        disk.armed = False
        with pytest.raises(StorageError, match="interrupted"):
            journal.append(event(2))
    with reopen(tmp_path / "a.vcj") as journal:
        assert journal.events[1:] == (event(1),)


def test_a_closed_journal_takes_nothing(tmp_path: Path) -> None:
    """After close, an append is refused instead of written anywhere."""
    journal = Journal.create(tmp_path / "a.vcj", CASE, CODEC)
    journal.close()
    journal.close()
    with pytest.raises(StorageError, match="closed"):
        journal.append(event(1))


def test_a_read_that_gives_too_little_is_not_taken_for_a_torn_line(tmp_path: Path) -> None:
    """When the file cannot be read whole, it is refused and not cut."""
    path = tmp_path / "a.vcj"
    data = twelve_records(path)
    with pytest.raises(JournalError, match="only 400 of"):
        Journal.open(path, CODEC, disk=FaultyDisk("read", short=400))

    assert path.read_bytes() == data


@pytest.mark.parametrize("how", [{"error": errno.EIO}, {"short": 0}])
def test_a_line_feed_that_cannot_be_written_loses_nothing(
    tmp_path: Path, how: dict[str, int]
) -> None:
    """A last record that cannot be ended now is kept and ended at the next opening."""
    path = tmp_path / "a.vcj"
    path.write_bytes(twelve_records(path)[:-1])
    with pytest.raises(StorageError):
        Journal.open(path, CODEC, disk=FaultyDisk("write", **how))
    with reopen(path) as journal:
        assert journal.events[1:] == tuple(event(number) for number in range(1, 12))


def test_a_close_that_fails_loses_nothing_and_raises_nothing(tmp_path: Path) -> None:
    """Everything acknowledged is on the disk before the file is closed."""
    path = tmp_path / "a.vcj"
    with Journal.create(path, CASE, CODEC, disk=FaultyDisk("close", error=errno.EIO)) as journal:
        journal.append(event(1))
    with reopen(path) as journal:
        assert journal.events == (CASE, event(1))


def test_a_second_copy_of_the_same_moment_gets_a_name_of_its_own() -> None:
    """Copies are made as new files: the disk decides whether a name is free, in no second step."""
    disk, path, torn = MemoryDisk(), Path("a.vcj"), b'{"torn'
    Journal.create(path, CASE, CODEC, disk=disk).close()
    for _ in range(3):
        disk.put(path, disk.content(path) + torn)
        Journal.open(path, CODEC, disk=disk, clock=FakeClock()).close()
    copies = {name.name: disk.content(name) for name in disk.files if name != path}

    start = "a.vcj.torn-20260101T080000"
    assert copies == {start: torn, f"{start}-2": torn, f"{start}-3": torn}
