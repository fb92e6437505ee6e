"""Attempts on disk: a folder for each student, and in it one for each attempt.

    FOLDER/.voicecount-attempts              says that this program made the folder
    FOLDER/STUDENT/TIME-DRILL/.voicecount-attempt   who, which drill, when
                              said.json      the partner's words with their times
                              sound.flac     the student's sound
                              attempt.json   what was heard; missing where it was broken off
                              judgement.json, page.html

Every file but the sound is put in its place whole. Only these files are ever removed.
"""

import contextlib
import json
import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import Self, TypeVar

from pydantic import BaseModel, ConfigDict, StrictStr, TypeAdapter, ValidationError

from voicecount.drill.attempt import Attempt, Said
from voicecount.drill.judgement import Judgement
from voicecount.errors import VoicecountError
from voicecount.keep.files import SystemDisk
from voicecount.keep.whole import write_whole

FOLDER = Path("drill-attempts")
"""Where attempts are kept unless another folder is named, seen from where the command runs."""
ROOT_MARK = ".voicecount-attempts"
MARK = ".voicecount-attempt"
SAID, SOUND, ATTEMPT = "said.json", "sound.flac", "attempt.json"
JUDGEMENT, PAGE = "judgement.json", "page.html"
FILES = (SAID, SOUND, ATTEMPT, JUDGEMENT, PAGE)
"""Everything that an attempt may hold beside its mark."""
NOBODY = "student"
"""The code of a student who gave none."""

_MARKED = "Made by voicecount drill. Remove it all with: voicecount drill forget\n"
_CODE = re.compile(r"[a-z0-9-]{1,32}\Z")
_LARGEST = 50_000_000
_HALF = re.compile(rf"\.(?:{'|'.join(map(re.escape, (MARK, *FILES)))})\.[A-Za-z0-9_]+\Z")
"""What a kill in the middle of writing leaves; see ``keep/whole.py``."""

_Kept = TypeVar("_Kept")


class AttemptsError(VoicecountError):
    """Attempts cannot be kept, read or removed."""


def check_code(code: str) -> str:
    """Give a student's code as it is. Raises AttemptsError where it is none."""
    if not _CODE.match(code):
        raise AttemptsError(
            f"{code!r} is no code for a student; use 1 to 32 small letters, digits and '-'"
        )
    return code


class State(StrEnum):
    """How far an attempt has come."""

    RUNS = "runs"
    """Its drill is going on in another process."""
    BROKEN_OFF = "broken off"
    HEARD = "heard"
    """Kept, and not judged."""
    JUDGED = "judged"


class Head(BaseModel):
    """What the mark of an attempt says."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    version: int = 1
    student: StrictStr
    drill: StrictStr
    """Name of a shipped drill, or the file's path."""
    title: StrictStr
    digest: StrictStr
    """SHA-256 of drill and sheet, in hex."""
    when: StrictStr
    """ISO 8601, UTC, to the second."""

    @classmethod
    def begun(cls, student: str, drill: str, title: str, digest: str, now: datetime) -> Self:
        """Give the mark of an attempt that begins now."""
        when = now.astimezone(UTC).replace(microsecond=0).isoformat()
        return cls(student=student, drill=drill, title=title, digest=digest, when=when)


