"""What a judge found in an attempt: lines, findings, pace, loudness, marks. Data only."""

from dataclasses import dataclass
from enum import StrEnum

from voicecount.drill.model import Criterion


class Fault(StrEnum):
    """A kind of finding. Each belongs to one row of the rubric (``ROW``)."""

    MISSED_ITEM = "missed_item"
    WRONG_ORDER = "wrong_order"
    WRONG_GROUP = "wrong_group"
    """A whole group came at another place."""
    WRONG_PLACE = "wrong_place"
    UNEXPECTED_ITEM = "unexpected_item"
    """An item of the sheet that does not lie there."""
    NOT_FROM_ONE = "not_from_one"
    SKIPPED = "skipped"
    REPEATED = "repeated"
    BACKWARDS = "backwards"
    STATED = "stated"
    """A total where it has to be counted one by one."""
    TOO_FEW = "too_few"
    TOO_MANY = "too_many"
    OTHER_NAME = "other_name"
    """A name of the sheet, but not its first one; told, and not marked down."""
    NO_NUMBER = "no_number"
    TOO_FAST = "too_fast"
    TOO_SLOW = "too_slow"
    UNEVEN = "uneven"
    LONG_PAUSE = "long_pause"
    FALSE_START = "false_start"
    """A line that was begun again without a reason."""
    CALLED_TWICE = "called_twice"
    """A line that was called again, whole."""
    TOO_QUIET = "too_quiet"
    UNEVEN_LOUDNESS = "uneven_loudness"
    CONFIRMED_WITHOUT_NUMBER = "confirmed_without_number"
    CONFIRMED_WRONG = "confirmed_wrong"
    NOT_CONFIRMED = "not_confirmed"
    NOT_NOTICED = "not_noticed"
    TOO_LATE = "too_late"
    WRONG_ANSWER = "wrong_answer"
    NOT_BEGUN_AGAIN = "not_begun_again"
    """After an interruption the run went on instead of beginning again."""


ROW: dict[Fault, Criterion] = {
    Fault.MISSED_ITEM: Criterion.COMPLETE,
    Fault.WRONG_ORDER: Criterion.ORDER,
    Fault.WRONG_GROUP: Criterion.ORDER,
    Fault.WRONG_PLACE: Criterion.ORDER,
    Fault.UNEXPECTED_ITEM: Criterion.COMPLETE,
    Fault.NOT_FROM_ONE: Criterion.CADENCE,
    Fault.SKIPPED: Criterion.CADENCE,
    Fault.REPEATED: Criterion.CADENCE,
    Fault.BACKWARDS: Criterion.CADENCE,
    Fault.STATED: Criterion.CADENCE,
    Fault.TOO_FEW: Criterion.NUMBERS,
    Fault.TOO_MANY: Criterion.NUMBERS,
    Fault.OTHER_NAME: Criterion.WORDING,
    Fault.NO_NUMBER: Criterion.NUMBERS,
    Fault.TOO_FAST: Criterion.PACE,
    Fault.TOO_SLOW: Criterion.PACE,
    Fault.UNEVEN: Criterion.PACE,
    Fault.LONG_PAUSE: Criterion.FLUENCY,
    Fault.FALSE_START: Criterion.FLUENCY,
    Fault.CALLED_TWICE: Criterion.FLUENCY,
    Fault.TOO_QUIET: Criterion.LOUDNESS,
    Fault.UNEVEN_LOUDNESS: Criterion.LOUDNESS,
    Fault.CONFIRMED_WITHOUT_NUMBER: Criterion.CONFIRMING,
    Fault.CONFIRMED_WRONG: Criterion.CONFIRMING,
    Fault.NOT_CONFIRMED: Criterion.CONFIRMING,
    Fault.NOT_NOTICED: Criterion.EVENTS,
    Fault.TOO_LATE: Criterion.EVENTS,
    Fault.WRONG_ANSWER: Criterion.EVENTS,
    Fault.NOT_BEGUN_AGAIN: Criterion.EVENTS,
}
"""The row of the rubric that a finding belongs to."""


@dataclass(frozen=True)
class Finding:
    """One judgement with its moment in the recording."""

    fault: Fault
    start: float
    end: float
    """Seconds from the start of the recording; where something is missing, where it was due."""
    step: str | None = None
    """The id of the step that it belongs to."""
    item: str | None = None
    place: str | None = None
    heard: tuple[int, ...] = ()
    """The numbers that it is about, such as those left out, or the one said twice."""
    expected: int | None = None
    value: float | None = None
    """The measured value, in the unit of its kind: seconds, numbers a minute, dB."""
    words: str = ""
    """The words that it is about, such as the name that was said."""

    @property
    def criterion(self) -> Criterion:
        """The row of the rubric."""
        return ROW[self.fault]


class Result(StrEnum):
    """What became of a step."""

    RIGHT = "right"
    FAULTY = "faulty"
    MISSING = "missing"
    NOT_HEARD = "not_heard"
    """Something was said there that was not understood: nothing is held against anybody."""
    NOT_JUDGED = "not_judged"
    """Its cue is not in the recording."""


@dataclass(frozen=True)
class Number:
    """One number of a run, in time."""

    value: int
    start: float
    end: float


@dataclass(frozen=True)
class StepJudged:
    """One step, and what the student made of it."""

    step: str
    result: Result
    start: float | None = None
    end: float | None = None
    words: str = ""
    """What was understood."""
    numbers: tuple[Number, ...] = ()
    reaction: float | None = None
    """Seconds from the end of the cue to the answer; negative: into it."""
    loud_db: float | None = None
    above_room: float | None = None


@dataclass(frozen=True)
class NotHeard:
    """An utterance that was not understood, shown and not held against anybody."""

    start: float
    end: float
    reason: str
    """A code of ``reasons.py``."""
    step: str | None = None
    """The step that it probably belongs to."""


@dataclass(frozen=True)
class Measured:
    """Pace and loudness of the whole attempt; None where there is too little to measure."""

    numbers_per_minute: float | None
    """Median over the runs: 60 (n - 1) / (start of the last - start of the first)."""
    numbers: int
    """Numbers in the runs that were measured."""
    unevenness: float | None
    """Standard deviation over mean of the times from number to number, within runs."""
    longest_pause: float | None
    """Seconds inside a line."""
    above_room: float | None
    """dB, median over the lines."""
    loudness_spread: float | None
    """dB, standard deviation from line to line."""


@dataclass(frozen=True)
class Mark:
    """One row of the rubric."""

    criterion: Criterion
    weight: float
    right: int
    of: int
    """How many chances there were; 0: nothing to judge."""

    @property
    def share(self) -> float | None:
        """Give what was right, 0 to 1; None where there was nothing to judge."""
        return self.right / self.of if self.of else None


@dataclass(frozen=True)
class Judgement:
    """All that a judge says of one attempt."""

    steps: tuple[StepJudged, ...]
    findings: tuple[Finding, ...]
    """By their starts."""
    not_heard: tuple[NotHeard, ...]
    measured: Measured
    marks: tuple[Mark, ...]
    """One for each row of the rubric, in its order."""

    @property
    def score(self) -> float | None:
        """Give the weighted share of all rows that were judged, 0 to 1; None without any."""
        judged = [(mark.weight, mark.share) for mark in self.marks if mark.share is not None]
        weight = sum(one for one, _ in judged)
        return sum(one * share for one, share in judged) / weight if weight else None
