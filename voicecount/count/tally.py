"""One line of the tally: what stands of an item, at a place once counts have places."""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import NamedTuple

from voicecount.count.events import Entry
from voicecount.count.flags import Flag
from voicecount.words.meaning import Form


class Key(NamedTuple):
    """What a tally is kept for."""

    item: str
    place: str | None = None


class State(StrEnum):
    """How far a tally has come. No state says that a count is right."""

    LEFT = "left"
    """Nothing is stored."""
    WAITING = "waiting"
    """Stored, and waiting for the circulator's number."""
    CONFIRMED = "confirmed"
    """Called by the scrub, and its number said by the circulator."""
    RECOUNT = "recount"
    """Stored, but to be counted again."""


@dataclass(frozen=True)
class Line:
    """A stored line that stands."""

    number: int
    """Its number among all lines of the case."""
    counted: int
    numbers: tuple[int, ...]
    """As heard."""
    pieces: int | None
    form: Form
    entry: Entry
    at: float
    """Seconds on the stream's clock when it was stored."""
    start: float
    """Seconds to the start of its words."""
    end: float
    """Seconds to the end of its words."""
    confirmed: bool = False


@dataclass(frozen=True)
class Tally:
    """What stands of one key."""

    key: Key
    lines: tuple[Line, ...] = ()
    """In the order of storing."""
    due: tuple[int, ...] = ()
    """Numbers of lines that are to be counted again; they stand until something replaces them."""
    first: int | None = None
    """Number of the first line ever stored, whether it still stands or not."""
    lasting: frozenset[Flag] = frozenset()
    """Flags that never go away."""
    aside: tuple[int, ...] = ()
    """What each package that was set aside held."""

    @property
    def total(self) -> int:
        """The sum of the standing lines; 0 when there are none."""
        return sum(line.counted for line in self.lines)

    @property
    def confirmed(self) -> int:
        """The sum of the standing lines that both people gave."""
        return sum(line.counted for line in self.lines if line.confirmed)

    @property
    def counted(self) -> int | None:
        """The total, or None when nothing is stored."""
        return self.total if self.lines else None

    @property
    def state(self) -> State:
        """How far it has come."""
        if not self.lines:
            return State.LEFT
        if self.due:
            return State.RECOUNT
        return State.CONFIRMED if all(line.confirmed for line in self.lines) else State.WAITING

    @property
    def newest(self) -> Line | None:
        """The line stored last."""
        return self.lines[-1] if self.lines else None

    def flagged(self, *flags: Flag) -> "Tally":
        """Give the same tally with more lasting flags."""
        return replace(self, lasting=self.lasting | frozenset(flags))

    def without(self, numbers: tuple[int, ...]) -> "Tally":
        """Give the same tally without some of its lines."""
        return replace(
            self,
            lines=tuple(line for line in self.lines if line.number not in numbers),
            due=tuple(number for number in self.due if number not in numbers),
        )
