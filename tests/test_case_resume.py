"""A case that goes on after a stop, in typed words: what is open is told, and nothing is lost."""

import pytest
from cases import (
    BOTH_AGREE,
    CASE,
    DONE,
    NEEDLES_AT,
    WHOLE,
    begun,
    called,
    first_count,
    of_kind,
    placed,
    run,
    short,
    told,
)
from playing import Play

from voicecount.count.ledger import fold
from voicecount.count.tally import State


def resumed(played: Play) -> Play:
    """Go on with a case from its record."""
    ledger = fold(played.events)
    assert ledger == played.ledger
    after = Play(played.sheet, ledger_before=ledger, now=played.now + 60)
    after.events = [*played.events]
    return after


def test_an_open_difference_and_its_step_are_told() -> None:
    """After a stop the difference is told first thing, with the step that comes next."""
    played = resumed(short())
    assert "Open: lap sponges, one short." in played.said
    assert played.said.endswith("Closing pauses. Then say: that has been done.")
    played.go(DONE, DONE, *placed(CASE, WHOLE), *BOTH_AGREE)

    assert [event.settled for event in of_kind(played, "discrepancy_closed")] == ["recounted"]


def test_a_question_to_both_is_asked_again() -> None:
    """A recount that agreed just before the stop is asked about again, and closed by both."""
    played = resumed(short().go(DONE, DONE, *placed(CASE, WHOLE)))
    assert "Lap sponges, counted again, ten. Expected, ten. Each of you, say:" in played.said
    played.go("scrub: yes that is right")
    assert of_kind(played, "discrepancy_closed") == []
    played.go("circ: yes that is right")

    assert [event.settled for event in of_kind(played, "discrepancy_closed")] == ["recounted"]


def test_one_yes_before_a_stop_is_no_yes_after_it() -> None:
    """What only one person had agreed to before the stop takes both again."""
    played = short().go(DONE, DONE, *placed(CASE, WHOLE), "scrub: yes that is right")
    played = resumed(played).go("circ: yes that is right")
    assert of_kind(played, "discrepancy_closed") == []
    played.go("scrub: yes that is right")

    assert len(of_kind(played, "discrepancy_closed")) == 1


def test_a_count_with_places_goes_on_where_it_stood() -> None:
    """The next place is told, and numbers without a name belong to it."""
    played = begun(CASE, "circ: begin the closing count", *called(CASE, "lap", 3, "field"))
    played = resumed(played)
    assert "The closing count is open." in played.said
    played.go("scrub: on the mayo stand none", "(wait)", "circ: none")
    played.go("scrub: on the back table one two three four five six seven", "(wait)", "circ: seven")
    played.go("scrub: none anywhere else", "circ: none")

    assert "Lap sponges, together ten." in played.said
    assert played.ledger.discrepancies == {}


def test_a_recount_goes_on_where_it_stood() -> None:
    """Places that were to be counted again still are."""
    played = resumed(short().go(DONE, DONE))
    assert {key.item for key in played.ledger.keys(State.RECOUNT)} == {"lap"}
    played.go(*placed(CASE, {"lap": (3, 0, 6, 0)}))

    assert "One short." in played.said


def test_what_was_half_told_is_not_kept() -> None:
    """An incident that waited for the other person before the stop is not kept after it."""
    played = begun(CASE, "scrub: something was cut", "scrub: lap sponge one")
    played = resumed(played).go("circ: one")

    assert of_kind(played, "incident_told") == []
    assert played.ledger.expected("lap") == 10


def test_an_addition_goes_on() -> None:
    """A line of an addition that waits is read again, and its number confirms it."""
    played = begun(CASE, "scrub: add to the count", f"scrub: lap sponges {run(5)}", "(wait)")
    played = resumed(played).go("circ: five", "circ: the count is finished")

    assert played.ledger.expected("lap") == 15


@pytest.mark.parametrize("stops", range(0, 40, 3))
def test_a_stop_at_any_line_changes_no_number(stops: int) -> None:
    """Wherever the program stops between two lines, the case comes to the same numbers."""
    script = [
        *first_count(CASE),
        *("scrub: add to the count", *called(CASE, "lap", 5), "circ: the count is finished"),
        *("circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 5, 7), **NEEDLES_AT})),
    ]
    whole = Play(CASE).go(*script, "circ: the count is finished")
    at = min(stops, len(script))
    while at < len(script) and script[at] == "(wait)":
        at += 1
    before = Play(CASE).go(*script[:at], "(wait)")
    after = resumed(before).go(*script[at:], "circ: the count is finished")

    assert after.ledger.accounts["lap"].expected == whole.ledger.accounts["lap"].expected == 15
    assert after.ledger.held == whole.ledger.held
    assert after.ledger.discrepancies == {}


def test_what_is_in_the_patient_is_known_after_a_stop() -> None:
    """A tucked sponge is still told when the next count opens."""
    played = told(
        begun(), "tucking something in", "lap sponge one", "in the pelvis", agreed="one", by="circ"
    )
    played = resumed(played).go("circ: begin the closing count")

    assert "Tucked in, and to come out: lap sponge, one, in the pelvis." in played.said


def test_a_change_without_its_count_is_told_after_a_stop() -> None:
    """When the program dies between the change and the full count, the count is asked for.

    Source: a full count at permanent relief (AORN 2006).
    """
    played = begun(CASE)
    told(played, "the scrub is changing", agreed="yes that is right")
    opened = next(at for at, event in enumerate(played.events) if event.kind == "people_changed")
    resumed = Play(CASE, ledger_before=fold(played.events[: opened + 1]))
    assert "the full count is due" in resumed.said
    resumed.go("circ: close the record now")
    assert "no full count was held since" in resumed.said
    resumed.go("scrub: no that is not right", "scrub: we want a count now")

    assert not resumed.ledger.relief_due


def test_a_change_with_its_count_is_not_told_again() -> None:
    """Once the full count is open, a stop tells only that count."""
    played = begun(CASE)
    told(played, "the scrub is changing", agreed="yes that is right")

    assert "the full count is due" not in Play(CASE, ledger_before=fold(played.events)).said
