"""What can happen between counts, in typed words: each a short dialogue and a coded event."""

from typing import Any

import pytest
from cases import (
    BOTH_AGREE,
    CASE,
    CAVITY,
    CLOSING,
    FINAL,
    INITIAL,
    LAPS,
    TIPS,
    begun,
    called,
    case_of,
    first_count,
    of_kind,
    placed,
    told,
)
from playing import Play

from voicecount.count.events import CountResult, Incident
from voicecount.count.tally import State

NEEDLES_AT: dict[str, tuple[int, ...]] = {"needle": (0, 1, 3, 0)}
CAVITIES = case_of(plan=(INITIAL, CAVITY, CLOSING, FINAL))


def result(played: Play) -> CountResult | None:
    """Finish the count, and give what it came to."""
    found: CountResult | None = of_kind(played.go("circ: the count is finished"), "count_finished")[
        -1
    ].result
    return found


DIALOGUES: list[tuple[str, tuple[str, ...], str, dict[str, Any], str, int | None]] = [
    (
        "something was dropped",
        ("lap sponge one",),
        "one",
        {"incident": "dropped", "n": 1},
        "Lap sponge, one, dropped. It stays in the count.",
        10,
    ),
    (
        "something was cut",
        ("lap sponges two",),
        "two",
        {"incident": "cut", "n": 2},
        "Lap sponges, two, cut in two. Two entries for each from now on. Expected now, twelve.",
        12,
    ),
    (
        "something has broken",
        ("lap sponge three",),
        "three",
        {"incident": "broken", "n": 3},
        "Lap sponge, broken, in three fragments. Each is an entry. Expected now, twelve.",
        12,
    ),
    (
        "tucking something in",
        ("lap sponge", "one", "behind the bowel"),
        "one",
        {"incident": "tucked", "n": 1, "site": "behind_the_bowel"},
        "Lap sponge, one, tucked in, behind the bowel. To come out.",
        10,
    ),
    (
        "packing is left inside",
        ("lap sponges two", "in the pelvis", "comes out in theatre"),
        "two",
        {"incident": "packed", "n": 2, "site": "pelvis", "reason": "in_theatre"},
        "Lap sponges, two, left inside on purpose, in the pelvis. Comes out in theatre.",
        10,
    ),
    (
        "old packing came out",
        ("lap sponges three",),
        "three",
        {"incident": "old_packing_out", "n": 3},
        "Lap sponges, three, packing of an earlier operation. Not in this count.",
        10,
    ),
    (
        "that pack held another number",
        ("suture needles", "four", "three"),
        "three",
        {"incident": "other_number", "item": "needle", "n": 3, "printed": 4},
        "Suture needles. Printed, four. In the pack, three. Expected now, three.",
        10,
    ),
    (
        "something leaves the count",
        ("lap sponge one", "out with the specimen"),
        "one",
        {"incident": "handed_over", "n": 1, "reason": "with_specimen"},
        "Lap sponge, one, out of the count. Out with the specimen. Expected now, nine.",
        9,
    ),
    (
        "passing them off the field",
        ("lap sponges one two three four five",),
        "five",
        {"incident": "counted_off", "n": 5},
        "Lap sponges, five, off the field, in one group.",
        10,
    ),
    (
        "add to the count",
        ("lap sponges five",),
        "five",
        {"incident": "added", "n": 5},
        "Lap sponges, five added. Expected now, fifteen, one five.",
        15,
    ),
]
"""What is said, what is answered, the other's number, the event, the words, what is expected.

Sources: dropped, cut, several pieces: a lesson for certified perioperative nurses. Every fragment:
WHO 2009, from memory. Tucked and packed: Minnesota Hospital Association. Old packing: AORN 2022, in
that lesson. Suture packs: ORNAC correction of 2015, 3.2.61. Groups of one size: AORN FAQ 2015. Hand
over with a reason: no silent subtraction, the same lesson.
"""


@pytest.mark.parametrize(
    ("form", "answers", "number", "fields", "words", "expected"),
    DIALOGUES,
    ids=[one[3]["incident"] for one in DIALOGUES],
)
@pytest.mark.parametrize("told_apart", [True, False])
def test_an_incident_is_told_and_agreed_to(
    form: str,
    answers: tuple[str, ...],
    number: str,
    fields: dict[str, Any],
    words: str,
    expected: int,
    told_apart: bool,
) -> None:
    """Each incident is asked for, read back, kept by the other's number, and read again."""
    script = [*first_count(CASE)]
    if fields["incident"] == "added":
        script.append("circ: begin the closing count")
    script += [f"scrub: {form}", *(f"scrub: {one}" for one in answers)]
    if not told_apart:
        script = [line.replace("scrub:", "one:").replace("circ:", "one:") for line in script]
    played = Play(CASE, told_apart).go(*script)
    assert of_kind(played, "incident_told") == []

    played.go(f"{'circ' if told_apart else 'one'}: {number}")
    (event,) = of_kind(played, "incident_told")
    assert {name: getattr(event, name) for name in fields} == fields
    assert words in played.said
    assert played.ledger.expected("lap") == expected
    if told_apart:
        assert (event.by, event.agreed) == ("scrub", "circulator")


