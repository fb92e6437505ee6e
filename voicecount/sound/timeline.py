"""Where each block of a device belongs on the stream, and what is missing between them.

The stream's time is counted in the device's own samples. The clock only watches: sound that comes
later than ever before, and stays late, shows that samples are missing. A block that comes late is
held back until it is clear which it was: a machine that was busy delivers what it held in one go,
and is on time again; a device that lost sound stays late.
"""

from collections import deque
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.capture import Block

LATE_SECONDS = 0.06
"""Later than this behind the earliest blocks, sound may be missing. Shorter losses that the device
does not report are found when they add up to it."""
HOLD_SECONDS = 0.25
"""For so long a block that is late is held back; a busy machine has caught up by then. The first
blocks of a device are held back as long, to learn when it began."""
DRIFT = 0.0005
"""Share of time by which the device's own clock may run slow without sound being missing; those of
sound cards are off by a tenth of that at most (common practice, no source)."""

_WINDOW_SECONDS = 2.0
_KEPT = 100


class Why(StrEnum):
    """How sound was lost."""

    OVERFLOW = "overflow"
    """The device or the system said so."""
    QUEUE = "queue"
    """The reader was too far behind."""
    CLOCK = "clock"
    """Less came than the clock says."""
    GONE = "gone"
    """The device was away."""
    DAMAGED = "damaged"
    """Samples came that are no numbers; silence stands in their place."""


@dataclass(frozen=True)
class Missing:
    """A stretch of sound that never came."""

    at: float
    """Seconds from the start of the stream."""
    seconds: float
    """How much is missing; 0 where the device said so and too little was lost to measure."""
    why: Why


class Account:
    """What came and what is missing, in numbers; the latest stretches one by one."""

    def __init__(self) -> None:
        self.delivered = 0.0
        """Seconds of sound that were handed on."""
        self.latest: deque[Missing] = deque(maxlen=_KEPT)
        self.times = dict.fromkeys(Why, 0)
        """How often sound was lost."""
        self.seconds = dict.fromkeys(Why, 0.0)
        """How much of it, in all."""

    @property
    def missing(self) -> float:
        """Seconds of the stream for which there is no sound."""
        return sum(self.seconds.values()) - self.seconds[Why.DAMAGED]

    def note(self, missing: Missing) -> None:
        """Enter a stretch."""
        self.latest.append(missing)
        self.times[missing.why] += 1
        self.seconds[missing.why] += missing.seconds


@dataclass(frozen=True, eq=False)
class Placed:
    """A block with its place on the stream."""

    samples: NDArray[np.float32]
    start: float
    """Seconds from the start of the stream."""
    lost: bool
    """Whether sound before it was lost."""


class Timeline:
    """Puts the blocks of one device, also of one that goes and comes back, on one stream."""

    def __init__(self, rate: int, account: Account) -> None:
        self._account = account
        self._origin: float | None = None
        self._end = 0.0
        self._held: list[Block] = []
        self._begin(rate)

    @property
    def end(self) -> float:
        """Seconds from the start of the stream to the end of what was placed."""
        return self._end + self._count / self._rate

    def now(self, clock: float) -> float:
        """Give the stream's time at a time of the clock; 0 before the first block."""
        if self._origin is None:
            return 0.0
        return max(self.end, clock - self._origin)

    def resume(self, rate: int) -> list[Placed]:
        """Go on with a device opened anew; gives what was still held back."""
        placed = self.release()
        self._end = self.end
        self._begin(rate)
        return placed

    def release(self) -> list[Placed]:
        """Give what is held back as it is, where nothing follows that could tell more."""
        if self._next is None:
            return self._enter()
        held, self._held = self._held, []
        return [self._place(block) for block in held]

    def take(self, block: Block) -> list[Placed]:
        """Take the next block; give those whose place is now certain, in order."""
        if self._next is not None and self._late(block) <= LATE_SECONDS:
            placed = [*self.release(), self._place(block)]
            self._follow(block)
            return placed
        self._held.append(block)
        if block.at - self._held[0].at < HOLD_SECONDS:
            return []
        return self._enter() if self._next is None else self._settle()

    def _begin(self, rate: int) -> None:
        self._rate = rate
        self._next: int | None = None
        self._count = 0
        self._slack: list[float] = []
        self._since = 0.0

    def _enter(self) -> list[Placed]:
        """Place the first blocks of a device: the stream begins, or goes on after a gap."""
        held, self._held = self._held, []
        if not held:
            return []
        first = held[0].first
        # The earliest of them tells when the device began: they may come all at once.
        begun = min(
            block.at - (block.first - first + len(block.samples)) / self._rate for block in held
        )
        again = self._origin is not None
        if self._origin is None:
            self._origin = begun
        away = max(0.0, begun - self._origin - self._end)
        if again:
            self._account.note(Missing(self._end, away, Why.GONE))
        self._end += away
        # What the device held from before it was opened must not run ahead of the clock.
        self._origin = min(self._origin, begun - self._end)
        self._next = first
        self._since = held[-1].at
        entered, *others = (self._place(block) for block in held)
        return [Placed(entered.samples, entered.start, entered.lost or again), *others]

    def _late(self, block: Block) -> float:
        """Give how late a block came, in seconds, if nothing is missing before it."""
        ahead = block.first + len(block.samples) - (self._next or 0)
        return block.at - (self._origin or 0.0) - self.end - ahead / self._rate

    def _place(self, block: Block, missing: float = 0.0) -> Placed:
        """Put a block at the end, after ``missing`` seconds that the clock found."""
        dropped = max(0, block.first - (self._next or 0)) / self._rate
        if dropped:
            self._account.note(Missing(self.end, dropped, Why.QUEUE))
        if missing or block.overflow:
            why = Why.OVERFLOW if block.overflow else Why.CLOCK
            self._account.note(Missing(self.end + dropped, missing, why))
        gap = dropped + missing
        if gap:
            self._end, self._count = self.end + gap, 0
        start = self.end
        self._count += len(block.samples)
        self._next = block.first + len(block.samples)
        self._account.delivered += len(block.samples) / self._rate
        return Placed(block.samples, start, block.overflow or gap > 0)

    def _settle(self) -> list[Placed]:
        """Take as missing, before what stayed late, as much as its least late block is late."""
        held, self._held = self._held, []
        least = min(self._late(block) for block in held)
        first, *others = held
        return [self._place(first, missing=least), *(self._place(block) for block in others)]

    def _follow(self, block: Block) -> None:
        """Follow the device's own clock: the earliest block of a window is on time."""
        late = block.at - (self._origin or 0.0) - self.end
        if late < 0:
            self._origin = (self._origin or 0.0) + late
            late = 0.0
        self._slack.append(late)
        if block.at - self._since < _WINDOW_SECONDS:
            return
        most = DRIFT * (block.at - self._since)
        self._origin = (self._origin or 0.0) + min(most, *self._slack)
        self._slack = []
        self._since = block.at
