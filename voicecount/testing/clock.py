"""A clock that moves only when it is told to."""

from datetime import UTC, datetime, timedelta


class FakeClock:
    """Starts at a fixed moment; ``sleep`` moves it and returns at once."""

    def __init__(self, start: datetime | None = None) -> None:
        self._wall = start or datetime(2026, 1, 1, 8, 0, tzinfo=UTC)
        self._monotonic = 0.0
        self.slept: list[float] = []

    def wall(self) -> datetime:
        """Give the time of day, in UTC."""
        return self._wall

    def monotonic(self) -> float:
        """Seconds since the clock was made."""
        return self._monotonic

    def sleep(self, seconds: float) -> None:
        """Note the wait and move on."""
        self.slept.append(seconds)
        if seconds > 0:
            self.advance(seconds)

    def advance(self, seconds: float) -> None:
        """Let time pass."""
        self._monotonic += seconds
        self._wall += timedelta(seconds=seconds)

    def set_wall(self, wall: datetime) -> None:
        """Set the time of day, as a person or the network might, without time passing."""
        self._wall = wall
