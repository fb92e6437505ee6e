"""The chain's head in a form that people can write down, and so witness a journal from outside.

Whoever can write a journal's file can also compute all its hashes anew. Digits of the head that
two people wrote on paper cannot be computed away: no other chain of records leads to them.

Letters are said by the spelling alphabet of ICAO Annex 10, volume II: Alfa, Bravo, Charlie, Delta,
Echo, Foxtrot. Digits are said as plain words.
"""

import re

LENGTH = 8
"""How many hexadecimal digits are shown, spoken, and written down."""

_WORDS = {
    **dict(
        zip(
            "0123456789",
            ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"),
            strict=True,
        )
    ),
    **dict(
        zip("abcdef", ("alfa", "bravo", "charlie", "delta", "echo", "foxtrot"), strict=True),
    ),
}
_DIGITS = {word: digit for digit, word in _WORDS.items()}


def digits(head: str) -> str:
    """Give the digits of a hash that people witness: its first eight, in lower case."""
    return head[:LENGTH].lower()


def spoken(head: str) -> str:
    """Give these digits as words: ``5e55 1b5b …`` is "five echo five five one bravo five bravo"."""
    return " ".join(_WORDS[digit] for digit in digits(head))


def written(text: str) -> str:
    """Read what people wrote down: digits or words, in any case, with spaces, commas or hyphens.

    Gives eight digits in lower case. ValueError says what is wrong, in a few words.
    """
    found = ""
    for part in re.split(r"[\s,.-]+", text.strip().lower()):
        if part in _DIGITS:
            found += _DIGITS[part]
        elif re.fullmatch(r"[0-9a-f]*", part):
            found += part
        else:
            msg = f"{part!r} is neither a hexadecimal digit nor the word for one"
            raise ValueError(msg)
    if len(found) != LENGTH:
        msg = f"it has {len(found)} digits where {LENGTH} belong"
        raise ValueError(msg)
    return found
