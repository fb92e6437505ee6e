"""The pure parts of the benchmark's peers: their grammar's text, and free text to a count."""

import re

import pytest

from benchmarks.more_phrases import more_phrases
from benchmarks.peers.jsgf import grammar_text, spelled
from benchmarks.peers.mapping import digits_in_words, map_text, plain_words
from benchmarks.peers.prompted import prompt
from benchmarks.phrases import grammar_for, names_for, phrases
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import words_of

TEST = grammar_for("test")


def as_pattern(text: str) -> re.Pattern[str]:
    """Read the few constructs of JSGF that are used: rules, |, ( ), [ ], * and +.

    Source of the notation: W3C note "JSpeech Grammar Format", 2000 (from memory).
    """
    rules = dict(re.findall(r"^(?:public )?<(\w+)> = (.*);$", text, re.MULTILINE))
    assert text.startswith("#JSGF V1.0;\ngrammar count;\n")

    def read(rule: str) -> str:
        out = ""
        for part in re.findall(r"<\w+>|[\w]+|[|()\[\]*+]", rule):
            if part[0] == "<":
                out += f"(?:{read(rules[part[1:-1]])})"
            elif part == "[":
                out += "(?:"
            elif part == "]":
                out += ")?"
            elif part == "(":
                out += "(?:"
            elif part in "|)*+":
                out += part
            else:
                out += f"(?:{part} )"
        return out

    return re.compile(read(rules["said"]))


PATTERN = as_pattern(grammar_text(TEST))


def allowed(text: str) -> bool:
    """Tell whether the grammar's text allows some words, and nothing before or after them."""
    return PATTERN.fullmatch("".join(spelled(word) + " " for word in words_of(text))) is not None


def test_everything_that_is_said_is_in_the_grammars_text() -> None:
    """The peer can hear every count and command of the benchmark."""
    said = [*phrases("test", 300, 1), *more_phrases("test", 120, 1)]

    assert [phrase.text for phrase in said if not allowed(phrase.text)] == []


@pytest.mark.parametrize(
    "text",
    ["cotton balls two blades", "the needle", "one two cotton balls", "none", "pieces", "yes no"],
)
def test_what_is_no_count_is_not_in_the_grammars_text(text: str) -> None:
    """The grammar is strict: no name from elsewhere, no second count, no half of one."""
    assert not allowed(text)


@pytest.mark.parametrize(
    ("digits", "words"),
    [
        ("1", "one"),
        ("12", "twelve"),
        ("1234", "one two three four"),
        ("345", "three four five"),
        ("112", "one hundred twelve"),
        ("250", "250"),
        ("2024", "2024"),
        ("89", "eighty nine"),
        ("8910", "eight nine ten"),
        ("1011", "ten eleven"),
        ("0", "zero"),
        ("05", "05"),
    ],
)
def test_digits_become_words(digits: str, words: str) -> None:
    """Numbers that go up by one are a run; one up to 199 is that number; others stay digits."""
    assert digits_in_words(digits) == words


def test_a_written_text_becomes_plain_words() -> None:
    """Punctuation, capitals and hyphens go; numbers become words."""
    assert plain_words("Burrs: 1, 2, Twenty-five.") == ["burrs", "one", "two", "twenty", "five"]


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("Cotton balls 1, 2, 3.", Meaning(Form.RUN, "cotton_ball", (1, 2, 3))),
        ("Cotten bowls, one, too, three", Meaning(Form.RUN, "cotton_ball", (1, 2, 3))),
        ("Um, two rib cutters please", Meaning(Form.NUMBER_FIRST, "rib_cutter", (2,))),
        ("five six seven", Meaning(Form.RUN, None, (5, 6, 7))),
        ("To take that line back,", Meaning(Form.COMMAND, command="take_back")),
        ("Redding the tally", Meaning(Form.COMMAND, command="read_tally")),
    ],
)
def test_free_text_becomes_the_nearest_count(text: str, meaning: Meaning) -> None:
    """Fillers, homophones and misspelled names are seen through."""
    mapped = map_text(text, TEST)

    assert mapped is not None
    assert mapped.meaning == meaning


@pytest.mark.parametrize(
    "text", ["", "...", "The bus takes about 25 minutes.", "Would you mind closing that cupboard?"]
)
def test_talk_is_mapped_to_nothing(text: str) -> None:
    """What is far from the whole sheet is no count."""
    assert map_text(text, TEST) is None


def test_the_same_words_are_nearer_than_misspelled_ones() -> None:
    """The score of the nearness is a confidence."""
    right, near = map_text("cotton balls one", TEST), map_text("cotten bowls one", TEST)

    assert right is not None
    assert near is not None
    assert right.nearness == 0.0
    assert near.nearness < right.nearness


def test_the_prompt_tells_names_and_fits() -> None:
    """The prompt names items of the sheet, within what the model reads of it."""
    told = prompt(TEST)

    assert len(told) <= 700
    assert sum(one.lower() in told for one, _ in names_for("test")) >= 20
