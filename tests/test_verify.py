"""``verify``: whole or not, where, and what people outside can show."""

import dataclasses
import shutil
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from voicecount import __version__, cli
from voicecount.commands.journals import CODEC
from voicecount.keep.journal import Journal
from voicecount.keep.reading import RECOVERED, RESUMED
from voicecount.keep.record import FIRST_PREV, Record, make, parse
from voicecount.keep.witness import digits, spoken
from voicecount.testing.clock import FakeClock

GOLDEN = Path(__file__).parent / "golden"
OLD = "two_people_0_1_0.vcj"
Changed = Callable[[list[Record]], list[Record]]


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    """Give a journal of 33 events in two sessions that was torn once, and its copy beside it."""
    for file in GOLDEN.glob(f"{OLD}*"):
        shutil.copy(file, tmp_path)
    return tmp_path / OLD


def verify(capsys: pytest.CaptureFixture[str], path: Path, *more: str) -> tuple[int, str, str]:
    """Run verify; exit code, output, complaints. It never changes the file or its folder."""
    before = {file: file.read_bytes() for file in path.parent.iterdir() if file.is_file()}
    code = cli.main(["verify", str(path), *more])
    captured = capsys.readouterr()
    assert {file: file.read_bytes() for file in before} == before
    assert {file for file in path.parent.iterdir() if file.is_file()} == before.keys()
    assert captured.err.count("\n") == (code != 0)
    return code, captured.out, captured.err


def records(path: Path) -> list[Record]:
    return [parse(line) for line in path.read_bytes().splitlines(keepends=True)]


def chained(changed: list[Record]) -> bytes:
    """Number and hash records anew, as someone could who knows how."""
    lines = []
    prev = FIRST_PREV
    for seq, given in enumerate(changed, start=1):
        record = make(
            seq=seq,
            wall=datetime.now(UTC),
            monotonic=given.monotonic,
            session=given.session,
            kind=given.kind,
            payload=given.payload,
            prev=prev,
        )
        lines.append(record.line())
        prev = record.hash
    return b"".join(lines)


def with_fields(record: Record, **fields: Any) -> bytes:
    """Give a line whose hash fits other fields."""
    changed = dataclasses.replace(record, **fields)
    return dataclasses.replace(changed, hash=changed.digest()).line()


# What goes well


