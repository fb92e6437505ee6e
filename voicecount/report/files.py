"""Where a record is put: whole, for its owner alone, and over no file but an earlier record."""

import contextlib
import os
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Literal

from voicecount.errors import VoicecountError
from voicecount.keep.whole import write_whole
from voicecount.report.blocks import MAKER

Kind = Literal["html", "pdf", "csv"]

_BEGINS: Mapping[Kind, tuple[bytes, ...]] = {
    "html": (b"<!DOCTYPE html>",),
    "pdf": (b"%PDF-",),
    "csv": (b'"case","journal",', b'"journal","case",'),
}
_HOLDS: Mapping[Kind, bytes] = {
    "html": f'<meta name="generator" content="{MAKER}">'.encode(),
    "pdf": f"/Keywords({MAKER})".encode(),
    "csv": b',"head"',
}
"""How a file of each kind says that this program made it."""


class ReportError(VoicecountError):
    """A record cannot be put where it was wanted."""


def check_free(wanted: Iterable[tuple[Kind, Path]]) -> None:
    """Raise ReportError where a file cannot take its place, before anything is made.

    A file that exists is written over where it is empty, or an earlier record of the same kind. A
    link is left alone wherever it leads: the file would take the place of the link itself.
    """
    taken: set[Path] = set()
    for kind, path in wanted:
        try:
            if path.is_symlink():
                raise ReportError(
                    f"{path}: it is a link and is left as it is; name a file by --{kind}"
                )
            if path.is_dir():
                raise ReportError(f"{path}: it is a folder; name a file by --{kind}")
            if not path.parent.is_dir():
                raise ReportError(
                    f"{path}: there is no folder {path.parent}; make it, or name another file by "
                    f"--{kind}"
                )
            there = path.resolve()
            theirs = path.exists() and not _ours(kind, path)
        except OSError as error:
            raise _unusable(kind, path, error) from None
        if theirs:
            raise ReportError(
                f"{path}: there is a file already, and it is no earlier record in {kind.upper()}; "
                f"it is left as it is; name another one by --{kind}"
            )
        if there in taken:
            raise ReportError(f"{path}: it is named twice; give each file a name of its own")
        taken.add(there)


def put(kind: Kind, path: Path, content: str | bytes) -> None:
    """Write a file whole, a text as UTF-8. ReportError leaves what was there, and nothing half."""
    data = content.encode(errors="replace") if isinstance(content, str) else content
    try:
        write_whole(path, data)
    except OSError as error:
        raise _unusable(kind, path, error) from None


def say(text: str) -> None:
    """Print a text. ReportError where the output takes nothing, a full disk for one."""
    try:
        print(text, flush=True)  # noqa: T201 - this is the output
    except BrokenPipeError:
        raise  # nobody reads any more, which is no fault
    except OSError as error:
        with contextlib.suppress(OSError, ValueError):  # or the rest is tried again at the end
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        why = error.strerror or type(error).__name__
        raise ReportError(
            f"the output cannot be written ({why}); the files that were asked for are made; make "
            "room, or send the output elsewhere"
        ) from None


def _ours(kind: Kind, path: Path) -> bool:
    if not path.is_file():
        return False
    data = path.read_bytes()
    return not data or (data.startswith(_BEGINS[kind]) and _HOLDS[kind] in data)


def _unusable(kind: Kind, path: Path, error: OSError) -> ReportError:
    why = error.strerror or type(error).__name__
    return ReportError(
        f"{path}: cannot be written ({why}); nothing half was left; make room, or name a file by "
        f"--{kind} where you may write"
    )
