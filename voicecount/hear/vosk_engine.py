"""The Vosk adapter: a word list for its language model, and a strict parse of what comes back.

What Vosk calls a grammar is a list of phrases from which it makes a model of word pairs: any
listed words can come out in any order. So its answer counts only if the whole of it is one
reading of our own grammar. Its word confidence is a share within its own lattice and rejects
nothing; what carries news is the distance to the next answer with another meaning.
"""

import math
import time
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib import metadata
from pathlib import Path
from typing import Protocol

import numpy as np

from voicecount.hear.port import Heard, Outcome, Word, still_open
from voicecount.hear.refusal import refusal
from voicecount.hear.vosk_model import Alternative, Timed, VoskModel, find_model
from voicecount.hear.vosk_words import UNKNOWN, Spelling, WordList, word_list
from voicecount.reasons import Reason
from voicecount.sound.frame import RATE, Samples, Utterance
from voicecount.sound.level import own_stretch
from voicecount.words.grammar import parse
from voicecount.words.graph import Grammar, Tag
from voicecount.words.meaning import Form, Meaning

LONGEST = 30.0
"""Seconds; nobody counts a line for longer without a breath."""
MOST_CLIPPED = 0.02
"""Share of samples at full scale above which vowels are no longer told apart."""
FASTEST = 9.0
"""Words a second; fluent counting reaches five."""

_MARGIN = 3.0
"""Natural logs to the next meaning; the value that held for the embedded recogniser, since no
English model could be measured here. Models that keep answers within 2 only ("lattice-beam") have
either no rival at all or one that is too near."""
_RATIO = -15.0
"""Natural logs to free speech, below which a match is weak; from the same source as the margin."""
_RATIO_TALK = -30.0
"""Below this it was talk in the room: tried with Korean sentences, which lie from -24 to -150."""
_ANSWERS = 8
_LEAD = 0.5
"""Seconds of silence in front: the engine loses a short first word without it."""
_PAD = 0.3
_GRAMMARS_KEPT = 4
_RUN_FROM = 3
"""Words from which a pace can be told."""


@dataclass(frozen=True)
class _Reading:
    """One answer of the engine in our own words, with what it means to us."""

    words: tuple[Timed, ...]
    meanings: tuple[Meaning, ...]
    score: float

    @property
    def texts(self) -> tuple[str, ...]:
        return tuple(word.text for word in self.words)


class Stream(Protocol):
    """What is asked of an utterance that is followed; see VoskStream."""

    def feed(self, samples: Samples) -> list[str]: ...  # noqa: D102


class Engine(Protocol):
    """What is asked of a Vosk model; see VoskModel."""

    @property
    def name(self) -> str: ...  # noqa: D102

    def knows(self, word: str) -> bool: ...  # noqa: D102

    def answer(  # noqa: D102
        self, samples: Samples, phrases: Sequence[str] | None, most: int
    ) -> list[Alternative]: ...

    def stream(self, phrases: Sequence[str]) -> Stream: ...  # noqa: D102


@dataclass
class _Followed:
    """An utterance that is followed while it is said."""

    offset: float
    grammar: Grammar
    stream: Stream
    fed: int = 0
    words: Sequence[str] = ()


_NOTHING = _Reading((), (), 0.0)


