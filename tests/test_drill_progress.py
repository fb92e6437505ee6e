"""Progress over attempts: what is told and drawn is what was judged; the command that makes it."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from drill_attempts_made import faulty, given, nothing
from test_report_html import Reader

from voicecount.commands.drill_progress import progress
from voicecount.drill.judgement import Mark
from voicecount.drill.model import Criterion
from voicecount.drill.past import Past
from voicecount.drill.progress import panels, progress_page
from voicecount.drill.store import Attempts, AttemptsError, Head
from voicecount.errors import UsageError
from voicecount.report.files import ReportError

MADE = "2026-11-26T18:50:00+00:00"


def past(day: int, right: int, drill: str = "First count", student: str = "", of: int = 10) -> Past:
    marks = (Mark(Criterion.ORDER, 1.0, right, of), Mark(Criterion.PACE, 2.0, 10 - right, 10))
    return Past(f"2026-11-{day:02d}T10:00:00+00:00", drill, right / 10, marks, student)


def words(text: str) -> str:
    return " ".join(Reader(text).text().split())


def test_the_table_holds_every_attempt_in_the_order_of_time() -> None:
    read = words(progress_page([past(3, 9), past(1, 4), past(2, 6)], made=MADE, student="k7"))
    rows = re.findall(r"(\d) 2026-11-0(\d) 10:00:00 UTC (\d+) % (\d+) % \((\d+) of 10\)", read)
    assert rows == [
        ("1", "1", "40", "40", "4"),
        ("2", "2", "60", "60", "6"),
        ("3", "3", "90", "90", "9"),
    ]
    assert "Score: first 40 %, last 90 %, best 90 %" in read
    assert "Pace: first 60 %, last 10 %, best 60 %" in read
    assert "3 attempts" in read
    assert "For practice and teaching only" in read


def test_drills_and_students_stand_apart() -> None:
    both = [past(1, 4, student="a"), past(2, 6, student="b"), past(3, 5, "Other", "a")]
    read = words(progress_page(both, made=MADE))
    for title in ("a · First count", "a · Other", "b · First count"):
        assert title in read


def test_nothing_one_and_many_can_be_drawn() -> None:
    none = Past(MADE, "First count", None, ())
    for found in (
        [none],
        [past(1, 4)],
        [past(1, 4, of=0)],
        [past(1 + at % 28, at % 11) for at in range(300)],
    ):
        one = panels("p", found)
        ET.fromstring(one.svg)  # noqa: S314 - made by the program under test
        assert one == panels("p", found)
        assert one.alternative.endswith(".")
    assert "Score: nothing was judged" in panels("p", [none]).alternative
    assert "Order of the sheet: nothing was judged" in panels("p", [past(1, 4, of=0)]).alternative
    assert "No attempt was judged yet" in words(progress_page([], made=MADE))


def test_a_page_of_progress_runs_and_loads_nothing() -> None:
    hostile = past(1, 4, "<script>alert(1)</script>", '"><img src=x>')
    text = progress_page([hostile], made=MADE)
    read = Reader(text)
    assert not {"script", "link", "img", "audio"} & {tag for tag, _ in read.elements}
    assert "default-src &#39;none&#39;" in text
    assert "script-src &#39;none&#39;" in text
    assert "<script>alert(1)</script>" in read.text()
    assert not [one for _, attributes in read.elements for one in attributes if one == "style"]


def kept(folder: Path, student: str, minute: int, *, judged: bool = True) -> None:
    now = datetime(2026, 11, 26, 18, minute, tzinfo=UTC)
    one = Attempts(folder).new(Head.begun(student, "made", "First count", "0" * 64, now))
    judgement, attempt = faulty(given())
    one.keep_attempt(attempt)
    if judged:
        one.keep_judgement(judgement)


def test_the_command_makes_a_page_from_a_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "attempts"
    kept(folder, "k7", 1)
    kept(folder, "k7", 2)
    kept(folder, "m2", 3)
    kept(folder, "m2", 4, judged=False)
    progress(folder, "k7", None)
    read = words(Path("progress-k7.html").read_text("utf-8"))
    assert "Progress of k7" in read
    assert "2 attempts" in read
    assert "m2" not in read
    told = capsys.readouterr()
    assert told.out.strip() == "progress-k7.html"
    assert told.err == ""
    progress(folder, None, tmp_path / "all.html")
    read = words((tmp_path / "all.html").read_text("utf-8"))
    assert "k7 · First count" in read
    assert "m2 · First count" in read
    assert "3 attempts" in read
    assert "1 of 4 attempts are not judged" in capsys.readouterr().err
    progress(folder, "k7", None)  # its own page is made anew


def test_the_command_says_what_to_do_and_spares_the_files_of_others(tmp_path: Path) -> None:
    folder = tmp_path / "attempts"
    with pytest.raises(UsageError, match="no attempt of k7 that was judged"):
        progress(folder, "k7", None)
    with pytest.raises(UsageError, match="no attempt that was judged"):
        progress(folder, None, None)
    with pytest.raises(AttemptsError, match="no code for a student"):
        progress(folder, "../k7", None)
    kept(folder, "k7", 1)
    theirs = tmp_path / "notes.html"
    theirs.write_text("mine")
    with pytest.raises(ReportError, match="it is left as it is"):
        progress(folder, "k7", theirs)
    assert theirs.read_text() == "mine"
    for place in (tmp_path, tmp_path / "none" / "page.html"):
        with pytest.raises(ReportError, match="no file in a folder that is there"):
            progress(folder, "k7", place)


def test_an_attempt_without_anything_judged_has_no_score() -> None:
    judgement = replace(nothing(given())[0], marks=())
    assert judgement.score is None
    read = words(progress_page([Past(MADE, "First count", judgement.score, ())], made=MADE))
    assert "UTC –" in read
