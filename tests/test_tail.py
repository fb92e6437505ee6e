"""Following a journal while it is written: every cut, every changed byte, every other file.

What a whole reading of the same bytes gives (``keep/reading.py``) is the yardstick; it is checked
against docs/journal.md elsewhere. That a file's number is given out again after it was deleted is
how file systems work (POSIX.1-2024, ``stat``: ``st_ino`` identifies a file only while it exists).
"""

import os
import shutil
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from journals import CASE, CODEC, Event, create, event, reopen, twelve_records

from voicecount.commands.journals import CODEC as CASE_CODEC
from voicecount.errors import JournalError
from voicecount.keep.reading import load_whole_part, read_whole_part
from voicecount.keep.record import FIRST_PREV
from voicecount.keep.tail import Tail

GOLDEN = sorted((Path(__file__).parent / "golden").glob("*.vcj"))
ONE_FOLDER = settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def tail_of(path: Path) -> Tail[Event]:
    return Tail(path, CODEC)


def all_of(tail: Tail[Event]) -> list[Event]:
    anew, events = tail.poll()
    assert not anew
    return events


def add(path: Path, data: bytes) -> None:
    with path.open("ab") as file:
        file.write(data)


def test_record_by_record(tmp_path: Path) -> None:
    """Each event comes once, when its record stands; nothing comes while nothing is added."""
    path = tmp_path / "a.vcj"
    with create(path) as journal:
        tail = tail_of(path)
        assert (tail.records, tail.last, tail.head) == (0, None, FIRST_PREV)
        assert all_of(tail) == [CASE]
        for number in range(1, 6):
            journal.append(event(number))
            assert all_of(tail) == [event(number)]
            assert all_of(tail) == []
            assert (tail.records, tail.head) == (number + 1, journal.head)


def test_a_resumed_journal_goes_on(tmp_path: Path) -> None:
    """The journal's own records count as records and are no events."""
    path = tmp_path / "a.vcj"
    create(path).close()
    tail = tail_of(path)
    assert all_of(tail) == [CASE]
    with reopen(path) as journal:
        journal.append(event(1))
        assert all_of(tail) == [event(1)]
        assert (tail.records, tail.head) == (3, journal.head)


def test_every_cut_of_a_last_line_waits_and_is_finished_later(tmp_path: Path) -> None:
    """Whatever part of a line stands there is no event and no damage; the rest makes it one."""
    data = twelve_records(tmp_path / "whole.vcj")
    lines = data.splitlines(keepends=True)[:3]
    start = len(lines[0]) + len(lines[1])
    for cut in range(len(lines[2])):
        path = tmp_path / "a.vcj"
        path.write_bytes(b"".join(lines)[: start + cut])
        tail = tail_of(path)
        assert len(all_of(tail)) == 2
        assert tail.damage is None
        add(path, lines[2][cut:])
        assert all_of(tail) == [event(2)]
        assert (tail.records, tail.damage) == (3, None)
        path.unlink()


@ONE_FOLDER
@given(sizes=st.lists(st.integers(1, 700), min_size=1, max_size=8))
def test_chunks_of_any_size(sizes: list[int], tmp_path: Path) -> None:
    """However the bytes arrive, the same events come in the same order."""
    whole_file = tmp_path / "whole.vcj"
    data = whole_file.read_bytes() if whole_file.exists() else twelve_records(whole_file)
    path = tmp_path / "a.vcj"
    path.write_bytes(b"")
    tail = tail_of(path)
    events: list[Event] = []
    at = turn = 0
    while at < len(data):
        size = sizes[turn % len(sizes)]
        add(path, data[at : at + size])
        at, turn = at + size, turn + 1
        events += all_of(tail)
    whole = read_whole_part(data, CODEC)
    assert (tuple(events), tail.head, tail.damage) == (whole.events, whole.head, None)


@pytest.mark.parametrize("golden", GOLDEN, ids=lambda path: path.stem)
def test_the_golden_journals(golden: Path) -> None:
    """At once, it gives what a whole reading gives."""
    tail = Tail(golden, CASE_CODEC)
    _, events = tail.poll()
    whole = load_whole_part(golden, CASE_CODEC)
    assert tuple(events) == whole.events
    assert (tail.records, tail.head) == (len(whole.records), whole.head)
    assert tail.damage is None
    assert tail.last == whole.records[-1]


