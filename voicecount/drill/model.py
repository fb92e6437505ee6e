"""The drill: what lies on the table, what the partner does, what is looked for. docs/drills.md."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StrictBool, StrictInt

from voicecount.sheet.model import AtLeastOne, Count, Slug, Text


class _Model(BaseModel):
    """Frozen, and closed to fields that are not known."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Task(StrEnum):
    """What the student does."""

    FIRST_COUNT = "first_count"
    """Calls every line of the first count."""
    ADDITION = "addition"
    """Opens an addition and calls its lines."""
    CLOSING_COUNT = "closing_count"
    """Calls every line place by place."""
    CONFIRM = "confirm"
    """Is the circulator: listens to the partner's calls and says each number back."""


class There(_Model):
    """What really lies there, in the order in which it is to be called."""

    item: Slug
    number: Count
    place: Slug | None = None
    """One of the ids in ``words.places``; None where the count has no places."""


class EventKind(StrEnum):
    """What is planted."""

    WRONG_PACKAGE = "wrong_package"
    """A package holds another number than is printed on it."""
    DROPPED = "dropped"
    """The partner tells that an item has fallen."""
    INTERRUPTION = "interruption"
    """The partner talks into a run; the line is begun again."""
    MISREAD = "misread"
    """The partner reads another number back than was called; the student has to object."""
    MISCOUNT = "miscount"
    """The partner's own run goes wrong; the student, as circulator, has to object."""
    BROUGHT = "brought"
    """The partner brings more; the student opens the addition before calling the line."""


EXPECT: Mapping[EventKind, tuple[str, ...]] = MappingProxyType(
    {
        EventKind.WRONG_PACKAGE: ("hand_over", "take_back", "other_number"),
        EventKind.DROPPED: ("dropped",),
        EventKind.INTERRUPTION: (),
        EventKind.MISREAD: ("no",),
        EventKind.MISCOUNT: ("no", "start_over"),
        EventKind.BROUGHT: ("add",),
    }
)
"""The right answers to an event that names none; ids of ``words.commands``."""

FITS: Mapping[Task, tuple[EventKind, ...]] = MappingProxyType(
    {
        Task.FIRST_COUNT: (
            *(EventKind.WRONG_PACKAGE, EventKind.DROPPED),
            *(EventKind.INTERRUPTION, EventKind.MISREAD),
        ),
        Task.ADDITION: (
            *(EventKind.BROUGHT, EventKind.WRONG_PACKAGE, EventKind.DROPPED),
            *(EventKind.INTERRUPTION, EventKind.MISREAD),
        ),
        Task.CLOSING_COUNT: (EventKind.DROPPED, EventKind.INTERRUPTION, EventKind.MISREAD),
        Task.CONFIRM: (EventKind.MISCOUNT, EventKind.WRONG_PACKAGE, EventKind.DROPPED),
    }
)
"""What can be planted in which task."""


class Planted(_Model):
    """One planted event."""

    kind: EventKind
    item: Slug
    """The line at which it comes."""
    place: Slug | None = None
    after: AtLeastOne | None = None
    """INTERRUPTION: the number of the run after which the partner begins to talk."""
    number: Count | None = None
    """MISREAD: the number read back. WRONG_PACKAGE: how many it should hold; None: the
    sheet's ``pack``.
    """
    run: tuple[Count, ...] = ()
    """MISCOUNT: the partner's run, as it is called."""
    says: Text
    """The partner's words; of a MISREAD or MISCOUNT, what is told of it afterwards."""
    expect: tuple[Slug, ...] = ()
    """Ids of ``words.commands``, any of which is a right answer; empty where the kind says it."""
    within: Annotated[float, Field(strict=True, gt=0, le=60)] = 8.0
    """Seconds from the end of the partner's words in which the answer has to begin."""

    @property
    def right(self) -> tuple[str, ...]:
        """Give the ids of commands that are a right answer."""
        return self.expect or EXPECT[self.kind]


class Criterion(StrEnum):
    """A row of the rubric."""

    COMPLETE = "complete"
    """Every item named."""
    ORDER = "order"
    """Groups and lines in the order of the sheet."""
    CADENCE = "cadence"
    """One by one, none left out, none twice."""
    NUMBERS = "numbers"
    """As many as lie there."""
    WORDING = "wording"
    """The sheet's names."""
    PACE = "pace"
    """Numbers a minute, evenness."""
    FLUENCY = "fluency"
    """Pauses inside a line, false starts."""
    LOUDNESS = "loudness"
    """Above the room, and even."""
    CONFIRMING = "confirming"
    """Confirmations given with the number."""
    EVENTS = "events"
    """What was planted: noticed, soon enough, answered rightly."""


class Pace(_Model):
    """Which pace is right here, in numbers a minute, and how even it has to be."""

    least: Annotated[float, Field(strict=True, gt=0)] = 30.0
    most: Annotated[float, Field(strict=True, gt=0)] = 100.0
    unevenness: Annotated[float, Field(strict=True, gt=0)] = 0.5
    """Largest spread (standard deviation over mean) of the times from number to number."""
    longest_pause: Annotated[float, Field(strict=True, gt=0)] = 2.0
    """Seconds of silence inside a line."""


class Loudness(_Model):
    """How loud is right."""

    above_room: Annotated[float, Field(strict=True, ge=0)] = 15.0
    """dB of the loud parts of the voice over the noise of the room."""
    unevenness: Annotated[float, Field(strict=True, gt=0)] = 6.0
    """dB, standard deviation from line to line."""


class Drill(_Model):
    """One drill; ``sheet`` is the file name of its count sheet, beside it."""

    title: Text
    level: Annotated[StrictInt, Field(ge=1, le=20)]
    task: Task
    sheet: Text
    about: Text
    """What the student is told before it begins: the scene, and what lies where."""
    goal: Text
    """What it trains, in one sentence."""
    table: Annotated[tuple[There, ...], Field(min_length=1)]
    partner: StrictBool = True
    """Whether a partner reads lines back; False: alone with the table."""
    events: tuple[Planted, ...] = ()
    pace: Pace = Pace()
    loudness: Loudness = Loudness()
    rubric: dict[Criterion, Annotated[float, Field(strict=True, ge=0)]] = {}
    """Weights; a row that is not named has weight 1, one with 0 is shown and not weighed."""

    def weight(self, criterion: Criterion) -> float:
        """Give the weight of a row."""
        return float(self.rubric.get(criterion, 1.0))
