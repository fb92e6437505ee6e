"""The few readings worth judging: the search's walks and what each could be mistaken for."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.ctc import forward
from voicecount.hear.embedded.graph import ways
from voicecount.hear.embedded.search import Search, Step, Walk
from voicecount.words.grammar import NUMBERS, read_tokens
from voicecount.words.graph import Phones, Tag, Token
from voicecount.words.meaning import Meaning
from voicecount.words.pronounce import Lexicon

_WALKS = 4
_RIVALS = 14
_DEAREST = 30.0
"""Rivals that cost more nats than this are not looked at."""


@dataclass(frozen=True)
class Reading:
    """A meaning, the words for it that fit best, and how well they fit the sound."""

    meaning: Meaning
    tokens: tuple[Token, ...]
    head: float
    """Natural-log probability of its phones, summed over alignments and ways to say it."""
    steps: tuple[Step, ...] | None
    """Where its words are, when the search walked it."""


def readings(
    search: Search, log_probabilities: NDArray[np.float32], lexicon: Lexicon
) -> list[Reading]:
    """Give the readings of an utterance, the likeliest by the head first."""
    walks = search.walks()[:_WALKS]
    strings: dict[tuple[tuple[Token, ...], Phones], tuple[Step, ...] | None] = {}
    for walk in walks:
        strings.setdefault((walk.tokens, walk.phones), walk.steps)
    for place, walk in enumerate(walks):
        for tokens, phones, steps in _mistakes(search, walk, lexicon, many=place == 0):
            strings.setdefault((tokens, phones), steps)
    keys = list(strings)
    meanings = [read_tokens(tokens) for tokens, _ in keys]
    known = [at for at, meaning in enumerate(meanings) if meaning is not None]
    scores = forward(log_probabilities, [keys[at][1] for at in known])
    groups: dict[Meaning, list[tuple[float, int]]] = {}
    for score, at in zip(scores.tolist(), known, strict=True):
        meaning = meanings[at]
        if meaning is not None:
            groups.setdefault(meaning, []).append((score, at))
    return sorted(_summed(groups, keys, strings), key=lambda reading: -reading.head)


def _summed(
    groups: Mapping[Meaning, Sequence[tuple[float, int]]],
    keys: Sequence[tuple[tuple[Token, ...], Phones]],
    strings: Mapping[tuple[tuple[Token, ...], Phones], tuple[Step, ...] | None],
) -> Iterator[Reading]:
    """Add up the ways to say each meaning."""
    for meaning, scored in groups.items():
        scored_first = sorted(scored, reverse=True)
        key = keys[scored_first[0][1]]
        steps = strings[key] or next(
            (strings[keys[at]] for _, at in scored_first if strings[keys[at]]), None
        )
        total = float(np.logaddexp.reduce([score for score, _ in scored]))
        yield Reading(meaning, key[0], total, steps)


def _mistakes(
    search: Search, walk: Walk, lexicon: Lexicon, *, many: bool
) -> Iterator[tuple[tuple[Token, ...], Phones, tuple[Step, ...] | None]]:
    """Give what a walk could be mistaken for."""
    rivals = sorted(search.rivals(walk), key=lambda rival: rival[0])
    for cost, place, other in rivals[: _RIVALS if many else 3]:
        if cost > _DEAREST:
            break
        steps = (*walk.steps[:place], other, *walk.steps[place + 1 :])
        yield tuple(s.token for s in steps), _phones(s.phones for s in steps), steps
    if many:
        yield from _runs(walk, lexicon)


def _runs(walk: Walk, lexicon: Lexicon) -> Iterator[tuple[tuple[Token, ...], Phones, None]]:
    """Give the walk with one number less, one doubled, and one more at its end."""
    steps = walk.steps
    numbers = [at for at, step in enumerate(steps) if step.token.tag is Tag.NUMBER]
    for at in numbers:
        if len(numbers) > 1:
            yield _joined((*steps[:at], *steps[at + 1 :]))
        yield _joined((*steps[: at + 1], *steps[at:]))
    if numbers:
        last = steps[numbers[-1]]
        value = last.token.value
        for more in (value + 1, 1) if isinstance(value, int) else ():
            token = NUMBERS.get(more)
            if token is not None:
                phones = ways(token.words, lexicon)[0]
                extra = Step(token, phones, last.last, last.last)
                yield _joined((*steps[: numbers[-1] + 1], extra, *steps[numbers[-1] + 1 :]))


def _joined(steps: Sequence[Step]) -> tuple[tuple[Token, ...], Phones, None]:
    return tuple(step.token for step in steps), _phones(step.phones for step in steps), None


def _phones(parts: Iterable[Phones]) -> Phones:
    return tuple(phone for part in parts for phone in part)
