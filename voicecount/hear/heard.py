"""What was heard: the noun between hearing and talking. It knows words, and no sound."""

from dataclasses import dataclass
from enum import StrEnum

from voicecount.reasons import Reason
from voicecount.words.meaning import Meaning


class Outcome(StrEnum):
    """What became of an utterance."""

    ACCEPTED = "accepted"
    UNSURE = "unsure"
    """Speech meant for the assistant that must be said again."""
    IGNORED = "ignored"
    """Not meant for the assistant."""


@dataclass(frozen=True)
class Word:
    """One word with its place in the stream."""

    text: str
    start: float
    """Seconds from the start of the stream."""
    end: float


@dataclass(frozen=True)
class Rival:
    """Another reading of the same sound."""

    meaning: Meaning
    behind: float
    """How far it fits worse than the best one, in nats."""


@dataclass(frozen=True)
class Heard:
    """A recogniser's answer to one utterance. It is data: nothing is counted by it."""

    channel: int
    start: float
    end: float
    outcome: Outcome
    meaning: Meaning | None
    """The best reading, also when unsure; None when nothing fits."""
    text: str
    """What was understood, in words."""
    words: tuple[Word, ...] | None = None
    """None for recognisers that have no times."""
    margin: float | None = None
    """Natural-log distance from the best reading to the second-best; None where there is none."""
    ratio: float | None = None
    """Natural-log distance from the best reading to free speech; None where there is none."""
    wrong: float | None = None
    """How likely the reading is to be wrong, 0 to 1; None for recognisers that cannot tell."""
    reason: Reason | None = None
    """Why, whenever the outcome is not ``accepted``."""
    rivals: tuple[Rival, ...] = ()
    """Other readings that were looked at, the nearest first; none where the recogniser gives none.
    Nothing is ever counted by one; a drill holds against nobody what one of them explains."""
    latency_ms: float = 0.0
    """From the utterance's end to the answer."""
