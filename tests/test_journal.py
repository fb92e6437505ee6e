"""The journal: what is acknowledged is kept, and whatever is wrong is found and named."""

import json
import os
import stat
import subprocess
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from journals import CASE, CODEC, Event, create, event, reopen, twelve_records

from voicecount import __version__
from voicecount.errors import JournalError
from voicecount.keep.journal import Journal
from voicecount.keep.reading import RECOVERED, RESUMED, Codec
from voicecount.keep.record import FIRST_PREV, make, parse
from voicecount.testing.clock import FakeClock


def test_an_appended_event_comes_back_as_it_was_read_from_the_file(tmp_path: Path) -> None:
    """What append gives back equals the event and is no longer the same object."""
    given_event = event(1)
    with create(tmp_path / "a.vcj") as journal:
        stored = journal.append(given_event)

    assert stored == given_event
    assert stored is not given_event


def test_reopening_gives_the_events_and_the_case(tmp_path: Path) -> None:
    """A journal that is opened again holds the same case and the same events in order."""
    twelve_records(tmp_path / "a.vcj")
    with reopen(tmp_path / "a.vcj") as journal:
        assert journal.events[0] == CASE
        assert journal.events[1:] == tuple(event(number) for number in range(1, 12))


def test_a_record_is_one_canonical_line_with_all_its_fields(tmp_path: Path) -> None:
    """Every line is sorted JSON without spaces and carries the documented fields."""
    clock = FakeClock(datetime(2026, 5, 4, 3, 2, 1, tzinfo=UTC))
    with Journal.create(tmp_path / "a.vcj", CASE, CODEC, clock=clock, session="s1") as journal:
        clock.advance(1.5)
        journal.append(event(7))
    first, second = (tmp_path / "a.vcj").read_bytes().splitlines(keepends=True)
    fields = json.loads(second)

    assert json.loads(first)["prev"] == FIRST_PREV
    assert fields == {
        "schema": 1,
        "seq": 2,
        "wall": "2026-05-04T03:02:02.500000+00:00",
        "monotonic": 1.5,
        "session": "s1",
        "kind": "line",
        "payload": {"item": "gauze", "number": 7},
        "prev": json.loads(first)["hash"],
        "hash": fields["hash"],
    }
    assert second == json.dumps(fields, sort_keys=True, separators=(",", ":")).encode() + b"\n"


def test_the_hash_is_sha256_of_the_line_without_it(tmp_path: Path) -> None:
    """coreutils' sha256sum, a program that is not ours, gives the same hash (FIPS 180-4)."""
    line = twelve_records(tmp_path / "a.vcj").splitlines()[3]
    fields = json.loads(line)
    body = line.replace(b'"hash":"' + fields["hash"].encode() + b'",', b"")
    answer = subprocess.run(["sha256sum"], input=body, capture_output=True, check=True)

    assert answer.stdout.split()[0].decode() == fields["hash"]


def test_the_file_is_for_its_owner_only(tmp_path: Path) -> None:
    """Nobody but the owner may read or write a journal."""
    create(tmp_path / "a.vcj").close()

    assert stat.S_IMODE((tmp_path / "a.vcj").stat().st_mode) == 0o600


def test_an_existing_file_is_never_written_over(tmp_path: Path) -> None:
    """Creating where a file is refuses and leaves it alone."""
    path = tmp_path / "a.vcj"
    path.write_text("mine")
    with pytest.raises(JournalError, match="already"):
        create(path)

    assert path.read_text() == "mine"


def test_a_second_writer_is_refused(tmp_path: Path) -> None:
    """While one writer has a journal, opening it says that another is running."""
    with create(tmp_path / "a.vcj") as journal:
        with pytest.raises(JournalError, match="another running"):
            reopen(tmp_path / "a.vcj")
        journal.append(event(1))
    with reopen(tmp_path / "a.vcj") as journal:
        assert journal.events[1:] == (event(1),)


def test_a_refused_journal_is_left_as_it_is(tmp_path: Path) -> None:
    """A check that refuses the events comes before anything in the file is changed."""
    data = twelve_records(tmp_path / "a.vcj")[:-5]
    (tmp_path / "a.vcj").write_bytes(data)

    def check(events: tuple[Event, ...]) -> None:
        raise JournalError(f"not these {len(events)}")

    with pytest.raises(JournalError, match="not these 11"):
        Journal.open(tmp_path / "a.vcj", CODEC, check=check)

    assert (tmp_path / "a.vcj").read_bytes() == data
    assert list(tmp_path.iterdir()) == [tmp_path / "a.vcj"]


