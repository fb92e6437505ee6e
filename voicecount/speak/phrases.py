"""A sentence cut into what is said in one go, with the pauses between.

Listeners miss most slips in a read-back; pauses around the words that matter help, repeating does
not (Hong and Findlater, CHI 2018). So every number stands alone between two pauses.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

NUMBER_PAUSE = 0.22
"""Seconds of silence before and after a number."""
COMMA_PAUSE = 0.15
"""Seconds of silence where a comma stands."""
SENTENCE_PAUSE = 0.35
"""Seconds of silence between two sentences."""

_UNITS = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen "
    "sixteen seventeen eighteen nineteen"
)
_TENS = "twenty thirty forty fifty sixty seventy eighty ninety hundred"
_NUMBERS = frozenset(f"{_UNITS} {_TENS}".split())
_TOKEN = re.compile(r"[\w'#/]+(?:-[\w']+)*|[,;:.!?…—]")
_ENDS = ".!?…"
_MARKS = _ENDS + ",;:—"


@dataclass(frozen=True)
class Phrase:
    """Words said in one go."""

    text: str
    """With the mark at its end that gives it its melody."""
    pause: float
    """Seconds of silence after it; 0 after the last."""
    number: bool
    """True when it is nothing but a number."""


def phrases(text: str, together: Iterable[str] = ()) -> tuple[Phrase, ...]:
    """Cut a text into phrases. Names in ``together`` may hold number words and stay whole."""
    return tuple(_phrases(_TOKEN.findall(text), [name.lower().split() for name in together]))


def with_commas(text: str, together: Iterable[str] = ()) -> str:
    """Give the text with a comma at every pause, for a voice that makes its own pauses."""
    return " ".join(phrase.text for phrase in phrases(text, together))


def _phrases(tokens: list[str], together: list[list[str]]) -> Iterator[Phrase]:
    whole = _inside_names(tokens, together)
    words: list[str] = []
    for place, token in enumerate(tokens):
        if token in _MARKS:
            continue
        words.append(token)
        number = _is_number(token) and not whole[place]
        marks, following = _marks_after(tokens, place)
        last = following is None
        change = not last and number != (
            _is_number(tokens[following or 0]) and not whole[following or 0]
        )
        if not (last or marks or change):
            continue
        end = next((mark for mark in marks if mark in _ENDS), "")
        pause = SENTENCE_PAUSE if end else COMMA_PAUSE if marks else 0.0
        if change:
            pause = max(pause, NUMBER_PAUSE)
        yield Phrase(
            " ".join(words) + (end or ("." if last else ",")), 0.0 if last else pause, number
        )
        words = []


def _marks_after(tokens: list[str], place: int) -> tuple[str, int | None]:
    """Give the marks right after a word, and the place of the next word or None."""
    marks = ""
    for following in range(place + 1, len(tokens)):
        if tokens[following] not in _MARKS:
            return marks, following
        marks += tokens[following]
    return marks, None


def _is_number(word: str) -> bool:
    return word.isdigit() or all(part in _NUMBERS for part in word.lower().split("-"))


def _inside_names(tokens: list[str], together: list[list[str]]) -> list[bool]:
    """Say for every token whether it belongs to a name that must stay whole."""
    lowered = [token.lower() for token in tokens]
    inside = [False] * len(tokens)
    for name in together:
        for first in range(len(tokens) - len(name) + 1):
            if lowered[first : first + len(name)] == name:
                inside[first : first + len(name)] = [True] * len(name)
    return inside
