"""What a rehearsal learns, what it refuses, and why: rules without sound."""

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rehearsing import FakeExamined, sheet
from voicecount.rehearse import pronounced, respelled
from voicecount.rehearse.alike import Names, confused, pairs, same_sound
from voicecount.rehearse.lessons import Example, learn
from voicecount.words.grammar import build_grammar
from voicecount.words.graph import Phones
from voicecount.words.pronounce import PHONES, Lexicon

SHEET = sheet("Deaver", "Kelly clamp", "Debakey forceps")
GRAMMAR = build_grammar(SHEET)
NAMES = Names(GRAMMAR)
ONE_TWO = ("one", "two")


def phones(text: str) -> Phones:
    return tuple(text.split())


def said(*words: str) -> Phones:
    return tuple(phone for word in words for phone in NAMES.lexicon.pronounce(word)[0])


@pytest.mark.parametrize(
    ("written", "before", "after", "name"),
    [
        ("Dever, one, two.", (), ONE_TWO, ["dever"]),
        ("Dever 1 2", (), ONE_TWO, ["dever"]),
        ("The bakey forceps, one, two.", (), ONE_TWO, ["the", "bakey", "forceps"]),
        ("Two Devers.", ("two",), (), ["Devers"]),
        ("To devers.", ("two",), (), ["devers"]),
        ("Dever, one, too.", (), ONE_TWO, None),
        ("12", (), ONE_TWO, None),
        ("Devers.", ("two",), (), None),
        ("", (), (), []),
    ],
)
def test_the_numbers_around_a_name_are_taken_away(
    written: str, before: Sequence[str], after: Sequence[str], name: list[str] | None
) -> None:
    """What is left of a text is the name; a text without the numbers is no use."""
    assert respelled.name_part(written, before, after) == name


@pytest.mark.parametrize(
    ("name", "written", "left"),
    [
        ("debakey forceps", "the bakey forceps", ("debakey", "the bakey")),
        ("straight kelly", "straight Kelley", ("kelly", "Kelley")),
        ("kelly clamp", "Kelly clamp", None),
        ("kelly clamp", "kelly", None),
        ("kelly", "kelly clamp", None),
    ],
)
def test_only_what_differs_is_learned(
    name: str, written: str, left: tuple[str, str] | None
) -> None:
    """Words that agree at both ends are left out."""
    assert respelled.difference(name.split(), written.split()) == left


@pytest.mark.parametrize(
    ("spelling", "why"),
    [
        ("dever", None),
        ("three", "a number"),
        ("the 4", "a number"),
        ("the 400", "no name"),
        ("seven ver", "a number"),
        ("none", "a word of the count"),
        ("start", "a word of the count"),
        ("a b c d e", "no name"),
        ("kelly clamp", "a name of kelly_clamp"),
        ("kelly clam", "sounds more like kelly_clamp"),
        ("weaver hut", "too far"),
    ],
)
def test_a_spelling_that_means_something_else_is_refused(spelling: str, why: str | None) -> None:
    """Numbers, words of the count, and other lines' names never stand for a name."""
    found = respelled.why_refused(("deaver", spelling), "deaver", ("deaver",), NAMES)

    assert found is None if why is None else found is not None and why in found


@pytest.mark.parametrize(
    ("way", "why"),
    [
        ("D EH V ER", None),
        ("D IY V ER", "known"),
        ("G", "too far"),
        ("S P L AO NG K", "too far"),
    ],
)
def test_a_pronunciation_far_from_the_known_ones_is_refused(way: str, why: str | None) -> None:
    """A further way to say a word is near to the known ways, and is none of them."""
    names = Names(build_grammar(sheet("Deaver", sounds={"deaver": "D IY V ER"})))
    found = pronounced.why_refused(phones(way), "deaver", ("deaver", ("deaver",)), names)

    assert found is None if why is None else found is not None and why in found


