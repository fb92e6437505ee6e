"""The recogniser port, and what comes out of it."""

from typing import Protocol, runtime_checkable

from voicecount.hear.heard import Heard, Outcome, Word
from voicecount.reasons import Reason
from voicecount.sound.frame import Utterance
from voicecount.words.grammar import Grammar

__all__ = ["Cautious", "Follower", "Heard", "Outcome", "Recogniser", "Word", "still_open"]


class Recogniser(Protocol):
    """The port. A recogniser never learns an expected total."""

    @property
    def name(self) -> str:
        """Name and version of recogniser and weights, for the record."""
        ...

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand one utterance within what the grammar allows."""
        ...


@runtime_checkable
class Cautious(Protocol):
    """What a recogniser may be besides: one that can be made to ask more often."""

    def be_stricter(self, factor: float) -> None:
        """Allow ``factor`` times as many wrong numbers as usual, 0 to 1; 1 is as usual."""
        ...


@runtime_checkable
class Follower(Protocol):
    """What a recogniser may be besides: one that follows an utterance while it is being said."""

    def follow(self, so_far: Utterance, grammar: Grammar) -> Heard:
        """Give what is heard of an open utterance, to be shown and never taken.

        The same utterance (its channel and ``offset``) comes again and again, longer each time, and
        sometimes shorter by its last silence; what it costs must not grow with its length. The
        outcome is ``unsure`` with the reason ``still_open``, ``text`` may be empty, and ``hear``
        later gives the same answer as if nothing had been followed.
        """
        ...


def still_open(so_far: Utterance, text: str = "") -> Heard:
    """Give the answer to an open utterance: what is heard of it so far, which is nothing yet."""
    span = (so_far.channel, so_far.start, so_far.end)
    return Heard(*span, Outcome.UNSURE, None, text, reason=Reason.STILL_OPEN)
