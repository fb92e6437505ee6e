"""What may be said at each moment of a whole case: places, answers, and never two meanings."""

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from cases import BOTH_AGREE, CAVITY, CLOSING, INITIAL, TEAM, case_of, first_count, placed
from playing import Play

from voicecount.count.events import Difference, DiscrepancyOpened, Event
from voicecount.count.ledger import Ledger, apply
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.talk.blanks import BLANKS
from voicecount.talk.scene import Filling, Scene
from voicecount.talk.vocabulary import vocabulary_of
from voicecount.words.ambiguity import find_ambiguity
from voicecount.words.commands import BY_ID, CASE_COMMANDS, COMMANDS, When
from voicecount.words.grammar import build_grammar, parse
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import words_of
from voicecount.words.places import PLACES
from voicecount.words.vocabulary import Vocabulary

FOLDER = Path(__file__).parent.parent / "grammars"
SHEETS = sorted(path for path in FOLDER.glob("*.yaml") if path.stem != "policy")
SHEET = case_of(plan=(INITIAL, CAVITY, CLOSING), team=TEAM)
MAYO = Vocabulary((*COMMANDS, *CASE_COMMANDS), PLACES)
AT_PLACES = build_grammar(SHEET, MAYO)


def meanings(text: str) -> list[Meaning]:
    """Give the meanings of a text in a count with places."""
    return [meaning for meaning, _ in parse(words_of(text), AT_PLACES)]


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("on the field one two", Meaning(Form.RUN, None, (1, 2), place="field")),
        ("lap sponges on the field one", Meaning(Form.RUN, "lap", (1,), place="field")),
        ("on the field lap sponges one two", Meaning(Form.RUN, "lap", (1, 2), place="field")),
        ("lap sponges counted off ten", Meaning(Form.RUN, "lap", (10,), place="off_field")),
        ("lap sponges on the mayo none", Meaning(Form.NONE, "lap", (0,), place="mayo")),
        ("on the mayo stand none", Meaning(Form.NONE, None, (0,), place="mayo")),
        ("on the mayo stand zero", Meaning(Form.RUN, None, (0,), place="mayo")),
        ("two lap sponges in the wound", Meaning(Form.NUMBER_FIRST, "lap", (2,), place="wound")),
        ("on the floor", Meaning(Form.PLACE, place="floor")),
        ("lap sponges in the drapes", Meaning(Form.NAME, "lap", place="drapes")),
        ("in the waste lap sponges", Meaning(Form.NAME, "lap", place="waste")),
        (
            "suture needles on the back table total four",
            Meaning(Form.TOTAL, "needle", (4,), place="back_table"),
        ),
        (
            "on the back table suture needles total four",
            Meaning(Form.TOTAL, "needle", (4,), place="back_table"),
        ),
        (
            "on the back table suture needles four in all",
            Meaning(Form.TOTAL, "needle", (4,), place="back_table"),
        ),
        (
            "on the mayo stand lap sponges one two four pieces",
            Meaning(Form.RUN, "lap", (1, 2), 4, place="mayo"),
        ),
        ("none anywhere else", Meaning(Form.COMMAND, command="none_elsewhere")),
        ("none", Meaning(Form.NONE, None, (0,))),
    ],
)
def test_places_are_said_with_a_count_or_alone(text: str, meaning: Meaning) -> None:
    """A place stands before or after the name, before the numbers, or alone; with one meaning."""
    assert meanings(text) == [meaning]


@pytest.mark.parametrize(
    "text",
    [
        *(
            "on the field on the mayo one",
            "lap sponges one on the field two",
            "on the",
            "field one",
        ),
        *("off the field one", "field one", "on the field", "yes on the field"),
    ],
)
def test_half_places_are_no_places(text: str) -> None:
    """Two places, a place in the middle of a run and words beside it are no count."""
    found = meanings(text)

    assert [meaning.form for meaning in found if meaning.form is not Form.PLACE] == []


def test_places_are_only_known_where_a_count_has_places() -> None:
    """In an initial count no place can be heard."""
    assert parse(words_of("lap sponges on the field one"), build_grammar(SHEET)) == []


@pytest.mark.parametrize("command", CASE_COMMANDS, ids=lambda command: command.id)
def test_case_commands(command: Any) -> None:
    """Every phrase of every command of a case is understood as that command."""
    for phrase in command.phrases:
        assert meanings(phrase) == [Meaning(Form.COMMAND, command=command.id)]


def test_phrases_are_long_enough_to_be_heard() -> None:
    """No command of a case is a single word, and no two commands share a phrase.

    Source: commands of five to seven syllables are recognised best (Yajima et al. 2020).
    """
    phrases = [phrase for command in BY_ID.values() for phrase in command.phrases]

    assert len(set(phrases)) == len(phrases)
    assert all(len(phrase.split()) > 2 for one in CASE_COMMANDS for phrase in one.phrases)


# All vocabularies that can come about