def test_a_whole_journal_is_told_in_plain_lines(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """Records, times, sessions, software, recoveries, set-back clocks and the head are told."""
    code, out, err = verify(capsys, journal)

    assert (code, err) == (0, "")
    assert out.splitlines()[0] == f"{journal}: 35 records, 33 of them events of the count; whole"
    assert "written   2026-03-02 08:53:20 UTC to 2026-03-01 08:00:34 UTC" in out
    assert "session 1 records 1 to 16, voicecount 0.1.0\n" in out
    assert "session 2 records 17 to 35, software not named\n" in out
    assert "record 25: the wall clock went back by 23:59:58" in out
    assert "an unfinished line of 19 bytes was cut off" in out
    assert f"{OLD}.torn-20260302T080000 is beside the journal" in out
    assert "head      5e551b5b, spoken: five echo five five one bravo five bravo\n" in out
    assert "The chain alone shows neither" in out


def test_a_session_of_this_version_is_named(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """A journal that was opened again says by which software."""
    Journal.open(journal, CODEC).close()
    code, out, _ = verify(capsys, journal)

    assert code == 0
    assert f"session 3 record 36, voicecount {__version__}\n" in out


def test_a_clock_set_back_by_a_day_is_told_and_no_error(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """The wall clock may jump; the note says where and by how much."""
    clock = FakeClock(datetime(2026, 2, 27, 8, 0, 4, tzinfo=UTC))
    with Journal.open(journal, CODEC, clock=clock) as kept:
        kept.append(kept.events[-1])
        clock.set_wall(clock.wall() + timedelta(days=900))
        kept.append(kept.events[-1])
    code, out, _ = verify(capsys, journal)

    assert code == 0
    assert "record 36: the wall clock went back by 2 days and 00:00:30" in out
    assert "record 38" not in out.replace("36 to 38", "")


def test_a_missing_copy_is_told(capsys: pytest.CaptureFixture[str], journal: Path) -> None:
    """A copy that a record names and that is gone is a note, and so is one that none names."""
    copy = next(journal.parent.glob("*.torn-*"))
    copy.rename(copy.with_name(f"{copy.name}-2"))
    code, out, _ = verify(capsys, journal)

    assert code == 0
    assert f"{copy.name} is not beside the journal" in out
    assert f"{copy.name}-2 lies beside the journal, and no record names it" in out


def test_a_journal_in_use_can_be_verified(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """No lock is taken: the writer may be at it, and an unfinished line is then normal."""
    with Journal.open(journal, CODEC) as kept:
        assert verify(capsys, journal)[0] == 0
        kept.append(kept.events[-1])
        assert verify(capsys, journal)[0] == 0
    data = journal.read_bytes()
    journal.write_bytes(data + data[: data.index(b"\n") // 2])
    code, out, _ = verify(capsys, journal)

    assert code == 0
    assert "line 38 is unfinished, " in out
    assert "normal while a count is running; otherwise resume keeps a copy and cuts it off" in out


def test_a_last_line_without_its_end_is_told(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """A whole record that lacks only its line feed counts; after a resume it is told as well."""
    journal.write_bytes(journal.read_bytes()[:-1])
    code, out, _ = verify(capsys, journal, "--witness", "5e551b5b")
    assert code == 0
    assert "line 35 lacks only its end: normal" in out

    Journal.open(journal, CODEC).close()
    assert "record 36: the line before lacked only its end" in verify(capsys, journal)[1]


def test_own_records_of_a_later_version_are_told(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """A kind of the journal's own that is not known is a note: it holds nothing of the count."""
    lines = records(journal)
    journal.write_bytes(chained([*lines, dataclasses.replace(lines[-1], kind="journal.new")]))
    code, out, _ = verify(capsys, journal)

    assert code == 0
    assert "record 36 is of the kind journal.new, which this version does not know" in out


# Damage


def test_damage_is_one_line_with_its_place(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """Exit code 2; where, what, and what can be trusted before it, with the head of that part."""
    lines = journal.read_bytes().splitlines(keepends=True)
    head = parse(lines[9]).hash
    lines[10] = lines[10].replace(b'"by":"scrub"', b'"by":"other"')
    journal.write_bytes(b"".join(lines))
    code, out, err = verify(capsys, journal, "--witness", head[:8], "--witness", "00000000")

    assert (code, out) == (2, "")
    at = len(b"".join(lines[:10]))
    assert f"{OLD}, line 11: its content does not fit its hash (from byte {at});" in err
    assert "records 1 to 10 before it can still be trusted, to 2026-03-02 08:53:38 UTC" in err
    assert f"head {head[:8]};" in err
    assert f"witness {head[:8]} was the head at record 10 of 10" in err
    assert "witness 00000000 is the head of none of them" in err


def test_damage_at_the_start_leaves_nothing(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """When the first line is wrong, nothing is called whole."""
    journal.write_bytes(b"\n" + journal.read_bytes())
    code, _, err = verify(capsys, journal)

    assert code == 2
    assert "line 1: it is not JSON (from byte 0); nothing before it is whole" in err


@pytest.mark.parametrize("data", [b"", b'{"hash":'])
def test_an_empty_journal_is_not_whole(
    capsys: pytest.CaptureFixture[str], journal: Path, data: bytes
) -> None:
    """A file without a whole record is exit code 2."""
    journal.write_bytes(data)
    code, _, err = verify(capsys, journal)

    assert code == 2
    assert "holds no whole record" in err


def test_no_journal_is_named(capsys: pytest.CaptureFixture[str], journal: Path) -> None:
    """A name that is no file, or a folder, is one line."""
    assert "no such journal" in verify(capsys, journal.with_suffix(".none"))[2]
    assert "not a file" in verify(capsys, journal.parent)[2]


def _swap_calls(lines: list[Record]) -> list[Record]:
    """Confirm before the line that is confirmed."""
    return [lines[0], lines[2], lines[1], *lines[3:]]


def _back(lines: list[Record]) -> list[Record]:
    return [*lines[:5], dataclasses.replace(lines[5], monotonic=0.5), *lines[6:]]


def _stranger(lines: list[Record]) -> list[Record]:
    return [*lines[:5], dataclasses.replace(lines[5], session="other"), *lines[6:]]


def _opened_twice(lines: list[Record]) -> list[Record]:
    again = dataclasses.replace(lines[0], session=lines[-1].session, monotonic=1e6)
    return [*lines, again]


def _recovered(payload: Mapping[str, Any]) -> Changed:
    return lambda lines: [
        *lines[:16],
        dataclasses.replace(lines[16], payload=payload),
        *lines[17:],
    ]


@pytest.mark.parametrize(
    ("change", "line", "what"),
    [
        (_swap_calls, 2, "record 'line_confirmed' at"),
        (lambda lines: [*lines[:3], *lines[4:]], 4, "record 'line_confirmed' at"),
        (_opened_twice, 36, "record 'case_opened' at"),
        (_back, 6, "the steady clock went back within a session"),
        (_stranger, 6, "a session begins without the journal's own record of it"),
        (lambda lines: lines[16:], 1, "the journal begins with a record of its own"),
        (_recovered({}), 17, "it does not say what was recovered"),
        (_recovered({"bytes": True, "copy": None}), 17, "it does not say what was recovered"),
        (_recovered({"bytes": 4, "copy": 7}), 17, "it does not say what was recovered"),
    ],
)
def test_a_chain_that_is_whole_may_still_be_impossible(
    capsys: pytest.CaptureFixture[str], journal: Path, change: Changed, line: int, what: str
) -> None:
    """All hashes fit, and yet the events, sessions or clocks cannot be: the first such line."""
    journal.write_bytes(chained(change(records(journal))))
    code, _, err = verify(capsys, journal)

    assert code == 2
    assert f"line {line}: {what}" in err
    assert "cannot be trusted" not in err


@pytest.mark.parametrize(
    ("wall", "what"),
    [
        ("yesterday", "its wall time is no time"),
        ("0001-01-01T00:00:00+23:00", "its wall time is no time"),
        ("2026-01-01T08:00:00", "its wall time has no time zone"),
    ],
)
def test_a_wall_time_has_to_be_one(
    capsys: pytest.CaptureFixture[str], journal: Path, wall: str, what: str
) -> None:
    """A time of day that cannot be read is damage."""
    journal.write_bytes(with_fields(records(journal)[0], wall=wall))
    code, _, err = verify(capsys, journal)

    assert code == 2
    assert what in err


def test_sessions_are_told_apart_by_their_own_records(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """A recovery and what follows it are one session; a new clock begins with each."""
    lines = records(journal)
    assert [record.kind for record in lines[16:18]] == [RECOVERED, RESUMED]
    for _ in range(2):
        Journal.open(journal, CODEC, clock=FakeClock(), session="same").close()
    code, out, _ = verify(capsys, journal)

    assert code == 0
    assert "session 3 record 36, " in out
    assert "session 4 record 37, " in out


# Witnesses


@pytest.mark.parametrize("number", [1, 20, 35])
def test_digits_that_people_wrote_down_are_found(
    capsys: pytest.CaptureFixture[str], journal: Path, number: int
) -> None:
    """The head of any moment is found, as digits or as words, with its record and time."""
    lines = records(journal)
    head = lines[number - 1].hash
    said = (digits(head).upper(), spoken(head).title())
    code, out, _ = verify(capsys, journal, "--witness", said[0], "--witness", said[1])

    assert code == 0
    time = lines[number - 1].wall[:19].replace("T", " ")
    line = f"witness   {digits(head)} was the head at record {number} of 35, {time} UTC\n"
    assert out.count(line) == 2


def test_digits_of_another_file_are_exit_code_2(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """A witness that fits no record is told after the lines of the whole journal."""
    code, out, err = verify(capsys, journal, "--witness", "5e551b5b", "--witness", "deadbeef")

    assert code == 2
    assert "; whole\n" in out
    assert "witness   deadbeef is the head of none of them" in out
    assert "no record's hash begins with the witness deadbeef;" in err


def test_only_a_witness_shows_a_journal_that_was_written_anew(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """Whoever computes all hashes again passes as whole; digits on paper do not fit any more."""
    lines = records(journal)
    stored = {**lines[0].payload, "title": "Another one"}
    journal.write_bytes(chained([dataclasses.replace(lines[0], payload=stored), *lines[1:]]))

    assert verify(capsys, journal)[0] == 0
    assert verify(capsys, journal, "--witness", "5e551b5b")[0] == 2


def test_only_a_witness_shows_records_cut_off_at_the_end(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """Whole records that are missing at the end leave a whole chain, without the later head."""
    lines = journal.read_bytes().splitlines(keepends=True)
    journal.write_bytes(b"".join(lines[:-3]))

    assert verify(capsys, journal)[0] == 0
    assert verify(capsys, journal, "--witness", "5e551b5b")[0] == 2


def test_words_that_are_no_digits_are_refused(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """A witness that cannot be one is told before anything is read."""
    code, out, err = verify(capsys, journal, "--witness", "five golf")

    assert (code, out) == (2, "")
    assert "'golf' is neither a hexadecimal digit nor the word for one" in err
