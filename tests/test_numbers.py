"""Numbers in words, against the reference library num2words (test dependency, English)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from voicecount.words.numbers import in_words, read_number, read_run, words_of

NUMBERS = st.integers(0, 199)


@pytest.mark.parametrize("number", range(200))
def test_words_agree_with_num2words(number: int) -> None:
    """Every number is said as num2words says it, hyphens aside; "and" may be left out."""
    reference = num2words(number).replace("-", " ")

    assert in_words(number, use_and=True) == reference
    assert in_words(number) == reference.replace(" and ", " ")


@pytest.mark.parametrize("number", range(200))
def test_reads_what_num2words_writes(number: int) -> None:
    """What num2words writes is read back, with its hyphens, with and without "and"."""
    reference = num2words(number)

    assert read_number(words_of(reference)) == number
    assert read_number(words_of(reference.replace(" and ", " "))) == number
    assert read_number(words_of(str(number))) == number


@pytest.mark.parametrize("number", range(200, 400))
def test_larger_numbers_are_no_number(number: int) -> None:
    """A number above 199 is not read as a smaller one."""
    assert read_number(words_of(num2words(number))) is None


@pytest.mark.parametrize("number", [-1, 200])
def test_refuses_what_cannot_be_said(number: int) -> None:
    """A number outside 0 to 199 has no words."""
    with pytest.raises(ValueError, match="not a number from 0 to 199"):
        in_words(number)


def _apart(numbers: list[int]) -> list[int]:
    """Drop each number that would be heard as the end of the one before it."""
    kept: list[int] = []
    for number in numbers:
        before = kept[-1] if kept else 1
        after_tens = before % 100 >= 20 and before % 10 == 0 and 1 <= number <= 9
        if not after_tens and not (before == 100 and 1 <= number <= 99):
            kept.append(number)
    return kept


@given(st.lists(NUMBERS, min_size=1, max_size=12).map(_apart), st.booleans())
def test_run_round_trip(numbers: list[int], use_and: bool) -> None:
    """A run is read as the numbers that were said."""
    words = words_of(" ".join(in_words(number, use_and=use_and) for number in numbers))

    assert read_run(words) == tuple(numbers)


@given(st.lists(st.sampled_from(["one", "a", "hundred", "and", "twenty", "five", "zero", "for"])))
def test_a_run_that_is_read_says_its_words(words: list[str]) -> None:
    """Whatever is read as a run says the same words again: nothing is dropped or put in."""
    run = read_run(words)

    if run is not None:
        said = " ".join(in_words(number) for number in run)
        heard = ["one" if word == "a" else word for word in words if word != "and"]
        assert said.split() == heard


@pytest.mark.parametrize(
    "text",
    [
        *("", "hundred", "two hundred", "twenty hundred", "one hundred and", "and one", "a"),
        *("one hundred and zero", "one hundred and one hundred", "to", "too", "for", "won", "ate"),
        *("oh", "one to three", "ten gauze", "200", "1.5x"),
    ],
)
def test_no_numbers(text: str) -> None:
    """Words that sound like numbers, unfinished and impossible numbers are none."""
    assert read_run(words_of(text)) is None


@pytest.mark.parametrize(
    ("text", "run"),
    [
        ("twenty one", (21,)),
        ("twenty twenty one twenty two", (20, 21, 22)),
        ("ninety nine one hundred one hundred one one hundred two", (99, 100, 101, 102)),
        ("twenty one hundred", (20, 100)),
        ("a hundred and twelve", (112,)),
        ("one hundred one hundred", (100, 100)),
        ("one hundred zero", (100, 0)),
        ("ten one", (10, 1)),
        ("5 6 7", (5, 6, 7)),
    ],
)
def test_runs(text: str, run: tuple[int, ...]) -> None:
    """Numbers in a run are as long as they can be."""
    assert read_run(words_of(text)) == run


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("10 X-ray sponges.", ("ten", "x", "ray", "sponges")),
        ("Gauze: one, two;three!", ("gauze", "one", "two", "three")),
        ("what\u2019s left", ("what's", "left")),
        ("112", ("one", "hundred", "twelve")),
        ("gauze 250", ("gauze", "250")),
        ("a & b", ("a", "&", "b")),
        ("  ", ()),
    ],
)
def test_words_of(text: str, words: tuple[str, ...]) -> None:
    """A written text becomes the words that are said; what cannot be said stays to be refused."""
    assert words_of(text) == words
