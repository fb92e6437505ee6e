"""People in a case, in typed words: changes for good, breaks, counts that are not done."""

import pytest
from cases import (
    CASE,
    CLOSING,
    FINAL,
    INITIAL,
    NEEDLES_AT,
    TEAM,
    WHOLE,
    begun,
    called,
    case_of,
    first_count,
    of_kind,
    placed,
    short,
    told,
)
from playing import Play

from voicecount.count.events import CountResult
from voicecount.count.roles import Role
from voicecount.count.tally import State
from voicecount.sheet.plan import CountKind

NAMED = case_of(team=TEAM)
YES = "yes that is right"
ALL = {**WHOLE, **NEEDLES_AT}


# Changes for good


@pytest.mark.parametrize("role", ["scrub", "circulator"])
def test_a_change_for_good_is_named_and_brings_a_full_count(role: str) -> None:
    """Both outgoing and incoming are named and agreed to, and everything is counted.

    Source: at permanent relief (AORN 2006); a complete count with instruments, signed by outgoing
    and incoming (a UK theatre text, after AfPP).
    """
    played = told(begun(NAMED), f"the {role} is changing", "Ada Field", "Ben Moss", agreed=YES)
    (event,) = of_kind(played, "people_changed")
    assert (event.role, event.permanent, event.outgoing, event.incoming) == (
        *(role, True, "ada"),
        "ben",
    )
    assert (event.by, event.agreed) == ("scrub", "circulator")
    assert f"The {role} changes, from Ada Field to Ben Moss." in played.said
    assert played.ledger.people == {Role(role): "ben"}

    assert played.ledger.count is not None
    assert played.ledger.kind is CountKind.RELIEF
    assert played.ledger.count.items == ("lap", "needle")
    played.go(*placed(NAMED, ALL), "circ: the count is finished")
    assert of_kind(played, "count_finished")[-1].result is CountResult.AGREES


def test_a_change_needs_both_names_and_both_people() -> None:
    """Without a name, and without the other person's yes, nobody has taken over."""
    played = begun(NAMED, "scrub: the scrub is changing")
    assert played.said == "Who goes?"
    played.go("scrub: Ada Field")
    assert played.said == "Who comes?"
    played.go("scrub: suture needles two", "scrub: Ben Moss", "scrub: yes that is right")
    assert of_kind(played, "people_changed") == []
    played.go("circ: no that is not right", "circ: yes that is right")
    assert of_kind(played, "people_changed") == []


def test_nobody_takes_over_from_themselves() -> None:
    """The same name for who goes and who comes is asked for again."""
    played = begun(NAMED, "scrub: the scrub is changing", "scrub: Ada Field", "scrub: Ada Field")
    assert played.said == "Who comes?"
    played.go("scrub: Ben Moss", "circ: yes that is right")

    assert of_kind(played, "people_changed")[0].incoming == "ben"


def test_without_a_team_a_change_has_no_names() -> None:
    """Where the sheet names nobody, a change is kept without names."""
    played = told(begun(), "the circulator is changing", agreed=YES)
    (event,) = of_kind(played, "people_changed")

    assert (event.outgoing, event.incoming) == (None, None)
    assert played.said.startswith("The circulator changes.")


def test_a_reliever_is_told_what_is_expected_and_where() -> None:
    """Expected numbers, what is off the field, what is in the patient, and what is open are told.

    Source: tell the reliever what is off the field already (a US hospital audit checklist).
    """
    played = told(begun(NAMED), "passing them off the field", "lap sponges five", agreed="five")
    told(played, "tucking something in", "lap sponge one", "in the pelvis", agreed="one")
    told(played, "a break for the scrub", "Ben Moss", agreed=YES)

    assert played.said == (
        "Ben Moss stands in for the scrub. Lap sponges, ten. Suture needles, four. "
        "Off the field so far: lap sponges, five. "
        "Tucked in, and to come out: lap sponge, one, in the pelvis."
    )


def test_a_change_in_the_initial_count_begins_it_again() -> None:
    """What was counted before the change is counted again with the incoming person.

    Source: outgoing and incoming both count (a UK theatre text, after AfPP).
    """
    played = Play(CASE).go(*called(CASE, "lap", 10))
    told(played, "the scrub is changing", agreed=YES)

    assert played.ledger.kind is CountKind.INITIAL
    assert played.ledger.tally("lap").state is State.RECOUNT
    assert "Count again, from one: lap sponges." in played.said


def test_a_change_ends_the_count_that_is_open() -> None:
    """A closing count that is half done stays due; the count at the change comes first."""
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, WHOLE))
    told(played, "the scrub is changing", agreed=YES)
    assert played.ledger.kind is CountKind.RELIEF
    assert of_kind(played, "count_finished")[-1].result is CountResult.INCOMPLETE
    played.go(*placed(CASE, ALL), "circ: the count is finished", "circ: begin the count")

    assert of_kind(played, "count_opened")[-1].count == "closing"


def test_policy_may_do_without_the_count_at_a_change() -> None:
    """Where policy wants no count at a change, the change alone is kept."""
    played = told(
        begun(case_of(policy={"relief_counts": False})), "the scrub is changing", agreed=YES
    )

    assert of_kind(played, "count_opened") == []
    assert of_kind(played, "people_changed")[0].permanent


def test_a_change_with_a_difference_open_says_so() -> None:
    """The incoming person hears of the difference, and the count at the change carries it on."""
    played = told(short(), "the scrub is changing", agreed=YES)
    assert "Open: lap sponges, one short." in played.said
    played.go("circ: that has been done", "circ: that has been done", *placed(CASE, WHOLE))

    assert "counted again, ten. Expected, ten. Each of you, say:" in played.said


# Breaks


