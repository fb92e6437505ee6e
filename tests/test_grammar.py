"""What may be said, and what it means."""

from itertools import product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.talk.blanks import BLANKS
from voicecount.words.ambiguity import find_ambiguity
from voicecount.words.commands import BY_ID, CASE_COMMANDS, COMMANDS
from voicecount.words.grammar import build_grammar, parse, read_tokens
from voicecount.words.graph import Grammar, Tag, Token
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import words_of

SHEETS = Path(__file__).parent.parent / "grammars"
SHEET = load_sheet(SHEETS / "laparotomy.yaml")
GRAMMAR = build_grammar(SHEET)


def sheet_of(*names: str, not_counted: tuple[str, ...] = (), **fields: Any) -> Sheet:
    """Make a sheet of one-name lines: i0, i1, … and n0, n1, …"""
    items = [
        {"id": f"i{at}", "group": "sponges", "say": [name], **fields}
        for at, name in enumerate(names)
    ]
    rest = [{"id": f"n{at}", "say": [name]} for at, name in enumerate(not_counted)]
    return Sheet.model_validate({"title": "made up", "items": items, "not_counted": rest})


SMALL = build_grammar(
    sheet_of("gauze", "vessel loop", "Balfour", "number ten blade", not_counted=("tie",))
)


def meanings(text: str, grammar: Grammar = SMALL) -> list[Meaning]:
    """Give the meanings of a text."""
    return [meaning for meaning, _ in parse(words_of(text), grammar)]


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("gauze one two three", Meaning(Form.RUN, "i0", (1, 2, 3))),
        ("gauze ten", Meaning(Form.RUN, "i0", (10,))),
        ("four five", Meaning(Form.RUN, None, (4, 5))),
        ("ten", Meaning(Form.RUN, None, (10,))),
        ("zero", Meaning(Form.RUN, None, (0,))),
        ("yes ten", Meaning(Form.RUN, None, (10,))),
        ("yes ten gauze", Meaning(Form.NUMBER_FIRST, "i0", (10,))),
        ("twenty one twenty two", Meaning(Form.RUN, None, (21, 22))),
        ("a hundred", Meaning(Form.RUN, None, (100,))),
        ("gauze one hundred and twelve", Meaning(Form.RUN, "i0", (112,))),
        ("two vessel loops", Meaning(Form.NUMBER_FIRST, "i1", (2,))),
        ("one vessel loop", Meaning(Form.NUMBER_FIRST, "i1", (1,))),
        ("one hundred and nine gauze", Meaning(Form.NUMBER_FIRST, "i0", (109,))),
        ("two number ten blades", Meaning(Form.NUMBER_FIRST, "i3", (2,))),
        ("gauze total twelve", Meaning(Form.TOTAL, "i0", (12,))),
        ("gauze total of twelve", Meaning(Form.TOTAL, "i0", (12,))),
        ("gauze in all twelve", Meaning(Form.TOTAL, "i0", (12,))),
        ("gauze twelve in all", Meaning(Form.TOTAL, "i0", (12,))),
        ("gauze twelve total", Meaning(Form.TOTAL, "i0", (12,))),
        ("one balfour four pieces", Meaning(Form.NUMBER_FIRST, "i2", (1,), 4)),
        ("one balfour in four pieces", Meaning(Form.NUMBER_FIRST, "i2", (1,), 4)),
        ("balfour one four pieces", Meaning(Form.RUN, "i2", (1,), 4)),
        ("balfour one two four pieces each", Meaning(Form.RUN, "i2", (1, 2), 4)),
        ("balfour four pieces", Meaning(Form.RUN, "i2", (), 4)),
        ("balfour in one piece", Meaning(Form.RUN, "i2", (), 1)),
        ("four pieces", Meaning(Form.RUN, None, (), 4)),
        ("in four pieces", Meaning(Form.RUN, None, (), 4)),
        ("one two four pieces", Meaning(Form.RUN, None, (1, 2), 4)),
        ("gauze none", Meaning(Form.NONE, "i0", (0,))),
        ("no vessel loops", Meaning(Form.NONE, "i1", (0,))),
        ("gauze zero", Meaning(Form.NONE, "i0", (0,))),
        ("zero gauze", Meaning(Form.NONE, "i0", (0,))),
        ("gauze total zero", Meaning(Form.NONE, "i0", (0,))),
        ("gauze", Meaning(Form.NAME, "i0")),
        ("tie", Meaning(Form.NOT_COUNTED, "n0")),
        ("ties one two", Meaning(Form.NOT_COUNTED, "n0", (1, 2))),
        ("two ties", Meaning(Form.NOT_COUNTED, "n0", (2,))),
        ("yes", Meaning(Form.COMMAND, command="yes")),
        ("no", Meaning(Form.COMMAND, command="no")),
    ],
)
def test_forms(text: str, meaning: Meaning) -> None:
    """Each way of saying a count has exactly one meaning."""
    assert meanings(text) == [meaning]


