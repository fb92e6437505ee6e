"""A class is graded to its end, whatever single recordings are like and whenever it is stopped."""

import csv
import json
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from voicecount.cli import main
from voicecount.commands import drill_grade
from voicecount.commands.drill_grade import ClassError, GradeOptions, grade
from voicecount.drill import grade as grade_module
from voicecount.drill.class_csv import FINDINGS_HEADER, HEADER
from voicecount.drill.class_forget import forget_class, is_class
from voicecount.drill.graded_store import MADE, MARK, PLACE, GradedError, GradedStore
from voicecount.errors import UsageError, VoicecountError
from voicecount.testing.ear import quick
from voicecount.testing.engine import HereEngine

SPEECH = Path(__file__).parent.parent / "audio_fixtures" / "caesarean.flac"
DRILL = "skin_alone"
ONE = GradeOptions(workers=1)


def record(path: Path, first: float, seconds: float = 5.0) -> Path:
    """Put a stretch of the demo recording there."""
    sound, rate = soundfile.read(
        SPEECH, start=int(first * 16000), frames=int(seconds * 16000), dtype="float32"
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, np.atleast_2d(sound.T)[0], rate)
    return path


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Record a class of three, with four attempts."""
    folder = tmp_path_factory.mktemp("class")
    record(folder / f"a1.{DRILL}.flac", 2)
    record(folder / f"a1.{DRILL}.2.flac", 9)
    record(folder / f"b2.{DRILL}.wav", 20)
    record(folder / "c3" / f"{DRILL}.flac", 31)
    return folder


@pytest.fixture
def folder(recorded: Path, tmp_path: Path) -> Path:
    """Give a fresh copy of the class."""
    return Path(shutil.copytree(recorded, tmp_path / "autumn"))


@pytest.fixture(autouse=True)
def _here(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Work in this process, unless a test is about processes: they are slow to start."""
    if "processes" not in request.fixturenames:
        monkeypatch.setattr(drill_grade, "LocalEngine", HereEngine)


@pytest.fixture
def processes() -> None:
    """Ask for worker processes as they are in life."""


