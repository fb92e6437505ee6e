"""What happens at this moment, beside the journal: whole or nothing, and no fault stops a count."""

import errno
import json
import os
import stat
import subprocess
import sys
import time
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from board_rig import WHOLE
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from voicecount.keep import now as now_module
from voicecount.keep.now import FORM, NowFile, case_of, path_of, read

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="optional: no such files on Windows")
WRITES = 4000
WRITER = """
import sys
from pathlib import Path
from voicecount.keep.now import NowFile
file = NowFile(Path(sys.argv[1]))
for beat in range(1, int(sys.argv[2]) + 1):
    file.write({"beat": beat, "text": "abc" * (beat * 7 % 900), "last": beat})
assert file.failed is None
"""


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    return tmp_path / "a.vcj"


def put(journal: Path, body: bytes, checksum: bytes | None = None) -> None:
    found = b"%08x" % zlib.crc32(body) if checksum is None else checksum
    path_of(journal).write_bytes(found + b" " + body + b"\n")


def told(state: Mapping[str, Any]) -> bytes:
    return json.dumps({"form": FORM, **state}).encode()


def test_what_is_written_is_read(journal: Path) -> None:
    """A state is read as it was written, a shorter one after a longer one, too."""
    file = NowFile(journal)
    assert read(journal) is None
    for state in (
        {"beat": 1, "text": "näht ✕ \ud800 \x00\n" * 99},
        {"beat": 2},
        {"beat": 3, "a": []},
    ):
        file.write(state)
        assert read(journal) == {"form": FORM, **state}
        # Nothing of what was said before is left behind it.
        assert path_of(journal).read_bytes().count(b"\n") == 1
        assert path_of(journal).read_bytes().endswith(b"}\n")
    assert file.failed is None
    assert path_of(journal).name == "a.vcj.now"


def test_its_form(journal: Path) -> None:
    """One line of ASCII: eight hexadecimal digits of CRC-32, a blank, JSON (RFC 8259).

    The checksum of "123456789" is the check value that a catalogue of CRCs gives for it.
    """
    assert f"{zlib.crc32(b'123456789'):08x}" == "cbf43926"
    file = NowFile(journal)
    file.write({"beat": 1, "text": "ü"})
    data = path_of(journal).read_bytes()
    checksum, body = data[:8], data[9:-1]
    assert data == checksum + b" " + body + b"\n"
    assert int(checksum, 16) == zlib.crc32(body)
    assert json.loads(body.decode("ascii"))["text"] == "ü"


@POSIX
def test_only_its_owner_may_read_it(journal: Path) -> None:
    """Words of people in the room are for no other account."""
    before = os.umask(0)
    try:
        NowFile(journal).write({"beat": 1})
    finally:
        os.umask(before)
    assert stat.S_IMODE(path_of(journal).stat().st_mode) == 0o600


def test_whole_or_nothing_under_a_writer(journal: Path) -> None:
    """While another process writes without a pause, every state that is read is a whole one."""
    command = [sys.executable, "-c", WRITER, str(journal), str(WRITES)]
    with subprocess.Popen(command) as writer:
        seen: list[int] = []
        until = time.monotonic() + 20
        while time.monotonic() < until and (writer.poll() is None or not seen):
            state = read(journal)
            if state is None:
                continue
            assert state["beat"] == state["last"]
            assert state["text"] == "abc" * (state["beat"] * 7 % 900)
            seen.append(state["beat"])
        assert writer.wait(20) == 0
    assert seen
    assert seen == sorted(seen)
    last = read(journal)
    assert last is not None
    assert last["beat"] == WRITES


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(cut=st.integers(0, 300))
def test_a_mixture_of_two_states(cut: int, journal: Path) -> None:
    """The beginning of one state and the rest of another is neither."""
    first, second = ({"beat": n, "text": str(n) * 150} for n in (1, 2))
    file = NowFile(journal)
    file.write(first)
    old = path_of(journal).read_bytes()
    file.write(second)
    new = path_of(journal).read_bytes()
    path_of(journal).write_bytes(new[:cut] + old[cut:])
    assert read(journal) in ({"form": FORM, **first}, {"form": FORM, **second}, None)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\n",
        b"00000000",
        b"zzzzzzzz {}\n",
        b"\xff\xfe\x00 {}\n",
        told({"beat": 1}) + b"\n",
        b" " + told({"beat": 1}) + b"\n",
    ],
)
def test_what_has_no_checksum(journal: Path, data: bytes) -> None:
    """Anything else in the file is nothing."""
    path_of(journal).write_bytes(data)
    assert read(journal) is None


@pytest.mark.parametrize(
    "body",
    [
        b"[]",
        b"1",
        b"null",
        b"{",
        b'{"beat":1}',
        b'{"form":"voicecount.now/2","beat":1}',
        b'{"form":"\xff","beat":1}',
        b"[" * 20000,
        b'{"form":"voicecount.now/1","text":"' + b"x" * (1 << 16) + b'"}',
    ],
    ids=lambda body: body[:20].decode("latin-1"),
)
def test_what_is_no_state(journal: Path, body: bytes) -> None:
    """With a right checksum: other JSON, another form, no UTF-8, too deep, too large."""
    put(journal, body)
    assert read(journal) is None


