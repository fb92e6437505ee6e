"""What is heard of an utterance while it is being said: shown as it comes, and never taken.

    ── settled: searched once ──┬── may still change: searched anew each time ──▶ words so far
                                └ the last second; it is encoded again with what comes after

So it costs the same after the tenth number as after the first. One encoder and one head hear it;
the judges wait for the whole utterance.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.encoder import HOP, Encoder
from voicecount.hear.embedded.graph import PhoneGraph
from voicecount.hear.embedded.head import BLANK, PhoneHead
from voicecount.hear.embedded.search import Search
from voicecount.sound.frame import RATE, Samples, Utterance
from voicecount.sound.level import at_level
from voicecount.words.graph import Grammar, Token

_OPEN = round(1.0 * RATE / HOP)
"""Encoder frames that may still change when more is said."""
_BEFORE = round(1.5 * RATE / HOP)
"""Encoder frames before the open ones that are encoded again with them, to be heard in context."""
_STEPS = 2
"""Steps of the head for each frame of the encoder."""
_STRANGE = 1.5
"""Natural logs, for each step that holds a phone, by which the best walk may lie behind the
likeliest phones; more is like nothing on the sheet, and nothing of it is shown. On the tuning
part's voices 98 % of whole counts are shown, and 16 % of the moments of talk."""


@dataclass(frozen=True)
class SoFar:
    """What was heard until now."""

    tokens: tuple[Token, ...]
    """Empty where it is nothing, or like nothing that may be said."""
    strange: float
    """Natural logs by which it lies behind the likeliest phones, for each step that holds one."""


class Follow:
    """Follows one utterance within one grammar; ``hear`` takes it again and again, grown."""

    def __init__(
        self, encoder: Encoder, head: PhoneHead, graph: PhoneGraph, grammar: Grammar, offset: float
    ) -> None:
        self._encoder = encoder
        self._head = head
        self._grammar = grammar
        self._offset = offset
        self._search = Search(graph, grammar.finals, grammar.start)
        self._settled = 0
        self._free = np.zeros(2)

    def fits(self, utterance: Utterance, grammar: Grammar) -> bool:
        """Tell whether an utterance is the one that is followed here, within the same grammar."""
        return utterance.offset == self._offset and grammar is self._grammar

    def hear(self, samples: Samples) -> SoFar:
        """Give what was said in the samples, from the first on, shape (n,)."""
        first = max(0, self._settled - _BEFORE)
        heard = self._listen(samples[first * HOP :])[_STEPS * (self._settled - first) :]
        settling = max(0, len(heard) - _STEPS * _OPEN) // _STEPS * _STEPS
        if settling:
            self._search.run(heard[:settling])
            self._free += _likeliest(heard[:settling])
            self._settled += settling // _STEPS
        ahead = self._search.fork()
        ahead.run(heard[settling:])
        walk = ahead.so_far()
        if walk is None:
            return SoFar((), 0.0)
        free, phones = self._free + _likeliest(heard[settling:])
        strange = float(free - walk.score) / max(1.0, phones)
        tokens = tuple(step.token for step in walk.steps) if strange <= _STRANGE else ()
        return SoFar(tokens, strange)

    def _listen(self, samples: Samples) -> NDArray[np.float32]:
        return self._head.log_probabilities(self._encoder.encode(at_level(samples)))


def _likeliest(heard: NDArray[np.float32]) -> NDArray[np.float64]:
    """Give the natural-log probability of the likeliest labels, and how many of them are phones."""
    return np.array([heard.max(1).sum(), np.count_nonzero(heard.argmax(1) != BLANK)])
