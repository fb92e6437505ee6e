"""What an utterance says, once it is understood: the noun between words and the count."""

from dataclasses import dataclass
from enum import StrEnum


class Form(StrEnum):
    """How a count was put into words; the count's rules depend on it."""

    RUN = "run"
    """A name and a run, or a run alone: "gauze, one, two, three"."""
    NUMBER_FIRST = "number_first"
    """One number before its name: "two vessel loops"."""
    TOTAL = "total"
    """A stated total: "suture needles, total twelve"."""
    NONE = "none"
    """Said to be none: "peanuts, none"; numbers is (0,)."""
    NAME = "name"
    """A name alone; never an acceptable count."""
    COMMAND = "command"
    NOT_COUNTED = "not_counted"
    """Something on the table that is never counted; ``item`` holds its name's id."""
    PLACE = "place"
    """A place alone: "on the back table"; the count of it may follow."""
    CHOICE = "choice"
    """One of the answers that a question offered."""


@dataclass(frozen=True)
class Meaning:
    """One reading of one utterance. Hashable, so that readings can be compared and summed."""

    form: Form
    item: str | None = None
    """An item's id, or None for a run alone."""
    numbers: tuple[int, ...] = ()
    """The numbers as spoken, in order, 0 to 199."""
    pieces: int | None = None
    """How many pieces each one was said to have."""
    command: str | None = None
    """One of our command ids."""
    place: str | None = None
    """The id of a place that was said with a count or alone."""
    choice: str | None = None
    """The id of the answer that was chosen."""
