"""Where a record is put: whole, for its owner alone, and over no file but a record that it holds.

A journal only grows, so a later record of a case holds an earlier one: the head that the earlier
one names is the hash of a record that the journal still has. Where it is not, the journal is
another one, or has lost something, and what stands in the file may stand nowhere else.
"""

import contextlib
import os
import stat
import sys
from collections.abc import Collection, Iterable
from pathlib import Path

from voicecount.errors import VoicecountError
from voicecount.keep.whole import write_whole
from voicecount.report.made import Kind, Made, made_of


class ReportError(VoicecountError):
    """A record cannot be put where it was wanted."""


def check_free(wanted: Iterable[tuple[Kind, Path]], heads: Collection[str] | None) -> None:
    """Raise ReportError where a file cannot take its place, before anything is made.

    ``heads`` are the hashes of all records that are reported, None for the figures of a folder. A
    file that exists is written over where it is empty, or holds a record that the new one holds
    too, or, for figures, earlier figures. A link is left alone wherever it leads: the file would
    take the place of the link itself. So is a file that its owner may not write to.
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
            why = _why_not(kind, path, heads) if path.exists() else None
        except OSError as error:
            raise _unusable(kind, path, error) from None
        if why is not None:
            raise ReportError(f"{path}: {why}; it is left as it is; name another file by --{kind}")
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


def _why_not(kind: Kind, path: Path, heads: Collection[str] | None) -> str | None:
    """Say what a file is that may not be written over; None where it may."""
    other = f"there is a file already, and it is no earlier record in {kind.upper()}"
    if not path.is_file():
        return other
    if not path.stat().st_mode & stat.S_IWUSR:  # the system lets an administrator write to it
        return "there is a file already, and its owner may not write to it"
    data = path.read_bytes()
    if not data:
        return None
    made = made_of(kind, data)
    return other if made is None else _why_kept(made, heads)


def _why_kept(made: Made, heads: Collection[str] | None) -> str | None:
    """Say why an earlier file is not replaced by what is made of these records."""
    if made.of is None:
        return "an earlier version made it, and it does not tell of which records"
    if made.of == "figures":
        return None if heads is None else "it holds the figures of a folder, and no case"
    if heads is None:
        return "it is the record of a case, and figures never take its place"
    known = {head[:length] for length in map(len, made.heads) for head in heads}
    if made.heads <= known:
        return None
    return "it is a record of another case, or of more records than this journal has now"


def _unusable(kind: Kind, path: Path, error: OSError) -> ReportError:
    why = error.strerror or type(error).__name__
    return ReportError(
        f"{path}: cannot be written ({why}); nothing half was left; make room, or name a file by "
        f"--{kind} where you may write"
    )