@dataclass(frozen=True)
class Kept:
    """The folder of one attempt, with what its mark says."""

    path: Path
    head: Head

    @property
    def sound(self) -> Path:
        """The student's sound."""
        return self.path / SOUND

    @property
    def page(self) -> Path:
        """The page of the attempt."""
        return self.path / PAGE

    @property
    def state(self) -> State:
        """How far it has come."""
        if (self.path / JUDGEMENT).is_file():
            return State.JUDGED
        if (self.path / ATTEMPT).is_file():
            return State.HEARD
        return State.RUNS if _is_locked(self.path / MARK) else State.BROKEN_OFF

    def keep_said(self, said: Sequence[Said]) -> None:
        """Keep the partner's words so far. Raises AttemptsError."""
        _put(self.path / SAID, _SAID.dump_json(tuple(said), indent=1))

    def keep_attempt(self, attempt: Attempt) -> None:
        """Keep what was heard. Raises AttemptsError."""
        _put(self.path / ATTEMPT, _ATTEMPT.dump_json(attempt, indent=1))

    def keep_judgement(self, judgement: Judgement) -> None:
        """Keep the judgement. Raises AttemptsError."""
        _put(self.path / JUDGEMENT, judgement_json(judgement).encode())

    def keep_page(self, page: str) -> Path:
        """Keep the page; gives its file. Raises AttemptsError."""
        _put(self.page, page.encode(errors="replace"))
        return self.page

    def said(self) -> tuple[Said, ...]:
        """Read the partner's words; none where nothing was kept. Raises AttemptsError."""
        path = self.path / SAID
        return read_said(path) if path.is_file() else ()

    def attempt(self) -> Attempt:
        """Read what was heard. Raises AttemptsError."""
        return _read(self.path / ATTEMPT, _ATTEMPT)

    def judgement(self) -> Judgement:
        """Read the judgement. Raises AttemptsError."""
        return _read(self.path / JUDGEMENT, _JUDGEMENT)

    @contextmanager
    def running(self) -> Iterator[None]:
        """Hold the attempt as one that goes on, as long as the block runs."""
        disk = SystemDisk()
        try:
            handle = disk.open(self.path / MARK)
        except OSError as error:
            raise _unusable(self.path / MARK, error) from None
        try:
            disk.lock(handle)
            yield
        finally:
            disk.close(handle)


class Attempts:
    """All attempts of a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def new(self, head: Head) -> Kept:
        """Make the folder of a new attempt. Raises AttemptsError.

        Nothing that is there is touched: a second attempt of the same second gets a name of its
        own.
        """
        check_code(head.student)
        stem = f"{re.sub('[^0-9T-]', '-', head.when[:19])}-{_short(Path(head.drill).stem)}"
        try:
            self._begin()
            home = self.folder / head.student
            home.mkdir(exist_ok=True, mode=0o700)
            if home.is_symlink():
                raise AttemptsError(f"{home}: a link and no folder; remove it, or use another code")
            place = _fresh(home, stem)
            write_whole(place / MARK, head.model_dump_json() + "\n")
        except OSError as error:
            raise _unusable(self.folder, error) from None
        return Kept(place, head)

    def all(self, student: str | None = None) -> tuple[Kept, ...]:
        """Give the attempts, of one student or of all, by their times. Raises AttemptsError.

        A folder that is not there has none.
        """
        if student is not None:
            check_code(student)
        found = [read_kept(place) for place in self._places(student)]
        return tuple(sorted(found, key=lambda kept: (kept.head.when, kept.path.name)))

    def forget(self, student: str | None = None) -> tuple[Path, ...]:
        """Remove the attempts of one student, or all; gives the files that were removed.

        Other people's files stay, and the folders that hold them. Raises AttemptsError where the
        folder was not made by this program, or where a file cannot be removed.
        """
        if student is not None:
            check_code(student)
        if not (self.folder / ROOT_MARK).is_file():
            raise AttemptsError(
                f"{self.folder}: no folder of drill attempts, so nothing in it is removed; name "
                f"the folder that holds {ROOT_MARK}"
            )
        places = self._places(student)
        running = [place for place in places if _is_locked(place / MARK)]
        if running:
            raise AttemptsError(f"{running[0]}: its drill goes on; end it, and forget again")
        gone: list[Path] = []
        try:
            for place in places:
                _remove(place, gone)
                _remove_empty(place.parent)
            if student is None:
                _unlink(self.folder / ROOT_MARK, gone)
                _remove_empty(self.folder)
        except OSError as error:
            where = error.filename or self.folder
            raise AttemptsError(
                f"{where}: cannot be removed ({_why(error)}); {len(gone)} files are gone; make it "
                "writable, and forget again"
            ) from None
        return tuple(gone)

    def _begin(self) -> None:
        """Make the folder, or see that it is one of ours or empty."""
        self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        mark = self.folder / ROOT_MARK
        if mark.is_file():
            return
        if any(self.folder.iterdir()):
            raise AttemptsError(
                f"{self.folder}: holds other files; name an empty folder, or a new one, by --to"
            )
        write_whole(mark, _MARKED)

    def _places(self, student: str | None) -> list[Path]:
        """Give the folders that hold our mark; links are not followed."""
        if not (self.folder / ROOT_MARK).is_file():
            return []
        try:
            homes = [self.folder / student] if student else sorted(self.folder.iterdir())
            return [
                place
                for home in homes
                if _CODE.match(home.name) and home.is_dir() and not home.is_symlink()
                for place in sorted(home.iterdir())
                if (place / MARK).is_file() and not place.is_symlink()
            ]
        except OSError as error:
            raise AttemptsError(
                f"{self.folder}: cannot be read ({_why(error)}); make it readable"
            ) from None


def read_kept(place: Path) -> Kept:
    """Read the mark of an attempt's folder. Raises AttemptsError."""
    mark = place / MARK
    if not mark.is_file():
        raise AttemptsError(f"{place}: no attempt of a drill; name a folder that holds {MARK}")
    head = _read(mark, TypeAdapter(Head))
    check_code(head.student)
    return Kept(place, head)


