"""The clock port: the only way to the time of day."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Where time comes from; tests use a fake one."""

    def wall(self) -> datetime:
        """Give the time of day, in UTC. It may jump, also backwards."""
        ...

    def monotonic(self) -> float:
        """Seconds from an unnamed start; never goes backwards within one run."""
        ...

    def sleep(self, seconds: float) -> None:
        """Wait that long."""
        ...


class SystemClock:
    """The machine's own clock."""

    def wall(self) -> datetime:
        """Give the time of day, in UTC."""
        return datetime.now(UTC)

    def monotonic(self) -> float:
        """Seconds from an unnamed start."""
        return time.monotonic()

    def sleep(self, seconds: float) -> None:
        """Wait that long; not at all when it is nothing or less."""
        if seconds > 0:
            time.sleep(seconds)


class StoppableClock:
    """Another clock that can be stopped: a recording stands still while the assistant speaks."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._stood = 0.0

    def wall(self) -> datetime:
        """Give the time of day, which nothing stops."""
        return self._clock.wall()

    def monotonic(self) -> float:
        """Seconds from an unnamed start, without those for which it was stopped."""
        return self._clock.monotonic() - self._stood

    def sleep(self, seconds: float) -> None:
        """Wait that long."""
        self._clock.sleep(seconds)

    @contextmanager
    def stopped(self) -> Iterator[None]:
        """Stand still as long as the block runs."""
        begun = self._clock.monotonic()
        try:
            yield
        finally:
            self._stood += self._clock.monotonic() - begun