def test_a_record_that_lacks_only_its_line_feed_gets_it(tmp_path: Path) -> None:
    """A whole last record without its line feed is kept, ended, and told of; no copy is made."""
    path = tmp_path / "a.vcj"
    path.write_bytes(twelve_records(path)[:-1])
    with reopen(path) as journal:
        assert journal.events[1:] == tuple(event(number) for number in range(1, 12))
        journal.append(event(12))
    with reopen(path) as journal:
        assert journal.events[1:] == tuple(event(number) for number in range(1, 13))
    own = [parse(line + b"\n") for line in path.read_bytes().splitlines()[12:14]]

    assert [record.kind for record in own] == [RECOVERED, RESUMED]
    assert own[0].payload == {"bytes": 0, "copy": None}
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("last", [b"\0", b"x", b"\r"])
def test_a_changed_last_line_feed_is_damage(tmp_path: Path, last: bytes) -> None:
    """No cut puts another byte after a whole record: an acknowledged record is not cut off."""
    path = tmp_path / "a.vcj"
    path.write_bytes(twelve_records(path)[:-1] + last)
    with pytest.raises(JournalError, match="line 12: its last byte is not a line feed"):
        reopen(path)

    assert path.read_bytes().endswith(last)


def test_a_resumed_journal_names_the_software(tmp_path: Path) -> None:
    """Every session says by which version it was written."""
    path = tmp_path / "a.vcj"
    twelve_records(path)
    reopen(path).close()
    last = parse(path.read_bytes().splitlines(keepends=True)[-1])

    assert (last.kind, last.payload) == (RESUMED, {"software": f"voicecount {__version__}"})


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "journal.line"},
        {"kind": "line", "number": float("nan")},
        {"kind": "line", "number": {1, 2}},
        {"kind": "line", "unreadable": True},
    ],
    ids=["own kind", "no number", "no JSON", "not decoded"],
)
def test_what_could_not_be_read_again_is_not_written(
    tmp_path: Path, wrong: Mapping[str, Any]
) -> None:
    """An event that cannot be read back is refused before anything is written; others still go."""

    def decode(fields: Mapping[str, Any]) -> Event:
        if "unreadable" in fields:
            raise ValueError("unreadable")
        return fields

    path = tmp_path / "a.vcj"
    with Journal.create(path, CASE, Codec(encode=dict, decode=decode)) as journal:
        before = path.read_bytes()
        with pytest.raises((ValueError, TypeError)):
            journal.append(wrong)
        assert path.read_bytes() == before
        journal.append(event(1))
    with reopen(path) as journal:
        assert journal.events == (CASE, event(1))


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (lambda lines: [*lines[:4], *lines[5:]], 5),
        (lambda lines: [*lines[:4], lines[5], lines[4], *lines[6:]], 5),
        (lambda lines: [*lines[:4], lines[3], *lines[4:]], 5),
        (lambda lines: [*lines[:6], b"\n", *lines[6:]], 7),
        (lambda lines: [*lines[:2], lines[2][:-9] + b"\n", *lines[3:]], 3),
        (lambda lines: lines[1:], 1),
        (lambda lines: [*lines[:-1], lines[-1][:-5] + b"\n"], 12),
        (lambda lines: [lines[0].replace(b":", b": ", 1), *lines[1:]], 1),
        (lambda lines: [b"[" * 100_000 + b"\n", *lines], 1),
        (lambda lines: [b"null\n", *lines], 1),
        (lambda lines: [lines[0].replace(b'"seq":1', b'"seq":true', 1), *lines[1:]], 1),
        (lambda lines: [lines[0].replace(b'"monotonic":0.0', b'"monotonic":NaN', 1)], 1),
    ],
    ids=[
        "line removed",
        "lines swapped",
        "line doubled",
        "empty line",
        "line cut in the middle of the file",
        "first line removed",
        "last line cut but ended",
        "a space more",
        "deeply nested",
        "no object",
        "a truth for a number",
        "no number",
    ],
)
def test_damage_is_refused_with_the_line(tmp_path: Path, change: Any, line: int) -> None:
    """Anything wrong before the last line's end is refused by its number; the file is kept."""
    lines = twelve_records(tmp_path / "a.vcj").splitlines(keepends=True)
    damaged = b"".join(change(lines))
    (tmp_path / "a.vcj").write_bytes(damaged)
    with pytest.raises(JournalError, match=rf"a\.vcj, line {line}: "):
        reopen(tmp_path / "a.vcj")

    assert (tmp_path / "a.vcj").read_bytes() == damaged


