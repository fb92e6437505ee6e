"""How it was heard: the embedded recogniser's answer, and what its judges think of strings.

The only module here that knows the recogniser. Everything else sees ``Ears``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.embedded.ensemble import Hearing
from voicecount.hear.embedded.head import BLANK
from voicecount.hear.heard import Outcome
from voicecount.sound.frame import RATE, Utterance
from voicecount.sound.level import at_level, own_stretch
from voicecount.words.graph import Grammar, Phones
from voicecount.words.meaning import Meaning
from voicecount.words.pronounce import PHONES

_WIDER = 3
"""Head steps around a word in which its phones may be marked."""


@dataclass(frozen=True)
class Answer:
    """What the recogniser made of an utterance."""

    outcome: Outcome
    meaning: Meaning | None
    """The best reading; None where there was none."""
    written: str = ""
    """What the text decoder wrote of its own accord."""
    margin: float = 0.0


class Examined(Protocol):
    """One utterance, ready to be asked about."""

    def fit_sounds(self, strings: Sequence[Phones]) -> list[float]:
        """Give how well whole phone strings fit, in nats."""
        ...

    def fit_texts(self, texts: Sequence[str]) -> list[float]:
        """Give how well whole texts fit, in nats."""
        ...

    def phones_in(self, parts: Sequence[Phones]) -> list[Phones]:
        """Align the parts one after the other; give the phones heard freely at each one's place."""
        ...

    def written(self) -> str:
        """Give what the text decoder writes of its own accord."""
        ...


class Ears(Protocol):
    """Listens."""

    def hear(self, utterance: Utterance, grammar: Grammar) -> Answer:
        """Understand an utterance as in a count."""
        ...

    def examine(self, utterance: Utterance) -> Examined:
        """Make an utterance ready to be asked about."""
        ...


@dataclass(frozen=True)
class EmbeddedEars:
    """Implements the port with the embedded recogniser."""

    recogniser: EmbeddedRecogniser

    def hear(self, utterance: Utterance, grammar: Grammar) -> Answer:
        """Understand an utterance as in a count."""
        heard, verdict = self.recogniser.explain(utterance, grammar)
        if verdict is None:
            return Answer(heard.outcome, None)
        return Answer(heard.outcome, verdict.best.meaning, verdict.written.text, verdict.margin)

    def examine(self, utterance: Utterance) -> "EmbeddedExamined":
        """Encode an utterance once."""
        first, stop = own_stretch(utterance.samples, drop_db=30.0, pad=0.25)
        voice = at_level(utterance.samples[first:stop])
        frames, hearing = self.recogniser.listen(voice)
        return EmbeddedExamined(self.recogniser, frames, hearing, len(voice) / RATE)


@dataclass(frozen=True, eq=False)
class EmbeddedExamined:
    """An encoded utterance."""

    recogniser: EmbeddedRecogniser
    frames: NDArray[np.float32]
    hearing: Hearing
    seconds: float

    def fit_sounds(self, strings: Sequence[Phones]) -> list[float]:
        """Ask the phone heads."""
        return [float(score) for score in self.hearing.mean(self.hearing.by_head(strings))]

    def fit_texts(self, texts: Sequence[str]) -> list[float]:
        """Ask the text decoder."""
        return [float(score) for score in self.recogniser.decoder.score(self.frames, texts)]

    def phones_in(self, parts: Sequence[Phones]) -> list[Phones]:
        """Align with the first head and read its likeliest phones."""
        whole = tuple(phone for part in parts for phone in part)
        places = self.hearing.align(whole)[0]
        free = self.hearing.first.argmax(1)
        found = []
        begun = 0
        for part in parts:
            first, last = 2 * begun + 1, 2 * (begun + len(part)) - 1
            inside = np.flatnonzero((places >= first) & (places <= last))
            around = np.flatnonzero((places >= first - 1) & (places <= last + 1))
            low = max(int(around[0]), int(inside[0]) - _WIDER)
            high = min(int(around[-1]), int(inside[-1]) + _WIDER)
            found.append(best_path(free[low : high + 1]))
            begun += len(part)
        return found

    def written(self) -> str:
        """Let the decoder write."""
        return self.recogniser.decoder.write(self.frames, self.seconds).text


def best_path(steps: NDArray[np.int64]) -> Phones:
    """Give the phones of the likeliest labels: repeats are one, blanks are none."""
    return tuple(PHONES[label - 1] for label, _ in groupby(steps.tolist()) if label != BLANK)
