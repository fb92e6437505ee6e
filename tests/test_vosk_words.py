"""Word lists for Vosk, and spellings of what a model does not know."""

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from vosk_rig import Vocabulary, english, knows_all_but

from voicecount.errors import ModelError
from voicecount.hear.respell import Respeller, dictionary, distance
from voicecount.hear.vosk_model import Timed
from voicecount.hear.vosk_words import UNKNOWN, word_list
from voicecount.words.graph import Grammar
from voicecount.words.numbers import NUMBER_WORDS
from voicecount.words.pronounce import Lexicon


def test_a_word_list_holds_every_word_of_the_grammar() -> None:
    """Where the model knows all words, each is on the list, numbers alone, and so is [unk]."""
    words = word_list(english(), knows_all_but(), "m")

    assert {word for phrase in words.phrases for word in phrase.split()} == {
        *english().words,
        UNKNOWN,
    }
    assert "bulldog clip" in words.phrases
    for number in NUMBER_WORDS:
        assert [phrase for phrase in words.phrases if number in phrase.split()] == [number]
    assert all(entry.respelling is None for entry in words.spellings)


def test_an_unknown_mark_that_the_model_lacks_is_left_out() -> None:
    """Some models know no [unk]; listing it would only give a warning."""
    assert UNKNOWN not in word_list(english(), knows_all_but(UNKNOWN), "m").phrases


def test_a_missing_word_gets_a_spelling_that_sounds_the_same() -> None:
    """The table shows it, the list holds it, and no phrase lost a word."""
    words = word_list(english(), knows_all_but("kittner", "kittners", "bulldog"), "m")
    table = {entry.word: entry for entry in words.spellings}

    for word, item in (("kittner", "item kittner"), ("bulldog", "item clip")):
        way = table[word].respelling
        assert table[word].used_by == item
        assert way is not None
        assert way.distance <= 0.5
        assert not set(way.words) & english().words
        assert any(" ".join(way.words) in phrase for phrase in words.phrases)
    way = table["bulldog"].respelling
    assert way is not None
    assert f"{' '.join(way.words)} clip" in words.phrases
    assert not any("bulldog" in phrase.split() for phrase in words.phrases)


def test_words_without_any_spelling_name_their_items() -> None:
    """Nothing is dropped: the error names word, item, model, and what to do."""

    def knows(word: str) -> bool:
        return word in english().words and word not in {"kittner", "kittners", "bulldog"}

    with pytest.raises(ModelError) as caught:
        word_list(english(), knows, "small")

    message = str(caught.value)
    assert "\n" not in message
    for part in ("'kittner' (item kittner)", "'bulldog' (item clip)", "'small'", "say:"):
        assert part in message


def test_a_missing_number_word_is_never_respelled() -> None:
    """ "won" would be "one": a model without a number word cannot be used."""
    with pytest.raises(ModelError, match="number word 'one'"):
        word_list(english(), knows_all_but("one"), "m")


def test_the_sheets_own_sound_decides_the_spelling() -> None:
    """A sound given in the sheet is what the respelling has to sound like."""
    grammar = english(kittner="P IY K AA K")
    words = word_list(grammar, knows_all_but("kittner", "kittners"), "m")
    [way] = [entry.respelling for entry in words.spellings if entry.word == "kittner"]

    assert way is not None
    assert distance(("P", "IY", "K", "AA", "K"), way.sounds) <= 0.5


MISSING = ("kittner", "kittners", "bulldog")


@cache
def respelled() -> tuple[Grammar, "Vocabulary"]:
    return english(), knows_all_but(*MISSING)


@settings(deadline=None)  # the first example loads the dictionary
@given(st.data())
def test_respelled_words_come_back_as_our_own(data: st.DataObject) -> None:
    """Whatever is said in our words, spelled for the model and put back, is the same again."""
    grammar, knows = respelled()
    words = word_list_of(grammar, knows)
    said = data.draw(st.lists(st.sampled_from(sorted(grammar.words)), max_size=8))
    ways = {
        entry.word: (entry.word,) if entry.respelling is None else entry.respelling.words
        for entry in words.spellings
    }
    spelled = [part for word in said for part in ways[word]]
    timed = [Timed(text, float(at), at + 1.0) for at, text in enumerate(spelled)]

    back = words.original(timed)

    assert [word.text for word in back] == said
    assert [word.start for word in back[:1]] == [0.0 for _ in back[:1]]
    assert [word.end for word in back[-1:]] == [float(len(spelled)) for _ in back[-1:]]


word_list_of = cache(lambda grammar, knows: word_list(grammar, knows, "m"))


@pytest.mark.parametrize("word", ["deaver", "raytec", "balfour", "yankauer", "scalpel", "penrose"])
def test_respellings_are_known_words_near_in_sound(word: str) -> None:
    """No part is the word itself, a word that is taken, or one that sounds like a number."""
    lexicon = Lexicon()
    taken = {word, "needle"}
    found = Respeller(lambda known: known != word, taken, lexicon).respell(word)

    assert found is not None
    assert found.distance <= len(lexicon.pronounce(word)[0]) / 8
    numbers = {ways for number in NUMBER_WORDS for ways in lexicon.pronounce(number)}
    for part in found.words:
        assert part not in taken
        assert dictionary()[part] not in numbers


def test_a_dictionary_that_cannot_be_read_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """The package it comes with is named."""
    monkeypatch.setattr("voicecount.hear.respell._LEXICONS", ("none.json.gz",))

    with pytest.raises(ModelError, match="install hibari-tts again"):
        dictionary.__wrapped__()


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        ("K IH T", "K IH T", 0.0),
        ("K IH T", "G IH T", 0.5),
        ("K IH T", "K IY T", 0.5),
        ("K IH T", "M IH T", 1.0),
        ("K IH T", "K IH", 1.0),
        ("K IH T", "", 3.0),
    ],
)
def test_near_phones_are_half_as_far(first: str, second: str, expected: float) -> None:
    """Pairs with and without voice and neighbouring vowels count a half, others one."""
    assert distance(tuple(first.split()), tuple(second.split())) == expected
