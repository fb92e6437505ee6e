"""What a board knows: the ledger as the journal tells it, this moment, and how fresh both are.

It only reads. When the journal becomes another one, nothing of the last case stays.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import inf
from pathlib import Path
from typing import Any

from voicecount.board.moment import fits
from voicecount.count.discrepancy import Discrepancy
from voicecount.count.events import DiscrepancyClosed, Event, Settled
from voicecount.count.ledger import Ledger, apply
from voicecount.errors import JournalError
from voicecount.keep import now as now_file
from voicecount.keep import witness
from voicecount.keep.reading import Codec
from voicecount.keep.record import FIRST_PREV
from voicecount.keep.tail import Tail

GONE_SECONDS = 1.5
"""Without a beat for so long, the assistant is taken to be gone; people are told by two seconds."""

SLOW_SECONDS = 1.2
"""An assistant whose work has not gone on for so long has not answered yet. With a beat and a look,
people are told by two seconds. The longest that a line's words took to be heard was 1.24 s."""
STUCK_SECONDS = 10.0
"""After so long it is taken to be gone, although it still beats: it hangs, or is far too slow. A
long call on a busy machine took 7 s."""


@dataclass(frozen=True)
class Known:
    """One look at everything."""

    ledger: Ledger
    events: int
    """How many events stand in it."""
    records: int
    digits: str
    """The first eight of the head's."""
    written: datetime | None
    """Time of day of the last record."""
    trouble: str | None
    """Why the journal cannot be followed any further; one line."""
    now: Mapping[str, Any] | None
    """This moment, as the assistant last told it; None once it is gone."""
    silent: float
    """Seconds since its last sign of life; infinite where none was ever seen."""
    lost: tuple[Discrepancy, ...] = ()
    """Differences of the whole case that were closed without the item."""
    slow: int = 0
    """Seconds for which it has run without going on with its work; 0 while they are few."""

    @property
    def fresh(self) -> bool:
        """Whether what is shown is how things stand."""
        return self.trouble is None and (self.now is not None or self.ledger.closed)


class Following:
    """Follows one journal. Call ``look`` again and again; it gives None while nothing changed."""

    def __init__(self, path: Path, codec: Codec[Event], monotonic: Callable[[], float]) -> None:
        self._tail: Tail[Event] = Tail(path, codec)
        self._path = path
        self._monotonic = monotonic
        self._ledger = Ledger()
        self._events = 0
        self._trouble: str | None = None
        self._broken: str | None = None
        """Why no further event of this journal can be taken; stays until it is begun anew."""
        self._now: dict[str, Any] | None = None
        self._beat_at: float | None = None
        self._written: datetime | None = None
        self._lost: list[Discrepancy] = []
        self._was: tuple[object, ...] | None = None
        nothing = witness.digits(FIRST_PREV)
        self._known = Known(Ledger(), 0, 0, nothing, None, None, None, inf)

    def begun(self) -> bool:
        """Tell whether anything stands in the journal. JournalError where there is none."""
        return self._tail.begun()

    def look(self) -> Known | None:
        """Look once; None where a look would show what the last one showed."""
        self._read_journal()
        self._read_now()
        silent, still = self._silent(), self._still()
        alive = silent <= GONE_SECONDS and still <= STUCK_SECONDS
        shown = self._now if alive else None
        slow = round(still) if alive and still >= SLOW_SECONDS else 0
        silent += still
        told = {name: one for name, one in (shown or {}).items() if name not in {"beat", "still"}}
        # Once it is silent, for how long is told anew every second.
        seconds = None if alive or silent == inf else round(silent)
        state = (self._tail.head, self._trouble, alive, slow, told, seconds)
        if state == self._was:
            return None
        self._was = state
        self._known = Known(
            self._ledger,
            self._events,
            self._tail.records,
            witness.digits(self._tail.head),
            self._written,
            self._trouble,
            shown,
            silent,
            tuple(self._lost),
            slow,
        )
        return self._known

    @property
    def known(self) -> Known:
        """What was known at the last look at which anything had changed.

        When the looks themselves have stopped, as on a disk that hangs, it is no longer fresh.
        """
        silent = self._silent()
        if self._known.now is not None and silent > GONE_SECONDS:
            return replace(self._known, now=None, silent=silent, slow=0)
        return self._known

    def _still(self) -> float:
        """Give for how long its work has not gone on, as it told at its last beat."""
        return float((self._now or {}).get("still") or 0.0)

    def _silent(self) -> float:
        beat_at = self._beat_at  # another thread may look at the same time
        return inf if beat_at is None else self._monotonic() - beat_at

    def _read_journal(self) -> None:
        try:
            anew, events = self._tail.poll()
        except JournalError as error:
            self._trouble = str(error)
            return
        if anew:
            self._ledger, self._events = Ledger(), 0
            self._now, self._beat_at = None, None
            self._written, self._broken = None, None
            self._lost.clear()
        self._take(events)
        damage = self._tail.damage
        told = self._broken or (None if damage is None else str(damage))
        self._trouble = None if told is None else f"{self._path.name}, {told}"

    def _take(self, events: Sequence[Event]) -> None:
        last = self._tail.last
        self._written = None if last is None else _time(last.wall)
        if last is not None and self._written is None:
            self._broken = self._broken or f"line {self._tail.records}: it has no time of day"
        for event in events:
            if self._broken is not None:
                return
            before = self._ledger
            try:
                self._ledger = apply(before, event)
            except JournalError as error:
                self._broken = str(error).partition("; the journal")[0]
                return
            self._events += 1
            if isinstance(event, DiscrepancyClosed) and event.settled is Settled.NOT_FOUND:
                self._lost.append(before.discrepancies[event.discrepancy])

    def _read_now(self) -> None:
        found = now_file.read(self._path)
        if found is None or not fits(found) or found.get("case") != self._tail.first:
            return
        # The first one may have been left behind by a kill: only a beat that changes is life.
        if self._now is not None and found.get("beat") != self._now.get("beat"):
            self._beat_at = self._monotonic()
        self._now = found


def _time(wall: str) -> datetime | None:
    """Read a record's time of day; None where it is none, or does not say of which zone."""
    try:
        found = datetime.fromisoformat(wall)
    except ValueError:
        return None
    return found if found.tzinfo is not None else None
