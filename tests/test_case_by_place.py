"""A count that goes place by place, in typed words: its order, its sums, its interruptions."""

import pytest
from cases import CASE, LAPS, NEEDLES, TIPS, begun, called, case_of, of_kind, placed, told

from voicecount.count.events import CountResult
from voicecount.count.tally import State


def test_places_come_in_the_policys_order() -> None:
    """Each line is counted on the field, the Mayo stand, the back table and off the field.

    Source: from the site outwards (a US hospital audit checklist; AST 2006, from memory).
    """
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, {"lap": (3, 2, 4, 1)}))
    said = [text for text in played.texts if "on the" in text or "counted off" in text]

    assert said == [
        "Closing count. Begin with lap sponges, on the field.",
        "Lap sponges on the field, three.",
        "Confirmed. Now, on the Mayo stand.",
        "Lap sponges on the Mayo stand, two.",
        "Confirmed. Now, on the back table.",
        "Lap sponges on the back table, four.",
        "Confirmed. Now, counted off.",
        "Lap sponge counted off, one.",
        "Confirmed. Lap sponges, together ten. Next, suture needles, on the field.",
    ]


def test_the_order_of_places_is_the_hospitals() -> None:
    """Another policy counts at other places in another order.

    Source: the organisation fixes one order (AORN FAQ 2015).
    """
    sheet = case_of(policy={"places": ["back_table", "wound"]})
    played = begun(sheet, "circ: begin the closing count")
    assert played.said == "Closing count. Begin with lap sponges, on the back table."
    played.go(*placed(sheet, {"lap": (8, 2)}))
    assert dict(played.ledger.tallies)["lap", "wound"].counted == 2
    assert "together ten" in played.said


def test_two_lines_never_make_up_for_each_other() -> None:
    """One sponge short and one needle over are two differences, though the totals are equal.

    Source: counts had been called correct in 62 % of retentions (Cima et al., J Am Coll Surg 2008);
    so lines are compared, never totals.
    """
    played = begun(CASE, "circ: begin the closing count")
    played.go(*placed(CASE, {"lap": (3, 0, 6, 0), "needle": (1, 1, 3, 0)}))

    offs = {one.item: one.off for one in played.ledger.discrepancies.values()}
    assert offs == {"lap": -1, "needle": 1}
    played.go("circ: the count is finished")
    assert of_kind(played, "count_finished")[-1].result is CountResult.DIFFERS
    assert "Open: lap sponges, one short; suture needles, one too many." in played.said


def test_a_place_short_is_found_though_the_sum_fits() -> None:
    """Fewer counted off than were passed off is a difference of the place, whatever the sum is.

    Source: compare place by place (derived from the retentions above; Cima et al. 2008).
    """
    played = told(begun(), "passing them off the field", "lap sponges five", agreed="five")
    played.go("circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 3, 4)}))

    (open_,) = played.ledger.discrepancies.values()
    assert (open_.opened.place, open_.counted, open_.expected) == ("off_field", 4, 5)
    assert "Lap sponges, counted off, four. Passed off the field before, five." in played.said


def test_a_number_without_a_place_is_asked_for_its_place() -> None:
    """In a count with places nothing is stored before its place is known."""
    played = begun(CASE, "circ: begin the closing count", "scrub: suture needles one two", "(wait)")
    assert of_kind(played, "line_stored")[-1].place is None

    played.go("scrub: on the mayo stand", "(wait)", "circ: two")
    assert played.ledger.tally("needle", "mayo").confirmed == 2


def test_none_anywhere_else_stores_every_place() -> None:
    """One sentence gives none for all places left, and one number of the circulator confirms it."""
    played = begun(CASE, "circ: begin the closing count", *called(CASE, "lap", 10, "field"))
    played.go("scrub: none anywhere else")
    assert played.said == "Lap sponges, none on the Mayo stand, on the back table, counted off."
    assert played.ledger.tally("lap", "mayo").state is State.WAITING

    played.go("circ: none")
    assert "Lap sponges, together ten." in played.said


def test_a_total_of_pieces_is_kept_with_the_line() -> None:
    """An item of several pieces is counted with them at its place.

    Source: each part of an instrument is counted (WHO 2009, from memory).
    """
    sheet = case_of(TIPS)
    played = begun(sheet, "circ: begin the closing count", *called(sheet, "tip", 1, "mayo"))
    assert of_kind(played, "line_stored")[-1].pieces == 2

    played.go("scrub: suction tips on the field one in one piece", "(wait)")
    assert of_kind(played, "line_refused")[-1].refusal == "pieces_wrong"


@pytest.mark.parametrize(
    ("interrupted", "again"),
    [
        ("line", set()),
        ("group", {"lap"}),
        ("count", {"lap", "needle"}),
    ],
)
def test_an_interrupted_count_is_restarted_by_policy(interrupted: str, again: set[str]) -> None:
    """What is counted again after an interruption is the line, the group, or the whole count.

    Sources: from the beginning (WHO 2009, from memory); the item in hand (a US hospital audit
    checklist).
    """
    gauze = {"id": "gauze", "expect": 3}
    sheet = case_of(LAPS, gauze, NEEDLES, policy={"interrupted": interrupted})
    played = begun(sheet, "circ: begin the closing count")
    played.go(*placed(sheet, {"lap": (3, 0, 7, 0)}), *called(sheet, "needle", 1, "field"))
    played.go("scrub: gauze on the field one two", "+scrub: stand by for a moment")
    played.go("scrub: carry on counting")

    due = {key.item for key in played.ledger.keys(State.RECOUNT)}
    assert due == again
    assert played.ledger.tally("gauze", "field").counted is None
    assert of_kind(played, "line_refused")[-1].refusal == "interrupted"


def test_a_place_is_taken_back_by_both() -> None:
    """A line of a place that both take back has to be counted again before its item is compared."""
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 6, 0)}))
    assert [one.off for one in played.ledger.discrepancies.values()] == [-1]
    played.go("scrub: take that line back", "circ: yes that is right")

    (event,) = of_kind(played, "line_taken_back")
    assert (event.item, event.place, event.agreed) == ("lap", "off_field", "circulator")
    assert played.ledger.tally("lap", "off_field").state is State.LEFT
    assert list(played.ledger.discrepancies) == [1]
    played.go(*called(CASE, "lap", 1, "off_field"))
    assert [one.off for one in played.ledger.discrepancies.values()] == [0]


