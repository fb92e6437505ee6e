"""The counts of a case, in typed words: initial, additions, cavities, closing, final, asked for."""

import pytest
from cases import (
    BOTH_AGREE,
    CASE,
    CAVITY,
    CLAMPS,
    CLOSING,
    FINAL,
    INITIAL,
    LAPS,
    NEEDLES,
    begun,
    called,
    case_of,
    first_count,
    of_kind,
    placed,
    told,
)
from playing import Play, play

from voicecount.count.events import CountResult
from voicecount.count.tally import State
from voicecount.sheet.model import Sheet
from voicecount.sheet.plan import CountKind

ALL = {"lap": (3, 0, 7, 0), "needle": (0, 1, 3, 0)}
"""Where everything of the small case is at its closing count."""
TOLD_APART = pytest.mark.parametrize("told_apart", [True, False])


def results(played: Play) -> list[CountResult | None]:
    """Give what each count came to."""
    return [event.result for event in of_kind(played, "count_finished")]


# The initial count and what is expected from then on


def test_the_initial_count_is_what_is_expected_later() -> None:
    """Expected is what both people gave at first, not what the sheet says.

    Source: every count is compared with the first (WHO Guidelines for Safe Surgery 2009, from
    memory).
    """
    played = begun(CASE, *called(CASE, "needle", 5))
    assert played.ledger.expected("needle") == 4

    played = Play(CASE).go(*first_count(CASE, needle=5))
    assert played.ledger.expected("needle") == 5
    assert results(played) == [CountResult.BASELINE]


def test_a_line_that_one_person_gave_is_not_expected() -> None:
    """Without the circulator's number there is no initial count of a line, and it stays open.

    Source: two people count, one of them registered (Great Ormond Street Hospital guideline).
    """
    played = Play(CASE).go(*called(CASE, "lap", 10), "scrub: suture needles total four", "(wait)")
    played.go("circ: the count is finished", "circ: begin the closing count")
    played.go(*placed(CASE, ALL))

    assert played.ledger.expected("needle") is None
    assert "No initial count of suture needles by both of you." in played.said
    played.go("circ: the count is finished")
    assert results(played) == [CountResult.INCOMPLETE, CountResult.INCOMPLETE]
    assert "closing" not in played.ledger.held


def test_a_line_changed_after_the_initial_count_opens_it_again() -> None:
    """What is taken back by both after the end no longer stands in what is expected.

    Source: no silent subtraction (a lesson for certified perioperative nurses).
    """
    played = begun(CASE, "scrub: take that line back", "circ: yes that is right")
    assert played.ledger.counting

    played.go("circ: begin the closing count")
    assert played.ledger.expected("needle") is None
    assert of_kind(played, "line_taken_back")[0].lines == (3,)


def test_taking_back_names_the_line_and_needs_both() -> None:
    """One person alone takes nothing back; the event names its line and both people.

    Source: avoid removing from the tally (a lesson for certified perioperative nurses).
    """
    played = begun(CASE, "scrub: take that line back", "scrub: yes that is right")
    assert of_kind(played, "line_taken_back") == []
    assert played.ledger.tally("needle").counted == 4

    played.go("circ: yes that is right")
    (event,) = of_kind(played, "line_taken_back")
    assert (event.by, event.agreed, event.lines) == ("scrub", "circulator", (3,))


def test_nothing_is_changed_after_a_later_count_is_finished() -> None:
    """The lines of a finished closing count are neither taken back nor called again."""
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, ALL))
    played.go("circ: the count is finished")
    before = played.ledger
    played.go("scrub: take that line back", "circ: yes that is right")
    played.go("scrub: start this line over", *called(CASE, "lap", 3, "field"))

    assert played.ledger == before


# Additions


