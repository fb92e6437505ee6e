"""``voicecount drill``: list, judge a recording, make a page anew, forget."""

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from voicecount.commands.drill_table import drills_table, kept_table, show_judgement
from voicecount.commands.inputs import load_drill_grammar, load_recogniser, progress
from voicecount.drill.attempt import Attempt, Said
from voicecount.drill.class_forget import forget_class, is_class
from voicecount.drill.hearing import hear_recording, heard_with
from voicecount.drill.judge import judge as judged
from voicecount.drill.judgement import Judgement
from voicecount.drill.load import FOLDER as SHIPPED
from voicecount.drill.load import Loaded, load_drill, shipped
from voicecount.drill.past import Past
from voicecount.drill.store import (
    FOLDER,
    MARK,
    NOBODY,
    SAID,
    Attempts,
    AttemptsError,
    Head,
    Kept,
    State,
    check_code,
    judgement_json,
    read_kept,
    read_said,
)
from voicecount.drill.summary import summary
from voicecount.drill.tape import copied, mend
from voicecount.errors import UsageError
from voicecount.keep.clock import Clock, SystemClock
from voicecount.show.console import console, notice, printable
from voicecount.sound.files import probe


@dataclass(frozen=True)
class Whose:
    """Whose attempt it is, and where it is kept."""

    student: str | None = None
    """A code; None for nobody in particular."""
    to: Path | None = None
    """The folder of attempts; None for the usual one."""

    def attempts(self) -> Attempts:
        """Give the attempts of that folder."""
        return Attempts(self.to or FOLDER)

    def begun(self, loaded: Loaded, clock: Clock | None = None) -> Kept:
        """Make the folder of a new attempt. Raises AttemptsError."""
        name = loaded.name if loaded.path.parent == SHIPPED else str(loaded.path.resolve())
        now = (clock or SystemClock()).wall()
        title, digest = loaded.drill.title, loaded.digest
        return self.attempts().new(Head.begun(self.code, name, title, digest, now))

    @property
    def code(self) -> str:
        """The code. Raises AttemptsError where it is none."""
        return check_code(NOBODY if self.student is None else self.student)


def list_(folder: Path | None = None, student: str | None = None) -> None:
    """Show the drills that ship, or the attempts of a folder."""
    if folder is None and student is None:
        console().print(drills_table([load_drill(path) for path in shipped()]))
        return
    place = folder or FOLDER
    if student is not None:
        check_code(student)
    if not place.is_dir():
        raise UsageError(f"{place}: there is no such folder; do a drill first, or name another one")
    console().print(kept_table(Attempts(place).all(student)))


def judge(drill: str, recording: Path, whose: Whose, *, as_json: bool) -> None:
    """Judge a recording that was handed in, and keep it as an attempt."""
    loaded = load_drill(drill)
    whose.code  # noqa: B018 - a wrong code is told before anything is heard
    said = cues_of(recording)
    attempt = _hear(recording, loaded, said, shown=not as_json)
    kept = whose.begun(loaded)
    copied(recording, kept.sound)
    if said is not None:
        kept.keep_said(said)
    kept.keep_attempt(attempt)
    finish(kept, loaded, attempt, whose.attempts(), as_json=as_json)


def page(folder: Path) -> None:
    """Judge an attempt anew and make its page; one that was broken off is heard first."""
    kept = read_kept(folder)
    loaded = load_drill(_named(kept.head.drill))
    if loaded.digest != kept.head.digest:
        notice(f"{loaded.path}: the drill or its sheet was changed since this attempt")
    if kept.state is State.RUNS:
        raise AttemptsError(f"{folder}: its drill goes on; make the page when it has ended")
    if kept.state is State.BROKEN_OFF:
        seconds = mend(kept.sound)
        notice(f"{folder}: was broken off; {seconds:.0f} s of it are judged")
        kept.keep_attempt(_hear(kept.sound, loaded, kept.said(), shown=True))
    attempts = Attempts(kept.path.parent.parent)
    finish(kept, loaded, kept.attempt(), attempts, as_json=False)


