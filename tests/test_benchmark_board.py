"""The arithmetic of the board's benchmark: worked by hand, and what it must not hide."""

import os
import time
from pathlib import Path

import numpy as np
import pytest

from benchmarks.board import RECORD, Arrivals, spread, taken
from voicecount.board import page
from voicecount.board.follow import Known
from voicecount.board.view import board
from voicecount.count.ledger import Ledger


def test_seconds_are_spread_as_by_hand() -> None:
    """Of 0.1 to 2.0 in twenty steps: the middle of the tenth and eleventh; n, the largest."""
    found = spread([at / 10 for at in range(20, 0, -1)])

    assert (found.n, found.max) == (20, 2.0)
    assert found.median == pytest.approx(1.05)
    assert found.p95 == pytest.approx(1.905)  # 0.95 * 19 = 18.05: 1.9 and a twentieth of a step


def test_nothing_measured_is_no_figure() -> None:
    with pytest.raises(ValueError, match="nothing was measured"):
        spread([])


def test_a_record_that_was_skipped_came_with_the_next_message() -> None:
    """A viewer saw 1, 2 and 4: the third came with the fourth, and a repeat changes nothing."""
    arrivals = Arrivals(synced={2: 10.0, 3: 10.2, 4: 10.4}, had=[{}, {}])
    for record, at in ((1, 9.0), (2, 10.1), (4, 10.5), (4, 11.0)):
        arrivals.add(0, record, at)
    for record, at in ((1, 9.0), (2, 10.05), (3, 10.25), (4, 10.45)):
        arrivals.add(1, record, at)

    assert sorted(arrivals.late()) == pytest.approx([0.05, 0.05, 0.05, 0.1, 0.1, 0.3])


def test_a_record_that_never_came_is_told() -> None:
    arrivals = Arrivals(synced={2: 1.0, 3: 2.0}, had=[{}])
    arrivals.add(0, 2, 1.5)

    with pytest.raises(ValueError, match="1 arrivals are missing, the first of record 3"):
        arrivals.late()


def test_the_number_of_records_is_found_in_a_message_of_the_board() -> None:
    known = Known(Ledger(), 0, 4711, "0123abcd", None, None, None, float("inf"))
    found = RECORD.search(page.message(board(known), 0.0))

    assert found is not None
    assert int(found[1]) == 4711


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="optional: Linux tells it")
def test_what_a_process_takes_is_read_from_the_system() -> None:
    """A tenth of a second of work and 80 MB are seen; the process's own clock is the witness."""
    before, own = taken(os.getpid()), time.process_time()
    held = np.ones(10_000_000)
    while time.process_time() - own < 0.1:
        pass
    after = taken(os.getpid())

    assert held.nbytes == 80_000_000
    assert after.cpu - before.cpu == pytest.approx(time.process_time() - own, abs=0.05)
    assert after.memory - before.memory == pytest.approx(80, abs=12)
