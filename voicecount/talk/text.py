"""Small parts of sentences: capitals, points, lists, numbers that sound like others."""

from collections.abc import Sequence

from voicecount.words.numbers import LARGEST, in_words
from voicecount.words.soundalike import digits, twins

LISTED = 6
"""The most lines that one sentence lists; the rest is told as a number."""


def sentence(text: str) -> str:
    """Make a sentence: a capital first, a point last."""
    return f"{capital(text)}."


def capital(text: str) -> str:
    """Begin with a capital."""
    return f"{text[:1].upper()}{text[1:]}"


def listed(parts: Sequence[str], between: str = ". ") -> str:
    """List a few parts in one sentence; of more only the number is told."""
    shown = list(parts[:LISTED])
    if len(parts) > LISTED:
        shown.append(f"and {within(len(parts) - LISTED)} more")
    return between.join(shown) if any("," in part for part in shown[:LISTED]) else ", ".join(shown)


def number(n: int) -> str:
    """Say a count that ends a clause: "none", "ten", "fifteen, one five"."""
    if n == 0:
        return "none"
    if n > LARGEST:
        return digits(n)
    words = in_words(n)
    return f"{words}, {digits(n)}" if n > 9 and twins(n) else words


def within(n: int) -> str:
    """Say a count in the middle of a clause: "ten", "fifteen, one five,"."""
    said = number(n)
    return f"{said}," if "," in said else said