@TOLD_APART
def test_an_addition_is_counted_by_both_before_use(told_apart: bool) -> None:
    """What is added is called, confirmed by its number, and expected from then on.

    Source: counted when added, before use, by both (a Chinese copy of operating room principles;
    a US hospital audit checklist).
    """
    script = [*first_count(CASE), "scrub: add to the count", *called(CASE, "lap", 5)]
    if not told_apart:
        script = [line.replace("scrub:", "one:").replace("circ:", "one:") for line in script]
    played = Play(CASE, told_apart).go(*script)

    assert played.said == "Lap sponges, five added, confirmed. Expected now, fifteen, one five."
    assert played.ledger.expected("lap") == 15
    assert played.ledger.kind is CountKind.ADDITION


def test_an_addition_is_not_finished_with_a_line_that_waits() -> None:
    """Neither finishing, nor another count, nor a change of people leaves an addition half done.

    Source: the circulator records each addition at once (Chinese principles, read in a copy).
    """
    played = begun(CASE, "scrub: add to the count", "scrub: lap sponges one two three four five")
    for words in (
        *("scrub: the count is finished", "circ: begin the closing count"),
        *("scrub: we want a count now", "scrub: close the record now"),
        "scrub: the scrub is changing",
    ):
        played.go("(wait)", words)
        assert "Not confirmed: lap sponges, five. Say the number first." in played.said
        assert played.ledger.kind is CountKind.ADDITION
        played.go("circ: yes that is right")

    played.go("circ: five", "circ: the count is finished")
    assert played.said == "Addition finished."
    assert played.ledger.expected("lap") == 15


def test_an_addition_during_another_count_is_one_event() -> None:
    """In an open count an addition is told with its number, and the line is counted again.

    Source: additions at any time, both people (WHO, from memory); the recount is our choice.
    """
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 7, 0)}))
    told(played, "add to the count", "lap sponge five", agreed="five")
    assert played.ledger.expected("lap") == 15
    assert played.ledger.tally("lap", "field").state is State.RECOUNT

    played.go(*placed(CASE, {"lap": (8, 0, 7, 0)}))
    assert "together fifteen, one five" in played.said
    assert played.ledger.discrepancies == {}


def test_an_addition_nobody_called_shows_up() -> None:
    """A further package on the table that was never called is a difference at the next count.

    Source: unrecorded additions are 38 % of discrepancies (Greenberg et al., Ann Surg 2008).
    """
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, {"lap": (8, 0, 7, 0)}))

    assert "Expected, ten. Five too many." in played.said
    assert [one.off for one in played.ledger.discrepancies.values()] == [5]


# Which counts are due


def test_several_cavities_have_several_counts() -> None:
    """Counts are due from the plan, in its order, each cavity for itself.

    Source: before closing a cavity inside a cavity, and each cavity (AORN 2006).
    """
    second = {"id": "abdomen", "kind": "cavity", "say": "abdominal count"}
    sheet = case_of(plan=(INITIAL, CAVITY, second, CLOSING, FINAL))
    played = begun(sheet)
    titles = []
    for _ in range(4):
        played.go("circ: begin the count", *placed(sheet, ALL), "circ: the count is finished")
        titles.append(of_kind(played, "count_opened")[-1].title)
    played.go("circ: begin the count")

    assert titles == ["uterine count", "abdominal count", "closing count", "final count"]
    assert played.said == "No count of the plan is left. For another, say: we want a count now."
    assert set(played.ledger.held) == {"initial", "uterus", "abdomen", "closing", "final"}


def test_a_named_count_comes_out_of_turn() -> None:
    """A count of the plan can be begun by its name; the others stay due."""
    sheet = case_of(plan=(INITIAL, CAVITY, CLOSING))
    played = begun(sheet, "circ: begin the closing count", *placed(sheet, ALL))
    played.go("circ: the count is finished", "circ: close the record now")

    assert "Counts of the plan not held: uterine count." in played.said


def minor_or_keyhole(*, unless_open: bool) -> Sheet:
    """Make a sheet whose closing count leaves the instruments out."""
    closing = {**CLOSING, "leaves_out": ["instruments"], "unless_open": unless_open}
    return case_of(LAPS, NEEDLES, CLAMPS, plan=(INITIAL, closing))