@pytest.mark.parametrize(
    "text",
    [
        *("", "none", "total twelve", "in all", "and", "a", "pieces", "hundred", "two hundred"),
        *("one two gauze", "gauze and", "gauze one two total", "gauze gauze", "gauze no"),
        *("gauze one two um three", "um gauze one", "gauze to", "gauze too", "won gauze"),
        *("for gauze", "gauze one to three", "gauze one hundred and", "gauze zero pieces"),
        *("gauze none four pieces", "no gauze one", "begin", "begin the", "gauze begin the count"),
        *("number ten", "ten blade", "gauze total one two", "gauze total of", "no ten"),
        *("one hundred number ten", "yes gauze", "gauze two vessel loops"),
    ],
)
def test_not_whole(text: str) -> None:
    """Whole utterance or nothing: a part that would make sense is not a count."""
    assert meanings(text) == []


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.id)
def test_commands(command: Any) -> None:
    """Every phrase of every command is understood as that command."""
    for phrase in command.phrases:
        assert meanings(phrase, GRAMMAR) == [Meaning(Form.COMMAND, command=command.id)]


def test_command_ids_are_those_of_the_dialogue() -> None:
    """The ids that the dialogue knows are all there, each with a line of help."""
    expected = {"start_over", "say_again", "whats_left", "read_tally", "stand_by", "carry_on"}
    expected |= {"take_back", "addition", "recount", "yes", "no", "finish", "begin"}
    case = {"add", "ask_count", "none_elsewhere", "done", "nothing_there", "cannot", *BLANKS}
    case -= {"recounted", "image", "no_image"}  # forms that no command begins

    assert {command.id for command in COMMANDS} == expected
    assert {command.id for command in CASE_COMMANDS} == case
    assert set(BY_ID) == expected | case
    assert all(command.does and command.phrases for command in BY_ID.values())


NAMES = st.sampled_from([name for name in GRAMMAR.names if name.tag is Tag.ITEM])
NUMBERS = st.integers(1, 199)


def _apart(numbers: list[int]) -> list[int]:
    """Drop each number that would be heard as the end of the one before it."""
    kept: list[int] = []
    for number in numbers:
        before = kept[-1] if kept else 1
        after_tens = before % 100 >= 20 and before % 10 == 0 and 1 <= number <= 9
        if not after_tens and not (before == 100 and 1 <= number <= 99):
            kept.append(number)
    return kept


RUNS = st.lists(NUMBERS, min_size=1, max_size=8).map(_apart)


def _said(*numbers: int) -> str:
    """Say numbers as the reference library does."""
    return " ".join(num2words(number) for number in numbers)


@st.composite
def sentences(draw: st.DrawFn) -> tuple[str, Meaning]:
    """Make a sentence and what it means."""
    name = draw(NAMES)
    item = str(name.value)
    text = " ".join(name.words)
    number, pieces = draw(NUMBERS), draw(st.integers(1, 9))
    run = draw(RUNS)
    ways = {
        f"{text} {_said(*run)}": Meaning(Form.RUN, item, tuple(run)),
        _said(*run): Meaning(Form.RUN, None, tuple(run)),
        f"{_said(number)} {text}": Meaning(Form.NUMBER_FIRST, item, (number,)),
        f"{text} total {_said(number)}": Meaning(Form.TOTAL, item, (number,)),
        f"{text} {_said(number)} in all": Meaning(Form.TOTAL, item, (number,)),
        f"{text} {_said(*run)} in {_said(pieces)} pieces": Meaning(
            Form.RUN, item, tuple(run), pieces
        ),
        f"{_said(number)} {text} {_said(pieces)} pieces": Meaning(
            Form.NUMBER_FIRST, item, (number,), pieces
        ),
        f"{text} none": Meaning(Form.NONE, item, (0,)),
        f"no {text}": Meaning(Form.NONE, item, (0,)),
        text: Meaning(Form.NAME, item),
    }
    return draw(st.sampled_from(sorted(ways.items(), key=lambda way: way[0])))


@given(sentences())
@settings(max_examples=300)
def test_sentences_mean_what_they_were_made_of(made: tuple[str, Meaning]) -> None:
    """A sentence made from a meaning, numbers said as num2words says them, has that meaning only.

    Singular and plural both go with any number.
    """
    text, meaning = made

    assert meanings(text, GRAMMAR) == [meaning]


