"""Everything of a class removed at once: results, pages, tables, and recordings where it is said.

Only what this program made is removed, and recordings whose names say that they are handed in.
"""

from collections.abc import Iterator
from pathlib import Path

from voicecount.drill.class_files import find
from voicecount.drill.graded_store import MARK, PLACE, GradedError, GradedStore, forget_graded


def is_class(folder: Path) -> bool:
    """Tell whether results of a class are kept in a folder, or are the folder."""
    return _place(folder) is not None


def forget_class(
    folder: Path, student: str | None = None, *, recordings: bool = False, drill: str | None = None
) -> tuple[Path, ...]:
    """Remove the results of a class, or of one student in it; gives the files that were removed.

    ``folder`` holds the recordings, or is what ``--to`` named. Pages and tables tell of everybody,
    so they go as well; the class can be graded again from the results that are left. With
    ``recordings`` the recordings go too; ``drill`` is as for ``find``. Raises GradedError, and
    UsageError where the folder cannot be read.
    """
    gone: list[Path] = []
    if recordings:
        for path in _recordings(folder, student, drill):
            _unlink(path, gone)
    place = _place(folder)
    if place is not None:
        for path in GradedStore(place).made():
            _unlink(path, gone)
        gone += forget_graded(place, student)
    return tuple(gone)


def _place(folder: Path) -> Path | None:
    return next((one for one in (folder / PLACE, folder) if (one / MARK).is_file()), None)


def _recordings(folder: Path, student: str | None, drill: str | None) -> Iterator[Path]:
    """Give what was handed in; kept attempts are forgotten as such (``store.py``)."""
    for one in find(folder, drill).handed:
        if one.digest is None and student in {None, one.student}:
            yield one.path
            if one.said is not None:
                yield one.said


def _unlink(path: Path, gone: list[Path]) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise GradedError(
            f"{path}: cannot be removed ({error.strerror or error}); {len(gone)} files are gone; "
            "make it writable, and forget again"
        ) from None
    gone.append(path)
