"""Characters that would not be seen, or would move others about, as marks that can be seen.

A name in a record comes from outside. A character that steers the reading direction could show a
number the other way round, and one that nothing can draw would vanish: both are written as their
number, ``[U+202E]``. In a sentence a name of right-to-left letters keeps its direction to
itself: the two characters for that are ours, and only ours stay.
"""

import re
import unicodedata

_UNSEEN = frozenset({"Cc", "Co", "Cn", "Cs"})
"""Control characters, private use, unassigned, halves of pairs (The Unicode Standard, 4.5)."""

_STEERING = frozenset(
    map(chr, (0x061C, 0x200B, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2060, 0x2070)))
) | {"\ufeff", "\u00ad"}
"""Controls of the reading direction (Unicode Standard Annex 9), breaks and joins of no width."""

_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})
"""Letters and digits that are written from the right (Unicode Standard Annex 9, 3.2)."""

OPENS, CLOSES = "\u2068", "\u2069"
"""What is between them moves nothing outside of it (Unicode Standard Annex 9, 2.4)."""

_ISOLATE = re.compile(f"{OPENS}([^\u2066-\u2069]*){CLOSES}")

_SPACES = frozenset("\t\n\r\v\f\u2028\u2029\x85")


def visible(text: str) -> str:
    """Give the text on one line, with marks for what cannot be seen."""
    return "".join(_shown(character) for character in text)


def isolated(name: str) -> str:
    """Give a name as it stands in a sentence: right-to-left letters move nothing around it."""
    kept = visible(name)
    if any(unicodedata.bidirectional(character) in _RIGHT_TO_LEFT for character in kept):
        return f"{OPENS}{kept}{CLOSES}"
    return kept


def shown(text: str) -> str:
    """Give a text of names and words as ``visible`` does, and leave what ``isolated`` made."""
    parts = enumerate(_ISOLATE.split(text))
    return "".join(_as_isolated(part) if n % 2 else visible(part) for n, part in parts)


def unisolated(text: str) -> str:
    """Give a text from outside with marks for what could be taken for an isolated name."""
    return "".join(mark(one) if one in (OPENS, CLOSES) else one for one in text)


def bare(text: str) -> str:
    """Give a text without what ``isolated`` added to names."""
    return text.replace(OPENS, "").replace(CLOSES, "")


def _as_isolated(part: str) -> str:
    whole = f"{OPENS}{part}{CLOSES}"
    return whole if isolated(part) == whole else visible(whole)


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