def test_every_incident_has_its_dialogue() -> None:
    """Each kind of incident is told in one of these tests."""
    tested = {one[3]["incident"] for one in DIALOGUES} | {"came_out", "incomplete", "one_too_many"}

    assert tested == {incident.value for incident in Incident}


# Two people


@pytest.mark.parametrize(
    ("last", "kept"),
    [
        ("scrub: two", False),
        ("scrub: yes that is right", False),
        ("circ: yes that is right", False),
        ("circ: three", False),
        ("circ: no that is not right", False),
        ("circ: suture needles two", False),
        ("circ?: two", False),
        ("circ: two", True),
        ("circ: lap sponges two", True),
        ("circ: yes two", True),
    ],
)
def test_only_the_others_number_keeps_it(last: str, *, kept: bool) -> None:
    """The same person, a yes, another number and a doubtful one keep nothing.

    Source: a check-back says the thing itself (TeamSTEPPS); two people (Great Ormond Street).
    """
    played = begun(CASE, "scrub: something was cut", "scrub: lap sponges two", last)

    assert bool(of_kind(played, "incident_told")) == kept
    assert played.ledger.expected("lap") == (12 if kept else 10)


def test_two_numbers_are_told_and_nothing_is_kept() -> None:
    """Where the two differ, both numbers are said and it has to be told again."""
    played = begun(CASE, "scrub: something was cut", "scrub: lap sponges two", "circ: three")
    assert played.said == "Heard two and three. Nothing of it is kept. Look, and tell again."

    played.go("circ: two")
    assert of_kind(played, "incident_told") == []


def test_a_yes_is_enough_where_policy_says_so() -> None:
    """With yes_confirms the other person may agree by a yes."""
    sheet = case_of(policy={"yes_confirms": True})
    played = told(begun(sheet), "something was cut", "lap sponge one", agreed="yes")

    assert played.ledger.expected("lap") == 11


def test_silence_keeps_nothing() -> None:
    """However long nobody answers, an incident that one person told is not kept."""
    played = begun(CASE, "scrub: something was cut", "scrub: lap sponges two", "(wait)", "(finish)")

    assert of_kind(played, "incident_told") == []
    assert played.ledger.expected("lap") == 10


def test_another_command_drops_what_is_half_told() -> None:
    """A count that begins in between never makes its numbers part of what was being told."""
    played = begun(CASE, "scrub: something was cut", "circ: begin the closing count")
    assert "Nothing of it is kept." in played.said
    played.go(*placed(CASE, {"lap": (3, 0, 7, 0)}))

    assert of_kind(played, "incident_told") == []
    assert played.ledger.expected("lap") == 10


def test_asking_for_the_last_words_keeps_what_is_half_told() -> None:
    """To hear the question again does not drop it."""
    played = begun(CASE, "scrub: something was cut", "scrub: say that again")
    assert played.said == "Which item, and how many?"
    played.go("scrub: lap sponge one", "circ: one")

    assert played.ledger.expected("lap") == 11


@pytest.mark.parametrize(
    ("form", "answers"),
    [
        ("something was cut", ("lap sponges eleven",)),
        ("something was dropped", ("lap sponges eleven",)),
        ("something has broken", ("lap sponge one",)),
        ("tucking something in", ("lap sponges eleven",)),
        ("that one came out again", ("lap sponge one",)),
        ("something leaves the count", ("suture needles five",)),
        ("a piece is missing", ("lap sponge one",)),
        ("that pack held another number", ("suture needles", "four", "four")),
        ("passing them off the field", ("lap sponges eleven",)),
    ],
)
def test_what_cannot_be_is_not_kept(form: str, answers: tuple[str, ...]) -> None:
    """More than there are, one fragment, no piece missing: told so at once, and nothing is kept."""
    played = begun(CASE, f"scrub: {form}", *(f"scrub: {one}" for one in answers))

    assert "That does not fit." in played.said
    assert "Nothing of it is kept." in played.said
    assert of_kind(played, "incident_told") == []