class VoskRecogniser:
    """Understands utterances with a Vosk model; raises ModelError where it cannot.

    The model is that of ``folder``, or of VOICECOUNT_VOSK_MODEL, or of the user's data folder. Each
    utterance is decoded afresh: what one person said before never changes what is heard next.
    What would be taken or asked again is decoded once more without the word list: held to a list,
    the engine finds listed words in any sound, often with no second answer at all, and only the
    distance to free speech tells.
    """

    def __init__(
        self,
        folder: str | Path | None = None,
        *,
        model: Engine | None = None,
        margin: float = _MARGIN,
    ) -> None:
        self._model = model or VoskModel(find_model(folder))
        self._margin = margin
        self._stricter = 0.0
        self._lists: OrderedDict[Grammar, WordList] = OrderedDict()
        self._followed: dict[int, _Followed] = {}

    @property
    def name(self) -> str:
        """Name and version of recogniser and weights, for the record."""
        return f"vosk {metadata.version('vosk')}, {self._model.name}"

    def prepare(self, grammar: Grammar) -> tuple[Spelling, ...]:
        """Look up every word of a grammar; give the spelling of each, for a person to see.

        Raises ModelError naming the items that this model cannot hear.
        """
        return self._word_list(grammar).spellings

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand one utterance; ModelError where the model does not fit the grammar."""
        begun = time.perf_counter()
        words = self._word_list(grammar)
        reason = refusal(utterance, most_clipped=MOST_CLIPPED, longest=LONGEST)
        if reason is not None:
            nothing = _heard(utterance, _NOTHING, (Outcome.UNSURE, reason), None)
            return _timed(nothing, begun)
        first, stop = own_stretch(utterance.samples, pad=_PAD)
        sound = _padded(utterance.samples[first:stop])
        shift = utterance.offset + first / RATE - _LEAD
        answers = self._model.answer(sound, words.phrases, _ANSWERS)
        readings = [_read(answer, words, grammar, shift) for answer in answers]
        best = readings[0] if readings else _NOTHING
        margin, ratio = _margin_of(readings), None
        decision = self._decide(best, margin, grammar)
        if decision[0] is not Outcome.IGNORED:
            ratio = best.score - self._model.answer(sound, None, 1)[0].score
            decision = _weigh(decision, ratio, _RATIO + self._stricter)
        heard = _heard(utterance, best, decision, margin)
        return _timed(replace(heard, ratio=ratio), begun)

    def follow(self, so_far: Utterance, grammar: Grammar) -> Heard:
        """Give what is heard of an open utterance, to be shown and never taken.

        The engine hears each sample once, so that it costs the same however long it goes on.
        """
        begun = time.perf_counter()
        words = self._word_list(grammar)
        known = self._followed.get(so_far.channel)
        if known is None or known.offset != so_far.offset or known.grammar is not grammar:
            known = _Followed(so_far.offset, grammar, self._model.stream(words.phrases))
            known.stream.feed(np.zeros(round(_LEAD * RATE), np.float32))
            self._followed[so_far.channel] = known
        if len(so_far.samples) > known.fed:
            known.words = known.stream.feed(so_far.samples[known.fed :])
            known.fed = len(so_far.samples)
        timed = words.original([Timed(text, 0.0, 0.0) for text in known.words])
        texts = [word.text for word in timed]
        shown = "" if UNKNOWN in texts else " ".join(texts)
        return _timed(still_open(so_far, shown), begun)

    def be_stricter(self, factor: float) -> None:
        """Allow ``factor`` times as many wrong numbers.

        The margin, and how near to free speech an answer has to be, grow by as many nats.
        """
        self._stricter = max(0.0, -math.log(factor)) if factor > 0.0 else math.inf

    def _word_list(self, grammar: Grammar) -> WordList:
        if grammar not in self._lists:
            self._lists[grammar] = word_list(grammar, self._model.knows, self._model.name)
            while len(self._lists) > _GRAMMARS_KEPT:
                self._lists.popitem(last=False)
        self._lists.move_to_end(grammar)
        return self._lists[grammar]

    def _decide(
        self, best: _Reading, margin: float | None, grammar: Grammar
    ) -> tuple[Outcome, Reason | None]:
        if not best.words:
            return Outcome.IGNORED, Reason.NO_SPEECH
        if len(best.meanings) != 1 or UNKNOWN in best.texts:
            return _unreadable(best, grammar)
        if _too_fast(best.words):
            return Outcome.UNSURE, Reason.TOO_FAST
        if margin is not None and margin < self._margin + self._stricter:
            return Outcome.UNSURE, Reason.CLOSE_CALL
        if best.meanings[0].form is Form.NAME:
            return Outcome.UNSURE, Reason.NO_NUMBER
        return Outcome.ACCEPTED, None


def _weigh(
    decision: tuple[Outcome, Reason | None], ratio: float, least: float
) -> tuple[Outcome, Reason | None]:
    """Take the distance to free speech into account: talk is ignored, a weak match asked again."""
    if ratio < _RATIO_TALK:
        return Outcome.IGNORED, Reason.NOT_FOR_US
    if ratio < least and decision[0] is Outcome.ACCEPTED:
        return Outcome.UNSURE, Reason.WEAK_MATCH
    return decision


def _too_fast(words: Sequence[Timed]) -> bool:
    seconds = words[-1].end - words[0].start
    return len(words) >= _RUN_FROM and len(words) > FASTEST * seconds


def _padded(samples: Samples) -> Samples:
    silence = np.zeros(round(_LEAD * RATE), dtype=np.float32)
    return np.concatenate((silence, samples, silence))


def _read(answer: Alternative, words: WordList, grammar: Grammar, shift: float) -> _Reading:
    timed = tuple(
        Timed(word.text, round(word.start + shift, 3), round(word.end + shift, 3))
        for word in words.original(answer.words)
    )
    meanings = dict.fromkeys(
        meaning for meaning, _ in parse([word.text for word in timed], grammar)
    )
    return _Reading(timed, tuple(meanings), answer.score)


def _margin_of(readings: Sequence[_Reading]) -> float | None:
    """Give the distance to the next answer that means something else; None without one."""
    for rival in readings[1:]:
        if rival.meanings and rival.meanings != readings[0].meanings:
            return readings[0].score - rival.score
    return None


def _unreadable(best: _Reading, grammar: Grammar) -> tuple[Outcome, Reason]:
    """Tell speech that was meant for us, but is no whole reading, from talk in the room."""
    if len(best.meanings) > 1:
        return Outcome.UNSURE, Reason.CLOSE_CALL
    number_words = {
        word for arc in grammar.arcs if arc.token.tag is Tag.NUMBER for word in arc.token.words
    }
    numbers = [text in number_words for text in best.texts]
    strange = [text == UNKNOWN for text in best.texts]
    if not any(strange):
        meant = any(numbers)
        return (
            (Outcome.UNSURE, Reason.NOT_A_COUNT) if meant else (Outcome.IGNORED, Reason.NOT_FOR_US)
        )
    after = len(strange) - strange[::-1].index(True)
    if all(strange[:after]) and after < len(numbers) and all(numbers[after:]):
        return Outcome.UNSURE, Reason.UNKNOWN_NAME
    return Outcome.IGNORED, Reason.NOT_FOR_US


def _heard(
    utterance: Utterance,
    best: _Reading,
    decision: tuple[Outcome, Reason | None],
    margin: float | None,
) -> Heard:
    outcome, reason = decision
    return Heard(
        channel=utterance.channel,
        start=utterance.start,
        end=utterance.end,
        outcome=outcome,
        meaning=best.meanings[0] if best.meanings else None,
        text=" ".join(best.texts),
        words=tuple(Word(word.text, word.start, word.end) for word in best.words),
        margin=margin,
        reason=reason,
    )


def _timed(heard: Heard, begun: float) -> Heard:
    return replace(heard, latency_ms=(time.perf_counter() - begun) * 1000.0)
