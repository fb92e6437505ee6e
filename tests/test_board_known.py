"""What of a journal a board keeps in mind, and what it forgets with it: nothing too much or little.

That nothing of one case is shown in another is the project's own promise; no outside source.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from board_rig import Wall, keep, now
from test_account import BASE, BOTH, CIRC, SHORT, differs, opened

from voicecount.board.follow import Following
from voicecount.board.view import board
from voicecount.commands.journals import CODEC
from voicecount.count.events import DiscrepancyClosed, Settled, Step, StepTold
from voicecount.keep import tail as tail_module
from voicecount.keep.now import NowFile, read
from voicecount.keep.tail import Tail
from voicecount.testing.clock import FakeClock

NOT_FOUND = DiscrepancyClosed(at=13.0, discrepancy=1, settled=Settled.NOT_FOUND, **BOTH)


@pytest.fixture
def wall(tmp_path: Path) -> Iterator[Wall]:
    found = Wall(tmp_path / "a.vcj", BASE)
    yield found
    found.close()


def replaced(wall: Wall) -> None:
    """Put another case in the place of a journal."""
    other = wall.path.with_name("b.vcj")
    keep(other, [opened(told_apart=False)]).close()
    other.replace(wall.path)


def test_what_was_not_found_is_of_its_own_case(wall: Wall) -> None:
    """Else a room is told, for a whole case, of a missing item that another patient had."""
    for event in (*SHORT[len(BASE) :], differs(), NOT_FOUND):
        wall.journal.append(event)
    assert [one.item for one in wall.look().lost] == ["lap"]
    replaced(wall)
    found = wall.look()
    assert (found.events, found.lost) == (1, ())
    assert board(found).differences == ()


@pytest.mark.parametrize("settled", Settled)
def test_only_what_was_not_found_stays(wall: Wall, settled: Settled) -> None:
    """Else what was found is told as missing, or what is missing is told no more."""
    more = differs(2, item="needle", counted=2, expected=4)
    other = NOT_FOUND.model_copy(update={"discrepancy": 2, "settled": settled, "n": 2})
    again = StepTold(at=12.0, by=CIRC, discrepancy=2, step=Step.RECOUNT, n=4)
    steps = [again] if settled is Settled.RECOUNTED else []
    for event in (*SHORT[len(BASE) :], differs(), more, *steps, other, NOT_FOUND):
        wall.journal.append(event)
    both = ["needle", "lap"] if settled is Settled.NOT_FOUND else ["lap"]
    assert [(one.item, one.off) for one in wall.look().lost] == [
        (item, {"needle": -2, "lap": -1}[item]) for item in both
    ]


def test_the_noise_is_news(wall: Wall) -> None:
    """Else a board goes on to say that a loud room is quiet, as long as nobody speaks."""
    wall.beats(noise={"state": "fine", "above": 25.0})
    wall.alive()
    wall.beats(noise={"state": "fine", "above": 25.0})
    wall.look()
    for noise in ({"state": "loud", "above": 25.0}, {"state": "loud", "above": 9.0}, None):
        wall.beats(noise=noise)
        found = wall.following.look()
        assert found is not None
        assert (found.now or {})["noise"] == noise


def test_a_beat_is_compared_with_those_of_its_own_case(wall: Wall) -> None:
    """Else a state that a killed assistant left beside another case is taken for a living one."""
    wall.alive()
    replaced(wall)
    wall.look()
    NowFile(wall.path).write(now(beat=77))
    for _ in range(3):
        found = wall.look()
        assert (found.now, found.fresh) == (None, False)


@pytest.mark.parametrize("most", [1, 7, 100, 4096])
def test_a_journal_read_in_many_pieces(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, most: int
) -> None:
    """Else a record that lies across two reads is told as damage, and the board of it is lost."""
    path = tmp_path / "a.vcj"
    keep(path, SHORT).close()
    monkeypatch.setattr(tail_module, "_MOST", most)
    tail: Tail[Any] = Tail(path, CODEC)
    assert tail.poll() == (False, SHORT)
    assert (tail.damage, tail.records) == (None, len(SHORT))


@pytest.mark.parametrize("size", [5_000, 10_000, 60_000])
def test_a_long_moment_is_read(tmp_path: Path, size: int) -> None:
    """Else a long answer makes the board say that the assistant is gone, while it speaks."""
    path = tmp_path / "a.vcj"
    keep(path, BASE).close()
    following = Following(path, CODEC, FakeClock().monotonic)
    file = NowFile(path)
    said = {"text": "w" * size, "kind": "answer", "next": None, "at": 1.0, "spoken": True}
    for beat in (1, 2):
        file.write(now(beat=beat, said=said))
        following.look()
    state = read(path)
    assert state is not None
    assert state["said"] == said
    assert following.known.fresh
