"""Attempts on disk: what is kept, what is refused, and what is removed."""

import errno
import os
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from voicecount.drill.attempt import Attempt, Said, Saying
from voicecount.drill.judgement import (
    Fault,
    Finding,
    Judgement,
    Mark,
    Measured,
    NotHeard,
    Number,
    Result,
    StepJudged,
)
from voicecount.drill.model import Criterion
from voicecount.drill.store import (
    ATTEMPT,
    FILES,
    MARK,
    ROOT_MARK,
    Attempts,
    AttemptsError,
    Head,
    Kept,
    State,
    check_code,
    read_kept,
)
from voicecount.hear.heard import Heard, Outcome, Word
from voicecount.keep import whole
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning

NOW = datetime(2026, 3, 2, 8, 0, 7, 250_000, tzinfo=UTC)
SAID = (Said("scene", "A table.", 0.0, 1.25), Said("clip.read_back", "Two towel clips.", 4.0, 5.5))
MEANING = Meaning(Form.RUN, "clip", (1, 2))
HEARD = Heard(
    *(0, 2.0, 3.5, Outcome.ACCEPTED, MEANING, "towel clip one two"),
    words=(Word("one", 2.5, 2.75),),
    margin=3.5,
)
UNCLEAR = Heard(0, 6.0, 6.5, Outcome.UNSURE, None, "", reason=Reason.WEAK_MATCH)
ATTEMPT_ = Attempt(8.0, (Saying(HEARD, -20.5, 31.0, (-21.0,)), Saying(UNCLEAR, -30.0, 12.0)), SAID)
JUDGEMENT = Judgement(
    (StepJudged("clip", Result.FAULTY, 2.0, 3.5, "towel clip one two", (Number(1, 2.5, 2.75),)),),
    (Finding(Fault.TOO_FEW, 2.0, 3.5, "clip", "clip", None, (2,), 3),),
    (NotHeard(6.0, 6.5, "weak_match"),),
    Measured(60.0, 2, 0.1, None, 31.0, None),
    (Mark(Criterion.NUMBERS, 2.0, 0, 1), Mark(Criterion.EVENTS, 1.0, 0, 0)),
)


def begun(folder: Path, student: str = "anna-1", drill: str = "first_steps") -> Kept:
    """Begin an attempt."""
    return Attempts(folder).new(Head.begun(student, drill, "First steps", "ab12", NOW))


def test_what_was_kept_is_read_back_as_it_was(tmp_path: Path) -> None:
    """Words, times, meanings, findings and marks come back equal."""
    kept = begun(tmp_path / "attempts")
    kept.keep_said(SAID)
    kept.keep_attempt(ATTEMPT_)
    kept.keep_judgement(JUDGEMENT)
    kept.keep_page("<p>\ud800</p>")
    (found,) = Attempts(tmp_path / "attempts").all()

    assert found == kept
    assert found.head.when == "2026-03-02T08:00:07+00:00"
    assert found.said() == SAID
    assert found.attempt() == ATTEMPT_
    assert found.judgement() == JUDGEMENT
    assert found.page.read_text() == "<p>?</p>"


def test_the_state_tells_how_far_an_attempt_has_come(tmp_path: Path) -> None:
    """Running in another process or here, broken off, heard, judged."""
    kept = begun(tmp_path / "attempts")
    with kept.running():
        assert kept.state is State.RUNS
    states = [kept.state]
    kept.keep_attempt(ATTEMPT_)
    states.append(kept.state)
    kept.keep_judgement(JUDGEMENT)

    assert [*states, kept.state] == [State.BROKEN_OFF, State.HEARD, State.JUDGED]
    assert kept.said() == ()


def test_attempts_are_given_by_student_and_time(tmp_path: Path) -> None:
    """Two of one second have folders of their own; a folder that is not there has none."""
    folder = tmp_path / "attempts"
    attempts = Attempts(folder)
    assert attempts.all() == ()
    first, second = begun(folder), begun(folder)
    other = begun(folder, "ben")
    early = attempts.new(
        Head.begun("ben", "/x/My Drill.yaml", "Mine", "cd", NOW.replace(year=2025))
    )

    assert first.path != second.path
    assert attempts.all("anna-1") == (first, second)
    assert attempts.all("ben") == (early, other)
    assert attempts.all()[0] == early
    assert early.path.name == "2025-03-02T08-00-07-my-drill"


