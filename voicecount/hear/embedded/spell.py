"""Texts for the decoder: the ways in which it may write down one reading."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from voicecount.words.graph import Grammar, Phones, Tag, Token
from voicecount.words.numbers import in_words, read_run

_JOINING = ("and", "a")
_LETTERS = {"AA": "o", "AE": "a", "AH": "u", "AO": "aw", "AW": "ow", "AY": "i", "DH": "th"}
_LETTERS |= {"EH": "e", "EY": "ay", "HH": "h", "IH": "i", "IY": "ee", "JH": "j", "OW": "o"}
_LETTERS |= {"UH": "oo", "UW": "oo"}
Respelled = Mapping[str, tuple[str, ...]]
"""Further spellings by a word, or by several words with a space between."""
_NOTHING: Respelled = MappingProxyType({})


def as_it_sounds(phones: Phones) -> str:
    """Spell phones by plain letters: ``G AO Z`` is "gawz"."""
    return "".join(_LETTERS.get(phone, phone.lower()) for phone in phones)


def respellings(grammar: Grammar) -> dict[str, tuple[str, ...]]:
    """Give the further spellings of a grammar's words: as they sound, or as was learned."""
    found: dict[str, tuple[str, ...]] = {
        word: (as_it_sounds(given[0]),) for word, given in grammar.sounds
    }
    for words, learned in grammar.spelled:
        found[words] = (*learned, *found.get(words, ()))
    return found


def spellings(tokens: Sequence[Token], respelled: Respelled = _NOTHING) -> tuple[str, ...]:
    """Give the texts of a reading: with and without commas, numbers in words and in digits.

    Words in ``respelled`` are written in their further spellings too: the decoder knows sounds by
    how words are spelled, and a name that is said otherwise would never fit.
    """
    texts = _texts(_parts(tokens))
    if respelled:
        ways = [
            () if token.tag is Tag.NUMBER else _ways(token.words, respelled) for token in tokens
        ]
        for way in range(max((len(each) for each in ways), default=0)):
            written = [
                replace(token, words=(each[min(way, len(each) - 1)],)) if each else token
                for token, each in zip(tokens, ways, strict=True)
            ]
            texts += _texts(_parts(written))
    return tuple(dict.fromkeys(_first_upper(text) for text in texts))


def _ways(words: tuple[str, ...], respelled: Respelled) -> tuple[str, ...]:
    """Give the further spellings of a token's words; a longer part of them goes before its own."""
    for size in range(len(words), 0, -1):
        for first in range(len(words) - size + 1):
            part = respelled.get(" ".join(words[first : first + size]))
            if part:
                rest = words[first + size :]
                after = _ways(rest, respelled) or (" ".join(rest),)
                head = " ".join(words[:first])
                return tuple(
                    " ".join(filter(None, (head, one, after[min(at, len(after) - 1)])))
                    for at, one in enumerate(part)
                )
    return ()


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
