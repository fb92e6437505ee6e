"""The few readings worth judging: the search's walks and what each could be mistaken for."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from voicecount.hear.embedded.ensemble import Hearing
from voicecount.hear.embedded.graph import ways
from voicecount.hear.embedded.search import Search, Step, Walk
from voicecount.words.grammar import NUMBERS, read_tokens
from voicecount.words.graph import Phones, Tag, Token
from voicecount.words.meaning import Meaning
from voicecount.words.pronounce import Lexicon

_Said = tuple[tuple[Token, Phones], ...]

_WALKS = 4
_RIVALS = 14
_DEAREST = 30.0
"""Rivals that cost more nats than this are not looked at."""


@dataclass(frozen=True)
class Reading:
    """A meaning, the words for it that fit best, and how well they fit the sound."""

    meaning: Meaning
    tokens: tuple[Token, ...]
    ways: tuple[Phones, ...]
    """The phones of each token, in the way of saying it that fits best."""
    head: float
    """Natural-log probability of its phones, summed over alignments and ways to say it."""
    by_head: tuple[float, ...]
    """The same for the best way by each phone head; what they disagree on is in doubt."""

    @property
    def phones(self) -> Phones:
        """All its phones in order."""
        return tuple(phone for way in self.ways for phone in way)


def readings(
    searches: Sequence[Search],
    hearing: Hearing,
    lexicon: Lexicon,
    written: Sequence[tuple[Meaning, tuple[Token, ...]]] = (),
) -> list[Reading]:
    """Give the readings of an utterance, the likeliest by the heads first.

    ``searches`` are one for each head, whose walks are put together.
    ``written`` are readings of what the decoder wrote freely; each is judged with the others.
    """
    said: dict[_Said, Meaning] = {}
    for search in searches:
        for place, walk in enumerate(search.walks()[:_WALKS]):
            for steps in (walk.steps, *_mistakes(search, walk, lexicon, many=place == 0)):
                key = tuple((step.token, step.phones) for step in steps)
                meaning = read_tokens([step.token for step in steps])
                if meaning is not None:
                    said[key] = meaning
    for meaning, tokens in written:
        said[tuple((token, ways(token.words, lexicon)[0]) for token in tokens)] = meaning
    strings = [tuple(p for _, way in key for p in way) for key in said]
    if not strings:
        return []
    by_head = hearing.by_head(strings)
    groups: dict[Meaning, list[tuple[float, _Said, tuple[float, ...]]]] = {}
    scores = zip(hearing.mean(by_head).tolist(), by_head.T.tolist(), said, strict=True)
    for score, each, key in scores:
        groups.setdefault(said[key], []).append((score, key, tuple(each)))
    return sorted(_summed(groups), key=lambda reading: -reading.head)


def _summed(
    groups: Mapping[Meaning, Sequence[tuple[float, _Said, tuple[float, ...]]]],
) -> Iterator[Reading]:
    """Add up the ways to say each meaning."""
    for meaning, scored in groups.items():
        _, best, each = max(scored, key=lambda one: one[0])
        total = float(np.logaddexp.reduce([score for score, *_ in scored]))
        tokens, ways_said = tuple(t for t, _ in best), tuple(way for _, way in best)
        yield Reading(meaning, tokens, ways_said, total, each)


def _mistakes(
    search: Search, walk: Walk, lexicon: Lexicon, *, many: bool
) -> Iterator[tuple[Step, ...]]:
    """Give what a walk could be mistaken for."""
    left = _RIVALS if many else 3
    seen: set[tuple[int, Token]] = set()
    for cost, place, other in sorted(search.rivals(walk), key=lambda rival: rival[0]):
        if cost > _DEAREST or not left:
            break
        steps = (*walk.steps[:place], other, *walk.steps[place + 1 :])
        if (place, other.token) in seen or read_tokens([step.token for step in steps]) is None:
            continue
        seen.add((place, other.token))
        left -= 1
        yield steps
    if many:
        yield from _runs(walk, lexicon)


def _runs(walk: Walk, lexicon: Lexicon) -> Iterator[tuple[Step, ...]]:
    """Give the walk with one number less, doubled, or filled in, and one more after its last."""
    steps = walk.steps
    numbers = [at for at, step in enumerate(steps) if step.token.tag is Tag.NUMBER]
    for at in numbers:
        if len(numbers) > 1:
            yield (*steps[:at], *steps[at + 1 :])
        yield (*steps[: at + 1], *steps[at:])
    values = [int(steps[at].token.value or 0) for at in numbers]
    for place, (at, value) in enumerate(zip(numbers, values, strict=True)):
        if place == len(numbers) - 1:
            more: tuple[int, ...] = (value + 1, 1)
        else:
            more = (value + 1,) if values[place + 1] == value + 2 else ()
        for token in (NUMBERS[number] for number in more if number in NUMBERS):
            extra = Step(token, ways(token.words, lexicon)[0], steps[at].last, steps[at].last)
            yield (*steps[: at + 1], extra, *steps[at + 1 :])