@given(st.randoms(use_true_random=False))
@settings(max_examples=300)
def test_every_path_has_one_meaning(random: Any) -> None:
    """Whatever a recogniser finds by walking the graph is one whole utterance with one meaning."""
    state, path = GRAMMAR.start, []
    while state not in GRAMMAR.finals or (GRAMMAR.out.get(state) and random.random() < 0.7):
        arc = random.choice(GRAMMAR.out[state])
        path.append(arc.token)
        state = arc.target
    read = read_tokens(path)
    words = [word for token in path for word in token.words]

    if any(token.tag is Tag.PIECES for token in path) and read is None:
        assert "zero" in words
    else:
        assert read is not None, words
        assert [meaning for meaning, _ in parse(words, GRAMMAR)] == [read]


def test_a_number_that_may_run_into_a_name_is_not_read() -> None:
    """Twenty "five blades" and "twenty five" blades sound the same, so neither is taken."""
    grammar = build_grammar(sheet_of("five blade", "ten clamp"))

    assert meanings("two five blades", grammar) == [Meaning(Form.NUMBER_FIRST, "i0", (2,))]
    assert meanings("twenty five blades", grammar) == []
    assert meanings("one hundred five blades", grammar) == []
    assert meanings("one hundred ten clamps", grammar) == []
    assert meanings("twenty ten clamps", grammar) == [Meaning(Form.NUMBER_FIRST, "i1", (20,))]


def test_read_tokens_takes_whole_paths_only() -> None:
    """Tokens that are no whole utterance, and no tokens, have no meaning."""
    gauze = Token(Tag.ITEM, ("gauze",), "gauze")
    of = Token(Tag.LINK, ("of",))

    assert read_tokens([]) is None
    assert read_tokens([gauze, of]) is None
    assert read_tokens([gauze, gauze]) is None


def test_grammar_is_blind_to_numbers_expected() -> None:
    """Sheets that differ in what is expected, in packages, notes and policy have one grammar."""
    plain = sheet_of("gauze", "lap sponge")
    other = sheet_of("gauze", "lap sponge", expect=17, pack=5, pieces=3, stated=True, note="n")
    other = other.model_copy(update={"policy": other.policy.model_copy(update={"glance": 1})})

    assert build_grammar(plain) == build_grammar(other)
    assert hash(build_grammar(plain)) == hash(build_grammar(other))
    assert build_grammar(plain) != build_grammar(sheet_of("gauze", "lap sponges"))


def test_sounds_and_names_are_at_hand() -> None:
    """The sheet's own pronunciations and all names come with the grammar."""
    sounds = dict(GRAMMAR.sounds)

    assert sounds["kittner"] == (("K", "IH", "T", "N", "ER"),)
    assert len(sounds["yankauer"]) == 2
    assert GRAMMAR.names_of("vessel_loop") == (("vessel", "loop"), ("vessel", "loops"))
    assert {"gauze", "twenty", "pieces", "carry"} <= GRAMMAR.words
    assert "carry" not in GRAMMAR.frame_words
    assert "gauze" in GRAMMAR.name_words


FILES = sorted(path for path in SHEETS.glob("*.yaml") if path.stem != "policy")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_shipped_grammars_have_no_two_readings(path: Path) -> None:
    """Nothing that can be said with a shipped sheet has two meanings."""
    assert find_ambiguity(build_grammar(load_sheet(path))) is None


WORDS = st.sampled_from(["blade", "gauze", "ten", "one", "twenty", "total", "no", "none", "pieces"])
TINY_NAMES = st.lists(WORDS, min_size=1, max_size=3).map(" ".join)


@given(st.lists(TINY_NAMES, min_size=1, max_size=3), st.lists(TINY_NAMES, max_size=1))
@settings(max_examples=60, deadline=None)
def test_ambiguity_is_found_whenever_there_is_one(names: list[str], others: list[str]) -> None:
    """The proof agrees with trying out every short sentence, and its example does have two."""
    grammar = build_grammar(sheet_of(*names, not_counted=tuple(others)))
    found = find_ambiguity(grammar)
    words = sorted({*grammar.name_words, "one", "twenty", "none", "total", "no", "pieces"})
    doubtful = any(
        len({meaning for meaning, _ in parse(said, grammar)}) > 1
        for length in (1, 2, 3)
        for said in product(words, repeat=length)
    )

    if found is None:
        assert not doubtful
    else:
        assert len({meaning for meaning, _ in parse(found.text.split(), grammar)}) > 1
