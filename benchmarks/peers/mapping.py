"""Free text to a count: digits to words, fillers off, the name found by nearness of spelling.

This is what one would write around a recogniser that transcribes freely. The scorer looks at whole
strings (one that ignores extra words would take anything), and numbers are read, not guessed.
"""

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from voicecount.words.grammar import parse
from voicecount.words.graph import Grammar, Tag, Token
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import LARGEST, NUMBER_WORDS, in_words

FILLERS = frozenset(
    {"ah", "alright", "and", "eh", "er", "hm", "hmm", "i", "okay", "ok", "oh", "so", "the", "to"}
    | {"uh", "um", "well", "with", "a", "an", "please", "is", "are", "you", "thank", "thanks"}
)
"""Words that a free text has around a count and no count needs."""
SOUNDS_LIKE = {"won": "one", "too": "two", "to": "two", "for": "four", "fore": "four"}
SOUNDS_LIKE |= {"ate": "eight", "tree": "three", "sex": "six", "tin": "ten", "peace": "piece"}
"""Spellings of number words that no name on a sheet has."""
NEAR = 62.0
"""The lowest score, of 100, at which a stretch of words may be a name."""
NEAR_COMMAND = 80.0
_BEHIND = frozenset({"total", "none", "piece", "pieces"})
_LONGEST_NAME = 5
_WORD = re.compile(r"[a-z']+|[0-9]+")


@dataclass(frozen=True)
class Mapped:
    """What a text was taken for."""

    meaning: Meaning
    text: str
    score: float
    """How near the words are to what they were taken for, 0 to 100."""

    @property
    def nearness(self) -> float:
        """The score as a natural logarithm, 0 for the very same words."""
        return math.log(max(self.score, 1.0) / 100)


def digits_in_words(digits: str) -> str:
    """Give the words of a row of digits, or the digits where they could be read in many ways.

    Numbers that go up by one, written together, are a run ("1234", "8910") if they are three or
    more, or if the whole is no number up to 199.
    """
    number = int(digits) if digits == "0" or digits[0] != "0" else LARGEST + 1
    run = _run_in(digits)
    if run and (len(run) > 2 or number > LARGEST):
        return " ".join(in_words(value) for value in run)
    return in_words(number) if number <= LARGEST else digits


def _run_in(digits: str) -> list[int]:
    """Give the numbers going up by one that make up a row of digits; none if there are none."""
    for size in (1, 2):
        values = [int(digits[:size])]
        while len("".join(map(str, values))) < len(digits):
            values.append(values[-1] + 1)
        if len(values) > 1 and "".join(map(str, values)) == digits:
            return values
    return []


def plain_words(text: str) -> list[str]:
    """Give the words of a written text, small, without punctuation, numbers in words."""
    words: list[str] = []
    for part in _WORD.findall(text.lower().replace("-", " ")):
        words += digits_in_words(part).split() if part.isdigit() else [part]
    return words


def map_text(text: str, grammar: Grammar) -> Mapped | None:
    """Find the count or command that a text is nearest to, or None."""
    words = plain_words(text)
    ways = [words, [SOUNDS_LIKE.get(word, word) for word in words]]
    ways += [[word for word in way if word not in FILLERS] for way in ways]
    found: list[Mapped] = []
    for way in dict.fromkeys(tuple(way) for way in ways if way):
        found += _readings(way, grammar)
    return max(found, key=lambda one: (one.score, one.meaning.form is not Form.NAME), default=None)


def _readings(words: tuple[str, ...], grammar: Grammar) -> Iterator[Mapped]:
    whole = {meaning for meaning, _ in parse(words, grammar)}
    if len(whole) == 1:
        yield Mapped(whole.pop(), " ".join(words), 100.0)
        return
    said = " ".join(words)
    commands = {" ".join(token.words): token for token in _commands(grammar)}
    best = process.extractOne(said, list(commands), scorer=fuzz.ratio, score_cutoff=NEAR_COMMAND)
    if best is not None:
        yield from _read(commands[best[0]].words, best[1], grammar)
    names = {" ".join(token.words): token for token in grammar.names}
    for first, stop in _stretches(words):
        near = process.extractOne(
            " ".join(words[first:stop]), list(names), scorer=fuzz.ratio, score_cutoff=NEAR
        )
        if near is not None:
            put = (*words[:first], *names[near[0]].words, *words[stop:])
            yield from _read(put, near[1], grammar)


def _read(words: Sequence[str], score: float, grammar: Grammar) -> Iterator[Mapped]:
    read = {meaning for meaning, _ in parse(words, grammar)}
    if len(read) == 1:
        yield Mapped(read.pop(), " ".join(words), score)


def _stretches(words: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Give every stretch of a few words that could be a name.

    It holds more than numbers, and none of the words that stand behind a name.
    """
    for first in range(len(words)):
        for stop in range(first + 1, min(first + _LONGEST_NAME, len(words)) + 1):
            said = words[first:stop]
            if _BEHIND.isdisjoint(said) and not all(word in NUMBER_WORDS for word in said):
                yield first, stop


def _commands(grammar: Grammar) -> Iterator[Token]:
    return (arc.token for arc in grammar.arcs if arc.token.tag is Tag.COMMAND)
