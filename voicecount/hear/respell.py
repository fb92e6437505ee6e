"""Words that a recogniser does not know, spelled with words that it knows and that sound alike.

Some recognisers have a fixed vocabulary. A name outside of it can still be heard if words inside
of it, said one after the other, make the same sounds: for "kittner", say, "kit ner" if both are
there. How far the sounds are apart is counted in phones by rapidfuzz.
"""

import gzip
import json
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from voicecount.errors import ModelError
from voicecount.words.numbers import NUMBER_WORDS
from voicecount.words.pronounce import PHONES, Lexicon, to_arpabet

Phones = tuple[str, ...]

FURTHEST = 0.125
"""Distance allowed for each phone of the word: one near phone in four, one other in eight."""

_MOST_PARTS = 3
_SHORTEST_PART = 2
_PART_COST = 0.2
"""Each further word makes a spelling less natural to the recogniser's language model."""
_LEXICONS = ("lexicon_us_gold.json.gz", "lexicon_us_silver.json.gz")

_NEAR: tuple[str, ...] = (
    *("AA AO AH", "IH IY", "EH AE", "UH UW", "ER", "AW", "AY", "EY", "OW", "OY"),
    *("P B", "T D", "K G", "F V", "TH DH", "S Z", "SH ZH", "CH JH"),
    *("M", "N", "NG", "L", "R", "W", "Y", "HH"),
)
"""Phones that are taken for each other: neighbouring vowels, and pairs with and without voice."""
_CODE = {phone: chr(65 + place) for place, phone in enumerate(PHONES)}
_COARSE = {phone: chr(97 + place) for place, alike in enumerate(_NEAR) for phone in alike.split()}


@dataclass(frozen=True)
class Respelling:
    """A word, and the known words that stand for it."""

    word: str
    words: tuple[str, ...]
    sounds: Phones
    """The phones of the known words."""
    distance: float
    """0 where they sound the same; 0.5 for each near phone, 1 for each other one."""


class Respeller:
    """Finds respellings among the words of one vocabulary.

    ``taken`` holds the words that mean something already: they stand for nothing else, nor do
    words that sound like a number.
    """

    def __init__(
        self, knows: Callable[[str], bool], taken: Collection[str], lexicon: Lexicon
    ) -> None:
        self._lexicon = lexicon
        numbers = {ways for word in NUMBER_WORDS for ways in lexicon.pronounce(word)}
        self._words: list[tuple[str, Phones]] = [
            (word, phones)
            for word, phones in dictionary().items()
            if word not in taken and phones not in numbers and knows(word)
        ]
        self._by_sound: dict[str, list[tuple[str, Phones]]] = {}
        for word, phones in self._words:
            self._by_sound.setdefault(_coarse(phones), []).append((word, phones))
        self._codes = [_coarse(phones) for _, phones in self._words]

    def respell(self, word: str) -> Respelling | None:
        """Give the best respelling of a word, or None where nothing sounds like it."""
        found = [
            (best.distance + _PART_COST * (len(best.words) - 1), best.words, best)
            for phones in self._lexicon.pronounce(word)
            for best in self._candidates(word, phones)
            if best.distance <= FURTHEST * len(phones)
        ]
        return min(found)[2] if found else None

    def _candidates(self, word: str, phones: Phones) -> Iterator[Respelling]:
        allowed = int(FURTHEST * len(phones) * 2)
        near = process.extract(
            _coarse(phones),
            self._codes,
            scorer=Levenshtein.distance,
            processor=None,
            score_cutoff=allowed,
            limit=20,
        )
        for _, _, place in near:
            known, sounds = self._words[place]
            yield Respelling(word, (known,), sounds, distance(phones, sounds))
        for parts in self._splits(phones, _MOST_PARTS):
            if len(parts) > 1:
                sounds = tuple(phone for _, part in parts for phone in part)
                words = tuple(known for known, _ in parts)
                yield Respelling(word, words, sounds, distance(phones, sounds))

    def _splits(self, phones: Phones, most: int) -> Iterator[list[tuple[str, Phones]]]:
        """Give every way to say the phones with known words that sound nearly like the parts."""
        whole = self._closest(phones)
        if whole is not None:
            yield [whole]
        if most == 1:
            return
        for cut in range(_SHORTEST_PART, len(phones) - _SHORTEST_PART + 1):
            first = self._closest(phones[:cut])
            if first is not None:
                for rest in self._splits(phones[cut:], most - 1):
                    yield [first, *rest]

    def _closest(self, phones: Phones) -> tuple[str, Phones] | None:
        alike = self._by_sound.get(_coarse(phones), ())
        return min(alike, key=lambda known: (distance(phones, known[1]), known[0]), default=None)


def distance(first: Phones, second: Phones) -> float:
    """Count how far two pronunciations are apart: a near phone 0.5, any other change 1."""
    exact = Levenshtein.distance(_exact(first), _exact(second))
    coarse = Levenshtein.distance(_coarse(first), _coarse(second))
    return (exact + coarse) / 2


@lru_cache(maxsize=1)
def dictionary() -> Mapping[str, Phones]:
    """Give the plain words of the pronouncing dictionary with their first pronunciation.

    The dictionary comes with the package ``hibari-tts`` (Apache-2.0).
    """
    assets = resources.files("hibari") / "assets"
    words: dict[str, Phones] = {}
    for name in _LEXICONS:
        try:
            entries = json.loads(gzip.decompress((assets / name).read_bytes()))
        except (OSError, ValueError) as error:
            raise ModelError(
                f"{assets / name}: the dictionary cannot be read; install hibari-tts again"
            ) from error
        for word, symbols in _plain(entries.items()):
            words.setdefault(word, to_arpabet(symbols))
    return words


def _plain(entries: Iterable[tuple[str, str | dict[str, str]]]) -> Iterator[tuple[str, str]]:
    for word, entry in entries:
        symbols = entry.get("DEFAULT") if isinstance(entry, dict) else entry
        if symbols and word.isascii() and word.isalpha() and word.islower() and len(word) > 1:
            yield word, symbols


def _exact(phones: Phones) -> str:
    return "".join(_CODE[phone] for phone in phones)


def _coarse(phones: Phones) -> str:
    return "".join(_COARSE[phone] for phone in phones)
