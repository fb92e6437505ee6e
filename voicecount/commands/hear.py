"""``voicecount hear``: what is understood in sound files, one answer for each utterance."""

import json
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from voicecount.commands.inputs import Input, load_grammars, open_input, progress, recogniser_for
from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.sheet.load import load_sheet
from voicecount.sheet.policy import Policy
from voicecount.sheet.vocabularies import by_place
from voicecount.show.console import console
from voicecount.show.json_out import heard_object
from voicecount.show.table import HeardTable
from voicecount.sound.moments import Quiet
from voicecount.words.grammar import Grammar
from voicecount.words.vocabulary import FIRST


def hear(
    path: Path, files: Sequence[Path], *, recogniser: str, as_json: bool, places: bool = False
) -> None:
    """Print what is understood. Every file is looked at before the first one is listened to."""
    sheet = load_sheet(path)
    grammar = load_grammars(path, sheet)(by_place(sheet) if places else FIRST)
    inputs = [open_input(file, recogniser) for file in files]
    engines = _engines(inputs, recogniser, grammar, sheet.policy)
    tell = _print_json if as_json else HeardTable(console()).add
    for given, engine in zip(inputs, engines, strict=True):
        shown = not sys.stdout.isatty()
        with progress(given.path.name, given.seconds, shown=shown) as done:
            for heard in _answers(given, engine, grammar, done):
                tell(str(given.path), heard)


def _engines(
    inputs: Sequence[Input], kind: str, grammar: Grammar, policy: Policy
) -> list[Callable[..., Heard]]:
    if kind == "typed":
        return [recogniser_for(given, kind, grammar, policy).hear for given in inputs]
    return [recogniser_for(inputs[0], kind, grammar, policy).hear] * len(inputs)


def _answers(
    given: Input, hear_one: Callable[..., Heard], grammar: Grammar, done: Callable[[float], None]
) -> Iterator[Heard]:
    """Answer every utterance; a file without a voice gives one answer that says so."""
    nobody = True
    for moment in given.stream(None, done):
        if isinstance(moment, Quiet):
            continue
        nobody = False
        begun = time.perf_counter()
        heard = hear_one(moment, grammar)
        yield replace(heard, latency_ms=1000 * (time.perf_counter() - begun))
    if nobody:
        reason = Reason.NO_SPEECH
        yield Heard(0, 0.0, given.seconds, Outcome.IGNORED, None, "", reason=reason)


def _print_json(file: str, heard: Heard) -> None:
    print(json.dumps(heard_object(file, heard)), flush=True)  # noqa: T201 - this is the output