def results(folder: Path) -> dict[str, str]:
    """Give the results as they are kept: file name and content."""
    place = folder / PLACE
    return {
        one.name: one.read_text("utf-8")
        for one in sorted(place.iterdir())
        if one.name not in {MARK, MADE}
    }


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.usefixtures("processes")
def test_a_class_is_graded_in_one_order_by_any_number_of_processes(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One process and two give the same, byte by byte, and in the same order."""
    printed = []
    for workers in (1, 2):
        grade(folder, GradeOptions(workers=workers, as_json=True, again=True), quick)
        printed.append((capsys.readouterr().out, results(folder)))
    assert printed[0] == printed[1]
    told = json.loads(printed[0][0])
    assert [(one["student"], one["attempt"]) for one in told["attempts"]] == [
        *(("a1", 1), ("a1", 2), ("b2", 1), ("c3", 1))
    ]
    assert told["attempts"][0]["seconds"] == 5.0
    assert told["attempts"][0]["recogniser"] == "quick recogniser of the tests"
    assert told["not_graded"] == []
    assert told["same_recording"] == []


def test_the_terminal_shows_one_row_for_each_attempt(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Student, drill, score, rows, what was not heard, and findings."""
    grade(folder, ONE, quick)
    shown = capsys.readouterr().out
    assert shown.splitlines()[0].split()[:4] == ["student", "drill", "attempt", "score"]
    assert "4 attempts of 3 students." in shown
    assert "safe" not in shown


def test_bad_recordings_are_told_after_the_rest_is_done(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Empty, text, cut short, unknown drill, bad times, no rights: each with its own reason."""
    (folder / f"d4.{DRILL}.wav").write_bytes(b"")
    (folder / f"e5.{DRILL}.wav").write_text("this is no sound\n")
    whole = record(folder / f"f6.{DRILL}.flac", 40)
    whole.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    record(folder / "g7.no_such_drill.flac", 2)
    (folder / f"b2.{DRILL}.said.json").write_text("{")
    with pytest.raises(ClassError, match="5 of 8 recordings were not graded"):
        grade(folder, ONE, quick)
    told = [line for line in capsys.readouterr().out.splitlines() if line.startswith("  ")]
    why = dict(
        line.strip().split(": ", 1) for line in told if ".flac: " in line or ".wav: " in line
    )
    assert "damaged" in why[f"b2.{DRILL}.wav"]
    assert why[f"d4.{DRILL}.wav"] == "an empty file; record it again"
    assert why[f"e5.{DRILL}.wav"].startswith("no sound that can be read")
    assert why[f"f6.{DRILL}.flac"].startswith("cut short or damaged")
    assert "no drill of this name" in why["g7.no_such_drill.flac"]
    assert len(results(folder)) == 3


def test_a_recording_without_rights_is_told(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is not read, and the rest is graded."""
    real = Path.open

    def refuse(self: Path, *arguments: Any, **names: Any) -> Any:
        if self.name == f"b2.{DRILL}.wav":
            raise PermissionError(13, "Permission denied")
        return real(self, *arguments, **names)

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(ClassError, match="1 of 4"):
        grade(folder, ONE, quick)
    assert "cannot be read (Permission denied); ask its owner" in capsys.readouterr().out


def test_a_second_run_hears_only_what_is_new(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What was graded is taken as it is; ``again`` hears all anew."""
    grade(folder, ONE, quick)
    before, shown = results(folder), capsys.readouterr().out
    asked = counted(monkeypatch)
    grade(folder, ONE, quick)
    assert (asked, results(folder), capsys.readouterr().out) == ([], before, shown)
    record(folder / f"d4.{DRILL}.flac", 50)
    grade(folder, ONE, quick)
    assert asked == [f"d4.{DRILL}.flac"]
    grade(folder, replace(ONE, again=True), quick)
    assert len(asked) == 6


def counted(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Give the list of the recordings that are handed to an engine from now on."""
    asked: list[str] = []

    class Counting(HereEngine):
        def map(self, work: Any, todo: Any, carry: Any = None) -> Iterator[Any]:
            asked.extend(job.path.name for job in todo)
            return super().map(work, todo, carry)

    monkeypatch.setattr(drill_grade, "LocalEngine", Counting)
    return asked


def test_another_rubric_needs_no_new_hearing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A drill of one's own lies beside the recordings; when it changes, all is judged anew."""
    from voicecount.drill.load import FOLDER  # noqa: PLC0415

    text = (FOLDER / f"{DRILL}.yaml").read_text("utf-8")
    sheet = next(line for line in text.splitlines() if line.startswith("sheet:")).split()[1]
    shutil.copy(FOLDER / sheet, folder)
    own = folder / f"{DRILL}.yaml"
    own.write_text(text)
    grade(folder, ONE, quick)
    before = results(folder)
    asked = counted(monkeypatch)
    own.write_text(text.replace("title: ", "title: Another "))
    grade(folder, replace(ONE, csv=folder / "class.csv"), quick)
    assert asked == []
    assert results(folder).keys() == before.keys()
    assert results(folder) != before
    assert rows(folder / "class.csv")[0]["title"].startswith("Another ")


def test_other_times_of_the_partner_are_heard_anew(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the partner said decides what is the student's."""
    grade(folder, ONE, quick)
    asked = counted(monkeypatch)
    said = [{"cue": "none", "words": "Go on.", "start": 0.0, "end": 0.4}]
    (folder / f"b2.{DRILL}.said.json").write_text(json.dumps(said))
    grade(folder, ONE, quick)
    assert asked == [f"b2.{DRILL}.wav"]


@pytest.mark.parametrize("damage", [b"", b"{}", b"\xff\xfe", b'{"student":"a1"'])
def test_a_damaged_result_is_made_anew(
    folder: Path, monkeypatch: pytest.MonkeyPatch, damage: bytes
) -> None:
    """It is as if it were not there."""
    grade(folder, ONE, quick)
    before = results(folder)
    (folder / PLACE / next(iter(before))).write_bytes(damage)
    asked = counted(monkeypatch)
    grade(folder, ONE, quick)
    assert len(asked) == 1
    assert results(folder) == before


def test_a_kill_in_the_middle_loses_nothing(folder: Path, tmp_path: Path) -> None:
    """Killed again and again, the class is graded in the end as if nothing had been."""
    for number in range(8):
        record(folder / f"d{number}.{DRILL}.flac", 3 + 6 * number)
    whole = Path(shutil.copytree(folder, tmp_path / "whole"))
    grade(whole, ONE, quick)
    script = tmp_path / "run.py"
    script.write_text(
        textwrap.dedent(
            f"""
            from pathlib import Path
            from voicecount.commands.drill_grade import GradeOptions, grade
            from voicecount.testing.ear import quick
            if __name__ == "__main__":
                grade(Path({str(folder)!r}), GradeOptions(workers=2), quick)
            """
        )
    )
    kept = []
    for wanted in (2, 5):
        with subprocess.Popen(
            [sys.executable, str(script)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as running:
            until = time.monotonic() + 200
            while len(list((folder / PLACE).glob("*.json"))) < wanted:
                assert time.monotonic() < until
                assert running.poll() is None
                time.sleep(0.005)
            running.send_signal(signal.SIGKILL)
        kept.append({name for name in results(folder) if not name.startswith(".")})
    assert 2 <= len(kept[0]) <= len(kept[1]) < 12
    assert kept[0] <= kept[1]
    subprocess.run([sys.executable, str(script)], check=True, capture_output=True, timeout=300)
    done = {name: text for name, text in results(folder).items() if not name.startswith(".")}
    assert done == results(whole)


def test_a_full_disk_is_told_with_what_was_kept(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line, and the same command goes on from there."""
    from voicecount.drill import graded_store  # noqa: PLC0415

    real = graded_store.write_whole
    written: list[Path] = []

    def full(path: Path, content: str | bytes) -> None:
        if len(written) == 3:
            raise OSError(28, "No space left on device")
        real(path, content)
        written.append(path)

    monkeypatch.setattr(graded_store, "write_whole", full)
    with pytest.raises(ClassError, match=r"No space left.*2 of 4 recordings are done and kept"):
        grade(folder, ONE, quick)
    assert len(results(folder)) == 2
    monkeypatch.setattr(graded_store, "write_whole", real)
    asked = counted(monkeypatch)
    grade(folder, ONE, quick)
    assert len(asked) == 2


def test_a_key_that_stops_it_is_told_with_what_was_kept(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The note says that the same command goes on."""
    real = GradedStore.keep

    def stop(self: GradedStore, *given: Any) -> None:
        real(self, *given)
        raise KeyboardInterrupt

    monkeypatch.setattr(GradedStore, "keep", stop)
    with pytest.raises(KeyboardInterrupt) as told:
        grade(folder, ONE, quick)
    assert "recordings are done and kept; the same command goes on" in told.value.__notes__[0]
    assert len(results(folder)) == 1


def test_results_can_be_kept_elsewhere(folder: Path, tmp_path: Path) -> None:
    """Inside a folder of recordings that may only be read nothing is needed but the page."""
    to, page = tmp_path / "to", tmp_path / "page.html"
    grade(folder, replace(ONE, to=to, page=page), quick)
    assert not (folder / PLACE).exists()
    assert not (folder / "class.html").exists()
    assert len([one for one in to.iterdir() if one.suffix == ".json"]) == 5
    assert page.read_text("utf-8").startswith("<!DOCTYPE html>")


def test_results_are_put_into_no_folder_of_others(folder: Path, tmp_path: Path) -> None:
    """A folder with other files is left as it is, and so is one that cannot be made."""
    (tmp_path / "theirs").mkdir()
    (tmp_path / "theirs" / "letter.txt").write_text("dear")
    with pytest.raises(GradedError, match="holds other files"):
        grade(folder, replace(ONE, to=tmp_path / "theirs"), quick)
    with pytest.raises(GradedError, match="cannot be written"):
        grade(folder, replace(ONE, to=tmp_path / "theirs" / "letter.txt"), quick)


def test_tables_have_a_row_for_each_recording_and_finding(folder: Path) -> None:
    """Their columns are those that are documented; what was not graded has its reason."""
    (folder / f"d4.{DRILL}.wav").write_bytes(b"")
    (folder / "=cmd().m4a").write_bytes(b"")
    table, found = folder / "class.csv", folder / "findings.csv"
    with pytest.raises(ClassError):
        grade(folder, replace(ONE, csv=table, csv_findings=found), quick)
    told = rows(table)
    assert tuple(told[0]) == HEADER
    assert [one["student"] for one in told] == ["a1", "a1", "b2", "c3", "d4", ""]
    assert told[4]["error"] == "an empty file; record it again"
    assert told[4]["score"] == ""
    assert told[5]["file"] == "'=cmd().m4a"
    assert told[0]["seconds"] == "5"
    findings = rows(found)
    assert tuple(findings[0]) == FINDINGS_HEADER
    assert len(findings) == sum(int(one["findings"] or 0) for one in told)
    assert table.read_bytes().count(b"\r\n") == len(told) + 1


def test_a_table_says_what_the_judge_says(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every number of the table stands in the judgement."""
    grade(folder, replace(ONE, csv=folder / "class.csv", as_json=True), quick)
    told = json.loads(capsys.readouterr().out)["attempts"]
    for row, one in zip(rows(folder / "class.csv"), told, strict=True):
        assert float(row["score"]) == pytest.approx(100 * one["score"], abs=0.051)
        for mark in one["judgement"]["marks"]:
            assert row[f"{mark['criterion']}_right"] == str(mark["right"])
            assert row[f"{mark['criterion']}_of"] == str(mark["of"])
        assert row["findings"] == str(len(one["judgement"]["findings"]))
        assert row["recording"] == one["recording"]


def test_the_same_recording_under_two_names_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Who hands in somebody else's recording is seen."""
    shutil.copy(folder / f"a1.{DRILL}.flac", folder / f"z9.{DRILL}.flac")
    grade(folder, ONE, quick)
    assert f"same recording: a1.{DRILL}.flac, z9.{DRILL}.flac" in capsys.readouterr().out


def test_no_file_of_others_is_written_over(folder: Path, tmp_path: Path) -> None:
    """It is seen before anything is graded; an earlier page of this command is written over."""
    letter = tmp_path / "letter.html"
    letter.write_text("dear")
    for options in (
        replace(ONE, page=letter),
        replace(ONE, csv=letter),
        replace(ONE, csv=folder),
        replace(ONE, page=tmp_path / "nowhere" / "page.html"),
        replace(ONE, csv=tmp_path / "a.csv", csv_findings=tmp_path / "a.csv"),
    ):
        with pytest.raises(UsageError):
            grade(folder, options, quick)
    assert letter.read_text() == "dear"
    assert not (folder / PLACE).exists()
    grade(folder, replace(ONE, csv=tmp_path / "b.csv"), quick)
    grade(folder, replace(ONE, csv=tmp_path / "b.csv"), quick)


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (GradeOptions(workers=0), "at least one process"),
        (GradeOptions(workers=2, cluster="tcp://here:1"), "leave it out beside --cluster"),
        (GradeOptions(drill="no_such_drill"), "no drill of this name"),
        (GradeOptions(cluster="nonsense://here"), "no Dask scheduler answers"),
    ],
)
def test_what_cannot_work_is_told_in_one_line(
    folder: Path, options: GradeOptions, why: str
) -> None:
    """Wrong options end everything at once."""
    with pytest.raises(VoicecountError, match=why) as told:
        grade(folder, options, quick)
    assert "\n" not in str(told.value)


def test_a_folder_without_recordings_is_told(tmp_path: Path) -> None:
    """One line says how they are to be called."""
    with pytest.raises(UsageError, match=r"called STUDENT\.DRILL"):
        grade(tmp_path, ONE, quick)


def test_a_recording_in_memory_is_heard_as_one_on_the_disk(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A worker that cannot see the file gets it sent, and nothing is left of it."""
    jobs = captured(folder, monkeypatch)
    job = jobs[f"b2.{DRILL}.wav"]
    sent = grade_module.with_sound(job)
    assert sent.sound is not None
    before = set(Path("/proc/self/fd").iterdir())
    here = grade_module.graded(job)
    (folder / f"b2.{DRILL}.wav").unlink()
    assert grade_module.graded(sent) == here
    assert set(Path("/proc/self/fd").iterdir()) == before
    with pytest.raises(grade_module.OutOfReach, match="grade the folder again"):
        grade_module.graded(job)
    with pytest.raises(VoicecountError, match="cannot be read"):
        grade_module.with_sound(job)
    record(folder / f"b2.{DRILL}.wav", 2)
    with pytest.raises(VoicecountError, match="changed meanwhile"):
        grade_module.with_sound(job)
    with pytest.raises(grade_module.OutOfReach):
        grade_module.graded(job)
    with pytest.raises(VoicecountError, match=r"^no sound that can be read"):
        grade_module.graded(replace(sent, sound=b"no sound"))


def captured(folder: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, grade_module.Job]:
    """Give the jobs of a folder, by their files."""
    jobs: dict[str, grade_module.Job] = {}

    class Capturing(HereEngine):
        def map(self, work: Any, todo: Any, carry: Any = None) -> Iterator[Any]:
            jobs.update({job.path.name: job for job in todo})
            return super().map(work, todo, carry)

    monkeypatch.setattr(drill_grade, "LocalEngine", Capturing)
    grade(folder, ONE, quick)
    return jobs


def test_the_program_has_one_version_in_every_process() -> None:
    """A worker of a cluster is compared by it."""
    asked = "from voicecount.drill.grade import program, hearing_program; print(program())"
    told = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == grade_module.program()
    assert grade_module.hearing_program() not in grade_module.program()


# Everything can be removed.


def test_everything_is_forgotten_with_one_call(folder: Path, tmp_path: Path) -> None:
    """Results, page and tables go; recordings only where it is said; other files never."""
    table = tmp_path / "class.csv"
    letter = folder / PLACE / "letter.txt"
    grade(folder, replace(ONE, csv=table), quick)
    letter.write_text("dear")
    assert is_class(folder)
    gone = forget_class(folder)
    assert {table.resolve(), (folder / "class.html").resolve()} <= {one.resolve() for one in gone}
    assert not any(one.exists() for one in gone)
    assert [one.name for one in (folder / PLACE).iterdir()] == ["letter.txt"]
    assert len(list(folder.rglob(f"*{DRILL}*"))) == 4
    assert not is_class(folder)
    assert forget_class(folder) == ()
    (folder / f"b2.{DRILL}.said.json").write_text("[]")
    assert len(forget_class(folder, recordings=True)) == 5
    assert list(folder.rglob(f"*{DRILL}*")) == []


def test_one_student_is_forgotten(folder: Path) -> None:
    """With the page, which tells of everybody; the rest is taken from its results again."""
    grade(folder, ONE, quick)
    gone = forget_class(folder, "a1", recordings=True)
    assert sorted(one.name.split(".")[0] for one in gone) == ["a1"] * 4 + ["class"]
    assert {name.split(".")[0] for name in results(folder)} == {"b2", "c3"}
    grade(folder, ONE, quick)
    assert len(results(folder)) == 2


def test_a_page_that_was_changed_by_hand_is_not_removed(folder: Path) -> None:
    """It is no longer what this program made."""
    grade(folder, ONE, quick)
    page = folder / "class.html"
    page.write_text("mine")
    forget_class(folder)
    assert page.read_text() == "mine"


def test_what_a_kill_left_half_is_forgotten_too(folder: Path) -> None:
    """Half a file has a name of its own."""
    grade(folder, ONE, quick)
    name = next(iter(results(folder)))
    for half in (f".{name}.x7_", f".{MADE}.abc", f".{MARK}.abc"):
        (folder / PLACE / half).write_text("half")
    forget_class(folder)
    assert not (folder / PLACE).exists()


def test_what_cannot_be_removed_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One line says where, and how far it came."""
    grade(folder, ONE, quick)

    def refuse(self: Path, missing_ok: bool = False) -> None:  # noqa: ARG001
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "unlink", refuse)
    with pytest.raises(GradedError, match="cannot be removed"):
        forget_class(folder)
    (folder / PLACE / MADE).write_text("{}")
    with pytest.raises(GradedError, match="cannot be removed"):
        forget_class(folder)


def test_made_files_are_noted_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the note cannot be written, it is told."""
    from voicecount.drill import graded_store  # noqa: PLC0415

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(graded_store, "write_whole", full)
    with pytest.raises(GradedError, match="No space left"):
        GradedStore(tmp_path).note_made(tmp_path / "page.html", b"")


def test_the_command_line_reaches_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder without recordings ends with 2 and one line."""
    assert main(["drill", "grade", str(tmp_path)]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_a_class_is_forgotten_by_one_command(folder: Path) -> None:
    """Results and pages go; what was handed in goes only where that is said."""
    grade(folder, ONE, quick)
    assert main(["drill", "forget", str(folder)]) == 0
    assert not is_class(folder)
    assert not (folder / "class.html").exists()
    handed_in = folder / f"a1.{DRILL}.flac"
    assert handed_in.exists()
    assert main(["drill", "forget", str(folder), "--student", "a1", "--recordings"]) == 0
    assert not handed_in.exists()
    assert (folder / f"b2.{DRILL}.wav").exists()


def test_forgetting_a_folder_of_others_is_refused(tmp_path: Path) -> None:
    """A folder in which nothing of this program lies is left alone."""
    (tmp_path / "mine.txt").write_text("mine")
    assert main(["drill", "forget", str(tmp_path)]) == 2
    assert main(["drill", "forget", str(tmp_path), "--student", "../x", "--recordings"]) == 2
    assert (tmp_path / "mine.txt").exists()