def test_a_place_belongs_to_the_item_that_it_was_asked_for() -> None:
    """After a name, the place that answers the question belongs to that name and to no other."""
    played = begun(CASE, "circ: begin the closing count", *called(CASE, "lap", 3, "field"))
    for words in ("scrub: suture needles", "scrub: suture needles one two"):
        played.go(words, "(wait)")
        assert played.said == "Suture needles, where? Say the place."
    played.go("scrub: on the mayo stand one two", "(wait)")
    assert played.said == "Suture needles on the Mayo stand, two."
    assert played.ledger.tally("lap", "mayo").lines == ()


def test_a_name_and_its_place_may_come_one_after_the_other() -> None:
    """A name, its place and its run are one line, however they are parted."""
    played = begun(CASE, "circ: begin the closing count", "scrub: suture needles")
    played.go("scrub: on the back table", "+scrub: one two", "(wait)", "circ: two")

    assert played.ledger.tally("needle", "back_table").confirmed == 2


@pytest.mark.parametrize(
    ("words", "confirms"),
    [
        ("two", True),
        ("lap sponges two", True),
        ("on the field two", True),
        ("lap sponges on the field two", True),
        ("on the mayo stand two", False),
        ("suture needles two", False),
        ("suture needles on the field two", False),
    ],
)
def test_a_number_with_a_name_or_a_place_confirms_only_that_line(
    words: str,
    *,
    confirms: bool,
) -> None:
    """The circulator may say name and place; a number of another line confirms nothing."""
    played = begun(CASE, "circ: begin the closing count")
    played.go("scrub: lap sponges on the field one two", "(wait)", f"circ: {words}")

    assert played.ledger.tally("lap", "field").confirmed == (2 if confirms else 0)
    assert of_kind(played, "line_disputed") == []


def test_the_tally_is_read_with_its_places() -> None:
    """Asked for the tally, each line is read with the place where it was counted."""
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 6, 1)}))
    played.go("circ: read me the tally")

    assert played.said == (
        "Lap sponges on the field, three. Lap sponges on the Mayo stand, none. "
        "Lap sponges on the back table, six. Lap sponge counted off, one."
    )


def test_none_anywhere_else_needs_an_item() -> None:
    """Said before any line, or after all places of an item, it stores nothing."""
    played = begun(CASE, "circ: begin the closing count", "scrub: none anywhere else")
    assert played.said == "No line is open."
    played.go(*placed(CASE, {"lap": (3, 0, 6, 1)}), "scrub: none anywhere else")
    assert played.said == "Next, suture needles, on the field."
    assert len(of_kind(played, "line_stored")) == 7


def test_a_no_to_none_counts_that_place_again() -> None:
    """A no after places were read as none disputes the last one; the others still wait."""
    played = begun(CASE, "circ: begin the closing count", *called(CASE, "lap", 10, "field"))
    played.go("scrub: none anywhere else", "circ: no that is not right")

    assert played.ledger.tally("lap", "off_field").state is State.RECOUNT
    assert played.ledger.tally("lap", "mayo").state is State.WAITING
    assert played.ledger.discrepancies == {}


def test_a_count_finished_with_a_line_that_waits() -> None:
    """A line without the circulator's number is named at the end, and the count is not whole."""
    played = begun(CASE, "circ: begin the closing count")
    played.go("scrub: lap sponges on the field one two", "(wait)", "circ: the count is finished")
    assert "Not confirmed: lap sponges on the field, two." in played.said
    assert of_kind(played, "count_finished")[-1].unconfirmed == ("lap",)
    assert of_kind(played, "count_finished")[-1].result is CountResult.INCOMPLETE

    played.go("circ: the count is finished")
    assert "No count is open" in played.said


def test_a_line_refused_without_a_place_still_needs_one() -> None:
    """Numbers that come after the place was not said are asked for their place again."""
    played = begun(CASE, "circ: begin the closing count", "scrub: suture needles one two", "(wait)")
    played.go("scrub: none anywhere else", "scrub: one two", "(wait)")
    assert of_kind(played, "line_refused")[-1].refusal == "no_place"
    assert played.said == "Suture needles, where? Say the place."
    played.go("scrub: on the field", "(wait)", "circ: two")

    assert played.ledger.tally("needle", "field").confirmed == 2