def test_a_pronunciation_like_a_number_is_refused() -> None:
    """A word is never learned to sound like a number word that is as near."""
    names = Names(build_grammar(sheet("Tenner")))
    found = pronounced.why_refused(phones("T EH N"), "tenner", ("tenner", ("tenner",)), names)

    assert found is not None
    assert "number" in found


def test_a_spelling_like_a_number_is_refused() -> None:
    """A spelling that reads as near to a number word as to the name is refused."""
    names = Names(build_grammar(sheet("Tenner")))

    found = respelled.why_refused(("tenner", "den"), "tenner", ("tenner",), names)
    assert found == "it sounds like a number"


def test_a_pronunciation_of_another_line_is_refused() -> None:
    """A name is never learned to sound like another line's."""
    names = Names(build_grammar(sheet("Keller", "Kelly")))
    found = pronounced.why_refused(phones("K EH L IY"), "keller", ("keller", ("keller",)), names)

    assert found == "it sounds more like kelly"


def test_a_plural_is_said_like_its_singular() -> None:
    """The end that tells a plural is put on, or taken away."""
    words = {"deaver": "deavers", "deavers": "deaver", "foot": "feet", "odd": "deaver"}
    lexicon = Lexicon({"deaver": (phones("D IY V ER"),), "deavers": (phones("D IY V ER Z"),)})

    assert pronounced.sibling("deaver", phones("D EH V ER"), words, lexicon) == phones(
        "D EH V ER Z"
    )
    assert pronounced.sibling("deavers", phones("D EH V ER S"), words, lexicon) == phones(
        "D EH V ER"
    )
    assert pronounced.sibling("deavers", phones("D EH V ER"), words, lexicon) is None
    assert pronounced.sibling("foot", phones("F UH T"), words, lexicon) is None
    assert pronounced.sibling("clamp", phones("K L AE M P"), words, lexicon) is None


def test_two_of_three_sayings_must_agree() -> None:
    """The way that most others are near to is taken; three strangers agree on nothing."""
    near, other = phones("D EH V ER"), phones("D EH V AH")
    assert pronounced.agreed([near, near, phones("K AO")]) == near
    assert pronounced.agreed([near, phones("K AO"), other]) in {near, other}
    assert pronounced.agreed([near, phones("K AO"), phones("S IH SH")]) is None
    assert pronounced.agreed([near]) is None


@given(st.lists(st.lists(st.sampled_from(PHONES), min_size=1, max_size=6).map(tuple), max_size=5))
def test_what_is_agreed_on_was_heard(heard: list[Phones]) -> None:
    """Nothing is invented: what is agreed on is one of the sayings."""
    found = pronounced.agreed(heard)

    assert found is None or found in heard


def example(
    ear: FakeExamined, written: str = "", *, teaches: bool, line: str = "deaver"
) -> Example:
    name = {"deaver": ("deaver",), "kelly_clamp": ("kelly", "clamp")}[line]
    return Example(line, (), name, ONE_TWO, written, ear, teaches)


KNOWN = said("deaver", *ONE_TWO)
NEW = (*phones("D EH V ER"), *said(*ONE_TWO))
OLD_TEXT, NEW_TEXT = "Deaver, one, two.", "Dever, one, two."
TEACHER = FakeExamined({KNOWN: -20.0}, heard=[phones("D EH V ER"), said(*ONE_TWO)])
PROOF = FakeExamined({KNOWN: -20.0, NEW: -10.0}, {OLD_TEXT: -9.0, NEW_TEXT: -2.0})
OTHER = FakeExamined({said("kelly", "clamp", *ONE_TWO): -10.0}, {"Kelly clamp, one, two.": -1.0})


def test_what_helps_on_the_proof_is_learned() -> None:
    """A way and a spelling that fit the sayings kept for the proof are kept."""
    examples = [example(TEACHER, NEW_TEXT, teaches=True), example(PROOF, teaches=False)]
    others = [example(OTHER, teaches=True, line="kelly_clamp")]
    found = learn(examples, others, GRAMMAR, NAMES)

    assert found.sounds == {"deaver": ("D EH V ER",)}
    assert found.spelled == {"deaver": ("dever",)}
    assert found.learnt("deaver", "Deaver").name == "Deaver"


