"""What was heard of synthetic attempts, kept row by row: a run that was killed goes on.

A row holds the whole attempt, so that it can be judged again without being heard again.
"""

import json
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from multiprocessing import get_context
from pathlib import Path

from pydantic import TypeAdapter

from benchmarks.drill_attempts import make, script
from benchmarks.drill_heard import heard_as_attempt
from voicecount.drill.attempt import Attempt
from voicecount.drill.load import Loaded
from voicecount.drill.vocabulary import vocabulary
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.words.grammar import build_grammar
from voicecount.words.grammars import Grammars

_TELL = 20.0
"""Seconds between two lines of progress."""
_ATTEMPT = TypeAdapter(Attempt)


@dataclass(frozen=True)
class Run:
    """What makes a run what it is; rows of another one are not taken."""

    part: str
    seed: int
    wrong_per_thousand: float


@dataclass(frozen=True)
class Row:
    """One attempt as it was heard."""

    at: int
    attempt: Attempt
    paces: tuple[float, ...]
    """True numbers a minute of each joined line; empty where the times are not known."""
    onsets: tuple[tuple[float, ...], ...]
    """True onsets of the numbers of each line, in seconds; empty where they are not known."""
    cpu: float
    """Seconds of one core for hearing it."""


class _Ears:
    """What one process hears with."""

    def __init__(self, run: Run) -> None:
        self._run = run
        self._recogniser = EmbeddedRecogniser.load(1, run.wrong_per_thousand)
        self._grammars: dict[str, Grammars] = {}

    def hear(self, at: int) -> Row:
        run = self._run
        given = script(run.part, at, run.seed)
        made = make(run.part, given, at, run.seed)
        loaded = Loaded(given.drill, given.sheet, Path("measuring.yaml"), Path("sheet.yaml"))
        grammars = self._grammars.setdefault(
            run.part, Grammars(lambda words: build_grammar(given.sheet, words))
        )
        grammar = grammars(vocabulary(given.drill, given.sheet))
        begun = time.process_time()
        attempt = heard_as_attempt(made.sound, loaded, self._recogniser, grammar)
        cpu = time.process_time() - begun
        return Row(at, attempt, made.paces, made.onsets, round(cpu, 2))


_ears: list[_Ears] = []


def _begin(run: Run) -> None:
    _ears[:] = [_Ears(run)]


def _hear(at: int) -> Row:
    return _ears[0].hear(at)


def heard(run: Run, attempts: int, kept: Path, jobs: int) -> list[Row]:
    """Hear so many attempts, and leave out those whose rows are kept; rows in their order."""
    rows = {row.at: row for row in read(kept, run) if row.at < attempts}
    todo = [at for at in range(attempts) if at not in rows]
    begun = told = time.monotonic()
    kept.parent.mkdir(parents=True, exist_ok=True)
    for done, row in enumerate(_all(run, todo, jobs), start=1):
        rows[row.at] = row
        with kept.open("a", encoding="utf-8") as file:
            file.write(_line(run, row) + "\n")
        now = time.monotonic()
        if now - told >= _TELL or done == len(todo):
            told, left = now, (now - begun) / done * (len(todo) - done)
            print(f"{done}/{len(todo)} attempts, {left:.0f} s left", file=sys.stderr, flush=True)
    return [rows[at] for at in sorted(rows)]


def _all(run: Run, todo: Sequence[int], jobs: int) -> Iterator[Row]:
    if not todo:
        return
    with get_context("spawn").Pool(min(jobs, len(todo)), _begin, (run,)) as pool:
        yield from pool.imap_unordered(_hear, todo)
        pool.close()
        pool.join()


def _line(run: Run, row: Row) -> str:
    attempt = _ATTEMPT.dump_python(row.attempt, mode="json")
    kept = {"at": row.at, "paces": row.paces, "onsets": row.onsets, "cpu": row.cpu}
    return json.dumps({"run": asdict(run), **kept, "attempt": attempt})


def read(kept: Path, run: Run) -> Iterator[Row]:
    """Give the rows of a run that are kept; a last line that was cut off is left out."""
    if not kept.exists():
        return
    for line in kept.read_text(encoding="utf-8").splitlines():
        try:
            row = json.loads(line)
        except ValueError:
            continue
        if row["run"] == asdict(run):
            attempt = _ATTEMPT.validate_python(row["attempt"])
            onsets = tuple(tuple(line) for line in row["onsets"])
            yield Row(row["at"], attempt, tuple(row["paces"]), onsets, row["cpu"])
