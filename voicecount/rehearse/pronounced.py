"""What is learned from the phone heads: further ways to say a word."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import product

import numpy as np

from voicecount.hear.respell import distance
from voicecount.rehearse.alike import Names
from voicecount.words.graph import Phones
from voicecount.words.pronounce import Lexicon

Fit = Callable[[Sequence[Phones]], Sequence[float]]
"""Phone strings to how well each fits an utterance, in nats."""

FURTHEST = 0.45
"""Of the phones of a word, at most this share may differ from the nearest way it is known by."""
KNOWN = "it is known"
_SHORTEST = 2
_HISSES = {"S", "Z"}
_WAYS_A_WORD = 3


def likeliest(
    words: Sequence[str], lexicon: Lexicon, around: tuple[Phones, Phones], fit: Fit
) -> tuple[Phones, ...]:
    """Give the pronunciation of each word of a name that fits an utterance best.

    ``around`` are the phones before and after the name.
    """
    combined = list(_combined(words, lexicon))
    before, after = around
    strings = [(*before, *(p for way in each for p in way), *after) for each in combined]
    return combined[int(np.argmax(fit(strings)))]


def why_refused(
    way: Phones,
    word: str,
    said: tuple[str, tuple[str, ...]],
    names: Names,
    furthest: float = FURTHEST,
) -> str | None:
    """Tell why a way of saying a word must not stand for it in a name, or give None.

    ``said`` is the line and the words of the name.
    """
    line, name = said
    known = names.lexicon.pronounce(word)
    apart = min(distance(way, one) for one in known)
    if apart == 0:
        return KNOWN
    if len(way) < _SHORTEST or apart > max(1.0, furthest * max(map(len, known))):
        return "it is too far from what is known"
    if names.like_a_number(way, apart):
        return "it sounds like a number"
    whole = said_with(name, names.lexicon, word, way)
    own = names.own_distance(whole, line, name)
    return names.why_nearer(whole, line, own)


def said_with(name: Sequence[str], lexicon: Lexicon, word: str, way: Phones) -> Phones:
    """Give a name's first pronunciation with one word said in another way."""
    each = (way if one == word else lexicon.pronounce(one)[0] for one in name)
    return tuple(phone for phones in each for phone in phones)


def known_ways(name: Sequence[str], lexicon: Lexicon) -> list[Phones]:
    """Give the ways in which a whole name is said already."""
    return [tuple(p for way in each for p in way) for each in _combined(name, lexicon)]


def sibling(word: str, way: Phones, words: Mapping[str, str], lexicon: Lexicon) -> Phones | None:
    """Give a way to say the plural of a word, or its singular; ``words`` maps one to the other.

    The end that both are known by is put on or taken away.
    """
    other = words.get(word)
    if other is None:
        return None
    mine, theirs = lexicon.pronounce(word)[0], lexicon.pronounce(other)[0]
    if len(theirs) > len(mine) and theirs[: len(mine)] == mine:
        return (*way, *theirs[len(mine) :])
    if len(mine) > len(theirs) and mine[: len(theirs)] == theirs and way[-1] in _HISSES:
        return way[: len(way) - (len(mine) - len(theirs))] or None
    return None


def gain(old: Sequence[float], new: Sequence[float]) -> float:
    """Give by how many nats the sum of two sets of ways is more than the first alone."""
    before = float(np.logaddexp.reduce(old))
    return float(np.logaddexp.reduce([before, *new])) - before


def agreed(heard: Sequence[Phones], share: float = 0.25) -> Phones | None:
    """Give the way that most others are near to, if at least two agree; else None."""
    best: tuple[int, float, Phones] | None = None
    for place, way in enumerate(heard):
        near = [
            distance(way, other)
            for at, other in enumerate(heard)
            if at != place and distance(way, other) <= share * max(len(way), len(other), 1)
        ]
        ranked = (-len(near), sum(near), way)
        if near and (best is None or ranked < best):
            best = ranked
    return best[2] if best is not None else None


def _combined(words: Sequence[str], lexicon: Lexicon) -> Iterator[tuple[Phones, ...]]:
    """Give the ways of several words, each word's on its own, the likeliest first."""
    return product(*(lexicon.pronounce(word)[:_WAYS_A_WORD] for word in words))