def test_what_does_not_help_is_not_learned() -> None:
    """What fits the sayings kept for the proof no better is refused with a reason."""
    proof = FakeExamined({KNOWN: -20.0}, {OLD_TEXT: -2.0})
    examples = [example(TEACHER, NEW_TEXT, teaches=True), example(proof, teaches=False)]
    found = learn(examples, [], GRAMMAR, NAMES)

    assert not found.sounds
    assert not found.spelled
    assert [why.rpartition(": ")[2] for why in found.refused] == ["it helps too little"] * 2


def test_what_takes_over_another_line_is_not_learned() -> None:
    """What comes near to the right name on another line's saying is refused."""
    right = said("kelly", "clamp", *ONE_TWO)
    other = FakeExamined(
        {right: -10.0, NEW: -9.0}, {"Kelly clamp, one, two.": -1.0, NEW_TEXT: -1.0}
    )
    examples = [example(TEACHER, NEW_TEXT, teaches=True), example(PROOF, teaches=False)]
    others = [example(other, teaches=True, line="kelly_clamp")]
    found = learn(examples, others, GRAMMAR, NAMES)

    assert not found.sounds
    assert not found.spelled
    assert all("it takes over kelly clamp" in why for why in found.refused)


def test_without_a_proof_nothing_is_learned() -> None:
    """What was only heard where it was learned is refused."""
    found = learn([example(TEACHER, NEW_TEXT, teaches=True)], [], GRAMMAR, NAMES)

    assert not found.sounds
    assert not found.spelled
    assert len(found.refused) == 2


def test_a_number_heard_in_the_place_of_a_name_is_refused() -> None:
    """A spelling that is a number word never gets as far as the proof."""
    examples = [example(TEACHER, "Three, one, two.", teaches=True), example(PROOF, teaches=False)]
    found = learn(examples, [], GRAMMAR, NAMES)

    assert found.spelled == {}
    assert 'deaver as "three": it holds a number' in found.refused


def test_names_with_the_same_sound_are_found() -> None:
    """Two lines of which one name sounds the same are told, the closest pair first."""
    found = pairs(Names(build_grammar(sheet("Kelly", "Kelley", "Babcock"))))

    assert (found[0].first, found[0].second, found[0].share) == ("kelly", "kelley", 0.0)
    assert same_sound(found) == found[0]
    assert same_sound(pairs(NAMES)) is None


def test_lines_taken_for_each_other_are_found() -> None:
    """A line heard as another more often than as itself; a tie is none."""
    assert confused({"a": {"a": 2, "b": 2}, "b": {"a": 1, "b": 4}}) is None
    assert confused({"a": {"a": 3}, "b": {"a": 2, "b": 1}}) == ("b", "a")


def test_two_ways_and_two_spellings_are_enough() -> None:
    """What is heard most often comes first, and a third of a kind is not asked about."""
    heard = [("D EH V ER", "Dever"), ("D IY B ER", "Deeber"), ("D IY V AH", "Deeva")]
    after = said(*ONE_TWO)
    fits = {(*phones(way), *after): -10.0 for way, _ in heard}
    texts = {f"{text}, one, two.": -2.0 for _, text in heard}
    examples = [
        example(
            FakeExamined({KNOWN: -20.0}, heard=[phones(way), after]),
            f"{text}, one, two.",
            teaches=True,
        )
        for way, text in heard
    ]
    silent = FakeExamined({KNOWN: -20.0}, heard=[(), after])
    examples.append(example(silent, "", teaches=True))
    examples.append(example(FakeExamined(fits | {KNOWN: -20.0}, texts), teaches=False))
    found = learn(examples, [example(OTHER, teaches=True, line="kelly_clamp")], GRAMMAR, NAMES)

    assert found.sounds == {"deaver": ("D EH V ER", "D IY B ER")}
    assert found.spelled == {"deaver": ("dever", "deeber")}
    assert found.refused == []