def test_keyhole_leaves_instruments_out_unless_it_turns_open() -> None:
    """Instruments are counted at first, not at the end, and after all once both say it turns open.

    Source: a Canadian hospital policy of 2015 on minimally invasive operations.
    """
    sheet = minor_or_keyhole(unless_open=True)
    played = begun(sheet, "circ: begin the closing count")
    assert played.ledger.count is not None
    assert played.ledger.count.items == ("lap", "needle")
    played.go(*placed(sheet, ALL), "circ: the count is finished")
    assert results(played)[-1] is CountResult.AGREES

    played = told(begun(sheet), "we are turning to open", agreed="yes that is right", by="circ")
    played.go("circ: begin the closing count")
    assert played.ledger.count is not None
    assert played.ledger.count.items == ("lap", "needle", "clamp")
    played.go(*placed(sheet, ALL), "circ: the count is finished")
    assert "Not counted: clamps." in played.said
    assert results(played)[-1] is CountResult.INCOMPLETE


def test_what_the_plan_leaves_out_is_answered_and_not_kept() -> None:
    """The call of an item that is not in the open count is answered and stores nothing."""
    played = begun(minor_or_keyhole(unless_open=True), "circ: begin the closing count")
    played.go("scrub: clamps on the mayo stand one", "(wait)")

    assert played.said == "Clamps, left out of this count by the plan. That is not kept."
    assert played.kinds[-1] == "count_opened"


def test_turning_open_needs_both_and_changes_nothing_elsewhere() -> None:
    """One person alone does not turn an operation open; what is always left out stays out."""
    played = begun(minor_or_keyhole(unless_open=False))
    played.go("circ: we are turning to open", "circ: yes that is right")
    assert not played.ledger.turned_open
    played.go("scrub: yes that is right", "circ: begin the closing count")
    assert played.ledger.turned_open
    assert played.ledger.count is not None
    assert played.ledger.count.items == ("lap", "needle")


def test_a_minor_operation_has_two_counts() -> None:
    """At least a count at the start and one at the end (WHO 2009, from memory)."""
    sheet = case_of(plan=(INITIAL, FINAL))
    played = begun(sheet, "circ: begin the count", *placed(sheet, ALL))
    played.go("circ: the count is finished", "circ: close the record now", "scrub: yes")

    assert results(played) == [CountResult.BASELINE, CountResult.AGREES]
    assert of_kind(played, "case_closed")[0].due == ()


@pytest.mark.parametrize("who", ["scrub", "circ"])
def test_anyone_may_ask_for_a_count(who: str) -> None:
    """A full count is opened whenever someone asks, outside of the plan.

    Source: any team member may ask for a count after an event (a US hospital policy).
    """
    played = begun(CASE, f"{who}: we want a count now", *placed(CASE, ALL))
    played.go("circ: the count is finished")

    opened = of_kind(played, "count_opened")[0]
    assert (opened.count_kind, opened.items) == (CountKind.ASKED, ("lap", "needle"))
    assert results(played)[-1] is CountResult.AGREES
    assert set(played.ledger.held) == {"initial"}


def test_a_count_is_finished_before_another_begins() -> None:
    """While a count is open, another one waits, and a person is told so."""
    played = begun(CASE, "circ: begin the closing count", "circ: we want a count now")

    assert played.said == "The closing count is open. First say: the count is finished."
    assert played.ledger.kind is CountKind.CLOSING


# Results and the end


def test_no_result_says_more_than_what_was_counted() -> None:
    """A count that agrees is told as such, and the decision is left to people."""
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, ALL))
    played.go("circ: the count is finished")

    assert played.said == (
        "Closing count finished. Every line has the number that is expected now. "
        "The two of you decide."
    )


def test_a_count_that_is_not_whole_stays_due() -> None:
    """A count finished with places left is incomplete, says which lines, and is still due."""
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 7, 0)}))
    played.go("circ: the count is finished")

    assert results(played)[-1] is CountResult.INCOMPLETE
    assert "Not counted: suture needles." in played.said
    played.go("circ: begin the count")
    assert of_kind(played, "count_opened")[-1].count == "closing"


