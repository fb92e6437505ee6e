"""What the benchmark's voices say: the parts share nothing, and nothing of it was trained on."""

from collections import Counter

import pytest

from benchmarks.more_phrases import everything, more_phrases, more_talk
from benchmarks.phrases import FOREIGN, grammar_for, names_for, phrases, talk
from training import texts
from voicecount.hear.typed import TypedRecogniser
from voicecount.words.grammar import parse
from voicecount.words.numbers import words_of

PARTS = ("tune", "test")


def sentences(part: str) -> list[str]:
    """All talk of a part."""
    return [phrase.text for phrase in (*talk(part), *more_talk(part))]


def test_the_parts_and_the_training_share_no_sentence() -> None:
    """What was trained or tuned on proves nothing when it is heard again."""
    held = {part: {" ".join(words_of(text)) for text in sentences(part)} for part in PARTS}
    trained = {" ".join(words_of(text)) for text in texts.TALK}

    assert not held["tune"] & held["test"]
    assert not trained & (held["tune"] | held["test"])


@pytest.mark.parametrize("part", PARTS)
def test_no_sentence_is_said_twice(part: str) -> None:
    """Every sentence of talk is listed once."""
    assert [text for text, n in Counter(sentences(part)).items() if n > 1] == []


def test_the_parts_share_no_name() -> None:
    """No item of one part's sheet, and no thing that is on neither, is in the other part."""
    names = {part: {one.lower() for one, _ in names_for(part)} for part in PARTS}
    foreign = {part: set(FOREIGN[part]) for part in PARTS}

    assert not names["tune"] & names["test"]
    assert not foreign["tune"] & foreign["test"]
    assert not (names["tune"] | names["test"]) & (foreign["tune"] | foreign["test"])


def test_the_parts_share_no_whole_phrase_with_a_name_in_it() -> None:
    """Counts of the two parts differ wherever they name something."""
    said = {
        part: {phrase.text for phrase in phrases(part, 300, 1) if phrase.meaning.item}  # type: ignore[union-attr]
        for part in PARTS
    }

    assert not said["tune"] & said["test"]


@pytest.mark.parametrize("part", PARTS)
def test_talk_is_no_count_of_its_sheet(part: str) -> None:
    """Read as text, no sentence of talk is a count or a command: taking one is always wrong."""
    grammar = grammar_for(part)

    assert [text for text in sentences(part) if parse(words_of(text), grammar)] == []


@pytest.mark.parametrize("part", PARTS)
def test_further_phrases_have_one_meaning_and_leave_the_older_ones_alone(part: str) -> None:
    """Earlier runs can be repeated: the older kinds come first, in the order they had."""
    older = [*phrases(part, 40, 1)]
    said = everything(part, 40, 1)
    grammar = grammar_for(part)

    assert said[:40] == older
    assert all(
        TypedRecogniser().understand(phrase.text, grammar).meaning == phrase.meaning
        for phrase in more_phrases(part, 60, 3)
    )


def test_every_kind_is_said() -> None:
    """The default run of the test part holds every kind of phrase, and 3,000 clips in all."""
    kinds = Counter(phrase.kind for phrase in everything("test", 400, 1))
    wanted = {"run", "skipped", "repeated", "going on", "going on, skipped", "going on, repeated"}
    wanted |= {
        "long run",
        "number",
        "sound-alike number",
        "number first",
        "total",
        "pieces",
        "none",
    }
    wanted |= {"command", "answer", "talk", "not on the sheet", "not counted"}

    assert wanted <= kinds.keys()
    assert 8 * kinds.total() >= 3000
    assert kinds["talk"] >= 100
