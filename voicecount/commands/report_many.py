"""``voicecount report FOLDER``: the figures of all journals that lie in a folder."""

import io
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from voicecount.commands.inputs import progress
from voicecount.commands.report import (
    MADE_BY,
    Options,
    case_of,
    drawn,
    hand_out,
    now,
    wanted,
)
from voicecount.errors import JournalError, UsageError
from voicecount.keep.journal import SUFFIX
from voicecount.report.facts import CaseFacts
from voicecount.report.files import check_free
from voicecount.report.made import Kind, keywords
from voicecount.report.many import LeftOut
from voicecount.report.marks import visible
from voicecount.show.console import notice

NAME = "figures"
"""What the files are called where nothing else is asked for."""


def report_folder(folder: Path, options: Options, given: Sequence[tuple[str, str]]) -> None:
    """Add up all journals of a folder, not of the folders in it.

    A journal that cannot be used is told and left out. Raises JournalError where none can be, and,
    after all is made, where one could not.
    """
    if options.as_fhir:
        raise UsageError("--fhir is of one case; name its journal instead of the folder")
    files = wanted(options, folder / NAME)
    journals = _journals(folder)
    check_free(files.items(), None)
    from voicecount.report import many_csv  # noqa: PLC0415
    from voicecount.report.many_json import summary_object  # noqa: PLC0415 - draws, slow to load
    from voicecount.report.many_pages import pages  # noqa: PLC0415

    made, rows = now(), io.StringIO(newline="")
    labels = tuple(dict.fromkeys(label for label, _ in given))
    with progress("reading journals", len(journals), shown=True) as tell:
        summary = many_csv.write(rows, _cases(journals, made, given, tell), labels)
    for one in (*summary.damaged, *summary.copies):
        notice(f"{one.journal}: left out of the figures: {one.why}")
    if not summary.cases:
        raise JournalError(
            f"{folder}: none of its {summary.seen} journals can be used, so nothing was made; see "
            "by the command verify what is wrong with each"
        )
    title = f"Records in {visible(folder.resolve().name) or 'a folder'}"
    contents: dict[Kind, str | bytes] = {"csv": rows.getvalue()}
    if "html" in files or "pdf" in files:
        blocks = pages(summary, title=title, made=made, made_by=MADE_BY, given=given)
        contents |= drawn(blocks, files, options, keywords("figures", summary.digits))
    printed: dict[str, Any] | None = None
    if options.as_json:
        printed = summary_object(summary, title=title, made=made, made_by=MADE_BY, given=given)
    hand_out(files, contents, printed)
    if summary.damaged:
        raise JournalError(
            f"{folder}: of {summary.seen} journals {len(summary.damaged)} cannot be used, and no "
            "figure holds them; the rest was made; see by the command verify what is wrong with "
            "each"
        )


def _journals(folder: Path) -> tuple[Path, ...]:
    try:
        found = sorted(path for path in folder.iterdir() if path.name.endswith(SUFFIX))
    except OSError as error:
        raise JournalError(
            f"{folder}: cannot look into the folder ({error.strerror or error}); check that you "
            "may read it"
        ) from None
    if not found:
        raise JournalError(
            f"{folder}: there is no journal (*{SUFFIX}) in it; name the folder in which they are"
        )
    return tuple(found)


def _cases(
    journals: Sequence[Path],
    made: str,
    given: Sequence[tuple[str, str]],
    tell: Callable[[float], None],
) -> Iterator[CaseFacts | LeftOut]:
    """Give case after case; what is no journal comes with the reason."""
    for number, path in enumerate(journals, start=1):
        try:
            yield case_of(path, made, given, beside=False)
        except JournalError as error:
            yield LeftOut(visible(path.name), str(error).removeprefix(str(path)).lstrip(":, "))
        tell(number)