@ONE_FOLDER
@given(cuts=st.lists(st.integers(0, 91241), max_size=5))
def test_the_whole_case_in_any_pieces(cuts: list[int], tmp_path: Path) -> None:
    """A whole case that comes in pieces is the same case."""
    golden = next(path for path in GOLDEN if "whole" in path.stem)
    data = golden.read_bytes()
    path = tmp_path / "a.vcj"
    path.write_bytes(b"")
    tail = Tail(path, CASE_CODEC)
    seen = 0
    for end in sorted({*cuts, len(data)}):
        add(path, data[path.stat().st_size : end])
        seen += len(tail.poll()[1])
    assert seen == len(load_whole_part(golden, CASE_CODEC).events)
    assert tail.damage is None


def test_every_changed_byte_is_found(tmp_path: Path) -> None:
    """Any byte of a small file that is changed is found, and nothing from there on is given."""
    data = twelve_records(tmp_path / "whole.vcj")
    short = b"".join(data.splitlines(keepends=True)[:3])
    path = tmp_path / "a.vcj"
    for at in range(len(short)):
        changed = bytearray(short)
        changed[at] ^= 1
        path.write_bytes(bytes(changed))
        tail = tail_of(path)
        events = all_of(tail)
        line = short[:at].count(b"\n") + 1
        assert tail.damage is not None, at
        assert tail.damage.line == line
        assert tail.damage.offset == sum(len(one) for one in short.splitlines(True)[: line - 1])
        assert events == [CASE, event(1), event(2)][: line - 1]
        assert tail.damage == read_whole_part(bytes(changed), CODEC).damage


def test_nothing_comes_after_damage(tmp_path: Path) -> None:
    """Whole records behind the damage are never given, and the damage stays."""
    data = twelve_records(tmp_path / "whole.vcj")
    lines = data.splitlines(keepends=True)
    path = tmp_path / "a.vcj"
    path.write_bytes(lines[0] + lines[2])
    tail = tail_of(path)
    assert all_of(tail) == [CASE]
    assert str(tail.damage).startswith("line 2: it is number 3 where number 2 belongs (from byte ")
    add(path, lines[1])
    assert all_of(tail) == []
    assert tail.damage is not None
    assert tail.records == 1


@pytest.mark.parametrize("error", [ValueError("v"), KeyError("k"), TypeError("t")])
def test_an_event_that_cannot_be_read(tmp_path: Path, error: Exception) -> None:
    """A whole record whose event this version cannot read ends the reading there."""
    path = tmp_path / "a.vcj"
    create(path).close()

    def decode(_: Event) -> Event:
        raise error

    tail = Tail(path, type(CODEC)(encode=dict, decode=decode))
    assert all_of(tail) == []
    assert tail.damage is not None
    assert (tail.damage.line, tail.damage.what) == (1, str(error))


def test_a_replaced_file_is_begun_anew(tmp_path: Path) -> None:
    """Another file in its place: nothing of the old one stays, whatever its size."""
    path, other = tmp_path / "a.vcj", tmp_path / "b.vcj"
    data = twelve_records(path)
    tail = tail_of(path)
    assert len(all_of(tail)) == 12
    for lines in (12, 3, 1):
        other.write_bytes(b"".join(data.splitlines(True)[:lines]))
        other.replace(path)
        anew, events = tail.poll()
        assert anew
        assert len(events) == tail.records == lines


def test_a_new_journal_in_the_same_file(tmp_path: Path) -> None:
    """The same number of file with another journal in it, as long or longer: begun anew."""
    path, other = tmp_path / "a.vcj", tmp_path / "b.vcj"
    create(path).close()
    tail = tail_of(path)
    assert all_of(tail) == [CASE]
    was = path.stat().st_ino
    with create(other) as journal:
        journal.append(event(7))
    changed = other.read_bytes().replace(b'"session":"s1"', b'"session":"s9"')
    assert len(changed) > path.stat().st_size
    path.write_bytes(changed)  # in place, so that nothing but its content tells
    assert path.stat().st_ino == was
    anew, events = tail.poll()
    assert anew
    assert events == []  # the hash no longer fits
    assert tail.damage is not None
    path.write_bytes(b"")
    assert tail.poll() == (True, [])
    assert tail.damage is None


def test_an_unfinished_line_that_a_resume_cuts_off(tmp_path: Path) -> None:
    """A resume cuts an unfinished line and writes more than that: no damage, nothing begun anew."""
    path = tmp_path / "a.vcj"
    create(path).close()
    tail = tail_of(path)
    assert all_of(tail) == [CASE]
    add(path, b'{"hash":"0123')
    assert all_of(tail) == []
    with reopen(path) as journal:
        journal.append(event(1))
        assert all_of(tail) == [event(1)]
        assert (tail.damage, tail.head) == (None, journal.head)


