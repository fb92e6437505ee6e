"""``voicecount drill new``: propose a drill from a sheet, with the partner's sound."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from voicecount.drill.load import Loaded, load_drill
from voicecount.drill.make import new_drill
from voicecount.drill.model import Criterion, EventKind, Planted, Task
from voicecount.drill.partner_sound import partner_folder, partner_sounds
from voicecount.drill.propose import listed
from voicecount.errors import UsageError
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.show.console import console, notice, printable
from voicecount.speak.choose import choose_voice
from voicecount.speak.manner import AtLoudness

FOLDER = Path("drills")
"""Where new drills are put, in the current folder."""


def new(
    sheet: Path,
    to: Path | None = None,
    *,
    task: str | None = None,
    seed: int = 1,
    voice: str | None = None,
) -> None:
    """Write a new drill, and tell what was proposed. Raises VoicecountError."""
    if seed < 0:
        raise UsageError(f"the seed {seed} is below 0; use 0, 1, 2 and so on")
    ways = load_sheet(sheet).ways
    spoken = choose_voice(voice, together=ways, announce=notice)
    what = Task.FIRST_COUNT if task is None else Task(task)
    with _progress() as tell:
        even = None if spoken is None else AtLoudness(spoken)
        path = new_drill(sheet, to or FOLDER, seed=seed, voice=even, task=what, tell=tell)
    out = console()
    for line in told(load_drill(path)):
        out.print(printable(line), markup=False, soft_wrap=True)


def told(loaded: Loaded) -> Iterator[str]:
    """Tell a drill in lines: what lies there, what is planted, what counts, and what comes next."""
    drill, sheet = loaded.drill, loaded.sheet
    yield f"{drill.title} (level {drill.level}, task {drill.task.value})"
    yield f"On the table: {'; '.join(listed(drill.table, sheet))}."
    for event in drill.events:
        yield f"Planted: {_event(event, sheet)}"
    weights = ", ".join(f"{row.value} {drill.weight(row):g}" for row in Criterion)
    yield f"Weights: {weights}."
    sounds = partner_sounds(loaded)
    made = f", sound of {len(sounds)} cues in {partner_folder(loaded.path)}" if sounds else ""
    yield f"Written: {loaded.path}, {loaded.sheet_path}{made}. Change what you like."
    yield f"Start it: voicecount drill start {loaded.path}"


_KINDS = {
    EventKind.WRONG_PACKAGE: "a package of another number",
    EventKind.DROPPED: "something falls",
    EventKind.INTERRUPTION: "the partner talks into the run",
    EventKind.MISREAD: "a number is read back wrongly",
    EventKind.MISCOUNT: "the partner's run goes wrong",
    EventKind.BROUGHT: "more is brought",
}


def _event(event: Planted, sheet: Sheet) -> str:
    after = "" if event.after is None else f" after {event.after}"
    return f'{_KINDS[event.kind]}, at {sheet.item(event.item).name(2)}{after}: "{event.says}"'


@contextmanager
def _progress() -> Iterator[Callable[[str, int, int], None]]:
    """Show how far the partner's sound is."""
    err = console(sys.stderr)
    if not err.is_terminal:
        yield lambda *_: None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=err, transient=True) as bar:
        shown = bar.add_task("the partner's sound", total=None)
        yield lambda _cue, done, total: bar.update(shown, completed=done, total=total)
