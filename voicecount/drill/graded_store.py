"""What was graded, kept at once: one file for each recording, so that a stop loses nothing.

    FOLDER/.voicecount-graded/.voicecount-graded     says that this program made the folder
    FOLDER/.voicecount-graded/STUDENT.KEY.json       an attempt and its judgement
    FOLDER/.voicecount-graded/made.json              which pages and tables were made, and where

KEY is made of the recording, the partner's times, what was listened for, and the program that
heard. So a recording is not heard again for another rubric: it is only judged anew.
"""

import contextlib
import hashlib
import json
import re
from dataclasses import dataclass
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from voicecount.drill.attempt import Said
from voicecount.drill.grade import Job, Marked, hearing_program, program
from voicecount.drill.hearing import WRONG_PER_THOUSAND
from voicecount.drill.judge import judge
from voicecount.drill.load import Loaded
from voicecount.errors import VoicecountError
from voicecount.keep.whole import write_whole
from voicecount.words.graph import Grammar

PLACE = ".voicecount-graded"
"""The folder of the results inside the folder of recordings."""
MARK = ".voicecount-graded"
MADE = "made.json"
_TOLD = "Made by voicecount drill grade. Remove it all with: voicecount drill forget FOLDER\n"
_OURS = re.compile(
    r"\.?[a-z0-9-]{1,32}\.[0-9a-f]{32}\.json(?:\.[A-Za-z0-9_]+)?\Z"
    rf"|\.(?:{re.escape(MARK)}|{re.escape(MADE)})\.[A-Za-z0-9_]+\Z"
)
"""A result, or what a kill in the middle of writing left of it; see ``keep/whole.py``."""
_LARGEST = 50_000_000


class GradedError(VoicecountError):
    """Results cannot be kept or removed."""


@dataclass(frozen=True)
class _File:
    """What one file holds."""

    student: str
    recording: str
    """SHA-256 of the recording, in hex."""
    judged: str
    """SHA-256 of drill, sheet and program, in hex."""
    marked: Marked


_FILE = TypeAdapter(_File)
_MADE = TypeAdapter(dict[Path, str])


def against(loaded: Loaded) -> str:
    """Give the SHA-256 of a drill and its sheet, in hex."""
    parts = (loaded.drill.model_dump_json(), loaded.sheet.model_dump_json())
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


class GradedStore:
    """The results of one folder of recordings. Damaged ones are as if they were not there."""

    def __init__(self, place: Path) -> None:
        self.place = place

    def begin(self) -> None:
        """Make the folder, or see that it is one of ours or empty. Raises GradedError."""
        mark = self.place / MARK
        try:
            self.place.mkdir(parents=True, exist_ok=True, mode=0o700)
            if mark.is_file():
                return
            if any(self.place.iterdir()):
                raise GradedError(
                    f"{self.place}: holds other files; name an empty folder, or a new one, by --to"
                )
            write_whole(mark, _TOLD)
        except OSError as error:
            raise _unusable(self.place, error) from None

    def take(self, student: str, job: Job) -> Marked | None:
        """Give what was graded of a recording; judged anew where drill or judge are others."""
        try:
            with self._path(student, job).open("rb") as file:
                found = _FILE.validate_json(file.read(_LARGEST + 1))
        except (OSError, ValidationError):
            return None
        if found.judged == _judged(job):
            return found.marked
        attempt = found.marked.attempt
        marked = Marked(attempt, judge(attempt, job.loaded.drill, job.loaded.sheet))
        self.keep(student, job, marked)
        return marked

    def keep(self, student: str, job: Job, marked: Marked) -> None:
        """Keep a result whole. Raises GradedError, which leaves all others as they are."""
        path = self._path(student, job)
        try:
            write_whole(path, _FILE.dump_json(_File(student, job.recording, _judged(job), marked)))
        except OSError as error:
            raise _unusable(self.place, error) from None

    def made(self) -> tuple[Path, ...]:
        """Give the pages and tables that were made and are still as they were made."""
        try:
            with (self.place / MADE).open("rb") as file:
                told = _MADE.validate_json(file.read(_LARGEST + 1))
        except (OSError, ValidationError):
            return ()
        return tuple(path for path, digest in told.items() if _digest(path) == digest)

    def note_made(self, path: Path, content: bytes) -> None:
        """Remember a page or a table, so that it can be forgotten too. Raises GradedError."""
        told = {one: _digest(one) for one in self.made()}
        told[path.resolve()] = hashlib.sha256(content).hexdigest()
        try:
            write_whole(self.place / MADE, _MADE.dump_json(told))
        except OSError as error:
            raise _unusable(self.place, error) from None

    def _path(self, student: str, job: Job) -> Path:
        return self.place / f"{student}.{_key(job)}.json"


def forget_graded(place: Path, student: str | None = None) -> tuple[Path, ...]:
    """Remove the results in a folder, or those of one student, and nothing else; gives the files.

    ``place`` is ``FOLDER/.voicecount-graded``, or what ``--to`` named. A folder that is not ours,
    or not there, is left as it is. Raises GradedError where a file cannot be removed.
    """
    mark = place / MARK
    gone: list[Path] = []
    try:
        if place.is_symlink() or not mark.is_file():
            return ()
        ours = sorted(file for file in place.iterdir() if _OURS.match(file.name))
        if student is None:
            ours += [file for file in (place / MADE, mark) if file.is_file()]
        else:
            ours = [file for file in ours if file.name.lstrip(".").startswith(f"{student}.")]
        for file in ours:
            file.unlink()
            gone.append(file)
    except OSError as error:
        raise GradedError(
            f"{error.filename or place}: cannot be removed ({error.strerror or error}); "
            f"{len(gone)} files are gone; make it writable, and forget again"
        ) from None
    with contextlib.suppress(OSError):  # other people's files keep it
        place.rmdir()
    return tuple(gone)


def _digest(path: Path) -> str:
    """Give the SHA-256 of a file; empty where it is not there."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def _key(job: Job) -> str:
    """Give what an attempt depends on, as 32 hex digits."""
    parts = (job.recording, _said(job.said), job.cues_known, _grammar(job.grammar))
    ear = f"{job.ear.__module__}.{job.ear.__qualname__} {WRONG_PER_THOUSAND}"
    text = json.dumps([*parts, ear, hearing_program()])
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _judged(job: Job) -> str:
    return hashlib.sha256(f"{against(job.loaded)} {program()}".encode()).hexdigest()


def _said(said: tuple[Said, ...]) -> list[tuple[str, str, float, float]]:
    return [(one.cue, one.words, one.start, one.end) for one in said]


def _grammar(grammar: Grammar) -> str:
    """Give the digest of a grammar, the same in every process: sets have no order."""
    parts = (grammar.arcs, grammar.start, sorted(grammar.finals), grammar.names, grammar.sounds)
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def _unusable(place: Path, error: OSError) -> GradedError:
    return GradedError(
        f"{place}: cannot be written ({error.strerror or type(error).__name__}); make room, or "
        "name another folder by --to"
    )
