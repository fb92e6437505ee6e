"""The head's digits, shown, spoken, and read again as people write them down."""

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicecount.keep.witness import digits, spoken, written

# ICAO Annex 10, volume II, spelling alphabet (from memory): the six letters of a hexadecimal digit.
ICAO = {
    "a": "alfa",
    "b": "bravo",
    "c": "charlie",
    "d": "delta",
    "e": "echo",
    "f": "foxtrot",
}
HEADS = st.binary(max_size=20).map(lambda data: hashlib.sha256(data).hexdigest())


def test_the_first_eight_digits_stand_for_the_head() -> None:
    """The digits are the hash's first eight; FIPS 180-4's own example "abc" begins ba7816bf."""
    assert digits(hashlib.sha256(b"abc").hexdigest()) == "ba7816bf"


@pytest.mark.parametrize("letter", ICAO)
def test_letters_are_spelled_by_the_icao_alphabet(letter: str) -> None:
    """Each letter is its word of ICAO Annex 10, volume II."""
    assert spoken(letter * 64) == " ".join([ICAO[letter]] * 8)


def test_digits_are_said_as_words() -> None:
    """Each digit is said alone, in order."""
    assert spoken("01234567" * 8) == "zero one two three four five six seven"
    assert spoken("89ab89ab" * 8) == "eight nine alfa bravo eight nine alfa bravo"


@given(head=HEADS)
def test_what_is_spoken_can_be_written_down(head: str) -> None:
    """The words and the digits lead back to the same eight digits."""
    assert written(spoken(head)) == written(digits(head)) == digits(head) == head[:8]


@pytest.mark.parametrize(
    "text",
    [
        *("5e551b5b", "5E551B5B", " 5e55 1b5b ", "5e-55-1b-5b", "5 E 5 5 1 B 5 B"),
        *("Five Echo five five, one bravo five Bravo.", "five E 55 one bravo 5b"),
    ],
)
def test_digits_are_read_however_they_were_written(text: str) -> None:
    """Case, spaces and the mixture of words and digits do not matter."""
    assert written(text) == "5e551b5b"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "0 digits where 8"),
        ("5e551b5", "7 digits where 8"),
        ("5e551b5b0", "9 digits where 8"),
        ("5e551b5g", "'5e551b5g' is neither"),
        ("five golf five five one bravo five bravo", "'golf' is neither"),
        ("٥e551b5b", "is neither"),
    ],
)
def test_what_are_no_eight_digits_is_refused(text: str, why: str) -> None:
    """Too few, too many, and anything else are told in a few words."""
    with pytest.raises(ValueError, match=why):
        written(text)
