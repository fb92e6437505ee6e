"""Numbers that sound alike, and numbers said digit by digit.

Teens and tens (13 and 30 … 19 and 90) are told apart by one weak sound. "Five" and "nine" share
their vowel; the phraseology of air traffic alters both (ICAO Annex 10 volume II, 5.2.1.4.3).
"""

from collections.abc import Sequence

from voicecount.words.numbers import LARGEST, in_words

_FIVE_NINE = {5: 9, 9: 5}


def twins(number: int) -> frozenset[int]:
    """Give the numbers that a number can be misheard as: 15 gives 50, and 113 gives 130.

    Raises ValueError outside 0 to 199.
    """
    if not 0 <= number <= LARGEST:
        raise ValueError(f"{number} is not a number from 0 to {LARGEST}")
    hundred, below = divmod(number, 100)
    tens, unit = divmod(below, 10)
    found: set[int] = set()
    if 13 <= below <= 19:
        found.add(10 * unit)
    if tens >= 3 and unit == 0:
        found.add(10 + tens)
    if tens != 1 and unit in _FIVE_NINE:
        found.add(10 * tens + _FIVE_NINE[unit])
    return frozenset(100 * hundred + twin for twin in found)


def digits(number: int) -> str:
    """Say a number digit by digit: 15 is "one five". Raises ValueError below 0."""
    if number < 0:
        raise ValueError(f"{number} has a sign, and cannot be said digit by digit")
    return " ".join(in_words(int(digit)) for digit in str(number))


def digits_part(number: int) -> bool:
    """Tell whether digits part a number below 100 from its twin.

    "One five" and "five zero" do: the first digits differ. Those of 25 and 29 do not.
    """
    return number < 100 and any(twin // 10 != number // 10 for twin in twins(number))


def from_digits(numbers: Sequence[int]) -> int | None:
    """Give the number that was said digit by digit; None where digits part it from nothing.

    15 is said "one five", also after itself: "fifteen, one five".
    """
    if len(numbers) == 3 and numbers[0] > 9:
        spelled = from_digits(numbers[1:])
        return spelled if spelled == numbers[0] else None
    if len(numbers) != 2 or not all(0 <= digit <= 9 for digit in numbers):
        return None
    number = 10 * numbers[0] + numbers[1]
    return number if digits_part(number) else None
