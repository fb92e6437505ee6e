"""Words to pronunciations: dictionary, then grapheme-to-phoneme rules, both from a package.

The dictionary and the rules come with the package ``hibari-tts`` (Apache-2.0). Its symbols are
turned into the 39 ARPAbet phones without stress that the phone head is trained on.
"""

import re
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from voicecount.errors import SheetError

PHONES: tuple[str, ...] = (
    *("AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH"),
    *("IH", "IY", "JH", "K", "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH"),
    *("UH", "UW", "V", "W", "Y", "Z", "ZH"),
)
"""The 39 ARPAbet phones (the set of the CMU pronouncing dictionary), without stress."""

_PAIRS = {"əɹ": "ER", "ɜɹ": "ER", "dʒ": "JH", "tʃ": "CH", "eɪ": "EY", "aɪ": "AY"}
_PAIRS |= {"oʊ": "OW", "aʊ": "AW", "ɔɪ": "OY"}
_SINGLES = {"A": "EY", "I": "AY", "O": "OW", "Q": "OW", "W": "AW", "Y": "OY", "a": "AA", "i": "IY"}
_SINGLES |= {"u": "UW", "æ": "AE", "ɑ": "AA", "ɒ": "AA", "ɔ": "AO", "ə": "AH", "ɐ": "AH"}
_SINGLES |= {"ɛ": "EH", "ɜ": "ER", "ɚ": "ER", "ɪ": "IH", "ʊ": "UH", "ʌ": "AH", "ᵻ": "IH"}
_SINGLES |= {"ᵊ": "AH", "e": "EH", "o": "OW", "b": "B", "d": "D", "f": "F", "h": "HH", "j": "Y"}
_SINGLES |= {"k": "K", "l": "L", "m": "M", "n": "N", "p": "P", "s": "S", "t": "T", "v": "V"}
_SINGLES |= {"w": "W", "z": "Z", "ð": "DH", "ŋ": "NG", "ɡ": "G", "g": "G", "ɹ": "R", "r": "R"}
_SINGLES |= {"ɾ": "T", "T": "T", "ʔ": "T", "ʃ": "SH", "ʒ": "ZH", "ʤ": "JH", "ʧ": "CH"}
_SINGLES |= {"θ": "TH", "x": "K", "ɬ": "L"}
_SYMBOL = re.compile("|".join(sorted([*_PAIRS, *_SINGLES], key=len, reverse=True)))

VARIANTS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "zero": ("Z IH R OW", "Z IY R OW"),
        "four": ("F AO R",),
        "seven": ("S EH V AH N", "S EH V IH N"),
        "eleven": ("IH L EH V AH N", "AH L EH V AH N", "IY L EH V AH N"),
        "twenty": ("T W EH N T IY", "T W EH N IY", "T W AH N IY"),
        "thirty": ("TH ER T IY", "TH ER D IY"),
        "forty": ("F AO R T IY", "F AO R D IY"),
        "seventy": ("S EH V AH N T IY", "S EH V AH N IY"),
        "ninety": ("N AY N T IY", "N AY N IY"),
        "hundred": ("HH AH N D R AH D", "HH AH N D R IH D", "HH AH N ER D"),
        "and": ("AE N D", "AH N D", "AH N"),
        "a": ("AH", "EY"),
        "the": ("DH AH", "DH IY"),
    }
)
"""Ways people say words that a count is full of (common knowledge of American English)."""


def to_arpabet(symbols: str) -> tuple[str, ...]:
    """Turn the package's phoneme string into ARPAbet; marks of stress and pause are dropped."""
    return tuple(_PAIRS.get(found) or _SINGLES[found] for found in _SYMBOL.findall(symbols))


def read_arpabet(text: str, *, where: str = "sounds") -> tuple[str, ...]:
    """Read a pronunciation such as ``K IH T N ER``; stress digits are allowed and dropped.

    Raises SheetError naming the phone that is none.
    """
    phones = tuple(re.sub(r"[0-2]$", "", phone) for phone in text.upper().split())
    for phone in phones:
        if phone not in PHONES:
            raise SheetError(f"{where}: {phone!r} is no ARPAbet phone; use {' '.join(PHONES)}")
    if not phones:
        raise SheetError(f"{where}: an empty pronunciation; write phones such as 'K IH T N ER'")
    return phones


class Lexicon:
    """Pronunciations of single words, best first, never empty for a word with letters."""

    def __init__(self, sounds: Mapping[str, tuple[tuple[str, ...], ...]] | None = None) -> None:
        self._sounds = dict(sounds or {})

    def pronounce(self, word: str) -> tuple[tuple[str, ...], ...]:
        """All pronunciations of a word: the sheet's own first, then known variants, then rules."""
        word = word.lower()
        own = self._sounds.get(word, ())
        return tuple(dict.fromkeys((*own, *_pronounce(word))))


@lru_cache(maxsize=1)
def g2p() -> Any:
    """Load the package's dictionary and rules once: a word or text to its phoneme string."""
    from hibari.g2p import G2P  # noqa: PLC0415  (half a second no typed count needs)

    return G2P()


@lru_cache(maxsize=8192)
def _pronounce(word: str) -> tuple[tuple[str, ...], ...]:
    if word in VARIANTS:
        return tuple(tuple(way.split()) for way in VARIANTS[word])
    phones = to_arpabet(g2p()(word))
    ways = [phones]
    if "AO" in phones:  # many speakers do not keep these two apart
        ways.append(
            tuple(
                "AA" if phone == "AO" and after != "R" else phone
                for phone, after in zip(phones, (*phones[1:], ""), strict=True)
            )
        )
    return tuple(dict.fromkeys(ways))