def scenes(sheet: Sheet) -> Iterator[Scene]:
    """Give a scene for each open blank of each form: in the initial count, in one with places and
    in one with a difference open.
    """
    begun = Play(sheet).go("circ: the count is finished").go("circ: we want a count now")
    differs = DiscrepancyOpened(
        at=1.0,
        number=1,
        item=sheet.items[0].id,
        counted=1,
        expected=2,
        differs=Difference.PIECE,
    )
    for ledger in (Play(sheet).ledger, begun.ledger, apply(begun.ledger, differs)):
        opened = Scene(sheet, ledger, told_apart=True)
        yield opened
        for form, blank in BLANKS.items():
            for filled in range(len(blank.slots) + 1):
                values = tuple((slot, 1) for slot in blank.slots[:filled])
                yield opened.but(filling=Filling(form, None, values))


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_no_moment_of_a_case_has_two_readings(path: Path) -> None:
    """Nothing that can be said at any moment of a case with a shipped sheet has two meanings."""
    sheet = load_sheet(path)
    found = {vocabulary_of(scene) for scene in scenes(sheet)}

    assert len(found) > 20
    assert {bool(one.places) for one in found} == {True, False}
    for vocabulary in found:
        assert find_ambiguity(build_grammar(sheet, vocabulary)) is None


def test_a_place_is_an_answer_while_it_is_asked_where_something_was_found() -> None:
    """ "On the field" is the answer then, and no longer the place of a count."""
    played = Play(SHEET).go(*first_count(SHEET), "circ: begin the closing count")
    played.go(*placed(SHEET, {"lap": (4, 0, 5, 0)}), "scrub: we have found it")
    played.go("scrub: on the field", "scrub: one")

    assert played.said.startswith("Found: lap sponge, one, on the field.")


def test_names_of_people_and_sites_are_known_when_they_are_asked_for() -> None:
    """People of the team and sites of the sheet can be said as answers, and at no other time."""
    sheet = case_of(team=TEAM, sites=[{"id": "gutter", "say": "in the left gutter"}])
    played = Play(sheet).go("scrub: the scrub is changing")
    assert [one.id for one in played.dialogue.vocabulary.choices] == ["ada", "ben"]

    played = Play(sheet).go("scrub: tucking something in", "scrub: lap sponge one")
    assert [one.phrases for one in played.dialogue.vocabulary.choices] == [("in the left gutter",)]
    assert Play(sheet).dialogue.vocabulary.choices == ()


def test_the_steps_of_a_difference_are_only_heard_while_one_is_open() -> None:
    """Commands of a difference and of places come and go with what they belong to."""
    played = Play(SHEET)
    heard = [_when(played)]
    for script in (
        first_count(SHEET),
        ("circ: begin the closing count",),
        placed(SHEET, {"lap": (4, 0, 5, 0)}),
    ):
        played.go(*script)
        heard.append(_when(played))

    case = {When.ALWAYS, When.CASE}
    assert heard == [case, case, case | {When.PLACES}, case | {When.PLACES, When.DISCREPANCY}]


def _when(played: Play) -> set[When]:
    given = played.dialogue.vocabulary.commands
    return {command.when for command in given if not command.id.startswith("begin:")}


# Numbers that are expected never reach it

SCRIPT = (
    *("scrub: lap sponges one two three four five six seven eight nine ten", "(wait)", "circ: ten"),
    *("scrub: suture needles total four", "(wait)", "circ: four", "circ: the count is finished"),
    *("scrub: something was cut", "scrub: lap sponge one", "circ: one"),
    *("circ: begin the uterine count", "scrub: lap sponges on the field one two three", "(wait)"),
    *("circ: three", "scrub: none anywhere else", "circ: none", "circ: that has been done"),
    *("circ: that has been done", "scrub: lap sponges on the field one two three", "(wait)"),
    *("circ: three", "scrub: none anywhere else", "circ: none", "circ: we have found it"),
    *("circ: on the floor", "circ: eight", "scrub: eight", *BOTH_AGREE),
)


def _moments(**numbers: int | None) -> list[Vocabulary]:
    """Give the vocabulary after each line, for sheets with other numbers expected."""
    laps: dict[str, Any] = {"id": "lap", "say": ["lap sponge"], **numbers}
    needles: dict[str, Any] = {"id": "needle", "say": ["suture needle"], "group": "sharps"}
    needles |= {"stated": True, "expect": numbers["expect"]}
    played = Play(case_of(laps, needles, plan=(INITIAL, CAVITY, CLOSING)))
    found = []
    for line in SCRIPT:
        played.line(line)
        found.append(played.dialogue.vocabulary)
    return found


@pytest.mark.parametrize(
    "numbers",
    [{"expect": 17, "pack": 10}, {"expect": 1, "pack": 5}, {"expect": None, "pack": None}],
)
def test_what_is_expected_never_reaches_what_may_be_said(numbers: dict[str, int | None]) -> None:
    """The same case with other numbers on its sheet has equal vocabularies and grammars throughout.

    Promise of the design: expected totals never reach the recogniser.
    """
    plain, other = _moments(expect=10, pack=10), _moments(**numbers)

    assert len(set(plain)) > 3
    assert plain == other
    sheets = [
        case_of({"id": "lap", "say": ["lap sponge"], **given})
        for given in ({"expect": 10, "pack": 10}, numbers)
    ]
    for vocabulary in set(plain):
        one, two = (build_grammar(sheet, vocabulary) for sheet in sheets)
        assert one == two
        assert hash(one) == hash(two)


def test_a_ledger_alone_never_gives_numbers() -> None:
    """A scene that differs only in its ledger's numbers gives the same vocabulary."""
    played = [Play(SHEET).go(*first_count(SHEET, lap=n)) for n in (5, 10)]
    ledgers: list[Ledger] = [one.ledger for one in played]
    events: list[list[Event]] = [one.events for one in played]
    scenes_ = [Scene(SHEET, ledger, told_apart=True) for ledger in ledgers]

    assert events[0] != events[1]
    assert all(vocabulary_of(one) == vocabulary_of(two) for one, two in pairwise(scenes_))
