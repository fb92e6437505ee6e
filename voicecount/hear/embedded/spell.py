"""Texts for the decoder: the ways in which it may write down one reading."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from voicecount.words.graph import Phones, Tag, Token
from voicecount.words.numbers import in_words, read_run

_JOINING = ("and", "a")
_LETTERS = {"AA": "o", "AE": "a", "AH": "u", "AO": "aw", "AW": "ow", "AY": "i", "DH": "th"}
_LETTERS |= {"EH": "e", "EY": "ay", "HH": "h", "IH": "i", "IY": "ee", "JH": "j", "OW": "o"}
_LETTERS |= {"UH": "oo", "UW": "oo"}
_NOTHING: Mapping[str, str] = MappingProxyType({})


def as_it_sounds(phones: Phones) -> str:
    """Spell phones by plain letters: ``G AO Z`` is "gawz"."""
    return "".join(_LETTERS.get(phone, phone.lower()) for phone in phones)


def spellings(tokens: Sequence[Token], respelled: Mapping[str, str] = _NOTHING) -> tuple[str, ...]:
    """Give the texts of a reading: with and without commas, numbers in words and in digits.

    A word in ``respelled`` is written as it sounds too: the decoder knows sounds by how words are
    spelled, and a name that is said otherwise would never fit.
    """
    texts = _texts(_parts(tokens))
    if any(word in respelled for token in tokens for word in token.words):
        texts += _texts(
            _parts([replace(t, words=tuple(respelled.get(w, w) for w in t.words)) for t in tokens])
        )
    return tuple(dict.fromkeys(_first_upper(text) for text in texts))


def _texts(parts: Sequence[tuple[str, str]]) -> list[str]:
    in_words = [words for words, _ in parts]
    in_digits = [digits or words for words, digits in parts]
    ways = [", ".join(in_words) + ".", " ".join(in_words) + "."]
    if any(digits for _, digits in parts):
        ways += [", ".join(in_digits) + ".", " ".join(in_digits) + "."]
    return ways


def _parts(tokens: Sequence[Token]) -> list[tuple[str, str]]:
    """Give words and digits of each whole number and each other token."""
    parts: list[tuple[str, str]] = []
    number_words: list[str] = []
    for token in (*tokens, None):
        if token is not None and (token.tag is Tag.NUMBER or token.words[0] in _JOINING):
            number_words.extend(token.words)
            continue
        values = (read_run(number_words) if number_words else None) or ()
        parts.extend((in_words(value), str(value)) for value in values)
        number_words = []
        if token is not None:
            parts.append((" ".join(token.words), ""))
    return parts


def _first_upper(text: str) -> str:
    return text[:1].upper() + text[1:]
