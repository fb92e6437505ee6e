"""What the assistant says: short, in pauses, and never a judgement."""

import inspect
import re
from collections.abc import Sequence
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from playing import sheet_of
from test_ledger import SHEET as TALK_SHEET
from test_ledger import Utterance, talk_of, talks

from voicecount.count.events import Refusal
from voicecount.reasons import Reason
from voicecount.sheet.model import Item, NotCounted
from voicecount.speak.phrases import phrases
from voicecount.talk import wording
from voicecount.words.numbers import in_words
from voicecount.words.soundalike import twins

SHEET = sheet_of(
    {"id": "vessel-loop", "say": ["vessel loop"], "pieces": 3},
    {"id": "lap", "say": ["lap sponge"], "pack": 5},
    not_counted=[{"id": "tie", "say": ["tie"]}],
)
LOOP, LAP = SHEET.items

JUDGEMENT = re.compile(
    r"\b(safe(ly)?|all good|all clear|correct(ly)?|right|perfect|well done|good|great|fine|okay|ok"
    r"|sure|certain|complete|successful(ly)?|reconciled|close|closed|closing|don't worry|no problem"
    r"|everything|wrong|mistake|error|fault|failed|blame|you (forgot|missed|skipped)|must)\b"
)
"""Words that would reassure, judge or blame."""


def examples() -> list[str]:
    """Give every sentence: each function of the wording called with plausible arguments."""
    values: dict[Any, list[Any]] = {
        Item: [LOOP, LAP],
        NotCounted: [SHEET.not_counted[0]],
        str: ["caesarean birth"],
        int: [0, 1, 15],
        int | None: [None, 3],
        bool: [True, False],
        Refusal: list(Refusal),
        Reason | None: [None, *Reason],
        Sequence[Item]: [[LOOP], [LOOP, LAP] * 4],
        Sequence[tuple[Item, int]]: [[], [(LOOP, 2)], [(LOOP, 13), (LAP, 5)] * 4],
        Sequence[tuple[Item, int, int]]: [[(LOOP, 2, 3)], [(LAP, 4, 5)] * 8],
    }
    said = []
    for function in vars(wording).values():
        if not inspect.isfunction(function) or function.__module__ != wording.__name__:
            continue
        if function.__name__.startswith("_"):
            continue
        calls: list[dict[str, Any]] = [{}]
        for name, parameter in inspect.signature(function, eval_str=True).parameters.items():
            calls = [{**call, name: v} for call in calls for v in values[parameter.annotation]]
        said += [function(**call) for call in calls]
    return sorted(set(said))


SENTENCES = examples()


def test_there_are_sentences_to_check() -> None:
    """Every function of the wording is called with every kind of argument it takes."""
    assert len(SENTENCES) > 200


def test_nothing_judges_reassures_or_blames() -> None:
    """No sentence says that anything is safe, correct or somebody's fault."""
    found = [text for text in SENTENCES if JUDGEMENT.search(text.lower())]

    assert found == []


@settings(max_examples=150, deadline=None)
@given(talks)
def test_no_talk_ever_brings_out_a_judgement(utterances: list[Utterance]) -> None:
    """Whatever is said, no reply judges, reassures or blames, and each one ends as a sentence."""
    assert TALK_SHEET.items
    for reply in talk_of(utterances).replies:
        if reply is not None:
            assert not JUDGEMENT.search(reply.text.lower())
            assert reply.text.endswith((".", "?"))


UNITS = {word for n in range(200) for word in in_words(n).split()}


def breathless(text: str) -> list[str]:
    """Give what is spoken in one go and holds a number with other words, or two numbers."""
    shown = [re.findall(r"[a-z]+", phrase.text.lower()) for phrase in phrases(text)]
    mixed = [words for words in shown if 0 < sum(word in UNITS for word in words) < len(words)]
    return [" ".join(words) for words in mixed]


def test_a_pause_stands_around_every_number() -> None:
    """Where a sentence is spoken, each number stands alone between two pauses."""
    assert [found for text in SENTENCES for found in breathless(text)] == []


def test_a_number_and_its_digits_are_two_things() -> None:
    """A comma parts a number from its digits, and the digits from what follows, in any place."""
    alike = [text for text in SENTENCES if "one five" in text]

    assert alike
    assert all(re.search(r"fifteen, one five(?:[,.?;]|$)", text) for text in alike)


def test_a_sentence_reads_well() -> None:
    """On a screen no comma stands but where a reader expects one."""
    said = wording.refused(LOOP, Refusal.SKIPPED, 3, 5, 6, package=False)

    assert said == "After three I heard five. Count vessel loops again, from one."
    assert wording.set_aside(LAP, 4, 5).startswith("A package of lap sponges with four, not five.")
    assert not [text for text in SENTENCES if re.search(r",[,.]|  ", text)]


@pytest.mark.parametrize(
    ("n", "said"),
    [
        (0, "none"),
        (5, "five"),
        (10, "ten"),
        (12, "twelve"),
        (13, "thirteen, one three"),
        (15, "fifteen, one five"),
        (19, "nineteen, one nine"),
        (20, "twenty"),
        (29, "twenty nine, two nine"),
        (30, "thirty, three zero"),
        (50, "fifty, five zero"),
        (90, "ninety, nine zero"),
        (113, "one hundred thirteen, one one three"),
        (199, "one hundred ninety nine, one nine nine"),
        (210, "two one zero"),
    ],
)
def test_numbers(n: int, said: str) -> None:
    """Teens and tens, and what ends in five or nine, are said digit by digit as well."""
    assert wording.number(n) == said


@given(st.integers(10, 199))
def test_every_sound_alike_is_said_twice(n: int) -> None:
    """No number of two digits that has a twin is said in one way only."""
    assert ("," in wording.number(n)) == bool(twins(n))


def test_read_backs_are_short() -> None:
    """A read-back is an item and a number, and a read-back of the record is never long."""
    assert wording.read_back(LAP, 5, None) == "Lap sponges, five."
    assert wording.read_back(LOOP, 1, 3) == "Vessel loop, one, in three pieces."
    single = [text for text in SENTENCES if text.lower().count("lap sponge") < 3]
    assert max(len(text.split()) for text in single) <= 26


def test_long_lists_are_cut_and_counted() -> None:
    """A list names six and tells how many more there are."""
    assert (
        wording.left([LAP] * 8) == f"Not counted: {', '.join(['lap sponges'] * 6)}, and two more."
    )


def test_every_reason_and_refusal_has_its_words() -> None:
    """No code is without a sentence."""
    assert set(wording.UNSURE) == set(Reason)
    assert set(wording.REFUSED) == set(Refusal)


def test_the_end_leaves_the_decision_to_people() -> None:
    """Even when every line is confirmed, nothing is called correct."""
    assert wording.finished(6, 6) == "Lines confirmed: six of six. The two of you decide."
