"""Characters that would not be seen, or would move others about, as marks that can be seen.

A name in a record comes from outside. A character that steers the reading direction could show a
number the other way round, and one that nothing can draw would vanish: both are written as their
number, ``[U+202E]``.
"""

import unicodedata

_UNSEEN = frozenset({"Cc", "Co", "Cn", "Cs"})
"""Control characters, private use, unassigned, halves of pairs (The Unicode Standard, 4.5)."""

_STEERING = frozenset(
    map(chr, (0x061C, 0x200B, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2060, 0x2070)))
) | {"\ufeff", "\u00ad"}
"""Controls of the reading direction (Unicode Standard Annex 9), breaks and joins of no width."""

_SPACES = frozenset("\t\n\r\v\f\u2028\u2029\x85")


def visible(text: str) -> str:
    """Give the text on one line, with marks for what cannot be seen."""
    return "".join(_shown(character) for character in text)


def mark(character: str) -> str:
    """Write a character as its number: ``[U+202E]``."""
    return f"[U+{ord(character):04X}]"


def _shown(character: str) -> str:
    if character.isascii() and character.isprintable():
        return character
    if character in _SPACES:
        return " "
    if character in _STEERING or unicodedata.category(character) in _UNSEEN:
        return mark(character)
    return character
