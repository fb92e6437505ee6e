"""Figures with all that they rest on: a share, a rate, a spread of times. None stands alone.

With fewer than ``FEWEST`` at its base a figure is told as what was counted, without a percentage,
a rate or a median: those would promise what so few cannot hold.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

FEWEST = 5
"""From this n on a figure is told as more than what was counted."""
Z = NormalDist().inv_cdf(0.975)
"""Of a two-sided interval of 95 %."""


def wilson(k: int, n: int) -> tuple[float, float]:
    """Give the 95 % score interval of ``k`` of ``n``, as shares, without continuity correction.

    E. B. Wilson, J Am Stat Assoc 1927;22:209-12: the shares from which ``k`` of ``n`` lies less
    than ``Z`` standard errors away. It takes each of the ``n`` as independent of the others.
    ValueError where ``k`` is not of ``n``.
    """
    if not 0 <= k <= n or n == 0:
        raise ValueError(f"{k} of {n} is no share")
    found = k / n
    middle = found + Z * Z / (2 * n)
    half = Z * sqrt(found * (1 - found) / n + Z * Z / (4 * n * n))
    whole = 1 + Z * Z / n
    low = 0.0 if k == 0 else (middle - half) / whole
    high = 1.0 if k == n else (middle + half) / whole
    return low, high


@dataclass(frozen=True)
class Share:
    """``k`` of ``n``, each of which is in it or not."""

    k: int
    n: int

    @property
    def told(self) -> bool:
        """Whether there are enough for a percentage."""
        return self.n >= FEWEST

    @property
    def value(self) -> float | None:
        """The share, 0 to 1; None where there are too few."""
        return self.k / self.n if self.told else None

    @property
    def interval(self) -> tuple[float, float] | None:
        """Its 95 % interval; None where there are too few."""
        return wilson(self.k, self.n) if self.told else None

    def __str__(self) -> str:
        counted = f"{self.k:,} of {self.n:,}"
        if self.interval is None:
            return counted
        low, high = self.interval
        percent = f"{100 * self.k / self.n:.1f} %"
        return f"{counted} ({percent}, 95 % interval {100 * low:.1f} to {100 * high:.1f} %)"


@dataclass(frozen=True)
class Rate:
    """``k`` over ``base``, which ``k`` is not a part of, or of which one may be in ``k`` twice."""

    k: int
    base: float
    """In ``unit``."""
    unit: str
    """What the base counts: "lines", "hours"."""
    n: int
    """How many cases or counts it rests on."""
    of: str
    """Which of the two: "cases", "counts"."""
    per: int = 1
    """For how many of ``unit`` the rate is told."""

    @property
    def value(self) -> float | None:
        """``k`` per ``per`` of ``unit``; None where there are too few or no base."""
        return self.per * self.k / self.base if self.n >= FEWEST and self.base > 0 else None

    @property
    def base_text(self) -> str:
        """The base as a person reads it; a little time has one digit more."""
        digits = 3 if 0 < self.base < 0.1 else 2
        return f"{self.base:,.{digits}f}" if isinstance(self.base, float) else f"{self.base:,}"

    def __str__(self) -> str:
        counted = f"{self.k:,} in {self.base_text} {self.unit}, {self.n:,} {self.of}"
        if self.value is None:
            return counted
        each = f"{self.per} {self.unit}" if self.per > 1 else self.unit.removesuffix("s")
        return f"{self.value:.2f} per {each} ({counted})"


class Times:
    """Many times, kept as how often each whole second came: no time is lost, few are held."""

    def __init__(self) -> None:
        self.seconds: dict[int, int] = {}
        self.unusable = 0
        """Times below zero: a clock that was set back."""

    def add(self, seconds: float) -> bool:
        """Take one time in; tell whether it could be used."""
        if seconds < 0:
            self.unusable += 1
            return False
        whole = round(seconds)
        self.seconds[whole] = self.seconds.get(whole, 0) + 1
        return True

    def add_all(self, others: "Times") -> None:
        """Take in all times of others."""
        self.unusable += others.unusable
        for whole, times in others.seconds.items():
            self.seconds[whole] = self.seconds.get(whole, 0) + times

    @property
    def n(self) -> int:
        """How many times."""
        return sum(self.seconds.values())

    @property
    def total(self) -> int:
        """All of them together, in seconds."""
        return sum(whole * times for whole, times in self.seconds.items())

    @property
    def mean(self) -> float | None:
        """Their mean in seconds; None for fewer than FEWEST."""
        return self.total / self.n if self.n >= FEWEST else None

    def __iter__(self) -> Iterator[int]:
        """Give every time in whole seconds, the shortest first."""
        for whole in sorted(self.seconds):
            for _ in range(self.seconds[whole]):
                yield whole

    def spread(self) -> "Spread | None":
        """Give median, quartiles and range; None where there is no time."""
        return _spread(self.seconds) if self.seconds else None


@dataclass(frozen=True)
class Spread:
    """Median, quartiles and range of ``n`` times, in seconds.

    Quartiles are laid linearly between the two nearest times (Hyndman and Fan's type 7, what
    numpy and R take where nothing is said).
    """

    n: int
    low: int
    first: float
    median: float
    third: float
    high: int

    @property
    def told(self) -> bool:
        """Whether there are enough for a median."""
        return self.n >= FEWEST


def _spread(seconds: Mapping[int, int]) -> Spread:
    n = sum(seconds.values())
    ordered = sorted(seconds)

    def ranked(wanted: Iterable[int]) -> list[int]:
        """Find the times at some ranks, from 0, in rising order."""
        found, before, left = [], 0, list(wanted)
        for whole in ordered:
            before += seconds[whole]
            while left and left[0] < before:
                found.append(whole)
                left.pop(0)
        return found

    def quantile(share: float) -> float:
        at = share * (n - 1)
        below = int(at)
        low, high = ranked((below, min(below + 1, n - 1)))
        return low + (at - below) * (high - low)

    return Spread(n, ordered[0], quantile(0.25), quantile(0.5), quantile(0.75), ordered[-1])


def duration(seconds: float) -> str:
    """Write a time as people say it: ``45 s``, ``4 min 51 s``, ``1 h 2 min``."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return _two(whole // 60, "min", whole % 60, "s")
    return _two(whole // 3600, "h", whole % 3600 // 60, "min")


def _two(large: int, unit: str, small: int, smaller: str) -> str:
    return f"{large} {unit} {small} {smaller}" if small else f"{large} {unit}"