def test_a_break_keeps_the_tally_and_needs_no_count() -> None:
    """Somebody stands in, no count is opened, and the return is told as well.

    Source: temporary relief follows the same routine, name recorded (a UK theatre text).
    """
    played = told(begun(NAMED), "a break for the circulator", "Ada Field", agreed=YES)
    assert of_kind(played, "count_opened") == []
    assert played.ledger.relieved == {Role.CIRCULATOR}

    told(played, "the break is over", agreed=YES)
    assert played.ledger.relieved == frozenset()
    assert played.said.startswith("The circulator is back. Lap sponges, ten.")
    assert played.ledger.people == {}


def test_who_had_taken_over_is_back_after_a_break() -> None:
    """The return from a break brings back the person who had taken over, by name."""
    played = told(begun(NAMED), "the scrub is changing", "Ada Field", "Ben Moss", agreed=YES)
    played.go(*placed(NAMED, ALL), "circ: the count is finished")
    told(played, "a break for the scrub", "Ada Field", agreed=YES)
    assert played.ledger.people == {Role.SCRUB: "ada"}
    told(played, "the break is over", agreed=YES)

    assert played.ledger.people == {Role.SCRUB: "ben"}
    back = of_kind(played, "people_changed")[-1]
    assert (back.outgoing, back.incoming, back.back) == ("ada", "ben", True)


def test_a_break_within_a_count_leaves_it_open() -> None:
    """A break in the middle of a count changes none of its lines."""
    played = begun(NAMED, "circ: begin the closing count", *placed(NAMED, WHOLE))
    before = played.ledger.tallies
    told(played, "a break for the scrub", "Ben Moss", agreed=YES)

    assert played.ledger.tallies == before
    played.go(*placed(NAMED, NEEDLES_AT), "circ: the count is finished")
    assert of_kind(played, "count_finished")[-1].result is CountResult.AGREES


def test_nobody_comes_back_who_was_not_away() -> None:
    """The end of a break that nobody has is answered and not kept."""
    played = begun(NAMED, "scrub: the break is over")

    assert played.said == "Nobody is on a break."
    assert of_kind(played, "people_changed") == []


# Counts that are not done


@pytest.mark.parametrize(
    ("answer", "code"),
    [
        ("life is in danger", "life_threatening"),
        ("nobody is free to count", "nobody_to_count"),
        ("for another reason", "other_reason"),
    ],
)
@pytest.mark.parametrize("opened", [True, False])
def test_a_waived_count_is_not_done_and_has_its_reason(
    answer: str,
    code: str,
    opened: bool,
) -> None:
    """In an emergency a count is waived by both, with its reason; its result is never more.

    Source: care first, reason documented (American College of Surgeons 2016; a US hospital audit
    checklist).
    """
    played = begun(CASE, *(("circ: begin the closing count",) if opened else ()))
    told(played, "we cannot count now", answer, agreed=YES, by="circ")

    (event,) = of_kind(played, "count_waived")
    assert (event.count, event.reason) == ("closing", code)
    assert (event.by, event.agreed) == ("circulator", "scrub")
    assert played.ledger.held["closing"] is CountResult.NOT_DONE
    assert not played.ledger.counting
    assert played.said.startswith("Closing count not done. The reason is in the record.")
    played.go("circ: close the record now")
    assert "Closing count not done." in played.said


def test_a_waiver_needs_both_and_means_the_next_count() -> None:
    """One person waives nothing; what is waived is the count that is open, or else the next one."""
    sheet = case_of(plan=(INITIAL, CLOSING, FINAL))
    played = begun(sheet, "circ: we cannot count now", "circ: life is in danger")
    assert "Closing count not done. Life is in danger." in played.said
    played.go("circ: yes that is right")
    assert of_kind(played, "count_waived") == []
    played.go("scrub: yes that is right")
    told(played, "we cannot count now", "life is in danger", agreed=YES)
    assert [event.count for event in of_kind(played, "count_waived")] == ["closing", "final"]
    played.go("circ: we cannot count now")
    assert "No count of the plan is left." in played.said


def test_nothing_of_a_waived_count_is_answered() -> None:
    """A line that waited in a count which both waived is neither confirmed nor disputed."""
    played = begun(CASE, "circ: begin the closing count")
    played.go("scrub: lap sponges on the field one two", "(wait)")
    told(played, "we cannot count now", "life is in danger", agreed=YES, by="circ")
    before = played.ledger
    played.go("circ: no that is not right", "circ: two", "circ: lap sponges two")

    assert played.ledger == before


def test_a_waived_initial_count_leaves_nothing_to_compare_with() -> None:
    """Without an initial count a later one is told as not comparable, and never as whole.

    Source: a count without its first is void (a lesson for perioperative nurses).
    """
    played = told(Play(CASE), "we cannot count now", "life is in danger", agreed=YES)
    assert played.ledger.held == {"initial": CountResult.NOT_DONE}
    played.go("circ: begin the closing count", *placed(CASE, WHOLE))
    assert "No initial count of lap sponges by both of you. It cannot be compared." in played.said
    played.go(*placed(CASE, NEEDLES_AT), "circ: the count is finished")

    assert of_kind(played, "count_finished")[-1].result is CountResult.INCOMPLETE
    assert played.ledger.discrepancies == {}


def test_one_channel_changes_people_too() -> None:
    """Where one channel holds both voices, a change is asked for and agreed to in two sentences."""
    script = [line.replace("scrub:", "one:").replace("circ:", "one:") for line in first_count(CASE)]
    played = Play(CASE, told_apart=False).go(*script, "one: the scrub is changing")
    assert of_kind(played, "people_changed") == []
    played.go("one: yes that is right")

    assert len(of_kind(played, "people_changed")) == 1