def read_said(path: Path) -> tuple[Said, ...]:
    """Read the times of the partner's words. Raises AttemptsError."""
    return _read(path, _SAID)


def judgement_json(judgement: Judgement) -> str:
    """Give a judgement as JSON text, with its score."""
    data = _JUDGEMENT.dump_python(judgement, mode="json")
    return json.dumps({"score": judgement.score, **data}, indent=1) + "\n"


_SAID = TypeAdapter(tuple[Said, ...])
_ATTEMPT = TypeAdapter(Attempt)
_JUDGEMENT = TypeAdapter(Judgement)


def _read(path: Path, kind: "TypeAdapter[_Kept]") -> _Kept:
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST + 1)
        return kind.validate_json(data)
    except FileNotFoundError:
        raise AttemptsError(
            f"{path}: there is no such file; the drill was broken off before it was written"
        ) from None
    except OSError as error:
        raise AttemptsError(f"{path}: cannot be read ({_why(error)}); make it readable") from None
    except ValidationError as error:
        first = error.errors(include_url=False, include_context=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"]) or "the whole"
        raise AttemptsError(
            f"{path}, {place}: damaged or not written by this version; judge the recording again"
        ) from None


def _put(path: Path, data: bytes) -> None:
    try:
        write_whole(path, data)
    except OSError as error:
        raise _unusable(path, error) from None


def _fresh(home: Path, stem: str) -> Path:
    """Make a folder that was not there before."""
    number = 1
    while True:
        place = home / (stem if number == 1 else f"{stem}-{number}")
        with contextlib.suppress(FileExistsError):
            place.mkdir(mode=0o700)
            return place
        number += 1


def _short(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or "drill"


def _is_locked(mark: Path) -> bool:
    disk = SystemDisk()
    try:
        handle = disk.open(mark)
    except OSError:
        return False
    try:
        return not disk.lock(handle)
    finally:
        disk.close(handle)


def _remove(place: Path, gone: list[Path]) -> None:
    """Remove our files of an attempt, its mark last, so that a stop can be taken up again."""
    halves = [file for file in place.iterdir() if _HALF.match(file.name)]
    for file in (*halves, *(place / name for name in FILES), place / MARK):
        _unlink(file, gone)
    _remove_empty(place)


def _unlink(file: Path, gone: list[Path]) -> None:
    if file.is_file() or file.is_symlink():
        file.unlink()
        gone.append(file)


def _remove_empty(folder: Path) -> None:
    with contextlib.suppress(OSError):
        os.rmdir(folder)  # noqa: PTH106 - fails where something is left, and that is meant


def _unusable(path: Path, error: OSError) -> AttemptsError:
    return AttemptsError(
        f"{path}: cannot be written ({_why(error)}); make room, or name another folder by --to"
    )


def _why(error: OSError) -> str:
    return error.strerror or type(error).__name__
