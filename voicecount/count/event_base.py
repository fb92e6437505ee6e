"""What every event of a case has."""

from pydantic import BaseModel, ConfigDict

from voicecount.count.roles import Role


class BaseEvent(BaseModel):
    """What every event has."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    at: float
    """Seconds on the clock of the sound stream."""
    by: Role | None = None
    """Who brought it about; None when not known, or when time alone did."""


class OfItem(BaseEvent):
    """An event of one line of the tally."""

    item: str
    """The item's id."""
    place: str | None = None
    """Where it was counted; None in a count without places."""


class CallEvent(OfItem):
    """An event that holds what the scrub called."""

    numbers: tuple[int, ...]
    """The numbers as heard, in order; (0,) for none."""
    pieces: int | None = None
    """How many pieces each one was said to have."""
    start: float
    """Seconds to the start of the words."""
    end: float
    """Seconds to the end of the words."""