@pytest.mark.parametrize(
    "code", ["", "..", "../x", "a/b", "Anna", "a b", "a.b", "x" * 33, "é", "a\n", "/etc", "a\\b"]
)
def test_a_code_cannot_be_a_path(tmp_path: Path, code: str) -> None:
    """Anything but small letters, digits and '-' is refused before a folder is touched."""
    with pytest.raises(AttemptsError, match="no code for a student"):
        begun(tmp_path / "attempts", code)
    for refused in (Attempts(tmp_path).all, Attempts(tmp_path).forget):
        with pytest.raises(AttemptsError, match="no code for a student"):
            refused(code)

    assert list(tmp_path.iterdir()) == []
    assert check_code("a-9") == "a-9"


def test_a_folder_of_other_files_is_not_used(tmp_path: Path) -> None:
    """Attempts go into a folder of their own; an empty one will do."""
    (tmp_path / "thesis.txt").write_text("mine")
    with pytest.raises(AttemptsError, match="other files"):
        begun(tmp_path)
    (tmp_path / "empty").mkdir()
    begun(tmp_path / "empty")

    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["thesis.txt"]


def test_only_its_owner_can_read_an_attempt(tmp_path: Path) -> None:
    """Folders and files are private."""
    kept = begun(tmp_path / "attempts")
    kept.keep_attempt(ATTEMPT_)

    for path in (kept.path, kept.path.parent, kept.path / ATTEMPT, kept.path / MARK):
        assert path.stat().st_mode & 0o077 == 0


