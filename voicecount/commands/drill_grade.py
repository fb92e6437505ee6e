"""``voicecount drill grade FOLDER``: the recordings of a class, all at once."""

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from voicecount.commands.inputs import load_drill_grammar, progress
from voicecount.drill.class_csv import FINDINGS_HEADER, HEADER, attempts_csv, findings_csv
from voicecount.drill.class_files import Handed, find
from voicecount.drill.class_result import ClassResult, Graded
from voicecount.drill.class_table import show
from voicecount.drill.document import MAKER
from voicecount.drill.engines import Engine, Failure, LocalEngine
from voicecount.drill.grade import Ear, Job, Marked, embedded, graded, program, with_sound
from voicecount.drill.graded_store import PLACE, GradedStore, against
from voicecount.drill.judgement import Judgement
from voicecount.drill.load import Loaded, load_drill
from voicecount.drill.steps import steps
from voicecount.drill.store import read_said
from voicecount.errors import UsageError, VoicecountError
from voicecount.keep.whole import write_whole
from voicecount.report.marks import visible
from voicecount.show.console import console
from voicecount.words.graph import Grammar

PAGE = "class.html"
"""The page inside the folder, unless another file is named."""

_GO_ON = "the same command goes on from there"


class ClassError(VoicecountError):
    """Something of a class could not be graded or written."""


@dataclass(frozen=True)
class GradeOptions:
    """What the command line asks for."""

    drill: str | None = None
    """The one drill of all recordings: a name or a file."""
    workers: int | None = None
    """Processes of this machine; all cores where nothing is said."""
    cluster: str | None = None
    """Address of a Dask scheduler."""
    csv: Path | None = None
    csv_findings: Path | None = None
    page: Path | None = None
    as_json: bool = False
    again: bool = False
    to: Path | None = None
    """Where results are kept, instead of inside the folder."""


def grade(folder: Path, options: GradeOptions, ear: Ear = embedded) -> None:
    """Grade the recordings of a folder, and go on where an earlier run was stopped.

    Raises ClassError after all is made where a recording could not be graded. ``ear`` loads the
    recogniser, in each worker.
    """
    engine = _engine(options)
    outputs = _Outputs(folder, options)
    if options.drill is not None:
        load_drill(_own(folder, options.drill))  # a wrong name ends it before anything is heard
    found = find(folder, options.drill)
    if not found.handed and not found.not_taken:
        raise UsageError(
            f"{folder}: there is no recording in it; put WAV, FLAC or OGG files there that are "
            "called STUDENT.DRILL, or name one drill for all by --drill"
        )
    store = GradedStore(options.to if options.to is not None else folder / PLACE)
    store.begin()
    course = _Class(folder, options, store, ear)
    done = course.run(found.handed, engine)
    result = ClassResult(
        visible(folder.resolve().name) or "a class",
        tuple(done),
        found.not_taken,
        {name: one for name, one in course.drills.items() if isinstance(one, Loaded)},
        engine.name,
    )
    outputs.write(result, store)
    if options.as_json:
        print(json.dumps(as_data(result), indent=2))  # noqa: T201 - this is the output
    else:
        show(console(), result)
    if result.bad:
        raise ClassError(
            f"{folder}: {len(result.bad)} of {len(result.graded) + len(result.not_taken)} "
            "recordings were not graded, each for the reason told above; the rest was; mend them "
            "and repeat the command, which grades only what is new"
        )


class _Class:
    """Grades what was handed in."""

    def __init__(self, folder: Path, options: GradeOptions, store: GradedStore, ear: Ear) -> None:
        self._folder = folder
        self._options = options
        self._store = store
        self._ear = ear
        self._grammars: dict[str, Grammar] = {}
        self.drills: dict[str, Loaded | str] = {}
        """By their names; why a drill cannot be used, where it cannot."""

    def run(self, handed: Sequence[Handed], engine: Engine) -> list[Graded]:
        """Give everything in the order in which it was handed over."""
        answers: list[Marked | str | None] = [None] * len(handed)
        jobs: list[tuple[int, Job]] = []
        digests = [""] * len(handed)
        for place, one in enumerate(handed):
            try:
                digests[place] = _digest(one.path)
                job = self._job(one, digests[place])
            except VoicecountError as error:
                answers[place] = str(error)
                continue
            kept = None if self._options.again else self._store.take(one.student, job)
            if kept is not None:
                answers[place] = kept
            else:
                jobs.append((place, job))
        ready, of = len(handed) - len(jobs), len(handed)
        try:
            with progress("grading", of, shown=True) as tell:
                tell(ready)
                for at, answer in self._map(engine, [job for _, job in jobs]):
                    place, job = jobs[at]
                    if isinstance(answer, Failure):
                        answers[place] = answer.why
                    else:
                        self._store.keep(handed[place].student, job, answer)
                        answers[place] = answer
                    ready += 1
                    tell(ready)
        except (KeyboardInterrupt, VoicecountError) as error:
            error.add_note(f"{ready} of {of} recordings are done and kept; {_GO_ON}")
            if isinstance(error, VoicecountError):
                raise ClassError("; ".join([str(error), *error.__notes__])) from None
            raise
        return [
            self._graded(one, digest, answer)
            for one, digest, answer in zip(handed, digests, answers, strict=True)
        ]

    @staticmethod
    def _map(engine: Engine, jobs: Sequence[Job]) -> Iterator[tuple[int, Marked | Failure]]:
        if jobs:
            yield from engine.map(graded, jobs, with_sound)

    def _job(self, one: Handed, recording: str) -> Job:
        loaded = self._drill(one.drill)
        said = read_said(one.said) if one.said is not None else ()
        has_cues = any(step.cues for step in steps(loaded.drill, loaded.sheet))
        return Job(
            *(one.path, recording, loaded, self._grammars[one.drill], said),
            cues_known=one.said is not None or not has_cues,
            ear=self._ear,
        )

    def _drill(self, name: str) -> Loaded:
        """Load a drill once: one of the folder's own, or one that ships. Raises VoicecountError."""
        if name not in self.drills:
            try:
                loaded = load_drill(_own(self._folder, name))
                self._grammars[name] = load_drill_grammar(loaded)
                self.drills[name] = loaded
            except VoicecountError as error:
                self.drills[name] = str(error)
        found = self.drills[name]
        if isinstance(found, str):
            raise ClassError(found)
        return found

    def _graded(self, one: Handed, digest: str, answer: Marked | str | None) -> Graded:
        loaded = self.drills.get(one.drill)
        title, drill_digest = "", ""
        if isinstance(loaded, Loaded):
            title, drill_digest = loaded.drill.title, against(loaded)
        if not isinstance(answer, Marked):
            why = answer or "the work ended before it was graded"
            return Graded(one, title, digest, drill_digest, error=why)
        attempt = answer.attempt
        return Graded(
            *(one, title, digest, drill_digest, attempt.seconds, attempt.recogniser),
            judgement=answer.judgement,
        )


