"""Where things stand in the drawing of a case: along its time, and in rows without overlap."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise

from voicecount.report.facts import CaseFacts, Moment
from voicecount.report.words import clock, wall

_SHORTEST = 10.0
"""Seconds that the axis spans at least, so that a case of one record has one."""

_STEPS = (
    *(1.0, 2.0, 5.0, 10.0, 15.0, 30.0),
    *(60.0 * minutes for minutes in (1, 2, 5, 10, 15, 30, 60, 120, 240, 480)),
    *(86400.0 * days for days in (1, 2, 5, 10, 30, 100, 365)),
)
"""Seconds from one tick to the next."""
_MOST_TICKS = 9
MOST_JUMPS = 6
"""More jumps of the clock than this are told at once."""
CLOCKS_AGREE = 5.0
"""Seconds by which the case's clock and the time of day may part without a word."""


@dataclass(frozen=True)
class Scale:
    """Puts seconds of a case at inches of the drawing."""

    start: float
    end: float
    """Seconds; always later than ``start``."""
    left: float
    right: float
    """Inches."""

    def x(self, at: float) -> float:
        """Give where a second stands; what is outside stands at the edge."""
        share = (at - self.start) / (self.end - self.start)
        return self.left + min(max(share, 0.0), 1.0) * (self.right - self.left)


@dataclass(frozen=True)
class Tick:
    """One tick of the axis."""

    at: float
    minutes: str
    """With seconds where a step is shorter than a minute."""
    time: str
    """Time of day, UTC."""


@dataclass(frozen=True)
class Jump:
    """Where the time of day does not go on with the case's clock."""

    at: float
    by: float
    """Seconds; below zero where it went back."""

    def __str__(self) -> str:
        return f"{'ahead' if self.by > 0 else 'back'} by {clock(abs(self.by))}"


@dataclass(frozen=True)
class Bar:
    """Something that lasts, with the label that stands in or beside it. In inches."""

    left: float
    right: float
    label: str
    text_at: float
    """Where the label begins."""
    inside: bool
    name: str
    """Names the bar within the drawing."""
    hatch: str = ""
    row: int = 0

    def reach(self, width: float) -> tuple[float, float]:
        """Give from where to where it reaches, a label of that width included."""
        return min(self.left, self.text_at), max(self.right, self.text_at + width)


def scale(facts: CaseFacts, left: float, right: float) -> Scale:
    """Give the scale of a case; a shorter one than ten seconds has room after its end."""
    start = facts.began.at
    return Scale(start, max(facts.ended.at, start + _SHORTEST), left, right)


def ticks(facts: CaseFacts, along: Scale) -> list[Tick]:
    """Give the ticks: minutes from the start, and the time of day of the record before each."""
    span = along.end - along.start
    step = next((one for one in _STEPS if span / one <= _MOST_TICKS), span)
    moments = sorted({event.when.at: event.when for event in facts.events}.items())
    known = [moment for _, moment in moments] or [facts.began]
    found = []
    for number in range(int(span // step) + 1):
        at = along.start + number * step
        short = step < 60
        minutes = clock(number * step) if short else f"{number * step / 60:.0f}"
        found.append(Tick(at, minutes, _time_of_day(known, at, seconds=short)))
    return found


def jumps(facts: CaseFacts) -> list[Jump]:
    """Give where the clock of the machine was set, or stood still, between two records."""
    known = sorted((event.when for event in facts.events), key=lambda when: when.record)
    found = []
    for before, after in pairwise(known):
        passed = (wall(after.wall) - wall(before.wall)).total_seconds()
        if abs(by := passed - (after.at - before.at)) > CLOCKS_AGREE:
            found.append(Jump(after.at, by))
    return found


def _time_of_day(known: Sequence[Moment], at: float, *, seconds: bool) -> str:
    """Count on from the last record before; a clock that was set goes on from there."""
    before = [moment for moment in known if moment.at <= at]
    last = before[-1] if before else known[0]
    then = wall(last.wall) + timedelta(seconds=at - last.at)
    return f"{then:%H:%M:%S}" if seconds else f"{then:%H:%M}"


def in_rows(bars: Sequence[Bar], width: Callable[[str], float], gap: float) -> list[Bar]:
    """Give each bar the first row in which neither it nor its label overlaps another."""
    ends: list[float] = []
    placed = []
    for bar in sorted(bars, key=lambda one: one.reach(width(one.label))):
        left, right = bar.reach(width(bar.label))
        row = next((at for at, end in enumerate(ends) if end + gap <= left), len(ends))
        if row == len(ends):
            ends.append(right)
        ends[row] = right
        placed.append(Bar(**{**bar.__dict__, "row": row}))
    return placed
