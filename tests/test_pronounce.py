"""Pronunciations, against the CMU pronouncing dictionary (typed from memory)."""

from pathlib import Path

import pytest

from voicecount.errors import SheetError
from voicecount.sheet.load import load_sheet
from voicecount.words.grammar import build_grammar
from voicecount.words.pronounce import PHONES, Lexicon, read_arpabet, to_arpabet

CMU = {
    "one": "W AH N",
    "two": "T UW",
    "three": "TH R IY",
    "five": "F AY V",
    "six": "S IH K S",
    "eight": "EY T",
    "nine": "N AY N",
    "ten": "T EH N",
    "twelve": "T W EH L V",
    "thirteen": "TH ER T IY N",
    "thirty": "TH ER T IY",
    "fifteen": "F IH F T IY N",
    "fifty": "F IH F T IY",
    "sixteen": "S IH K S T IY N",
    "sixty": "S IH K S T IY",
    "eighteen": "EY T IY N",
    "eighty": "EY T IY",
    "needle": "N IY D AH L",
    "clamp": "K L AE M P",
    "gauze": "G AO Z",
    "sponge": "S P AH N JH",
}


@pytest.mark.parametrize("word", CMU)
def test_words_sound_as_in_the_dictionary(word: str) -> None:
    """The CMU dictionary's pronunciation is among ours."""
    assert tuple(CMU[word].split()) in Lexicon().pronounce(word)


@pytest.mark.parametrize("name", ["first_try", "caesarean", "laparotomy"])
def test_every_word_of_our_sheets_can_be_pronounced(name: str) -> None:
    """Each word has pronunciations made of the 39 phones."""
    path = Path(__file__).parent.parent / "grammars" / f"{name}.yaml"
    for word in build_grammar(load_sheet(path)).words:
        ways = Lexicon().pronounce(word)
        assert ways, word
        assert all(way and set(way) <= set(PHONES) for way in ways), word


def test_the_sheets_own_sounds_come_first() -> None:
    """A sheet's pronunciation stands before the dictionary's, which is kept."""
    own = read_arpabet("G AW1 Z")
    ways = Lexicon({"gauze": (own,)}).pronounce("gauze")

    assert ways[0] == ("G", "AW", "Z")
    assert ("G", "AO", "Z") in ways


def test_marks_of_stress_are_dropped() -> None:
    """Stress and length marks are no phones."""
    assert to_arpabet("ˈniːdᵊl") == ("N", "IY", "D", "AH", "L")


@pytest.mark.parametrize(("text", "said"), [("G AX Z", "'AX'"), ("  ", "empty")])
def test_what_is_no_pronunciation_is_refused(text: str, said: str) -> None:
    """The error names the phone in one line."""
    with pytest.raises(SheetError, match=said) as error:
        read_arpabet(text, where="sheet.yaml:3")

    assert "\n" not in str(error.value)
