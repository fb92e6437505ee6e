"""``voicecount drill progress``: a page with the score and every row, attempt after attempt."""

from pathlib import Path

from voicecount.commands.report import now
from voicecount.drill.past import Past
from voicecount.drill.store import Attempts, Kept, State
from voicecount.errors import UsageError
from voicecount.keep.whole import write_whole
from voicecount.report.files import ReportError
from voicecount.show.console import console, notice, printable

_MADE = b'<meta name="generator" content="voicecount drill">'


def progress(folder: Path, student: str | None, out: Path | None) -> None:
    """Make the page of one student, or of all, from a folder of attempts; print where it lies.

    Raises UsageError where there is no attempt that was judged, AttemptsError where one cannot be
    read, and ReportError where the page cannot be written. Nobody's file is written over.
    """
    from voicecount.drill.progress import progress_page  # noqa: PLC0415 - draws, slow to load

    kept = Attempts(folder).all(student)
    judged = [one for one in kept if one.state is State.JUDGED]
    if not judged:
        whose = "" if student is None else f" of {student}"
        raise UsageError(
            f"{folder}: holds no attempt{whose} that was judged; do a drill, or name another folder"
        )
    target = out or Path(f"progress-{student}.html" if student else "progress.html")
    _check(target)
    page = progress_page([_past(one, student) for one in judged], made=now(), student=student or "")
    try:
        write_whole(target, page.encode(errors="replace"))
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise ReportError(
            f"{target}: cannot be written ({why}); name another file by --out"
        ) from None
    left = len(kept) - len(judged)
    if left:
        notice(f"{left} of {len(kept)} attempts are not judged, and are left out")
    console().print(printable(str(target)), markup=False, soft_wrap=True)


def _past(kept: Kept, student: str | None) -> Past:
    judgement = kept.judgement()
    head = kept.head
    code = "" if student is not None else head.student
    return Past(head.when, head.title, judgement.score, judgement.marks, code)


def _check(target: Path) -> None:
    """Raise ReportError where the page would take the place of somebody's file."""
    try:
        if target.is_dir() or not target.parent.is_dir():
            raise ReportError(f"{target}: no file in a folder that is there; name one by --out")
        if target.exists() and target.stat().st_size and _MADE not in target.read_bytes():
            raise ReportError(
                f"{target}: there is a file already, and it is no page of this program; it is left "
                "as it is; name another one by --out"
            )
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise ReportError(f"{target}: cannot be used ({why}); name another file by --out") from None
