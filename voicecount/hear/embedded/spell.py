"""Texts for the decoder: the ways in which it may write down one reading."""

from collections.abc import Sequence

from voicecount.words.graph import Tag, Token
from voicecount.words.numbers import in_words, read_run

_JOINING = ("and", "a")


def spellings(tokens: Sequence[Token]) -> tuple[str, ...]:
    """Give the texts of a reading: with and without commas, numbers in words and in digits."""
    parts = _parts(tokens)
    in_words = [words for words, _ in parts]
    in_digits = [digits or words for words, digits in parts]
    ways = [", ".join(in_words) + ".", " ".join(in_words) + "."]
    if any(digits for _, digits in parts):
        ways += [", ".join(in_digits) + ".", " ".join(in_digits) + "."]
    return tuple(dict.fromkeys(_first_upper(way) for way in ways))


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
