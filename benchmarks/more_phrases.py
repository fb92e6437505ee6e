"""Further kinds of phrases: bare runs with a fault, long runs, hard pairs, answers, more talk.

They follow those of benchmarks/phrases.py and are drawn by random numbers of their own, so that
adding to them changes no earlier clip.
"""

import random
from collections.abc import Iterator

from benchmarks.phrases import Phrase, foreign, grammar_for, names_for, phrases, sheet_for, talk
from benchmarks.room_talk import MORE_TALK
from voicecount.words.grammar import parse
from voicecount.words.numbers import in_words, words_of
from voicecount.words.soundalike import twins

TWINS = tuple(value for value in range(1, 100) if twins(value))
"""Numbers that sound like another one."""


def _spoken(values: list[int]) -> str:
    return ", ".join(in_words(value) for value in values)


def _bare_with_a_fault(rng: random.Random) -> tuple[str, str]:
    """Draw numbers that go on from an earlier run, one of them left out or said twice."""
    first = rng.randint(2, 20)
    values = list(range(first, first + rng.randint(3, 7)))
    at = rng.randrange(1, len(values) - 1)
    if rng.random() < 0.5:
        del values[at]
        return _spoken(values), "going on, skipped"
    values.insert(at, values[at])
    return _spoken(values), "going on, repeated"


def _draw(rng: random.Random, names: list[tuple[str, str]], not_counted: list[str]) -> Phrase:
    one, many = rng.choice(names)
    pick = rng.random()
    if pick < 0.30:
        text, kind = _bare_with_a_fault(rng)
    elif pick < 0.45:
        text, kind = f"{many}, {_spoken(list(range(1, rng.randint(13, 21))))}", "long run"
    elif pick < 0.65:
        text, kind = f"{many}, {in_words(rng.choice(TWINS))}", "sound-alike number with its item"
    elif pick < 0.80:
        number = in_words(rng.randint(2, 40))
        text = rng.choice((f"yes, {number}", f"yes, {number} {many}", f"{many}, {number} in all"))
        kind = "answer"
    elif pick < 0.92:
        text, kind = f"no {many}", "none"
    else:
        text, kind = f"{rng.choice(not_counted or [one])}, one, two", "not counted"
    return Phrase(text, None, kind)


def more_phrases(part: str, count: int, seed: int) -> Iterator[Phrase]:
    """Draw ``count`` further phrases, each with exactly one meaning."""
    rng = random.Random(f"more {part} {seed}")
    names, grammar = names_for(part), grammar_for(part)
    not_counted = [way.one for line in sheet_for(part).not_counted for way in line.say]
    made = 0
    while made < count:
        drawn = _draw(rng, names, not_counted)
        read = parse(words_of(drawn.text), grammar)
        if len(read) == 1:
            made += 1
            yield Phrase(drawn.text, read[0][0], drawn.kind)


def more_talk(part: str) -> list[Phrase]:
    """Give the further talk of a part."""
    return [Phrase(text, None, "talk") for text in MORE_TALK[part]]


def everything(part: str, count: int, seed: int) -> list[Phrase]:
    """Give all phrases of a run, the older kinds first and in their old order.

    A fifth of ``count`` comes on top of it for the further kinds.
    """
    said = [*phrases(part, count, seed)]
    said += talk(part) * (2 if part == "tune" else 1) + foreign(part) * 2
    return [*said, *more_phrases(part, count // 5, seed), *more_talk(part)]
