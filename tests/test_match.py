"""Names matched nearly, numbers never."""

from pathlib import Path

import pytest

from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.words.grammar import build_grammar
from voicecount.words.graph import Phones
from voicecount.words.match import NameMatch, match_name
from voicecount.words.numbers import NUMBER_WORDS
from voicecount.words.pronounce import Lexicon

SHEETS = Path(__file__).parent.parent / "grammars"
GRAMMAR = build_grammar(load_sheet(SHEETS / "laparotomy.yaml"))


class Letters:
    """A lexicon that sounds every letter, c and s as k: enough to tell sound from spelling."""

    def pronounce(self, word: str) -> tuple[Phones, ...]:
        return (tuple(word.replace("gawze", "gauze").upper()),)


def found(text: str, lexicon: Letters | Lexicon | None = None) -> NameMatch:
    """Match a text against the long sheet."""
    match = match_name(text.split(), GRAMMAR, lexicon)
    assert match is not None
    return match


@pytest.mark.parametrize("name", GRAMMAR.names, ids=lambda name: " ".join(name.words))
def test_a_name_itself_scores_full(name: object) -> None:
    """Every name on the sheet is matched to its own line, exactly and clearly."""
    words = name.words  # type: ignore[attr-defined]
    match = match_name(words, GRAMMAR)

    assert match is not None
    assert match.name.value == name.value  # type: ignore[attr-defined]
    assert match.score == 100
    assert match.clear


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ("gauz", "gauze"),
        ("vesel loop", "vessel_loop"),
        ("curvd kelly", "curved_kelly"),
        ("deever", "deaver"),
        ("towel klip", "towel_clip"),
        ("army knavy", "army_navy"),
        ("numbr ten blade", "number_ten_blade"),
        ("umbilicle tape", "umbilical_tape"),
    ],
)
def test_misspelled(text: str, item: str) -> None:
    """A misspelled name goes to its line, with room to the runner-up."""
    match = found(text)

    assert match.name.value == item
    assert match.clear
    assert match.runner_up is None or match.runner_up.value != item


def test_sound_helps_where_spelling_does_not() -> None:
    """A name spelled unlike but said alike is near only when sounds are known."""
    assert not found("gawze").near
    assert found("gawze", Letters()).clear


def test_with_the_dictionary() -> None:
    """The packaged dictionary (hibari-tts, outside this project) hears "gawze" as gauze."""
    lexicon = Lexicon(dict(GRAMMAR.sounds))

    assert found("gawze", lexicon).name.value == "gauze"
    assert found("gawze", lexicon).clear
    assert not found("caps", lexicon).near


@pytest.mark.parametrize(
    "text", ["caps", "maps", "grape", "prone", "party", "sauce", "balls", "minutes", "the patient"]
)
def test_other_words_are_not_near(text: str) -> None:
    """Everyday words that look a little like a name are not taken for it."""
    assert not found(text).near


def test_near_two_is_not_clear() -> None:
    """What lies between two lines is not given to either."""
    sheet = Sheet.model_validate(
        {
            "title": "made up",
            "items": [
                {"id": "left", "group": "instruments", "say": ["left hand clamp"]},
                {"id": "heft", "group": "instruments", "say": ["heft hand clamp"]},
            ],
        }
    )
    match = match_name(("deft", "hand", "clamp"), build_grammar(sheet))

    assert match is not None
    assert match.near
    assert not match.clear
    assert match.margin < 1


def _spoilt(words: tuple[str, ...]) -> set[tuple[str, ...]]:
    """Give every way of leaving out a letter, or of swapping two."""
    text = " ".join(words)
    out = {text[:at] + text[at + 1 :] for at in range(len(text))}
    out |= {text[:at] + text[at + 1] + text[at] + text[at + 2 :] for at in range(len(text) - 1)}
    return {tuple(spoilt.split()) for spoilt in out if spoilt.split()}


def test_no_slip_of_a_letter_becomes_another_line() -> None:
    """Of all names with a letter left out or swapped, none is clearly another line; most are right.

    This is what NEAR and MARGIN are set for.
    """
    right = total = 0
    for name in GRAMMAR.names:
        for words in _spoilt(name.words):
            match = match_name(words, GRAMMAR)
            total += 1
            if match is not None and match.clear:
                assert match.name.value == name.value, words
                right += 1

    assert right / total > 0.9


@pytest.mark.parametrize("number", sorted({*NUMBER_WORDS} - {"ten", "eleven", "fifteen"}))
def test_numbers_are_never_near(number: str) -> None:
    """A name with another number in it matches nothing, however near it is."""
    assert match_name(("number", number, "blade"), GRAMMAR) is None


def test_one_number_is_never_another() -> None:
    """A number within a name is matched exactly, and sound-alike words are no number."""
    assert found("number fifteen blaid").name.value == "number_fifteen_blade"
    assert found("number eleven blaid").name.value == "number_eleven_blade"
    assert not found("number tan blade").near
    assert match_name(("ten",), build_grammar(load_sheet(SHEETS / "first_try.yaml"))) is None


def test_single_line_has_no_runner_up() -> None:
    """On a sheet of one line the margin is the whole score."""
    sheet = Sheet.model_validate(
        {"title": "t", "items": [{"id": "gauze", "group": "sponges", "say": ["gauze"]}]}
    )
    match = match_name(("gauze",), build_grammar(sheet))

    assert match is not None
    assert match.runner_up is None
    assert match.margin == match.score == 100