@TOLD_APART
def test_a_case_ends_by_the_words_of_both(told_apart: bool) -> None:
    """The record is closed when both agree, and nothing is taken after it."""
    script = [
        *(*first_count(CASE), "circ: begin the closing count", *placed(CASE, ALL)),
        *("circ: the count is finished", "circ: close the record now", "scrub: yes that is right"),
        *("scrub: add to the count", "circ: begin the count", "scrub: stand by please"),
        *(*called(CASE, "lap", 5), "scrub: something was cut"),
    ]
    if not told_apart:
        script = [line.replace("scrub:", "one:").replace("circ:", "one:") for line in script]
    played = Play(CASE, told_apart).go(*script)

    assert played.ledger.closed
    assert played.kinds[-1] == "case_closed"
    assert "The record is closed." in played.said


def test_one_person_does_not_end_a_case() -> None:
    """The person who asked for the end cannot agree to it as well; a no keeps the record open."""
    played = begun(CASE, "circ: close the record now", "circ: yes that is right")
    assert not played.ledger.closed
    played.go("scrub: no that is not right", "scrub: yes that is right")
    assert not played.ledger.closed


def test_counts_outside_a_count_are_not_kept() -> None:
    """Between counts a call is answered and not stored."""
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, ALL))
    played.go("circ: the count is finished", *called(CASE, "lap", 5))

    assert "No count is open, and that is not kept." in played.texts[-1]


def test_saying_what_is_left_names_the_walk() -> None:
    """What is left names open lines and the step of a difference, and no number of the sheet."""
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 6, 0)}))
    played.go("circ: the count is finished", "circ: what is left to count")

    assert "Open: lap sponges, one short. Closing pauses." in played.said
    assert "sheet" not in played.said


def test_a_whole_case_on_one_channel() -> None:
    """Where one channel holds both voices, turns tell who speaks, and the flags say so."""
    script = (*first_count(CASE), "circ: begin the closing count", *placed(CASE, ALL))
    one = [line.replace("scrub:", "one:").replace("circ:", "one:") for line in script]
    played = play(CASE, *one, "one: the count is finished", told_apart=False)

    assert results(played) == [CountResult.BASELINE, CountResult.AGREES]
    assert "roles_not_told_apart" in {
        flag.value for key in played.ledger.tallies for flag in played.ledger.flags(*key)
    }


def test_both_close_a_difference_and_the_count_says_reconciled() -> None:
    """A count in which a difference was closed by both never reads as if nothing had been."""
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 6, 0)}))
    played.go("circ: that has been done", "circ: that has been done")
    played.go(*placed(CASE, {"lap": (3, 0, 7, 0)}), *BOTH_AGREE)
    played.go(*placed(CASE, {"needle": ALL["needle"]}), "circ: the count is finished")

    assert played.said.startswith("Closing count finished. Reconciled after a difference.")


def test_turning_open_within_a_count_leaves_it_incomplete() -> None:
    """A count that began without the instruments cannot end as whole once the case is open.

    Source: conversion to open needs an instrument count (a Canadian hospital policy of 2015).
    """
    sheet = minor_or_keyhole(unless_open=True)
    played = begun(sheet, "circ: begin the closing count", *placed(sheet, ALL))
    told(played, "we are turning to open", agreed="yes that is right")
    played.go("circ: the count is finished")

    assert results(played)[-1] is CountResult.INCOMPLETE
    assert "Not counted: clamps." in played.said
    played.go("circ: begin the count", *placed(sheet, {**ALL, "clamp": (0, 0, 2, 0)}))
    played.go("circ: the count is finished")
    assert results(played)[-1] is CountResult.AGREES


def test_an_addition_is_taken_back_by_both() -> None:
    """A line of an addition that both take back is no longer expected; its event names it."""
    played = begun(CASE, "scrub: add to the count", *called(CASE, "lap", 5))
    assert played.ledger.expected("lap") == 15
    played.go(
        "circ: take that line back", "scrub: yes that is right", "circ: the count is finished"
    )

    (event,) = of_kind(played, "line_taken_back")
    assert (event.lines, event.by, event.agreed) == ((4,), "circulator", "scrub")
    assert played.ledger.expected("lap") == 10
