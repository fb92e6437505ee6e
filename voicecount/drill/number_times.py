"""When each number of an utterance was said, from words with times. Pure."""

from collections.abc import Iterable, Sequence

from voicecount.hear.heard import Word
from voicecount.words.numbers import in_words, words_of

Token = tuple[str, float, float]
"""One spoken word: text, start and end in seconds."""


def tokens_of(words: Iterable[Word]) -> list[Token]:
    """Give single words in time; one that holds several is parted evenly."""
    found: list[Token] = []
    for word in words:
        parts = words_of(word.text)
        share = (word.end - word.start) / max(len(parts), 1)
        found += [
            (part, word.start + at * share, word.start + (at + 1) * share)
            for at, part in enumerate(parts)
        ]
    return found


def spans_of(
    tokens: Sequence[Token], values: Sequence[int], *, last: bool
) -> list[tuple[float, float]] | None:
    """Find where numbers are said, one after another; a name may hold number words of its own."""
    if not values:
        return []
    places = range(len(tokens))
    for at in reversed(places) if last else places:
        found = _match(tokens, at, values)
        if found is not None:
            return found
    return None


def _match(
    tokens: Sequence[Token], at: int, values: Sequence[int]
) -> list[tuple[float, float]] | None:
    found: list[tuple[float, float]] = []
    for value in values:
        for way in _ways(value):
            end = at + len(way)
            if tuple(word for word, _, _ in tokens[at:end]) == way:
                found.append((tokens[at][1], tokens[end - 1][2]))
                at = end
                break
        else:
            return None
    return found


def _ways(value: int) -> list[tuple[str, ...]]:
    """Give the ways to say a number, longest first."""
    if value == 0:
        return [("none",), ("zero",), ("no",)]
    plain = tuple(in_words(value).split())
    ways = {plain, tuple(in_words(value, use_and=True).split())}
    if value >= 100:
        ways |= {("a", *way[1:]) for way in ways}
    return sorted(ways, key=lambda way: (-len(way), way))
