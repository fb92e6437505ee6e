"""The recogniser port, and what comes out of it."""

from typing import Protocol

from voicecount.hear.heard import Heard, Outcome, Word
from voicecount.sound.frame import Utterance
from voicecount.words.grammar import Grammar

__all__ = ["Heard", "Outcome", "Recogniser", "Word"]


class Recogniser(Protocol):
    """The port. A recogniser never learns an expected total."""

    @property
    def name(self) -> str:
        """Name and version of recogniser and weights, for the record."""
        ...

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand one utterance within what the grammar allows."""
        ...
