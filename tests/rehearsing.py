"""Voices and ears without sound, for the tests of the rehearsal."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from voicecount.hear.heard import Outcome
from voicecount.rehearse.ears import Answer
from voicecount.rehearse.voices import Say
from voicecount.sheet.model import Sheet
from voicecount.sound.frame import RATE, Samples, Utterance
from voicecount.words.grammar import parse
from voicecount.words.graph import Grammar, Phones
from voicecount.words.numbers import words_of

EDGES = 2 * round(0.4 * RATE)


def sheet(*names: str, **more: object) -> Sheet:
    """Make a sheet with a line for each name."""
    items = [
        {"id": name.lower().replace(" ", "_"), "group": "instruments", "say": [name], **more}
        for name in names
    ]
    return Sheet.model_validate({"title": "A trial", "items": items})


@dataclass
class FakeExamined:
    """Fits strings and texts as it is told; nothing else fits."""

    sounds: Mapping[Phones, float] = field(default_factory=dict)
    texts: Mapping[str, float] = field(default_factory=dict)
    heard: Sequence[Phones] = ()
    """What stands in the place of each part."""
    text: str = ""

    def fit_sounds(self, strings: Sequence[Phones]) -> list[float]:
        return [self.sounds.get(tuple(string), -50.0) for string in strings]

    def fit_texts(self, texts: Sequence[str]) -> list[float]:
        return [self.texts.get(text, -50.0) for text in texts]

    def phones_in(self, parts: Sequence[Phones]) -> list[Phones]:
        return list(self.heard) if self.heard else list(parts)

    def written(self) -> str:
        return self.text


@dataclass
class FakeEars:
    """Hears what was said, unless ``mishears`` says otherwise of a text and a grammar."""

    mishears: Callable[[str, Grammar], Answer | None] = lambda *_: None
    examined: Mapping[str, FakeExamined] = field(default_factory=dict)
    texts: list[str] = field(default_factory=list)
    heard: list[str] = field(default_factory=list)

    def voice(self, text: str) -> Samples:
        """Say a text: its length is its number."""
        if text not in self.texts:
            self.texts.append(text)
        return np.full(1000 + 10 * self.texts.index(text), 0.1, np.float32)

    def voices(self, *names: str) -> dict[str, Say]:
        return dict.fromkeys(names or ("one", "other"), self.voice)

    def said(self, utterance: Utterance) -> str:
        return self.texts[(len(utterance.samples) - EDGES - 1000) // 10]

    def hear(self, utterance: Utterance, grammar: Grammar) -> Answer:
        text = self.said(utterance)
        self.heard.append(text)
        answer = self.mishears(text, grammar)
        if answer is not None:
            return answer
        meaning = parse(words_of(text), grammar)[0][0]
        return Answer(Outcome.ACCEPTED, meaning, text, 10.0)

    def examine(self, utterance: Utterance) -> FakeExamined:
        return self.examined.get(self.said(utterance), FakeExamined())