def test_a_record_of_a_later_version_is_refused(tmp_path: Path) -> None:
    """A record with a higher schema asks for an update instead of being guessed at."""
    data = twelve_records(tmp_path / "a.vcj").replace(b'"schema":1', b'"schema":2')
    (tmp_path / "a.vcj").write_bytes(data)
    with pytest.raises(JournalError, match="later version"):
        reopen(tmp_path / "a.vcj")


def test_an_event_that_cannot_be_decoded_names_its_line(tmp_path: Path) -> None:
    """A record that is sound but no event of ours is refused by its line."""
    twelve_records(tmp_path / "a.vcj")

    def decode(fields: Mapping[str, Any]) -> Event:
        if fields.get("number") == 3:
            raise KeyError("who")
        return fields

    with pytest.raises(JournalError, match="line 4: unknown or missing field who"):
        Journal.open(tmp_path / "a.vcj", Codec(encode=dict, decode=decode))


def test_a_clock_set_back_does_not_matter(tmp_path: Path) -> None:
    """Order comes from the numbers, not from the time of day."""
    clock = FakeClock(datetime(2026, 5, 4, tzinfo=UTC))
    with Journal.create(tmp_path / "a.vcj", CASE, CODEC, clock=clock) as journal:
        journal.append(event(1))
        clock.set_wall(datetime(2001, 1, 1, tzinfo=UTC))
        journal.append(event(2))
    with reopen(tmp_path / "a.vcj") as journal:
        assert journal.events[1:] == (event(1), event(2))


@settings(max_examples=60)
@given(
    payload=st.dictionaries(
        st.text(max_size=8),
        st.recursive(
            st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
            lambda inner: st.lists(inner, max_size=3),
            max_leaves=5,
        ),
        max_size=4,
    )
)
def test_any_plain_payload_comes_back(payload: dict[str, Any]) -> None:
    """A record of any JSON content is read back equal, and its line holds one line's end."""
    if any(value in {float("inf"), float("-inf")} for value in _leaves(payload)):
        payload = {}
    record = make(
        seq=1,
        wall=datetime(2026, 1, 1, tzinfo=UTC),
        monotonic=0.1,
        session="s",
        kind="k",
        payload=payload,
        prev=FIRST_PREV,
    )

    assert parse(record.line()) == record
    assert record.line().count(b"\n") == 1


def _leaves(value: Any) -> list[Any]:
    if isinstance(value, dict):
        return [leaf for inner in value.values() for leaf in _leaves(inner)]
    if isinstance(value, list):
        return [leaf for inner in value for leaf in _leaves(inner)]
    return [value]


@pytest.mark.skipif(os.name == "nt", reason="permissions are POSIX")
def test_a_folder_that_may_not_be_written_is_named(tmp_path: Path) -> None:
    """No permission to write is one line that says what to do."""
    tmp_path.chmod(0o555)
    was_root = os.geteuid() == 0
    if was_root:  # root may write anywhere: be nobody for a moment
        os.seteuid(65534)
    try:
        with pytest.raises(JournalError, match="choose a folder"):
            create(tmp_path / "a.vcj")
    finally:
        if was_root:
            os.seteuid(0)


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    """A folder that is not there is one line that says what to do."""
    with pytest.raises(JournalError, match="choose a folder"):
        create(tmp_path / "none" / "a.vcj")


def test_a_missing_journal_is_named(tmp_path: Path) -> None:
    """Opening what is not there says so."""
    with pytest.raises(JournalError, match="no such journal"):
        reopen(tmp_path / "a.vcj")


def test_a_folder_is_no_journal(tmp_path: Path) -> None:
    """A folder in place of a journal is refused in one line."""
    with pytest.raises(JournalError, match="cannot open"):
        reopen(tmp_path)
