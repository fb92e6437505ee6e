"""Reading without a lock: what is whole before the first damage, and its exact place."""

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from journals import CASE, CODEC, create, event, twelve_records

from voicecount.errors import JournalError
from voicecount.keep.reading import Damage, load_whole_part, read_whole_part
from voicecount.keep.record import FIRST_PREV


def test_the_whole_part_of_a_whole_file_is_all_of_it(tmp_path: Path) -> None:
    """Nothing is left out and no damage is told."""
    reading = read_whole_part(twelve_records(tmp_path / "a.vcj"), CODEC)

    assert len(reading.records) == 12
    assert reading.events == (CASE, *(event(number) for number in range(1, 12)))
    assert (reading.torn, reading.unended, reading.damage) == (b"", False, None)
    assert reading.head == reading.records[-1].hash


def test_damage_is_told_with_its_line_and_byte(tmp_path: Path) -> None:
    """The records before it are given; the damage says where its line begins and what is wrong."""
    lines = twelve_records(tmp_path / "a.vcj").splitlines(keepends=True)
    lines[6] = lines[6].replace(b'"gauze"', b'"gauzE"')
    reading = read_whole_part(b"".join(lines), CODEC)

    assert reading.events == (CASE, *(event(number) for number in range(1, 6)))
    assert reading.damage == Damage(
        7, len(b"".join(lines[:6])), "its content does not fit its hash"
    )
    assert str(reading.damage).startswith("line 7: its content")


def test_a_later_version_is_told_where_it_begins(tmp_path: Path) -> None:
    """What this version can read before it is still given."""
    lines = twelve_records(tmp_path / "a.vcj").splitlines(keepends=True)
    lines[2] = lines[2].replace(b'"schema":1', b'"schema":2')
    reading = read_whole_part(b"".join(lines), CODEC)

    assert reading.damage is not None
    assert "later version" in reading.damage.what
    assert len(reading.events) == 2


def test_nothing_whole_has_the_head_of_nothing() -> None:
    """An empty file has no records, no damage, and the head that a first record names."""
    reading = read_whole_part(b"", CODEC)

    assert (reading.records, reading.damage, reading.head) == ((), None, FIRST_PREV)


@given(data=st.binary(max_size=200))
def test_bytes_of_any_kind_are_read_without_an_error(data: bytes) -> None:
    """No content makes reading fail; nothing of it is taken for a record."""
    reading = read_whole_part(data, CODEC)

    assert reading.records == ()
    assert reading.damage is not None or b"\n" not in data


def test_a_journal_can_be_read_while_it_is_written(tmp_path: Path) -> None:
    """No lock is needed, and the writer goes on."""
    path = tmp_path / "a.vcj"
    with create(path) as journal:
        journal.append(event(1))
        assert load_whole_part(path, CODEC).events == (CASE, event(1))
        journal.append(event(2))
        assert load_whole_part(path, CODEC).events == (CASE, event(1), event(2))


def test_what_cannot_be_read_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No file, a folder, and a disk that fails are one line each."""
    with pytest.raises(JournalError, match="no such journal"):
        load_whole_part(tmp_path / "a.vcj", CODEC)
    with pytest.raises(JournalError, match="not a file"):
        load_whole_part(tmp_path, CODEC)

    def fail(*_: object) -> int:
        raise OSError(5, "Input/output error")

    twelve_records(tmp_path / "a.vcj")
    monkeypatch.setattr(os, "open", fail)
    with pytest.raises(JournalError, match=r"cannot read the journal \(Input"):
        load_whole_part(tmp_path / "a.vcj", CODEC)
