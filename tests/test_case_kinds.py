"""Differences of places, of pieces and of what is over, in typed words: each told as what it is."""

from cases import (
    CASE,
    CLOSING,
    DONE,
    FINAL,
    INITIAL,
    LAPS,
    NEEDLES,
    NEEDLES_AT,
    TIPS,
    TWO_COUNTS,
    begun,
    case_of,
    closed,
    of_kind,
    placed,
    told,
    walked,
)
from playing import Play

from voicecount.count.events import CountResult
from voicecount.sheet.model import Sheet

YES = "yes that is right"
OVER = {"lap": (4, 0, 7, 0)}
FOUR_OFF = {"lap": (3, 0, 3, 4)}


def all_steps(played: Play) -> Play:
    """Go through the search, the person in charge and imaging, with nothing found."""
    walked(played).go(DONE, "circ: that cannot be done", "circ: for another reason")
    return played


def short_place(sheet: Sheet) -> Play:
    """Play up to a closing count in which four are counted off where five were passed off."""
    played = told(begun(sheet), "passing them off the field", "lap sponges five", agreed="five")
    played.go("circ: begin the closing count", *placed(sheet, FOUR_OFF), DONE, DONE)
    return played.go(*placed(sheet, FOUR_OFF))


def test_a_place_that_differs_is_told_as_a_place() -> None:
    """What is expected of the item is not mixed up with what was passed off the field."""
    played = short_place(TWO_COUNTS)
    assert "Lap sponges, together ten. Lap sponges, counted off, four." in played.said
    assert "Passed off the field before, five." in played.said
    assert "Expected, five" not in played.said
    played.go("circ: what is left to count")
    assert "Open: lap sponges counted off, one short." in played.said


def test_an_explained_place_is_compared_with_its_new_number() -> None:
    """What both explain about the groups off the field holds in later counts, and no more."""
    played = all_steps(short_place(TWO_COUNTS))
    played.go("scrub: we can explain it", "scrub: the first count was wrong")
    assert "Lap sponges, passed off the field, four." in played.said
    played.go("circ: yes that is right", *placed(TWO_COUNTS, NEEDLES_AT))
    played.go("circ: the count is finished")

    assert played.ledger.expected("lap") == 10
    assert played.ledger.account("lap").passed_off == 4
    played.go("circ: begin the final count", *placed(TWO_COUNTS, {**FOUR_OFF, **NEEDLES_AT}))
    played.go("circ: the count is finished")
    assert of_kind(played, "count_finished")[-1].result is CountResult.AGREES


def test_an_explained_piece_changes_no_number() -> None:
    """A piece that both explain leaves what is expected of the item as it is."""
    sheet = case_of(LAPS, TIPS)
    played = told(begun(sheet), "a piece is missing", "suction tip one", agreed="one")
    played.go("circ: what is left to count")
    assert "Open: suction tip, pieces, one short." in played.said
    all_steps(played.go(DONE, DONE))
    told(played, "we can explain it", "the first count was wrong", agreed=YES)

    assert played.ledger.expected("tip") == 1
    assert [event.settled for event in closed(played)] == ["explained"]


def test_what_is_over_and_not_explained_is_not_told_as_missing() -> None:
    """A surplus that nobody can explain stays in the record as too many, to the very end.

    Source: an extra item is a discrepancy as well (AORN FAQ 2015).
    """
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, OVER), DONE, DONE)
    played.go(*placed(CASE, OVER), DONE)
    told(played, "it stays missing", "the surgeon will go on", agreed=YES)
    assert "Lap sponges, too many, not explained. It stays in the record." in played.said
    played.go(*placed(CASE, NEEDLES_AT), "circ: the count is finished")
    assert "Too many, not explained: lap sponges." in played.said
    assert of_kind(played, "count_finished")[-1].result is CountResult.DIFFERS
    played.go("circ: close the record now", "scrub: yes that is right")
    assert "Not found" not in played.said
    assert of_kind(played, "case_closed")[0].not_found == (1,)


def test_what_was_not_found_in_several_counts_is_told_at_the_end() -> None:
    """An item not found in an earlier count is told at the end beside one of the last count."""
    sheet = case_of(LAPS, NEEDLES, plan=(INITIAL, CLOSING, FINAL))
    played = begun(sheet)
    for name, item, numbers in (
        ("closing", "lap", (3, 0, 6, 0)),
        ("final", "needle", (0, 0, 3, 0)),
    ):
        played.go(f"circ: begin the {name} count", *placed(sheet, {item: numbers}), DONE, DONE)
        all_steps(played.go(*placed(sheet, {item: numbers})))
        told(played, "it stays missing", "the surgeon will go on", agreed=YES)
        played.go("circ: the count is finished")
    played.go("circ: close the record now")

    assert "Not found: suture needles." in played.said
    assert "In earlier counts, not found or not explained: one." in played.said