def test_a_shorter_file_is_begun_anew(tmp_path: Path) -> None:
    """Cut anywhere in its whole lines, what is left is read again from its beginning."""
    path = tmp_path / "a.vcj"
    data = twelve_records(path)
    for cut in (0, 10, len(data.splitlines(True)[0]), len(data) - 1):
        path.write_bytes(data)
        tail = tail_of(path)
        assert len(all_of(tail)) == 12
        os.truncate(path, cut)
        anew, events = tail.poll()
        assert anew
        assert len(events) == data[:cut].count(b"\n")


def test_vanished_and_back(tmp_path: Path) -> None:
    """Without the file it says so; when the same one is back, it goes on where it was."""
    path, away = tmp_path / "a.vcj", tmp_path / "away"
    with create(path) as journal:
        tail = tail_of(path)
        assert all_of(tail) == [CASE]
        path.rename(away)
        with pytest.raises(JournalError, match="there is no such journal; check the name"):
            tail.poll()
        journal.path = path
        shutil.move(away, path)
        journal.append(event(1))
        assert all_of(tail) == [event(1)]


def test_a_journal_mended_in_its_place(tmp_path: Path) -> None:
    """Whatever its new length: what was damage stands in it no longer, so it is begun anew."""
    path = tmp_path / "a.vcj"
    data = twelve_records(path)
    lines = data.splitlines(keepends=True)
    for changed in (
        b"".join([*lines[:4], lines[4][:-9] + b"x" + lines[4][-8:]]),  # then it grows
        b"".join([*lines[:4], lines[4][:-9] + b"x" + lines[4][-8:], *lines[5:]]),  # same length
        b"".join([*lines[:4], lines[4][:-1] + b"x"]),  # a line feed that was changed
        b"".join([*lines[:4], lines[4][:-1] + b"x", *lines[5:]]),
    ):
        path.write_bytes(changed)
        tail = tail_of(path)
        assert len(all_of(tail)) == 4
        assert tail.damage is not None
        add(path, b"more\n")
        assert all_of(tail) == []  # more behind the damage mends nothing
        path.write_bytes(data)
        anew, events = tail.poll()
        assert (anew, len(events), tail.damage) == (True, 12, None)


def test_whether_a_journal_is_begun(tmp_path: Path) -> None:
    """An empty file waits, and so does a first line that is being written; nothing else does."""
    whole = twelve_records(tmp_path / "whole.vcj")
    path = tmp_path / "a.vcj"
    first = whole.index(b"\n") + 1
    for end in (0, 1, 5, 9, 10, first - 1, first, len(whole)):
        path.write_bytes(whole[:end])
        assert tail_of(path).begun() is (end > 0)
    cases = {
        b"h": "it is not JSON",
        b"hello": "it is not JSON",
        b"hello\n": "it is not JSON",
        b"\n" + whole: "it is not JSON",
        b"{}\n": "it does not have a record's fields",
        b"\x00" * (3 << 20): "it is not JSON",
        whole[first:]: "it is number 2 where number 1 belongs",
        whole[:20] + b"x" + whole[21:]: "its content does not fit its hash",
    }
    for data, why in cases.items():
        path.write_bytes(data)
        with pytest.raises(JournalError) as found:
            tail_of(path).begun()
        assert str(found.value) == (
            f"{path}: it is no journal, or a damaged one (line 1: {why}); name a journal"
        )


def test_what_is_no_journal_to_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No file, a folder, a pipe, one that may not be read: one line each, at once."""
    with pytest.raises(JournalError, match="there is no such journal; check the name"):
        tail_of(tmp_path / "none.vcj").begun()
    pipe = tmp_path / "pipe.vcj"
    if sys.platform != "win32":  # it has no such files
        os.mkfifo(pipe)
    for path in (tmp_path, pipe) if pipe.exists() else (tmp_path,):
        for ask in (tail_of(path).begun, tail_of(path).poll):
            with pytest.raises(JournalError, match=r"it is not a file; name a journal$"):
                ask()
    path = tmp_path / "a.vcj"
    create(path).close()
    tail_of(path).begun()

    def refuse(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(JournalError, match=r"cannot read the journal \(Permission denied\)"):
        tail_of(path).poll()
