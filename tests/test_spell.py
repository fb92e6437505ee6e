"""The texts that the decoder is asked about."""

from voicecount.hear.embedded.spell import as_it_sounds, spellings
from voicecount.words.grammar import NUMBERS
from voicecount.words.graph import Tag, Token

NAME = Token(Tag.ITEM, ("kittner",), "kittner")


def test_numbers_are_written_in_words_and_in_digits() -> None:
    """With and without commas, numbers in words and in digits."""
    assert spellings([NAME, NUMBERS[20], NUMBERS[1], NUMBERS[2]]) == (
        "Kittner, twenty one, two.",
        "Kittner twenty one two.",
        "Kittner, 21, 2.",
        "Kittner 21 2.",
    )


def test_a_word_with_its_own_sounds_is_also_written_as_it_sounds() -> None:
    """Both spellings are asked about; a reading without the word gains nothing."""
    texts = spellings([NAME, NUMBERS[2]], {"kittner": ("kitner",)})

    assert texts[0] == "Kittner, two."
    assert "Kitner, two." in texts
    assert "Kitner 2." in texts
    assert spellings([NUMBERS[2]], {"kittner": ("kitner",)}) == spellings([NUMBERS[2]])


def test_phones_are_spelled_by_letters() -> None:
    """Every phone has letters of its own kind."""
    assert as_it_sounds(("G", "AO", "Z")) == "gawz"
    assert as_it_sounds(("D", "AH", "B", "EY", "K", "IY")) == "dubaykee"


def test_every_part_of_a_name_takes_its_further_spellings() -> None:
    """Parts of a name are respelled side by side; numbers never are."""
    clamp = Token(Tag.ITEM, ("straight", "kelly", "clamp"), "clamp")
    further = {"kelly": ("Kelley", "kell E"), "clamp": ("clam",), "two": ("too",), "tie": ()}
    texts = spellings([clamp, NUMBERS[2]], further)

    assert "Straight Kelley clam 2." in texts
    assert "Straight kell E clam, two." in texts
    assert not any("too" in text for text in texts)
    assert spellings([], further) == spellings([])
