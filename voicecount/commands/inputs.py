"""What a command listens to, and with which recogniser."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from voicecount.commands.script import ScriptRecogniser, read_script
from voicecount.drill.load import Loaded
from voicecount.drill.vocabulary import vocabulary
from voicecount.hear.agree import AgreeingRecognisers
from voicecount.hear.port import Recogniser
from voicecount.keep.clock import Clock
from voicecount.rehearse.store import grammars_for
from voicecount.sheet.model import Sheet
from voicecount.sheet.policy import Policy
from voicecount.show.console import console, notice
from voicecount.sound.files import FileSource
from voicecount.sound.moments import Moment, moments
from voicecount.sound.pace import paced
from voicecount.sound.telling import TellingSource
from voicecount.words.grammar import Grammar
from voicecount.words.grammars import Grammars

RECOGNISERS = ("embedded", "vosk", "both", "typed")


@dataclass(frozen=True)
class Input:
    """A recording or a script that was looked at and can be listened to."""

    path: Path
    channels: int
    seconds: float
    stream: Callable[[Clock | None, Callable[[float], None]], Iterator[Moment]]
    """Gives the moments; a clock paces them, and the other is told how far it is, in seconds."""
    script: ScriptRecogniser | None = None
    """The recogniser that a script brings with it."""


def open_input(path: Path, recogniser: str) -> Input:
    """Look at a file; RecordingError when the recogniser cannot listen to it."""
    if recogniser == "typed":
        script = read_script(path)
        return Input(
            path,
            script.channels,
            script.seconds,
            lambda clock, _: script.moments(clock),
            ScriptRecogniser(),
        )
    source = FileSource(path)

    def stream(clock: Clock | None, tell: Callable[[float], None]) -> Iterator[Moment]:
        told = TellingSource(source, tell)
        return moments(told if clock is None else paced(told, clock))

    return Input(path, source.channels, source.recording.seconds, stream)


def load_grammars(sheet_path: Path, sheet: Sheet) -> Grammars:
    """Give a sheet's grammars with what was learned for it; SheetError when that is damaged."""
    return grammars_for(sheet_path, sheet, notice)


def load_drill_grammar(loaded: Loaded) -> Grammar:
    """Give what can be said in a drill; SheetError when what was learned is damaged."""
    grammars = load_grammars(loaded.sheet_path, loaded.sheet)
    return grammars(vocabulary(loaded.drill, loaded.sheet))


def load_recogniser(kind: str, grammar: Grammar, policy: Policy) -> Recogniser:
    """Load a recogniser of sound; ModelError when its weights are missing or do not fit."""
    if kind == "both":
        return AgreeingRecognisers(_embedded(policy), _vosk(grammar))
    return _embedded(policy) if kind == "embedded" else _vosk(grammar)


def _embedded(policy: Policy) -> Recogniser:
    with console(sys.stderr).status("loading the embedded recogniser"):
        from voicecount.hear.embedded.adapter import EmbeddedRecogniser  # noqa: PLC0415 - slow

        return EmbeddedRecogniser.load(wrong_per_thousand=policy.wrong_per_thousand)


def _vosk(grammar: Grammar) -> Recogniser:
    with console(sys.stderr).status("loading the vosk recogniser"):
        from voicecount.hear.vosk_engine import VoskRecogniser  # noqa: PLC0415 - slow

        vosk = VoskRecogniser()
        spellings = vosk.prepare(grammar)
    for entry in spellings:
        if entry.respelling is not None:
            notice(
                f'{entry.used_by}: the model does not know "{entry.word}" and listens for '
                f'"{" ".join(entry.respelling.words)}" instead'
            )
    return vosk


def recogniser_for(given: Input, kind: str, grammar: Grammar, policy: Policy) -> Recogniser:
    """Give the script's own recogniser, or load one."""
    return given.script if given.script is not None else load_recogniser(kind, grammar, policy)


@contextmanager
def progress(what: str, seconds: float, *, shown: bool) -> Iterator[Callable[[float], None]]:
    """Show how far a long recording is; ``shown`` is False where lines already tell it."""
    err = console(sys.stderr)
    if not (shown and err.is_terminal):
        yield lambda _: None
        return
    columns = (TextColumn(what, markup=False), BarColumn(), TimeRemainingColumn())
    with Progress(*columns, console=err, transient=True) as bar:
        task = bar.add_task(what, total=seconds)
        yield lambda done: bar.update(task, completed=done)