def test_a_wrong_checksum(journal: Path) -> None:
    put(journal, told({"beat": 1}))
    assert read(journal) is not None
    put(journal, told({"beat": 1}), b"00000000")
    assert read(journal) is None


@POSIX
def test_what_is_no_file(journal: Path) -> None:
    """A folder and a pipe in its place are nothing, and hold nobody up."""
    path_of(journal).mkdir()
    assert read(journal) is None
    path_of(journal).rmdir()
    os.mkfifo(path_of(journal))
    assert read(journal) is None


# Faults never stop a count.


def test_a_missing_folder(tmp_path: Path) -> None:
    file = NowFile(tmp_path / "none" / "a.vcj")
    file.write({"beat": 1})
    assert isinstance(file.failed, FileNotFoundError)
    assert read(tmp_path / "none" / "a.vcj") is None
    file.close()


def test_a_full_disk(journal: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No room at all, or for a part only: kept as a fault; nothing half is read."""
    file = NowFile(journal)
    file.write({"beat": 1})
    real = os.write
    for taken in (0, 20):
        monkeypatch.setattr(os, "write", lambda fd, data, taken=taken: real(fd, data[:taken]))
        file.failed = None
        file.write({"beat": 2})
        assert file.failed is not None
        assert file.failed.errno == errno.ENOSPC
    assert read(journal) is None

    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "write", full)
    file.failed = None
    file.write({"beat": 3})
    assert file.failed is not None
    monkeypatch.setattr(os, "write", real)
    file.write({"beat": 4})
    assert read(journal) == {"form": FORM, "beat": 4}


def test_it_may_not_be_written(journal: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.open

    def refuse(path: object, flags: int, mode: int = 0o777) -> int:
        if flags & os.O_WRONLY:
            raise PermissionError(errno.EACCES, "Permission denied")
        return real(path, flags, mode)  # type: ignore[arg-type]

    monkeypatch.setattr(now_module.os, "open", refuse)
    file = NowFile(journal)
    file.write({"beat": 1})
    assert isinstance(file.failed, PermissionError)


def test_a_file_that_cannot_be_read(journal: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk's fault while reading is nothing, too."""
    NowFile(journal).write({"beat": 1})

    def broken(*_: object) -> bytes:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(now_module.os, "read", broken)
    assert read(journal) is None


@POSIX
def test_a_link_in_its_place_is_not_followed(journal: Path, tmp_path: Path) -> None:
    """Whoever can write beside a journal cannot have another file written over (CWE-59).

    The link is none of ours, so it stays when the writer is closed.
    """
    victim = tmp_path / "victim"
    victim.write_text("mine")
    path_of(journal).symlink_to(victim)
    file = NowFile(journal)
    file.write({"beat": 1})
    assert file.failed is not None
    assert file.failed.errno == errno.ELOOP
    assert victim.read_text() == "mine"
    file.close()
    assert path_of(journal).is_symlink()


def test_closed(journal: Path) -> None:
    """It is removed, once, and never comes back; what others did to it is no fault."""
    file = NowFile(journal)
    file.write({"beat": 1})
    file.close()
    assert not path_of(journal).exists()
    file.write({"beat": 2})
    assert not path_of(journal).exists()
    file.close()
    other = NowFile(journal)
    other.write({"beat": 1})
    path_of(journal).unlink()
    other.close()
    assert (file.failed, other.failed) == (None, None)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="optional: no named pipes on this system")
def test_a_pipe_in_its_place_holds_up_nobody(tmp_path: Path) -> None:
    """Nobody reads it, or somebody does: it is a fault of the file, and the count goes on."""
    journal = tmp_path / "a.vcj"
    os.mkfifo(path_of(journal))
    file = NowFile(journal)
    file.write({"beat": 1})
    assert file.failed is not None
    reader = os.open(path_of(journal), os.O_RDONLY | os.O_NONBLOCK)
    again = NowFile(journal)
    again.write({"beat": 1})
    os.close(reader)
    assert again.failed is not None


def test_it_says_which_journal_it_stands_beside(journal: Path) -> None:
    """By the first record, as soon as there is one."""
    file = NowFile(journal)
    file.write({"beat": 1})
    assert case_of(journal) is None
    assert "case" not in (read(journal) or {})
    journal.write_bytes(b"no journal\n")
    assert case_of(journal) is None
    first, second = WHOLE.read_bytes().splitlines(keepends=True)[:2]
    for data in (first, first + second):
        journal.write_bytes(data)
        file.write({"beat": 2})
        told = json.loads(first)["hash"]
        assert case_of(journal) == told
        assert read(journal) == {"form": FORM, "case": told, "beat": 2}
    assert case_of(journal.parent) is None
