"""What the assistant says in a whole case: what stands and what comes next, never a judgement."""

import inspect
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import pytest
from cases import (
    BOTH_AGREE,
    DONE,
    NEEDLES_AT,
    TEAM,
    WHOLE,
    begun,
    case_of,
    placed,
    recounted,
    short,
    told,
    walked,
)
from playing import Play, sheet_of
from test_wording import JUDGEMENT, breathless

from voicecount.count.events import CountResult, Difference, Incident, Settled, Step
from voicecount.count.roles import Role
from voicecount.sheet.model import Item
from voicecount.sheet.plan import DEFAULT_PLAN
from voicecount.talk import wording_case, wording_differences, wording_forms
from voicecount.talk.blanks import BLANKS
from voicecount.words import choices
from voicecount.words.choices import Choice
from voicecount.words.commands import CASE_COMMANDS
from voicecount.words.places import PLACES

SHEET = sheet_of(
    {"id": "loop", "say": ["vessel loop"], "pieces": 3},
    {"id": "lap", "say": ["lap sponge"], "pack": 5},
)
LOOP, LAP = SHEET.items
PLACE_IDS = [place.id for place in PLACES]
CHOICES = [
    choice.phrases[0]
    for group in vars(choices).values()
    if isinstance(group, tuple) and all(isinstance(one, Choice) for one in group)
    for choice in group
]
TITLES = [*(count.say for count in DEFAULT_PLAN), "uterine count", "count that was asked for"]
TOLD = [
    wording_forms.Told(item, n, printed, site, reason)
    for item in SHEET.items
    for n, printed in ((0, 5), (1, 1), (15, 13))
    for site, reason in (("in the pelvis", "comes out in theatre"),)
]

BY_NAME: dict[str, list[Any]] = {
    "place": PLACE_IDS,
    "places": [PLACE_IDS[:1], PLACE_IDS],
    "title": TITLES,
    "titles": [TITLES[:1], TITLES * 2],
    "names": [["lap sponges"], ["lap sponges", "vessel loops"] * 4],
    "off": [-1, -15, 1, 2],
    "slot": list(wording_forms.QUESTIONS),
    "answers": [[], ["life is in danger", "for another reason"], CHOICES[:5]],
    "reason": CHOICES,
    "decision": CHOICES,
    "text": ["Closing pauses. Then say: that has been done."],
    "digits": ["one two, three four, five six"],
    "minutes": [-1, 0, 1, 15, 500],
    "outgoing": [None, "Ada Field"],
    "incoming": [None, "Ben Moss"],
}
"""What a parameter may be, where its name tells more than its type."""
PLACES_AND_NUMBERS = [[], [("field", 3)], [(place, 13) for place in PLACE_IDS]]
BY_TYPE: dict[Any, list[Any]] = {
    Item: [LOOP, LAP],
    Item | None: [None, LOOP, LAP],
    int: [0, 1, 15, 199],
    int | None: [None, 3, 15],
    bool: [True, False],
    Incident: list(Incident),
    Difference: list(Difference),
    CountResult: list(CountResult),
    Settled: list(Settled),
    Step: list(Step),
    Role: list(Role),
    wording_forms.Told: TOLD,
    Sequence[tuple[Item, int]]: [[(LOOP, 2)], [(LOOP, 13), (LAP, 5)] * 4],
    Sequence[tuple[Item, int, str]]: [
        *([(LOOP, 2, "in the pelvis")], [(LAP, 15, "behind the bowel")] * 8),
    ],
}
DIFFERENCES = [(item, how, off) for how in Difference for item, off in ((LOOP, -1), (LAP, 15))]
BY_FUNCTION: dict[tuple[str, str], list[Any]] = {
    ("open_discrepancies", "lines"): [*([one] for one in DIFFERENCES), DIFFERENCES * 4],
    ("last_right", "places"): PLACES_AND_NUMBERS,
    ("step", "place"): [None, *PLACE_IDS],
    ("count_opened", "place"): [None, *PLACE_IDS],
    ("expected_all", "lines"): [[(LOOP, 2)], [(LAP, 15)] * 8],
    ("off_field_so_far", "lines"): [[], [(LAP, 15)] * 8],
    ("changes", "role"): list(Role),
}
PARTS = {"at_place"}
"""Functions that give a part of a sentence."""


