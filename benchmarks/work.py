"""Clips to rows, by one process or several, always in the same order, with a line of progress."""

import json
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from benchmarks.clips import Task
from benchmarks.figures import Row

Work = Callable[[Task], list[Row]]
Load = Callable[..., Work]
"""(arguments, then the number of threads) to what does the work; named at a module's top level."""

_TELL = 10.0
"""Seconds between two lines of progress."""
_work: list[Work] = []
"""What this process works with, once it is loaded."""


def _begin(load: Load, given: tuple[Any, ...]) -> None:
    try:
        _work[:] = [load(*given, 1)]
    except Exception as error:  # noqa: BLE001  (a pool would begin a failing process for ever)
        why = error
        _work[:] = [lambda _: _give_up(why)]


def _give_up(why: Exception) -> list[Row]:
    raise why


def _do(task: Task) -> list[Row]:
    return _work[0](task)


def rows_of(
    load: Load,
    given: tuple[Any, ...],
    tasks: Sequence[Task],
    jobs: int,
    evidence: Path | None = None,
) -> list[Row]:
    """Do every task. With several jobs each loads its own recognisers, with one thread each.

    Rows are written to ``evidence`` as they come, one line each, so that a run that is cut off
    leaves what it has found.
    """
    if jobs < 1:
        raise SystemExit(f"--jobs: {jobs} is too few; give 1 or more")
    if jobs == 1:
        work = load(*given, 2)
        return _followed((work(task) for task in tasks), len(tasks), evidence)
    with get_context("spawn").Pool(jobs, _begin, (load, given)) as pool:
        rows = _followed(pool.imap(_do, tasks, chunksize=4), len(tasks), evidence)
        pool.close()
        pool.join()
    return rows


def _followed(found: Iterable[list[Row]], n: int, evidence: Path | None) -> list[Row]:
    """Collect rows; tell how many clips are done, the seconds, and what is left."""
    if evidence:
        evidence.parent.mkdir(parents=True, exist_ok=True)
        evidence.write_text("", encoding="utf-8")
    rows: list[Row] = []
    begun = told = time.monotonic()
    for done, more in enumerate(found, start=1):
        rows += more
        if evidence:
            with evidence.open("a", encoding="utf-8") as file:
                file.writelines(json.dumps(row) + "\n" for row in more)
        now = time.monotonic()
        if now - told >= _TELL or done == n:
            told, spent = now, now - begun
            print(
                f"{done}/{n} clips, {spent:.0f} s, about {spent / done * (n - done):.0f} s left",
                file=sys.stderr,
                flush=True,
            )
    return rows