def test_no_more_are_passed_off_than_there_are() -> None:
    """Groups that were passed off before are not passed off again."""
    played = begun()
    for _ in range(3):
        told(played, "passing them off the field", "lap sponges five", agreed="five")

    assert played.ledger.account("lap").passed_off == 10


# What it does to the counts


def test_a_dropped_item_stays_in_the_count() -> None:
    """It stays in the room and is counted off the field.

    Source: a dropped item stays in room and count (a lesson for perioperative nurses).
    """
    played = told(begun(), "something was dropped", "lap sponge one", agreed="one")
    played.go("circ: begin the closing count")
    played.go(*placed(CASE, {"lap": (3, 0, 6, 1), **NEEDLES_AT}))

    assert result(played) is CountResult.AGREES


def test_both_halves_of_what_was_cut_are_counted() -> None:
    """After a cut the old number is one short; with both halves it is as expected."""
    played = told(begun(), "something was cut", "lap sponge one", agreed="one")
    played.go("circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 7, 0)}))
    assert "Expected, eleven. One short." in played.said

    played = told(begun(), "something was cut", "lap sponge one", agreed="one")
    played.go("circ: begin the closing count")
    played.go(*placed(CASE, {"lap": (3, 0, 8, 0), **NEEDLES_AT}))
    assert result(played) is CountResult.AGREES


def test_what_is_cut_within_a_count_is_counted_again() -> None:
    """An item that changes after its line was counted has its places counted again."""
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 7, 0)}))
    told(played, "something was cut", "lap sponge one", agreed="one")
    assert {key.item for key in played.ledger.keys(State.RECOUNT)} == {"lap"}
    played.go(*placed(CASE, {"lap": (3, 0, 8, 0)}))

    assert played.ledger.discrepancies == {}
    assert "together eleven" in played.said


def test_what_is_cut_within_the_initial_count_is_counted_once() -> None:
    """In the initial count both halves are counted, and are not added on top of it."""
    played = Play(CASE).go(*called(CASE, "lap", 10))
    told(played, "something was cut", "lap sponge one", agreed="one")
    assert "Count again, from one: lap sponges." in played.said

    played.go("scrub: lap sponges one two three four five", "scrub: one two three four five")
    played.go("(wait)", "circ: ten", *called(CASE, "needle", 4), "circ: the count is finished")
    assert played.ledger.expected("lap") == 10


def test_every_fragment_is_looked_for() -> None:
    """Of an item in three fragments, two are one short.

    Source: a broken item is whole only with all its parts (WHO 2009 and AORN, from memory).
    """
    played = told(begun(), "something has broken", "suture needle three", agreed="three")
    assert played.ledger.expected("needle") == 6
    played.go("circ: begin the closing count", *placed(CASE, {"needle": (0, 2, 3, 0)}))

    assert "Suture needles, five. Expected, six. One short." in played.said


def test_a_missing_piece_is_a_difference_at_once() -> None:
    """An item of several pieces that is not whole opens a difference of its own.

    Source: count component parts (WHO 2009, from memory; Joint Commission Alert 51 lists parts
    among what is left behind).
    """
    sheet = case_of(LAPS, TIPS)
    played = told(begun(sheet), "a piece is missing", "suction tip one", agreed="one")

    (open_,) = played.ledger.discrepancies.values()
    assert (open_.opened.differs, open_.counted, open_.expected) == ("piece", 1, 2)
    assert "Suction tip. Pieces there, one. Expected, two." in played.said
    assert played.ledger.expected("tip") == 1


def test_one_too_many_is_a_difference_like_any_other() -> None:
    """What is found too many opens a difference, and nothing is expected more because of it.

    Source: an extra item is a discrepancy as well (AORN FAQ 2015).
    """
    played = told(begun(), "there is one too many", "lap sponge one", agreed="one", by="circ")
    (open_,) = played.ledger.discrepancies.values()

    assert (open_.counted, open_.expected, open_.off) == (11, 10, 1)
    assert "Lap sponges, eleven. Expected, ten. One too many." in played.said
    assert played.ledger.expected("lap") == 10


def test_one_too_many_after_its_line_was_counted() -> None:
    """In a count whose line agreed, the line is called again before anything is concluded."""
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 7, 0)}))
    told(played, "there is one too many", "lap sponge one", agreed="one")

    assert {key.item for key in played.ledger.keys(State.RECOUNT)} == {"lap"}
    assert [one.off for one in played.ledger.discrepancies.values()] == [1]
    played.go("circ: that has been done", "circ: that has been done")
    played.go(*placed(CASE, {"lap": (3, 0, 7, 0)}), *BOTH_AGREE)
    assert played.ledger.discrepancies == {}
