"""One recording of a class: heard and judged, in whatever process an engine runs it.

    Job ─▶ graded ─▶ Marked      picklable, and nothing is kept here but the recogniser

A worker process loads the recogniser once. A recording that a worker cannot see on its own disk is
sent with its job, and is then in memory only wherever the system has files without a name.
"""

import hashlib
import os
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import voicecount
from voicecount.drill.attempt import Attempt, Said
from voicecount.drill.engines import OutOfReach
from voicecount.drill.hearing import WRONG_PER_THOUSAND, hear_recording
from voicecount.drill.judge import judge
from voicecount.drill.judgement import Judgement
from voicecount.drill.load import Loaded
from voicecount.errors import RecordingError
from voicecount.hear.port import Recogniser
from voicecount.rehearse.store import hearing_version
from voicecount.words.graph import Grammar

if TYPE_CHECKING:
    from voicecount.hear.embedded.adapter import EmbeddedRecogniser

Ear = Callable[[float], Recogniser]
"""Loads a recogniser that may be wrong in so many numbers of a thousand; known by its name."""

_HEARS = ("hear", "sound", "words", "drill/hearing.py", "drill/attempt.py")
"""Where the code lies that an attempt depends on."""
_LOCK = threading.Lock()
"""A worker of a cluster may have threads; a recogniser hears one utterance at a time."""
_LOADED: list["EmbeddedRecogniser"] = []
"""The weights of this process, once they are there."""


@dataclass(frozen=True)
class Job:
    """A recording with all that is needed to hear and judge it."""

    path: Path
    recording: str
    """SHA-256 of the file, in hex."""
    loaded: Loaded
    grammar: Grammar
    said: tuple[Said, ...]
    cues_known: bool
    ear: Ear
    sound: bytes | None = None
    """The file itself, for a worker that cannot see it."""


@dataclass(frozen=True)
class Marked:
    """What was heard and what came of it."""

    attempt: Attempt
    judgement: Judgement


def graded(job: Job) -> Marked:
    """Hear and judge a recording. Raises RecordingError without the path, and OutOfReach."""
    with _reached(job) as path:
        try:
            with _LOCK:
                attempt = hear_recording(
                    path,
                    job.loaded,
                    job.ear(WRONG_PER_THOUSAND),
                    job.grammar,
                    said=job.said,
                    cues_known=job.cues_known,
                )
        except RecordingError as error:
            raise RecordingError(str(error).removeprefix(f"{path}: ")) from None
    attempt = _timeless(attempt)
    return Marked(attempt, judge(attempt, job.loaded.drill, job.loaded.sheet))


def _timeless(attempt: Attempt) -> Attempt:
    """Leave out how long the machine took: the same recording gives the same result everywhere."""
    sayings = (replace(one, heard=replace(one.heard, latency_ms=0.0)) for one in attempt.sayings)
    return replace(attempt, sayings=tuple(sayings))


def with_sound(job: Job) -> Job:
    """Give a job with its recording inside. Raises RecordingError."""
    try:
        sound = job.path.read_bytes()
    except OSError as error:
        raise RecordingError(f"cannot be read ({error.strerror or error})") from None
    if hashlib.sha256(sound).hexdigest() != job.recording:
        raise RecordingError("it was changed meanwhile; grade the folder again")
    return replace(job, sound=sound)


def embedded(wrong_per_thousand: float) -> Recogniser:
    """Load the default recogniser once in a process, with one thread. Raises ModelError."""
    from voicecount.hear.embedded.adapter import EmbeddedRecogniser  # noqa: PLC0415 - slow

    if not _LOADED:
        _LOADED.append(EmbeddedRecogniser.load(threads=1))
    return replace(_LOADED[0], wrong_per_thousand=wrong_per_thousand)


@cache
def hearing_program() -> str:
    """Give the version of all code and weights that an attempt depends on."""
    return f"{_sources(*_HEARS)} {hearing_version()}"


@cache
def program() -> str:
    """Give the version of all code and weights; the same on every machine that works together."""
    return f"voicecount {voicecount.__version__} {_sources('')} {hearing_version()}"


def _sources(*places: str) -> str:
    root = Path(voicecount.__file__).parent
    found = hashlib.sha256()
    for place in places:
        path = root / place
        for file in sorted(path.rglob("*.py")) if path.is_dir() else [path]:
            found.update(file.relative_to(root).as_posix().encode() + b"\0" + file.read_bytes())
    return found.hexdigest()[:16]


@contextmanager
def _reached(job: Job) -> Iterator[Path]:
    """Give a path of the very recording; OutOfReach where it is not on this machine."""
    if job.sound is not None:
        with _unnamed(job.sound) as path:
            yield path
        return
    try:
        with job.path.open("rb") as file:
            same = hashlib.file_digest(file, "sha256").hexdigest() == job.recording
    except OSError:
        same = False
    if not same:
        raise OutOfReach("it was changed or taken away meanwhile; grade the folder again")
    yield job.path


@contextmanager
def _unnamed(sound: bytes) -> Iterator[Path]:
    """Give a path of some bytes; nothing is left of it, not even by a kill, where Linux runs."""
    if hasattr(os, "memfd_create"):
        handle = os.memfd_create("recording")
        try:
            with os.fdopen(handle, "wb", closefd=False) as file:
                file.write(sound)
            yield Path(f"/proc/self/fd/{handle}")
        finally:
            os.close(handle)
        return
    with tempfile.TemporaryDirectory() as folder:  # pragma: no cover - other systems
        path = Path(folder) / "recording"
        path.write_bytes(sound)
        yield path
