"""Whole numbers 0 to 199: words to numbers and back, and the words of a written text.

Number words are never guessed: "to", "too", "for", "won" and "ate" are not numbers here. Checked
against the reference library num2words in the tests.
"""

import re
from collections.abc import Sequence

LARGEST = 199
"""The largest number that can be said."""

_SMALL = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen"),
    *("eighteen", "nineteen"),
)
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")

NUMBER_WORDS: dict[str, int] = {
    **{word: value for value, word in enumerate(_SMALL)},
    **{word: 10 * tens for tens, word in enumerate(_TENS, start=2)},
    "hundred": 100,
}
"""Every single number word with its value; "hundred" is only ever said after "one" or "a"."""

_TEXT_WORD = re.compile(r"[a-z']+|[0-9]+|[^\sa-z0-9']+")


def joins(left: int, right: int) -> bool:
    """Tell whether two neighbouring values are said as one number: 20 and 1, 100 and 12."""
    if left == 100:
        return 1 <= right <= 99
    return left in range(20, 100, 10) and 1 <= right <= 9


def in_words(number: int, *, use_and: bool = False) -> str:
    """Give a number's words: 112 is "one hundred twelve", or "one hundred and twelve".

    Raises ValueError outside 0 to 199.
    """
    if not 0 <= number <= LARGEST:
        raise ValueError(f"{number} is not a number from 0 to {LARGEST}")
    if number < 20:
        return _SMALL[number]
    if number < 100:
        tens, unit = divmod(number, 10)
        return _TENS[tens - 2] + (f" {_SMALL[unit]}" if unit else "")
    if number == 100:
        return "one hundred"
    return ("one hundred and " if use_and else "one hundred ") + in_words(number - 100)


def read_run(words: Sequence[str]) -> tuple[int, ...] | None:
    """Read a run of numbers, each as long as it can be: "twenty one two" is (21, 2).

    A "one" or "a" right before "hundred" always belongs to that hundred. Returns None unless
    every word is part of a number; no words are no run.
    """
    numbers: list[int] = []
    at = 0
    while at < len(words):
        read = _read_one(words, at)
        if read is None:
            return None
        number, at = read
        numbers.append(number)
    return tuple(numbers) or None


def read_number(words: Sequence[str]) -> int | None:
    """Read words that are exactly one number, or give None."""
    run = read_run(words)
    return run[0] if run is not None and len(run) == 1 else None


def words_of(text: str) -> tuple[str, ...]:
    """Give the words of a written text as they are spoken: "10 X-ray sponges" has four words.

    Lower case; hyphens and punctuation part words; digits up to 199 become number words. Larger
    digits and other signs stay as they are, for the caller to refuse.
    """
    plain = re.sub(r"[-‐‑–—,.;:!?]+", " ", text.lower().replace("\u2019", "'"))  # noqa: RUF001
    words: list[str] = []
    for word in _TEXT_WORD.findall(plain):
        if word.isascii() and word.isdigit() and int(word) <= LARGEST:
            words.extend(in_words(int(word)).split())
        else:
            words.append(word)
    return tuple(words)


def _read_one(words: Sequence[str], at: int) -> tuple[int, int] | None:
    """Read one number from a place on; give it and the place after it."""
    if _before_hundred(words, at):
        at += 2
        rest = at + 1 if at < len(words) and words[at] == "and" else at
        below = _read_below_hundred(words, rest)
        if below is not None and below[0] > 0:
            return 100 + below[0], below[1]
        return (100, at) if rest == at else None
    return _read_below_hundred(words, at)


def _read_below_hundred(words: Sequence[str], at: int) -> tuple[int, int] | None:
    """Read 0 to 99 from a place on."""
    if at >= len(words) or _before_hundred(words, at):
        return None
    value = NUMBER_WORDS.get(words[at])
    if value is None or value == 100:
        return None
    if at + 1 < len(words) and not _before_hundred(words, at + 1):
        unit = NUMBER_WORDS.get(words[at + 1], 0)
        if joins(value, unit):
            return value + unit, at + 2
    return value, at + 1


def _before_hundred(words: Sequence[str], at: int) -> bool:
    """Tell whether the word at a place is the "one" or "a" of a coming hundred."""
    return words[at] in {"one", "a"} and at + 1 < len(words) and words[at + 1] == "hundred"
