"""The recogniser port, and what comes out of it."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from voicecount.reasons import Reason
from voicecount.sound.frame import Utterance
from voicecount.words.grammar import Grammar
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
    reason: Reason | None = None
    """Why, whenever the outcome is not ``accepted``."""
    latency_ms: float = 0.0
    """From the utterance's end to the answer."""


class Recogniser(Protocol):
    """The port. A recogniser never learns an expected total."""

    @property
    def name(self) -> str:
        """Name and version of recogniser and weights, for the record."""
        ...

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand one utterance within what the grammar allows."""
        ...
