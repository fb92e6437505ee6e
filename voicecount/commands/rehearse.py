"""``voicecount rehearse``: learn a sheet's names, or a person's own way to say one of them."""

import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from voicecount.errors import SheetError, UsageError
from voicecount.rehearse import course, own, store
from voicecount.rehearse.alike import Names, pairs, same_sound
from voicecount.rehearse.ears import Ears
from voicecount.rehearse.learned import Learned, names_digest
from voicecount.rehearse.page import page
from voicecount.rehearse.proposals import inseparable, refusal
from voicecount.rehearse.summary import learnt_lines, rehearsal_object, summary
from voicecount.rehearse.takes import Progress as Tell
from voicecount.rehearse.takes import Rehearsal
from voicecount.rehearse.voices import Say
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.show.console import console, notice, printable
from voicecount.words.grammar import build_grammar

EVERYTHING = "all"


@dataclass(frozen=True)
class Options:
    """What to rehearse, and how it is shown."""

    page: Path | None = None
    listen: tuple[Path, ...] = ()
    item: str | None = None
    forget: str | None = None
    as_json: bool = False


def rehearse(sheet_path: Path, options: Options) -> None:
    """Rehearse a sheet, learn one name from a person, or forget."""
    sheet = load_sheet(sheet_path)
    if options.forget is not None:
        _forget(sheet_path, sheet, options)
    elif options.listen or options.item is not None:
        _listen(sheet_path, sheet, options)
    else:
        _whole(sheet_path, sheet, options)


def _whole(sheet_path: Path, sheet: Sheet, options: Options) -> None:
    """Rehearse every name of a sheet. Raises SheetError when two lines cannot be told apart."""
    previous = _previous(sheet_path, sheet)
    page_path = options.page or sheet_path.with_name(f"{sheet_path.stem}.rehearsal.html")
    names = Names(build_grammar(sheet))
    found = pairs(names)
    if (same := same_sound(found)) is not None:
        why = refusal(sheet, names, same)
        store.write_whole(page_path, page(Rehearsal(sheet, names, found), (), why))
        raise SheetError(f"{sheet_path}: {why} (page: {page_path})")
    ears, voices = _load()
    with _progress() as tell:
        result = course.rehearse(sheet, voices, ears, tell, previous.own)
    pair = inseparable(result)
    line = refusal(sheet, names, pair) if pair is not None else None
    store.write_whole(page_path, page(result, (*previous.own, *result.learnt), line))
    if line is not None:
        raise SheetError(f"{sheet_path}: {line} (page: {page_path})")
    path = store.write(sheet_path, previous.model_copy(update={"rehearsed": result.learnt}))
    if options.as_json:
        print(json.dumps(rehearsal_object(result, path, page_path), indent=2))  # noqa: T201 - the output
    else:
        _print(summary(result, path, page_path))


def _listen(sheet_path: Path, sheet: Sheet, options: Options) -> None:
    """Learn one name from a person's own sayings."""
    if not options.listen or options.item is None:
        raise UsageError("--listen and --item belong together; give sound files and a name")
    line, spoken = own.find_name(sheet, options.item)
    previous = _previous(sheet_path, sheet)
    sayings = own.sayings_in(options.listen)
    names = Names(build_grammar(sheet))
    learnt, refused = own.learn_own(line, spoken, sayings, _load_ears(), names)
    kept = tuple(e for e in previous.own if (e.item, e.name) != (line, spoken.one))
    if learnt.sounds or learnt.spelled:
        kept = (*kept, learnt)
    path = store.write(sheet_path, previous.model_copy(update={"own": kept}))
    if options.as_json:
        told = {
            "file": str(path),
            "sayings": len(sayings),
            "learned": learnt.model_dump(mode="json"),
            "refused": refused,
        }
        print(json.dumps(told, indent=2))  # noqa: T201 - the output
        return
    lines = [f"{len(sayings)} sayings of {spoken.one!r}; no sound was kept."]
    lines += learnt_lines((learnt,)) or ["Nothing to learn from them."]
    lines += [f"Not kept: {why}" for why in refused]
    _print([*lines, f"Kept in {path}. To forget: voicecount rehearse {sheet_path} --forget {line}"])


def _forget(sheet_path: Path, sheet: Sheet, options: Options) -> None:
    """Forget what was learned of one line, or all."""
    if options.listen or options.item is not None:
        raise UsageError("--forget stands alone; leave out --listen and --item")
    text = options.forget or ""
    if text == EVERYTHING:
        store.remove(sheet_path)
        gone, path = None, store.learned_path(sheet_path)
    else:
        gone, _ = own.find_name(sheet, text)
        learned = store.read(sheet_path)
        path = store.learned_path(sheet_path)
        if learned is not None:
            rest = {
                "own": tuple(e for e in learned.own if e.item != gone),
                "rehearsed": tuple(e for e in learned.rehearsed if e.item != gone),
            }
            path = store.write(sheet_path, learned.model_copy(update=rest))
    if options.as_json:
        print(json.dumps({"file": str(path), "forgotten": gone or EVERYTHING}))  # noqa: T201
    else:
        what = f"Everything learned of {gone}" if gone else "Everything learned for this sheet"
        _print([f"{what} is forgotten ({path})."])


def _previous(sheet_path: Path, sheet: Sheet) -> Learned:
    """Give what is kept so far; what is damaged or no longer fits is told and begun anew."""
    fresh = Learned(names=names_digest(sheet), hearing=store.hearing_version())
    try:
        kept = store.read(sheet_path)
    except SheetError as error:
        notice(f"{error}; it is made anew now")
        return fresh
    if kept is None or store.fits(kept, sheet):
        return kept or fresh
    if kept.own:
        notice(
            f"{store.learned_path(sheet_path)}: a person's own sayings were learned with other "
            "names or another recogniser and are dropped; listen to them again"
        )
    return fresh


def _load() -> tuple[Ears, Mapping[str, Say]]:
    return _load_ears(), _load_voices()


def _load_ears() -> Ears:
    with console(sys.stderr).status("loading the embedded recogniser"):
        from voicecount.hear.embedded.adapter import EmbeddedRecogniser  # noqa: PLC0415 - slow
        from voicecount.rehearse.ears import EmbeddedEars  # noqa: PLC0415

        return EmbeddedEars(EmbeddedRecogniser.load(threads=1))


def _load_voices() -> Mapping[str, Say]:
    from voicecount.rehearse.voices import find_voices, load_engine  # noqa: PLC0415 - slow

    return find_voices(load_engine())


@contextmanager
def _progress() -> Iterator[Tell]:
    """Show what is being done, how far it is, and how long it will take."""
    err = console(sys.stderr)
    if not err.is_terminal:
        yield lambda *_: None
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=err, transient=True) as bar:
        task = bar.add_task("rehearsing", total=None)
        shown = ""

        def tell(what: str, done: int, total: int) -> None:
            nonlocal shown
            if what != shown:
                bar.reset(task, description=what, total=total)
                shown = what
            bar.update(task, completed=done)

        yield tell


def _print(lines: Sequence[str]) -> None:
    out = console()
    for line in lines:
        out.print(printable(line), markup=False, soft_wrap=True)
