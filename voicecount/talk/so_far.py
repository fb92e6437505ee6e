"""How much was heard, accepted, ignored and asked about since it was last written down."""

from collections import Counter

from voicecount.count.events import UtterancesHeard
from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import Reason


class HeardSoFar:
    """Counts utterances; ``event`` gives what is kept of them, and begins anew."""

    def __init__(self) -> None:
        self._outcomes: Counter[Outcome] = Counter()
        self._asked: Counter[Reason] = Counter()

    def take(self, heard: Heard) -> None:
        """Count one utterance."""
        self._outcomes[heard.outcome] += 1
        if heard.outcome is Outcome.UNSURE:
            self._asked[heard.reason or Reason.WEAK_MATCH] += 1

    def event(self, at: float) -> UtterancesHeard:
        """Give the event, the reasons in the order of their codes."""
        found = UtterancesHeard(
            at=at,
            utterances=self._outcomes.total(),
            accepted=self._outcomes[Outcome.ACCEPTED],
            ignored=self._outcomes[Outcome.IGNORED],
            asked=tuple((why.value, n) for why in Reason if (n := self._asked[why])),
        )
        self._outcomes.clear()
        self._asked.clear()
        return found
