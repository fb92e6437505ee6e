"""Which recordings of a folder are whose: by their names, and nothing is guessed.

    FOLDER/STUDENT.DRILL.flac, STUDENT.DRILL.2.flac      beside each other
    FOLDER/STUDENT/DRILL.flac, DRILL.2.flac              a folder for each student
    FOLDER/STUDENT.flac, STUDENT.2.flac                  one drill for all, named by ``--drill``
    FOLDER/STUDENT/TIME-DRILL/sound.flac                 attempts that ``voicecount drill`` kept

Beside a recording, ``X.said.json`` holds what the partner said, and when.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from voicecount.drill.store import MARK, SAID, AttemptsError, check_code, read_kept
from voicecount.errors import UsageError

SOUNDS = frozenset({".wav", ".flac", ".ogg"})
OTHER_SOUNDS = frozenset(
    {".aac", ".aif", ".aiff", ".amr", ".m4a", ".mp3", ".mp4", ".opus", ".webm", ".wma", ".3gp"}
)
"""Recordings that somebody may have handed in and that are not taken: they are told, not lost."""
_BOTH = 2
"""Parts of a name that tells student and drill."""


@dataclass(frozen=True)
class Handed:
    """One recording that was handed in."""

    student: str
    """The student's code."""
    drill: str
    """The drill's name, or the path of its file."""
    take: int
    """1 for the first attempt."""
    path: Path
    file: str
    """The path as seen from the folder, for people."""
    said: Path | None = None
    """The file with the partner's times, where there is one."""
    digest: str | None = None
    """Of a kept attempt: the SHA-256 of drill and sheet that it was made with."""


@dataclass(frozen=True)
class NotTaken:
    """A file that is not graded, and why."""

    file: str
    why: str


@dataclass(frozen=True)
class Found:
    """What lies in a folder."""

    handed: tuple[Handed, ...]
    """By student, drill, attempt and file."""
    not_taken: tuple[NotTaken, ...]


def find(folder: Path, drill: str | None = None) -> Found:
    """Look for recordings in a folder and in its students' folders.

    ``drill`` is the one drill of all files whose name tells only the student. Raises UsageError
    where the folder cannot be read.
    """
    try:
        entries = sorted(folder.iterdir())
    except OSError as error:
        raise UsageError(
            f"{folder}: cannot look into the folder ({error.strerror or error}); name the folder "
            "that holds the recordings"
        ) from None
    found = [one for entry in entries for one in _entry(folder, entry, drill)]
    handed = [one for one in found if isinstance(one, Handed)]
    kept = sorted((one for one in handed if one.digest is not None), key=lambda one: one.file)
    handed = [one for one in handed if one.digest is None] + _numbered(kept)
    handed.sort(key=lambda one: (one.student, Path(one.drill).stem, one.take, one.file))
    return Found(tuple(handed), tuple(one for one in found if isinstance(one, NotTaken)))


def _entry(folder: Path, entry: Path, drill: str | None) -> Iterator[Handed | NotTaken]:
    if entry.name.startswith("."):
        return
    if not entry.is_dir():
        yield from _file(folder, entry, None, drill)
        return
    try:
        inside = sorted(entry.iterdir())
    except OSError as error:
        yield NotTaken(entry.name, f"this folder cannot be read ({error.strerror or error})")
        return
    for one in inside:
        if one.is_dir():
            if (one / MARK).is_file():
                yield _kept(folder, one)
        elif not one.name.startswith("."):
            yield from _file(folder, one, entry.name, drill)


def _file(
    folder: Path, path: Path, home: str | None, drill: str | None
) -> Iterator[Handed | NotTaken]:
    """Read a file's name; what is no sound is passed over in silence."""
    file = str(path.relative_to(folder))
    suffix = path.suffix.lower()
    if suffix in OTHER_SOUNDS:
        yield NotTaken(file, f"a {suffix} file; hand in a WAV, FLAC or OGG file")
    if suffix not in SOUNDS:
        return
    if not path.is_file():
        yield NotTaken(file, "no file that can be opened; put the recording itself there")
        return
    said = path.with_name(f"{path.stem}.said.json")
    try:
        student, named, take = _parts(path.stem, home, drill)
        check_code(student)
    except (AttemptsError, ValueError) as error:
        yield NotTaken(file, str(error))
        return
    yield Handed(student, named, take, path, file, said if said.is_file() else None)


def _parts(stem: str, home: str | None, drill: str | None) -> tuple[str, str, int]:
    """Give student, drill and attempt that a name tells. Raises ValueError, one line."""
    parts = stem.split(".")
    take = 1
    if len(parts) > 1 and parts[-1].isascii() and parts[-1].isdigit():
        take = int(parts.pop()[:9])
    if home is not None:
        parts.insert(0, home)
    if len(parts) == 1 and drill is not None:
        return parts[0], drill, take
    if len(parts) != _BOTH or not all(parts):
        form = "DRILL or DRILL.2" if home is not None else "STUDENT.DRILL or STUDENT.DRILL.2"
        only = "" if drill is not None else "; with --drill NAME a file may be called STUDENT"
        raise ValueError(f"its name does not tell whose it is and of which drill: {form}{only}")
    if drill is not None and parts[1] != Path(drill).stem:
        raise ValueError(f'its name tells the drill "{parts[1]}", and --drill another one')
    return parts[0], drill if drill is not None else parts[1], take


def _kept(folder: Path, place: Path) -> Handed | NotTaken:
    file = str(place.relative_to(folder))
    try:
        kept = read_kept(place)
    except AttemptsError as error:
        return NotTaken(file, str(error).removeprefix(f"{place}").lstrip("/:, "))
    if not kept.sound.is_file():
        return NotTaken(file, "a kept attempt without its sound; it was broken off")
    said = place / SAID
    head = kept.head
    return Handed(
        *(head.student, head.drill, 1, kept.sound, str(kept.sound.relative_to(folder))),
        said=said if said.is_file() else None,
        digest=head.digest,
    )


def _numbered(kept: list[Handed]) -> list[Handed]:
    """Give kept attempts their numbers by time, with which their folders' names begin."""
    seen: dict[tuple[str, str], int] = {}
    numbered = []
    for one in kept:
        key = (one.student, one.drill)
        seen[key] = seen.get(key, 0) + 1
        numbered.append(
            Handed(*(one.student, one.drill, seen[key], one.path, one.file, one.said, one.digest))
        )
    return numbered