def functions() -> Iterator[Any]:
    """Give every function of the wording that is for others."""
    for module in (wording_case, wording_differences, wording_forms):
        for function in vars(module).values():
            mine = inspect.isfunction(function) and function.__module__ == module.__name__
            if mine and not function.__name__.startswith("_"):
                yield function


def values(function: str, name: str, kind: Any) -> list[Any]:
    """Give what a parameter may be; an unknown one fails."""
    known = BY_FUNCTION.get((function, name))
    return known if known is not None else BY_NAME[name] if name in BY_NAME else BY_TYPE[kind]


def examples() -> dict[str, str]:
    """Give every sentence, by itself and by the function that says it."""
    said: dict[str, str] = {}
    for function in functions():
        calls: list[dict[str, Any]] = [{}]
        for name, parameter in inspect.signature(function, eval_str=True).parameters.items():
            given = values(function.__name__, name, parameter.annotation)
            calls = [{**call, name: value} for call in calls for value in given]
        said |= {function(**call): function.__name__ for call in calls}
    return said


SENTENCES = examples()

TRADE = re.compile(
    r"yes that is right|closing count|closing pauses|the record is closed|close the record now"
    r"|closed by both: (found|counted again|explained)"
    r"|not reconciled|reconciled after a difference"
    r"|reconciled, with items left in the patient on purpose|not complete"
    r"|the first count was wrong|(upper|lower) right"
)
"""Whole expressions that hold such a word and judge nothing: a command, the names of counts and of
results as published ("reconciled with items left on purpose"), what both people gave as a reason.
"""


def judges(text: str) -> bool:
    """Tell whether a text judges, reassures or blames, without the expressions of the trade."""
    return JUDGEMENT.search(TRADE.sub("", text.lower())) is not None


def tables() -> Iterator[str]:
    """Give every text of every table, filled with nothing."""
    everything = {**vars(wording_case), **vars(wording_differences), **vars(wording_forms)}
    for table in everything.values():
        if isinstance(table, Mapping) and "__name__" not in table:
            yield from (text for text in table.values() if isinstance(text, str))


def test_every_sentence_and_every_table_is_looked_at() -> None:
    """Every function of the wording is called with every kind of argument; every table is read."""
    assert len(SENTENCES) > 1000
    assert {function.__name__ for function in functions()} == set(SENTENCES.values())
    assert len(list(tables())) > 40


def test_the_rule_finds_what_it_looks_for() -> None:
    """Reassuring words, and words of the trade in any other place, are found."""
    for text in (
        *(
            "All counts are correct.",
            "Safe to close.",
            "You can close now.",
            "Everything is right.",
        ),
        *("Reconciled.", "Closed.", "The count is complete.", "Your first count was wrong."),
        *("Well done.", "The wound can be closed by both.", "No problem.", "You forgot one."),
    ):
        assert judges(text), text


def test_nothing_judges_reassures_or_blames() -> None:
    """No sentence and no table says that anything is safe, correct or somebody's fault."""
    assert [text for text in (*SENTENCES, *tables()) if judges(text)] == []


def test_answers_and_commands_do_not_blame() -> None:
    """Nothing that people are asked to say blames one of them."""
    asked = [*CHOICES, *(phrase for one in CASE_COMMANDS for phrase in one.phrases)]

    assert [text for text in asked if judges(text)] == []
    assert [text for text in asked if re.search(r"\b(you|he|she|scrub nurse)\b", text)] == []


def test_each_is_a_sentence() -> None:
    """Everything begins with a capital, ends as a sentence, and has no stray blanks or commas."""
    odd = re.compile(r",[,.]|  | [,.]|\.\.|[{}]")
    whole = [text for text, function in SENTENCES.items() if text and function not in PARTS]

    assert [text for text in whole if not text.endswith((".", "?"))] == []
    assert [text for text in whole if not text[0].isupper()] == []
    assert [text for text in whole if odd.search(text)] == []


