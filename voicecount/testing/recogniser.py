"""A recogniser that answers what it was told to."""

from collections.abc import Iterable

from voicecount.hear.heard import Heard
from voicecount.sound.frame import Utterance
from voicecount.words.grammar import Grammar


class FakeRecogniser:
    """Gives the scripted answers in order, whatever the sound; IndexError when there are no more.

    ``utterances`` keeps what was handed over.
    """

    def __init__(self, answers: Iterable[Heard]) -> None:
        self._answers = list(answers)
        self.utterances: list[Utterance] = []

    @property
    def name(self) -> str:
        """Name for the record."""
        return "fake recogniser"

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:  # noqa: ARG002 - the port's
        """Give the next answer."""
        self.utterances.append(utterance)
        return self._answers[len(self.utterances) - 1]
