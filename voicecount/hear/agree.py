"""Two recognisers that must agree: what they hear alike is taken, anything else is asked for again.

An agreement of independent engines is far less often wrong than either; it asks more often.
"""

from dataclasses import replace

from voicecount.hear.heard import Heard, Outcome
from voicecount.hear.port import Cautious, Follower, Recogniser, still_open
from voicecount.reasons import Reason
from voicecount.sound.frame import Utterance
from voicecount.words.grammar import Grammar


class AgreeingRecognisers:
    """Implements the recogniser port with two others; the first one's words and times are kept."""

    def __init__(self, first: Recogniser, second: Recogniser) -> None:
        self._first = first
        self._second = second

    @property
    def name(self) -> str:
        """Names and versions of both, for the record."""
        return f"{self._first.name} agreeing with {self._second.name}"

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand one utterance by both. The first one's talk in the room is not heard twice."""
        first = self._first.hear(utterance, grammar)
        if first.outcome is Outcome.IGNORED:
            return first
        second = self._second.hear(utterance, grammar)
        both = replace(first, latency_ms=first.latency_ms + second.latency_ms)
        if first.outcome is Outcome.UNSURE or _same(first, second):
            return both
        return replace(both, outcome=Outcome.UNSURE, reason=Reason.ENGINES_DIFFER)

    def follow(self, so_far: Utterance, grammar: Grammar) -> Heard:
        """Give what one of them hears of an open utterance: the first that can follow."""
        for one in (self._first, self._second):
            if isinstance(one, Follower):
                return one.follow(so_far, grammar)
        return still_open(so_far)

    def be_stricter(self, factor: float) -> None:
        """Make both ask more often."""
        for one in (self._first, self._second):
            if isinstance(one, Cautious):
                one.be_stricter(factor)


def _same(first: Heard, second: Heard) -> bool:
    """Tell whether both accepted one and the same meaning."""
    accepted = first.outcome is second.outcome is Outcome.ACCEPTED
    return accepted and first.meaning is not None and first.meaning == second.meaning