def forget(folder: Path, student: str | None, *, recordings: bool = False) -> None:
    """Remove the attempts and results of one student, or all, and say what is gone.

    What was handed in to a class is removed with ``recordings`` only.
    """
    gone: list[Path] = []
    of_class = recordings or is_class(folder)
    if of_class:
        code = None if student is None else check_code(student)
        gone += forget_class(folder, code, recordings=recordings)
    if not of_class or (folder / MARK).is_file():
        gone += Attempts(folder).forget(student)
    out = console()
    for path in gone:
        out.print(f"removed {printable(str(path))}", markup=False, soft_wrap=True)
    whose = "" if student is None else f" of {student}"
    out.print(f"{len(gone)} files{whose} removed from {printable(str(folder))}", markup=False)
    if folder.is_dir() and student is None:
        notice(f"{folder}: other files lie there, and stay")


def finish(
    kept: Kept, loaded: Loaded, attempt: Attempt, attempts: Attempts, *, as_json: bool
) -> str:
    """Judge an attempt, keep and show everything; gives the summary to be spoken."""
    drill, sheet = loaded.drill, loaded.sheet
    judgement = judged(attempt, drill, sheet)
    kept.keep_judgement(judgement)
    made = _page(kept, loaded, attempt, judgement, past(attempts, kept))
    short = summary(judgement, drill, sheet)
    if as_json:
        print(judgement_json(judgement), end="")  # noqa: T201 - this is the output
        notice(f"page: {made}")
        return short
    out = console()
    out.print()
    show_judgement(judgement, drill, sheet, out)
    out.print(f"\n{printable(short)}", markup=False, soft_wrap=True)
    out.print(f"Page: {printable(str(made))}", markup=False, soft_wrap=True)
    return short


def past(attempts: Attempts, kept: Kept) -> list[Past]:
    """Give the student's attempts before this one that were judged; damaged ones are told."""
    found = []
    for one in attempts.all(kept.head.student):
        earlier = (one.head.when, one.path.name) < (kept.head.when, kept.path.name)
        if not earlier or one.state is not State.JUDGED:
            continue
        try:
            judgement = one.judgement()
        except AttemptsError as error:
            notice(str(error))
            continue
        found.append(Past(one.head.when, one.head.title, judgement.score, judgement.marks))
    return found


def cues_of(recording: Path) -> tuple[Said, ...] | None:
    """Read the times of the partner's words that lie beside a recording; None without any."""
    beside = recording.with_name(f"{recording.name}.said.json")
    if beside.is_file():
        return read_said(beside)
    ours = recording.with_name(SAID)
    if recording.with_name(MARK).is_file() and ours.is_file():
        return read_said(ours)
    return None


def _hear(recording: Path, loaded: Loaded, said: Sequence[Said] | None, *, shown: bool) -> Attempt:
    seconds = probe(recording).seconds
    grammar = load_drill_grammar(loaded)
    recogniser = load_recogniser("embedded", grammar, heard_with(loaded.sheet.policy))
    with progress(recording.name, seconds, shown=shown and sys.stderr.isatty()) as done:
        return hear_recording(
            recording,
            loaded,
            recogniser,
            grammar,
            said=tuple(said or ()),
            cues_known=said is not None,
            tell=done,
        )


def _page(
    kept: Kept, loaded: Loaded, attempt: Attempt, judgement: Judgement, before: Sequence[Past]
) -> Path:
    from voicecount.drill.page import attempt_page  # noqa: PLC0415 - draws, slow to load

    sound = kept.sound if kept.sound.is_file() else None
    head = kept.head
    text = attempt_page(
        judgement, attempt, loaded, student=head.student, made=head.when, sound=sound, before=before
    )
    return kept.keep_page(text)


def _named(drill: str) -> str | Path:
    """Give what a mark says of its drill as it is loaded: a name of ours, or a path."""
    return Path(drill) if Path(drill).is_absolute() else drill
