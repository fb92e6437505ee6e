"""What is learned from the text decoder: how it writes a name when it hears it."""

import re
from collections.abc import Sequence

from voicecount.hear.embedded.graph import ways
from voicecount.rehearse.alike import Names
from voicecount.words.commands import COMMANDS
from voicecount.words.numbers import NUMBER_WORDS, words_of

_WORD = re.compile(r"[A-Za-z0-9']+")
_TWO = frozenset({"two", "to", "too", "2"})
FURTHEST = 0.5
"""Of the phones of a name, at most this share may differ in how a spelling reads: what reads like
other words altogether would let talk in the room pass for the name."""
_MORE_WORDS = 2
"""A spelling may have so many words more than the name."""
_AROUND = frozenset({"none", "no", "yes", "total", "all", "pieces", "piece", "each"})
_RUDE = frozenset({"shit", "shits", "fuck", "fucks", "cunt", "cunts", "piss", "bitch", "tits"})
"""A page for colleagues shows what was learned."""
_COMMAND_WORDS = frozenset(
    word
    for command in COMMANDS
    for phrase in command.phrases
    for word in words_of(phrase)
    if len(word) > 4
)
Found = tuple[str, str]
"""Words of the name, and what stood in their place."""


def name_part(written: str, before: Sequence[str], after: Sequence[str]) -> list[str] | None:
    """Give the words that stand where the name was said, or None where the numbers are not found.

    ``before`` and ``after`` are the number words around the name.
    """
    words = _WORD.findall(written)
    for number in reversed(after):
        if not words or words_of(words[-1]) != (number,):
            return None
        words.pop()
    for number in before:
        if not words or (words_of(words[0]) != (number,) and words[0].lower() not in _TWO):
            return None
        words.pop(0)
    if words and not before:  # the first letter of a text is always large
        words[0] = words[0][:1].lower() + words[0][1:]
    return words


def difference(name: Sequence[str], written: Sequence[str]) -> Found | None:
    """Take away the words that agree at both ends; give what is left of both, or None."""
    mine, theirs = list(name), list(written)
    while mine and theirs and mine[0] == theirs[0].lower():
        mine, theirs = mine[1:], theirs[1:]
    while mine and theirs and mine[-1] == theirs[-1].lower():
        mine, theirs = mine[:-1], theirs[:-1]
    if not mine or not theirs:
        return None
    return " ".join(mine), " ".join(theirs)


def why_refused(found: Found, line: str, name: tuple[str, ...], names: Names) -> str | None:
    """Tell why a spelling must not stand for a name, or give None."""
    part, spelling = found
    words = words_of(spelling)
    if (why := _wrong_words(words, len(part.split()) + _MORE_WORDS)) is not None:
        return why
    whole = words_of(" ".join(name).replace(part, spelling, 1))
    for other, taken, _ in names.others(line):
        if taken in {whole, words}:
            return f"it is a name of {other}"
    phones = ways(whole, names.lexicon)[0]
    own = names.own_distance(phones, line, name)
    if (why := names.why_nearer(phones, line, own)) is not None:
        return why
    if own > max(1.0, FURTHEST * max(len(way) for way in names.by_line[line][name])):
        return "it reads too far from how the name sounds"
    if names.like_a_number(ways(words, names.lexicon)[0], own):
        return "it sounds like a number"
    return None


def _wrong_words(words: Sequence[str], most: int) -> str | None:
    if len(words) > most or not all(map(_plain, words)) or not _RUDE.isdisjoint(words):
        return "it is no name"
    if any(word in NUMBER_WORDS for word in words):
        return "it holds a number"
    if any(word in _AROUND or word in _COMMAND_WORDS for word in words):
        return "it holds a word of the count"
    return None


def _plain(word: str) -> bool:
    return word.replace("'", "").isalpha()
