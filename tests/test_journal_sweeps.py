"""The journal spoiled at every place: acknowledged within recovered within attempted, in all tries.

The figures of each sort are printed (pytest -s) and recorded; benchmarks/journal_faults.py makes
the same ones for docs/journal.md, where the cases that are shorter here have all 60 records.
"""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from benchmarks import journal_faults
from benchmarks.journal_faults import Figures
from voicecount.keep.record import Record
from voicecount.testing.disk import MemoryDisk

ROOT = Path(__file__).parent.parent
Property = Callable[[str, object], None]


def clean(figures: Figures, record_property: Property, *, at_least: int) -> None:
    """Print and record the figures; all tries were made and nothing was violated."""
    print(f"\n{journal_faults.HEAD}\n{figures.row()}")
    for name, value in vars(figures).items():
        record_property(name, value)
    assert figures.violations == []
    assert figures.tries >= at_least


def in_a_process_of_its_own(only: str) -> Figures:
    """Fork from a process without threads, not from the one that runs all tests."""
    answer = subprocess.run(
        [sys.executable, "-m", "benchmarks.journal_faults", "--json", "--only", only],
        capture_output=True,
        check=False,
        cwd=ROOT,
        text=True,
        timeout=300,
    )
    assert answer.stdout, answer.stderr
    return Figures(**json.loads(answer.stdout))


@pytest.mark.skipif(sys.platform == "win32", reason="fork and kill -9 are POSIX")
def test_killed_at_every_write_and_sync(record_property: Property) -> None:
    """A case of 60 records killed before, in and after every write, sync and cut loses nothing."""
    figures = in_a_process_of_its_own("kills")

    # 60 records, the copy of the torn line, and two of the journal's own: 63 of each call.
    clean(figures, record_property, at_least=5 * 63)
    assert figures.extra > 0  # a record may be whole though its writer died before saying so


@pytest.mark.skipif(sys.platform == "win32", reason="fork is POSIX")
def test_several_writers_at_once(record_property: Property) -> None:
    """Four processes that write one file at once take turns, and nothing is lost or mixed up."""
    figures = in_a_process_of_its_own("writers")

    clean(figures, record_property, at_least=journal_faults.WRITERS)
    assert figures.acknowledged == journal_faults.RECORDS


def test_power_cut_at_every_call(record_property: Property) -> None:
    """Whatever a power cut leaves of what was not synced, all that was acknowledged is there."""
    clean(journal_faults.power_cuts(20), record_property, at_least=1000)


def test_an_error_or_a_short_write_at_every_call(record_property: Property) -> None:
    """Each call of a whole run fails by ENOSPC, EIO and EINTR; writes and reads take too little."""
    clean(journal_faults.faults(20), record_property, at_least=900)


def test_cut_at_every_byte(record_property: Property) -> None:
    """A file cut anywhere gives the records whose lines are whole, and the case goes on."""
    clean(journal_faults.truncations(16), record_property, at_least=5000)


def test_every_bit_flipped(record_property: Property) -> None:
    """Every flipped bit is found, with its line and byte, and what stands before it is given."""
    clean(journal_faults.flips(), record_property, at_least=10_000)


def test_clock_set_back_at_every_record(record_property: Property) -> None:
    """A wall clock set back by a day and a steady clock that begins anew change no order."""
    clean(journal_faults.clocks(30), record_property, at_least=29)


# The tries can tell: a journal or a disk that is worse is found out.


def test_a_disk_that_does_not_sync_is_found_out() -> None:
    """Where a sync does nothing, a power cut loses acknowledged records, and that is counted."""

    class Careless(MemoryDisk):
        def sync(self, fd: int) -> None:
            """Forget to."""

    figures = journal_faults.power_cuts(6, Careless)

    assert any("5 acknowledged, 3 recovered" in found for found in figures.violations)


def test_a_folder_that_is_not_synced_is_found_out() -> None:
    """Where a folder's sync does nothing, a power cut loses the whole file."""

    class Careless(MemoryDisk):
        def sync_folder(self, folder: Path) -> None:
            """Forget to."""

    assert journal_faults.power_cuts(6, Careless).violations


def test_a_copy_that_is_not_synced_is_found_out() -> None:
    """Where only the journal's own file is synced, a power cut loses the unfinished line."""

    class Careless(MemoryDisk):
        def sync(self, fd: int) -> None:
            if self._open[fd] == journal_faults.HERE:
                super().sync(fd)

    found = journal_faults.power_cuts(6, Careless).violations

    assert found
    assert all("the unfinished line is lost" in one for one in found)


def test_a_hash_that_is_not_compared_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a line's hash is taken as it stands, flipped bits go unseen, and that is counted."""
    monkeypatch.setattr(Record, "digest", lambda record: record.hash)

    assert journal_faults.flips(2).violations


def test_figures_that_do_not_fit_are_violations() -> None:
    """Fewer recovered than acknowledged, two more, or another order are each counted."""
    events = [journal_faults.event(number) for number in range(1, 6)]
    for acknowledged, recovered in ((4, events[:3]), (2, events[:4]), (2, [events[0], events[2]])):
        figures = Figures("wrong")
        figures.judge("here", journal_faults.Trial(5, acknowledged), recovered)
        assert len(figures.violations) == 1
