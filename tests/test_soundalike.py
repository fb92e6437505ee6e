"""Numbers that sound alike.

The set 13/30 … 19/90 and five/nine: practice as published (number, then digits: USA Health safety
pages; five and nine altered: ICAO Annex 10 volume II, 5.2.1.4.3).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicecount.words.soundalike import digits, digits_part, from_digits, twins

NUMBERS = st.integers(0, 199)


@pytest.mark.parametrize(
    ("teen", "ten"), [(13, 30), (14, 40), (15, 50), (16, 60), (17, 70), (18, 80), (19, 90)]
)
def test_teens_and_tens(teen: int, ten: int) -> None:
    """Each teen is the twin of its ten, above a hundred too."""
    assert twins(teen) == {ten}
    assert twins(100 + teen) == {100 + ten}
    assert twins(ten) == {teen}


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        (5, {9}),
        (9, {5}),
        (25, {29}),
        (59, {55}),
        (105, {109}),
        (115, {150}),
        (195, {199}),
        *((number, set()) for number in (0, 1, 4, 8, 10, 11, 12, 20, 21, 100, 110, 112, 120)),
    ],
)
def test_twins(number: int, expected: set[int]) -> None:
    """Five and nine are twins, also as the end of a larger number; most numbers have none."""
    assert twins(number) == expected


@given(NUMBERS)
def test_twins_are_mutual(number: int) -> None:
    """Whatever a number can be misheard as can be misheard as that number."""
    assert all(number in twins(twin) and twin != number for twin in twins(number))


@pytest.mark.parametrize(
    ("number", "said"),
    [(0, "zero"), (5, "five"), (15, "one five"), (50, "five zero"), (113, "one one three")],
)
def test_digits(number: int, said: str) -> None:
    """A number is said digit by digit."""
    assert digits(number) == said


@pytest.mark.parametrize("number", [-1, 200])
def test_twins_refuse_what_cannot_be_said(number: int) -> None:
    """There are no twins outside 0 to 199."""
    with pytest.raises(ValueError, match="0 to 199"):
        twins(number)


def test_digits_refuse_a_sign() -> None:
    """A number below zero has no digits to be said."""
    with pytest.raises(ValueError, match="sign"):
        digits(-1)


@given(NUMBERS)
def test_digits_give_back_just_the_numbers_that_they_part(number: int) -> None:
    """What is said digit by digit is that number, wherever digits part it from its twin."""
    said = tuple(int(digit) for digit in str(number))

    assert from_digits(said) == (number if digits_part(number) else None)
    if digits_part(number):
        assert twins(number)
        assert from_digits((number, *said)) == number
        assert from_digits((number + 1, *said)) is None


@pytest.mark.parametrize("numbers", [(), (1,), (15,), (2, 5), (1, 2), (0, 5), (15, 5), (1, 1, 5)])
def test_other_numbers_are_no_digits(numbers: tuple[int, ...]) -> None:
    """Five and nine, single numbers and longer runs stay what they are."""
    assert from_digits(numbers) is None
