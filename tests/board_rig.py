"""A case made of events: a journal on a disk, an assistant that beats, and one who looks."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from voicecount.board.follow import Following, Known
from voicecount.board.view import Board, board
from voicecount.commands.journals import CODEC
from voicecount.count.discrepancy import Discrepancy
from voicecount.count.events import DiscrepancyClosed, Event, Settled
from voicecount.count.ledger import fold
from voicecount.keep.journal import Journal
from voicecount.keep.now import NowFile, path_of
from voicecount.sheet.policy import Policy
from voicecount.testing.clock import FakeClock

GOLDEN = Path(__file__).parent / "golden"
WHOLE = GOLDEN / "whole_case_2026_11_26.vcj"
WALK = {"steps": list(Policy().steps), "search": list(Policy().search)}


def keep(path: Path, events: Iterable[Event]) -> Journal[Event]:
    """Keep events in a new journal, and give it."""
    first, *more = events
    journal = Journal.create(path, first, CODEC, clock=FakeClock(), session="s1")
    for event in more:
        journal.append(event)
    return journal


def now(**fields: Any) -> dict[str, Any]:
    """Give a moment at which nothing happens, but for some fields."""
    still: dict[str, Any] = {
        "walk": WALK,
        "beat": 1,
        "speaking": False,
        "hears": True,
        "partial": None,
    }
    return {**still, "heard": None, "said": None, "noise": None, **fields}


def known(events: Iterable[Event], moment: dict[str, Any] | None, **fields: Any) -> Known:
    """Give what is known of a case, without any file."""
    kept = list(events)
    values: dict[str, Any] = {
        "ledger": fold(kept),
        "events": len(kept),
        "records": len(kept),
        "digits": "01234567",
        "written": None,
        "trouble": None,
        "now": moment,
        "silent": 0.1,
        "lost": tuple(_lost(kept)),
    }
    return Known(**values | fields)


def _lost(events: list[Event]) -> Iterator[Discrepancy]:
    """Give the differences that were closed without the item."""
    for at, event in enumerate(events):
        if isinstance(event, DiscrepancyClosed) and event.settled is Settled.NOT_FOUND:
            yield fold(events[:at]).discrepancies[event.discrepancy]


def board_of(events: Iterable[Event], **fields: Any) -> Board:
    """Give the board of a case whose assistant is alive."""
    return board(known(events, now(**fields)))


class Wall:
    """A journal, its assistant, and one who follows both."""

    def __init__(self, path: Path, events: Iterable[Event]) -> None:
        self.path = path
        self.journal = keep(path, events)
        self.clock = FakeClock()
        self.file = NowFile(path)
        self.beat = 0
        self.following = Following(path, CODEC, self.clock.monotonic)

    def beats(self, **fields: Any) -> None:
        """Let the assistant beat."""
        self.beat += 1
        self.file.write(now(**fields) | {"beat": self.beat})

    def look(self) -> Known:
        """Look, and give what is known."""
        self.following.look()
        return self.following.known

    def alive(self) -> "Wall":
        """Let the assistant be seen to live."""
        self.beats()
        self.look()
        self.beats()
        assert self.look().fresh
        return self

    def close(self) -> None:
        """Let go of everything."""
        self.journal.close()
        self.file.close()
        assert not path_of(self.path).exists()