class _Outputs:
    """The files that are made: looked at before anything is graded."""

    def __init__(self, folder: Path, options: GradeOptions) -> None:
        page = options.page if options.page is not None else folder / PAGE
        self._wanted: list[tuple[Path, str, Callable[[ClassResult], str]]] = [
            (page, f'<meta name="generator" content="{MAKER}">', _page)
        ]
        if options.csv is not None:
            self._wanted.append((options.csv, _begins(HEADER), attempts_csv))
        if options.csv_findings is not None:
            self._wanted.append((options.csv_findings, _begins(FINDINGS_HEADER), findings_csv))
        taken: set[Path] = set()
        for path, ours, _ in self._wanted:
            _check_free(path, ours)
            if path.resolve() in taken:
                raise UsageError(f"{path}: it is named twice; give each file a name of its own")
            taken.add(path.resolve())

    def write(self, result: ClassResult, store: GradedStore) -> None:
        """Put each file in its place whole. Raises ClassError."""
        for path, _, make in self._wanted:
            content = make(result).encode(errors="replace")
            store.note_made(path, content)
            try:
                write_whole(path, content)
            except OSError as error:
                raise ClassError(
                    f"{path}: cannot be written ({error.strerror or type(error).__name__}); what "
                    "was graded is kept; make room, and repeat the command"
                ) from None


def _own(folder: Path, name: str) -> Path | str:
    """Give the folder's own drill of a name, where there is one; else the name."""
    own = folder / f"{name}.yaml"
    return own if own.is_file() else name


def _check_free(path: Path, ours: str) -> None:
    """Raise UsageError where a file is in the way that this program did not make."""
    try:
        if not path.parent.is_dir():
            raise UsageError(f"{path}: there is no folder {path.parent}; make it first")
        if not path.exists() and not path.is_symlink():
            return
        if path.is_file() and ours in path.read_text("utf-8", "replace")[:4000]:
            return
    except OSError as error:
        raise UsageError(
            f"{path}: cannot be looked at ({error.strerror or error}); name another file"
        ) from None
    raise UsageError(
        f"{path}: there is something already that this command did not make; it is left as it is; "
        "name another file"
    )


def _begins(header: Sequence[str]) -> str:
    return ",".join(f'"{name}"' for name in header)


def _page(result: ClassResult) -> str:
    from voicecount.drill.class_page import class_page  # noqa: PLC0415 - draws, slow to load

    return class_page(result, made=datetime.now(UTC).replace(microsecond=0).isoformat())


def _engine(options: GradeOptions) -> Engine:
    if options.workers is not None and options.workers < 1:
        raise UsageError(f"--workers {options.workers}: at least one process has to work")
    if options.cluster is None:
        return LocalEngine(options.workers)
    if options.workers is not None:
        raise UsageError("--workers is for this machine; leave it out beside --cluster")
    from voicecount.drill.cluster import DaskEngine  # noqa: PLC0415 - slow to load

    return DaskEngine(options.cluster, program)


def _digest(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise ClassError(f"cannot be read ({error.strerror or error}); ask its owner") from None


def as_data(result: ClassResult) -> dict[str, Any]:
    """Give a class as plain JSON values."""
    return {
        "class": result.name,
        "attempts": [_attempt(one, judgement) for one, judgement in result.judged],
        "not_graded": [{"file": one.file, "why": one.why} for one in result.bad],
        "same_recording": [list(files) for files in result.alike],
    }


def _attempt(one: Graded, judgement: Judgement) -> dict[str, Any]:
    from pydantic import TypeAdapter  # noqa: PLC0415

    return {
        "student": one.handed.student,
        "drill": one.handed.drill,
        "title": one.title,
        "attempt": one.handed.take,
        "file": one.handed.file,
        "recording": one.recording,
        "drill_and_sheet": one.against,
        "seconds": one.seconds,
        "recogniser": one.recogniser,
        "score": judgement.score,
        "judgement": TypeAdapter(Judgement).dump_python(judgement, mode="json"),
    }