def test_a_pause_stands_around_every_number() -> None:
    """Where a sentence is spoken, each number that counts stands alone between two pauses."""
    assert [phrase for text in SENTENCES for phrase in breathless(text)] == []


def test_a_number_and_its_digits_are_two_things() -> None:
    """A comma parts a number from its digits, and the digits from what follows, in any place."""
    alike = [text for text in SENTENCES if "one five" in text]

    assert alike
    assert all(re.search(r"fifteen, one five(?:[,.?;:]|$)", text, re.IGNORECASE) for text in alike)


def test_every_code_has_its_words() -> None:
    """No incident, step, result, outcome, role or blank is without words."""
    assert set(wording_forms.INCIDENTS) == set(Incident)
    assert set(wording_differences.STEPS) == set(Step)
    assert set(wording_case.RESULTS) == set(CountResult)
    assert set(wording_differences.SETTLED) == set(Settled)
    assert set(wording_case.ROLES) == set(Role)
    assert set(wording_forms.QUESTIONS) == {slot for one in BLANKS.values() for slot in one.slots}


@pytest.mark.parametrize("result", list(CountResult))
def test_every_result_leaves_the_decision_to_people(result: CountResult) -> None:
    """Whatever a count came to, the two people decide."""
    assert wording_case.finished("closing count", result).endswith("The two of you decide.")
    assert wording_case.waived("closing count").endswith("The two of you decide.")


def test_packing_is_never_plain() -> None:
    """With packing left inside, the words say so.

    Source: AORN 2022, in a lesson for certified perioperative nurses.
    """
    said = wording_case.finished("closing count", CountResult.LEFT_ON_PURPOSE)

    assert "with items left in the patient on purpose" in said


def test_a_difference_is_told_with_both_numbers() -> None:
    """Item, counted, expected, and how many are short or over, in this order."""
    said = wording_differences.discrepancy(LAP, 9, 10)
    assert said == "Lap sponges, nine. Expected, ten. One short."
    assert wording_differences.discrepancy(LAP, 15, 13) == (
        "Lap sponges, fifteen, one five. Expected, thirteen, one three. Two too many."
    )


def whole_cases() -> Iterator[Play]:
    """Play cases in which nearly everything is said."""
    lost = walked(recounted()).go(DONE, DONE, "circ: the image is uncertain")
    lost.go("circ: read by the surgeon")
    told(lost, "it stays missing", "the surgeon will go on", agreed="yes")
    yield lost.go(*placed(case_of(), NEEDLES_AT), "circ: the count is finished")
    yield lost.go("circ: close the record now", "scrub: yes that is right")
    yield short().go(DONE, DONE, *placed(case_of(), WHOLE), *BOTH_AGREE)
    sheet = case_of(team=TEAM)
    played = told(
        begun(sheet), "tucking something in", "lap sponge one", "in the pelvis", agreed="one"
    )
    for form, answers, agreed in (
        (
            "packing is left inside",
            ("lap sponge one", "in the pelvis", "no plan for it yet"),
            "one",
        ),
        ("passing them off the field", ("lap sponges five",), "five"),
        ("there is one too many", ("suture needle one",), "one"),
        ("a break for the scrub", ("Ben Moss",), "yes"),
        ("the break is over", (), "yes"),
        ("the circulator is changing", ("Ada Field", "Ben Moss"), "yes"),
    ):
        told(played, form, *answers, agreed=agreed)
        yield played.go("circ: what is left to count", "circ: read me the tally")
    told(played, "we cannot count now", "life is in danger", agreed="yes")
    yield played.go("circ: close the record now", "scrub: yes that is right")


def test_no_case_brings_out_a_judgement() -> None:
    """Through whole cases no reply judges, reassures or blames."""
    said = {text for played in whole_cases() for text in played.texts}

    assert len(said) > 70
    assert [text for text in said if judges(text)] == []
    assert all(text.endswith((".", "?")) for text in said)