def test_a_full_disk_is_one_line_and_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither a half file nor a lost one."""
    kept = begun(tmp_path / "attempts")
    kept.keep_attempt(ATTEMPT_)

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(whole.os, "fsync", full)
    for again in (
        lambda: kept.keep_attempt(Attempt(1.0, ())),
        lambda: kept.keep_judgement(JUDGEMENT),
        lambda: begun(tmp_path / "attempts"),
        lambda: begun(tmp_path / "others"),
    ):
        with pytest.raises(AttemptsError, match="No space left on device") as told:
            again()
        assert len(str(told.value).splitlines()) == 1
    assert kept.attempt() == ATTEMPT_
    assert sorted(path.name for path in kept.path.iterdir()) == [MARK, ATTEMPT]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
def test_the_disk_of_these_tests_can_be_full() -> None:
    """The fault above is what a real full device gives."""
    with pytest.raises(OSError, match="No space") as told, Path("/dev/full").open("wb", 0) as file:
        file.write(b"x")
    assert told.value.errno == errno.ENOSPC


def test_a_folder_without_rights_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Making and listing tell where, and why."""
    folder = tmp_path / "attempts"
    kept = begun(folder)

    def denied(*_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", "x")

    monkeypatch.setattr(Path, "mkdir", denied)
    with pytest.raises(AttemptsError, match="Permission denied"):
        begun(folder)
    monkeypatch.setattr(Path, "unlink", denied)
    with pytest.raises(AttemptsError, match=r"cannot be removed \(Permission denied\)"):
        Attempts(folder).forget()
    monkeypatch.setattr(Path, "iterdir", denied)
    with pytest.raises(AttemptsError, match="cannot be read"):
        Attempts(folder).all()
    monkeypatch.setattr(Path, "open", denied)
    with pytest.raises(AttemptsError, match="cannot be read"):
        kept.attempt()
    monkeypatch.setattr(os, "open", denied)
    with pytest.raises(AttemptsError, match="Permission denied"), kept.running():
        pass
    assert kept.state is State.BROKEN_OFF


@pytest.mark.parametrize("data", [b"", b"{", b"[]", b'{"seconds": "x"}', b"\xff\xfe"])
def test_a_damaged_file_is_one_line(tmp_path: Path, data: bytes) -> None:
    """The file is named, and what to do."""
    kept = begun(tmp_path / "attempts")
    (kept.path / ATTEMPT).write_bytes(data)
    (kept.path / MARK).write_bytes(data)

    for read in (kept.attempt, lambda: read_kept(kept.path)):
        with pytest.raises(AttemptsError, match="damaged or not written") as told:
            read()
        assert len(str(told.value).splitlines()) == 1
    with pytest.raises(AttemptsError, match="broken off before"):
        kept.judgement()


def test_a_mark_cannot_name_another_place(tmp_path: Path) -> None:
    """A student's code in a mark is checked as well; any other folder is refused."""
    kept = begun(tmp_path / "attempts")
    mark = kept.path / MARK
    mark.write_text(mark.read_text().replace("anna-1", "../../x"))
    with pytest.raises(AttemptsError, match="no code for a student"):
        read_kept(kept.path)
    with pytest.raises(AttemptsError, match="no attempt of a drill"):
        read_kept(tmp_path)


def test_forgetting_removes_our_own_files_and_says_which(tmp_path: Path) -> None:
    """One student's, or all; with the leftovers of a kill, and the folders that become empty."""
    folder = tmp_path / "attempts"
    for student in ("anna-1", "anna-1", "ben"):
        kept = begun(folder, student)
        for name in FILES:
            (kept.path / name).write_bytes(b"x")
        (kept.path / f".{ATTEMPT}.k3b_x9").write_bytes(b"half")
    gone = Attempts(folder).forget("anna-1")

    assert len(gone) == 2 * (len(FILES) + 2)
    assert not any(path.exists() for path in gone)
    assert [path.name for path in folder.iterdir() if path.is_dir()] == ["ben"]
    Attempts(folder).forget()
    assert not folder.exists()


def test_forgetting_leaves_other_peoples_files(tmp_path: Path) -> None:
    """Files, folders and links of others stay, and what they lead to."""
    folder, elsewhere = tmp_path / "attempts", tmp_path / "elsewhere"
    kept = begun(folder)
    elsewhere.mkdir()
    shutil.copy(kept.path / MARK, elsewhere / MARK)
    (elsewhere / ATTEMPT).write_text("theirs")
    mine = kept.path / "notes.txt"
    mine.write_text("mine")
    (folder / "marks.ods").write_text("mine")
    (folder / "carl").symlink_to(tmp_path)
    (kept.path.parent / "linked").symlink_to(elsewhere)
    (kept.path / "sound.flac").symlink_to(elsewhere / ATTEMPT)
    Attempts(folder).forget()

    assert mine.read_text() == "mine"
    assert (folder / "marks.ods").read_text() == "mine"
    assert sorted(path.name for path in elsewhere.iterdir()) == [MARK, ATTEMPT]
    assert (elsewhere / ATTEMPT).read_text() == "theirs"
    assert not (kept.path / "sound.flac").is_symlink()


def test_a_folder_without_our_mark_is_not_touched(tmp_path: Path) -> None:
    """Naming the wrong folder removes nothing."""
    kept = begun(tmp_path / "attempts")
    (tmp_path / "attempts" / ROOT_MARK).unlink()
    with pytest.raises(AttemptsError, match="nothing in it is removed"):
        Attempts(tmp_path / "attempts").forget()
    with pytest.raises(AttemptsError, match="nothing in it is removed"):
        Attempts(tmp_path / "nowhere").forget()

    assert (kept.path / MARK).is_file()


def test_a_drill_that_goes_on_is_not_forgotten(tmp_path: Path) -> None:
    """Nothing at all is removed meanwhile."""
    kept, other = begun(tmp_path / "attempts"), begun(tmp_path / "attempts", "ben")
    with kept.running(), pytest.raises(AttemptsError, match="goes on"):
        Attempts(tmp_path / "attempts").forget()

    assert (other.path / MARK).is_file()


def test_a_student_that_is_a_link_is_refused(tmp_path: Path) -> None:
    """An attempt is never written through a link to somewhere else."""
    folder = tmp_path / "attempts"
    begun(folder)
    (tmp_path / "elsewhere").mkdir()
    (folder / "ben").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(AttemptsError, match="a link"):
        begun(folder, "ben")

    assert list((tmp_path / "elsewhere").iterdir()) == []


KILLED = """
import os, sys
from pathlib import Path
from voicecount.drill.attempt import Attempt
from voicecount.drill.store import read_kept
from voicecount.keep import whole
whole.os.fsync = lambda _: os.kill(os.getpid(), 9)
read_kept(Path(sys.argv[1])).keep_attempt(Attempt(1.0, ()))
"""


def test_a_kill_in_the_middle_of_writing_leaves_the_old_file(tmp_path: Path) -> None:
    """What was kept before is whole; what the kill left is removed with the rest."""
    kept = begun(tmp_path / "attempts")
    kept.keep_attempt(ATTEMPT_)
    ended = subprocess.run([sys.executable, "-c", KILLED, str(kept.path)], check=False)
    left = [path.name for path in kept.path.iterdir() if path.name.startswith(f".{ATTEMPT}.")]

    assert ended.returncode == -9
    assert len(left) == 1
    assert kept.attempt() == ATTEMPT_
    Attempts(tmp_path / "attempts").forget()
    assert not (tmp_path / "attempts").exists()
