"""Whose recording it is: told by its name, and never guessed."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from voicecount.drill.class_files import find
from voicecount.drill.store import MARK, Attempts, Head
from voicecount.errors import UsageError


def lay(folder: Path, *names: str) -> Path:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"sound")
    return folder


def told(folder: Path, drill: str | None = None) -> list[tuple[str, str, int, str]]:
    return [(one.student, one.drill, one.take, one.file) for one in find(folder, drill).handed]


def test_names_tell_student_drill_and_attempt(tmp_path: Path) -> None:
    """Beside each other or in a folder for each student, in one order."""
    lay(
        tmp_path,
        *("b7.skin_alone.2.flac", "b7.skin_alone.flac", "a-1.hip_closing.wav"),
        *("c/skin_alone.WAV", "c/skin_alone.10.ogg", "c/skin_alone.9.flac"),
    )
    assert told(tmp_path) == [
        ("a-1", "hip_closing", 1, "a-1.hip_closing.wav"),
        ("b7", "skin_alone", 1, "b7.skin_alone.flac"),
        ("b7", "skin_alone", 2, "b7.skin_alone.2.flac"),
        ("c", "skin_alone", 1, "c/skin_alone.WAV"),
        ("c", "skin_alone", 9, "c/skin_alone.9.flac"),
        ("c", "skin_alone", 10, "c/skin_alone.10.ogg"),
    ]
    assert find(tmp_path).not_taken == ()


def test_with_one_drill_for_all_the_name_is_the_student(tmp_path: Path) -> None:
    """A name that tells the drill too has to tell the same."""
    lay(tmp_path, "a.flac", "b.2.flac", "c.own.flac", "d.other.flac")
    assert told(tmp_path, "drills/own.yaml") == [
        ("a", "drills/own.yaml", 1, "a.flac"),
        ("b", "drills/own.yaml", 2, "b.2.flac"),
        ("c", "drills/own.yaml", 1, "c.own.flac"),
    ]
    (left,) = find(tmp_path, "drills/own.yaml").not_taken
    assert (left.file, left.why) == (
        "d.other.flac",
        'its name tells the drill "other", and --drill another one',
    )


def test_times_of_the_partner_lie_beside_the_recording(tmp_path: Path) -> None:
    """``X.said.json`` belongs to ``X``; it is no recording itself."""
    lay(
        tmp_path,
        "a.own.flac",
        "a.own.said.json",
        "a.own.2.flac",
        "a/own.3.wav",
        "a/own.3.said.json",
    )
    said = {one.take: one.said for one in find(tmp_path).handed}
    assert said == {
        1: tmp_path / "a.own.said.json",
        2: None,
        3: tmp_path / "a" / "own.3.said.json",
    }


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("interview.flac", "does not tell whose it is"),
        ("a.b.c.flac", "does not tell whose it is"),
        (".2.flac", None),
        ("a..flac", "does not tell whose it is"),
        ("Anna.own.flac", "no code for a student"),
        ("a b.own.flac", "no code for a student"),
        ("=cmd.own.flac", "no code for a student"),
        ("\u202eanna.own.flac", "no code for a student"),
        ("x" * 33 + ".own.flac", "no code for a student"),
        ("a.own.m4a", "hand in a WAV, FLAC or OGG file"),
        ("a.own.MP3", "hand in a WAV, FLAC or OGG file"),
        ("a/own.x.flac", "does not tell whose it is"),
        ("UP/own.flac", "no code for a student"),
        ("notes.txt", None),
        ("a.own.said.json", None),
        (".hidden/own.flac", None),
        ("a/deep/own.flac", None),
    ],
)
def test_a_name_that_tells_too_little_is_told_and_not_guessed(
    tmp_path: Path, name: str, why: str | None
) -> None:
    """A recording is told with the reason; what is none is passed over."""
    lay(tmp_path, name)
    found = find(tmp_path)
    assert found.handed == ()
    assert [(one.file, why is not None and why in one.why) for one in found.not_taken] == (
        [(name, True)] if why is not None else []
    )


def test_a_number_that_no_attempt_has_is_no_trouble(tmp_path: Path) -> None:
    """Digits of other scripts are no number; a number of any length is one."""
    lay(tmp_path, f"a.own.{'9' * 40}.flac", "a.own.٣.flac")
    assert [one[2] for one in told(tmp_path)] == [999_999_999]
    assert len(find(tmp_path).not_taken) == 1


def test_what_is_no_file_is_told(tmp_path: Path) -> None:
    """A link that leads nowhere, and a pipe that would wait for ever."""
    import os  # noqa: PLC0415

    (tmp_path / "a.own.flac").symlink_to(tmp_path / "nowhere")
    os.mkfifo(tmp_path / "b.own.wav")
    assert [one.file for one in find(tmp_path).not_taken] == ["a.own.flac", "b.own.wav"]


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    """One line, and what to do."""
    with pytest.raises(UsageError, match="name the folder that holds the recordings"):
        find(tmp_path / "nowhere")


def test_a_students_folder_without_rights_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The others are taken."""
    lay(tmp_path, "a/own.flac", "b/own.flac")
    real = Path.iterdir

    def refuse(self: Path) -> object:
        if self.name == "a":
            raise PermissionError(13, "Permission denied")
        return real(self)

    monkeypatch.setattr(Path, "iterdir", refuse)
    found = find(tmp_path)
    assert [one.student for one in found.handed] == ["b"]
    assert found.not_taken[0].why == "this folder cannot be read (Permission denied)"


def test_kept_attempts_are_taken_too(tmp_path: Path) -> None:
    """Those of ``voicecount drill``, numbered by their times; one without sound is told."""
    attempts = Attempts(tmp_path / "kept")
    for hour in (9, 8, 10):
        at = datetime(2026, 11, 26, hour, tzinfo=UTC)
        kept = attempts.new(Head.begun("a1", "skin_alone", "Alone", "d" * 64, at))
        if hour != 10:
            kept.sound.write_bytes(b"sound")
            kept.keep_said([])
    found = find(tmp_path / "kept")
    assert [(one.student, one.drill, one.take) for one in found.handed] == [
        ("a1", "skin_alone", 1),
        ("a1", "skin_alone", 2),
    ]
    assert "T08-" in found.handed[0].file
    assert all(one.said is not None and one.said.is_file() for one in found.handed)
    (left,) = found.not_taken
    assert left.why == "a kept attempt without its sound; it was broken off"


def test_a_damaged_kept_attempt_is_told(tmp_path: Path) -> None:
    """Its mark says nothing that could be read."""
    lay(tmp_path, f"a1/2026/{MARK}")
    (left,) = find(tmp_path).not_taken
    assert left.file == "a1/2026"
    assert "damaged" in left.why
