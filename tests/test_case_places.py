"""Counting place by place: what may be said, what is asked, and what none means.

Order of places: a US hospital audit checklist; AST 2006, from memory. Both people see and say each
place: the promise of this assistant, no source.
"""

import pytest
from playing import Play, sheet_of

from voicecount.count.events import LineConfirmed, LineRefused, Refusal
from voicecount.count.roles import Role
from voicecount.count.tally import State

ITEMS = (
    {"id": "lap", "pack": 5, "expect": 5},
    {"id": "clamp", "group": "instruments", "expect": 2},
    {"id": "pen", "group": "miscellaneous", "expect": 1, "pieces": 3},
)


def counting(*, told_apart: bool = True, **policy: object) -> Play:
    """Open a count by places after an initial count of all items."""
    scrub, circ = ("scrub", "circ") if told_apart else ("one", "one")
    return Play(sheet_of(*ITEMS, policy=policy), told_apart).go(
        *(f"{scrub}: lap one two three four five", "(wait)", f"{circ}: five"),
        *(f"{scrub}: clamp one two", "(wait)", f"{circ}: two"),
        *(f"{scrub}: pen one three pieces", "(wait)", f"{circ}: one"),
        *(f"{scrub}: the count is finished", f"{scrub}: we want a count now"),
    )


def places(played: Play, item: str) -> dict[str, int | None]:
    """Give what stands of an item, by place."""
    keys = played.ledger.keys(*State)
    return {key.place or "": played.ledger.tally(*key).counted for key in keys if key.item == item}


@pytest.mark.parametrize(
    "call",
    [
        "lap on the field one two three",
        "on the field lap one two three",
        "on the field one two three",
        "lap one two three",
        "one two three",
        "three laps on the field",
        "on the field three laps",
    ],
)
def test_a_place_can_be_said_in_many_ways(call: str) -> None:
    """Name, place and numbers in any usual order; what was asked for need not be said again."""
    played = counting().go(f"scrub: {call}", "(wait)")

    assert places(played, "lap")["field"] == 3
    assert played.said == "Laps on the field, three."


def test_a_name_without_its_place_is_asked_for_it() -> None:
    """Another item than the one asked for needs a place; the answer completes the call."""
    played = counting().go("scrub: clamp one two", "(wait)")
    assert played.said == "Clamps, where? Say the place."
    played.go("scrub: on the back table", "(wait)")

    assert places(played, "clamp")["back_table"] == 2


def test_a_place_that_is_never_said_stores_nothing() -> None:
    """Without an answer the call is refused with its own code."""
    played = counting().go("scrub: clamp one two", "(wait)", "scrub: lap on the mayo one", "(wait)")
    (refused,) = [event for event in played.events if isinstance(event, LineRefused)]

    assert refused.refusal is Refusal.NO_PLACE
    assert set(places(played, "clamp").values()) == {None}


def test_the_next_place_ends_the_one_before() -> None:
    """Going on to another place stores the one in hand, without a pause."""
    played = counting().go("scrub: lap on the field one two", "+scrub: on the mayo one", "(wait)")

    assert places(played, "lap") == {"field": 2, "mayo": 1, "back_table": None, "off_field": None}


def test_a_package_does_not_matter_at_a_place() -> None:
    """Three of a package of five lie on the field: that is a count, and nothing is set aside."""
    played = counting().go("scrub: lap on the field one two three", "(wait)", "circ: three")

    assert "package_set_aside" not in played.kinds
    assert played.said == "Confirmed. Now, on the Mayo stand."


def test_a_broken_run_is_refused_at_its_place() -> None:
    """Cadence holds at every place; the place is asked for again."""
    played = counting().go("scrub: lap on the mayo one three", "(wait)", "scrub: one two", "(wait)")

    assert places(played, "lap")["mayo"] == 2


def test_pieces_are_called_with_the_place() -> None:
    """An item of several pieces is called with them, wherever it lies."""
    played = counting().go("scrub: pen on the back table one three pieces", "(wait)")

    assert played.said == "Pen on the back table, one, in three pieces."


@pytest.mark.parametrize("words", ["none anywhere else", "none"])
def test_none_of_the_other_places_takes_both(words: str) -> None:
    """The scrub says that there is none, the circulator says it again, in short or in full."""
    played = counting().go("scrub: lap on the field one two three four five", "(wait)")
    played.go("circ: five", "scrub: none anywhere else")
    assert played.said == "Laps, none on the Mayo stand, on the back table, counted off."
    assert played.ledger.waiting()
    played.go(f"circ: {words}")

    assert not played.ledger.waiting()
    given = [e for e in played.events if isinstance(e, LineConfirmed) and e.place is not None]
    assert [event.number for event in given] == [5, 0, 0, 0]
    assert all(event.by is Role.CIRCULATOR for event in given)
    assert "Laps, together five." in played.said


def test_the_circulator_cannot_begin_with_none() -> None:
    """Only the scrub says first that there is none."""
    played = counting().go("circ: none anywhere else")

    assert played.last.speak_next is Role.SCRUB
    assert set(places(played, "lap").values()) == {None}


def test_the_scrub_cannot_confirm_none() -> None:
    """Said twice by the scrub, nothing is confirmed."""
    played = counting().go("scrub: lap on the field one", "(wait)", "circ: one")
    played.go("scrub: none anywhere else", "scrub: none anywhere else")

    assert len(played.ledger.waiting()) == 3


def test_a_number_instead_of_none_is_a_dispute() -> None:
    """When the circulator sees one where the scrub said none, that place is counted again."""
    played = counting().go("scrub: lap on the field one", "(wait)", "circ: one")
    played.go("scrub: none anywhere else", "circ: one")

    assert "line_disputed" in played.kinds
    assert played.ledger.keys(State.RECOUNT)


def test_a_bare_no_is_not_heard_beside_none() -> None:
    """Where none is a count, only the long form of no is in the vocabulary."""
    phrases = {command.id: command.phrases for command in counting().dialogue.vocabulary.commands}

    assert phrases["no"] == ("no that is not right",)


def test_one_channel_goes_place_by_place() -> None:
    """With one channel the turn tells who speaks, place by place as well."""
    played = counting(told_apart=False)
    played.go("one: on the field one two three four five", "(wait)", "one: five")
    played.go("one: none anywhere else", "one: none anywhere else")

    assert not played.ledger.waiting()
    assert places(played, "lap")["field"] == 5


def test_the_policy_sets_the_places() -> None:
    """A room without a Mayo stand counts without it, in its own order."""
    played = counting(places=["back_table", "field"])

    assert list(places(played, "lap")) == ["back_table", "field"]
    assert "on the back table" in played.said


@pytest.mark.parametrize(("again", "due"), [("line", 0), ("group", 2), ("count", 3)])
def test_an_interruption_restarts_what_the_policy_says(again: str, due: int) -> None:
    """Line (a hospital audit checklist), group, or the whole count (WHO 2009, from memory)."""
    played = counting(interrupted=again)
    played.go("scrub: clamp on the field one two", "(wait)", "circ: two")
    played.go("scrub: lap on the field one", "(wait)", "circ: one")
    played.go("scrub: lap on the mayo one", "(wait)", "circ: one")
    played.go("scrub: on the back table one two", "+scrub: stand by please")

    assert len(played.ledger.keys(State.RECOUNT)) == due


@pytest.mark.parametrize(("scope", "again"), [("item", 1), ("group", 2), ("count", 3)])
def test_a_difference_recounts_what_the_policy_says(scope: str, again: int) -> None:
    """The item, its group, or all that was counted (union of published orders: the whole group).

    What was not counted yet in this count is not called again.
    """
    items = ({**ITEMS[0]}, {"id": "gauze", "pack": 5, "expect": 5}, {**ITEMS[1]}, {**ITEMS[2]})
    played = Play(sheet_of(*items, policy={"recount": scope, "places": ["field", "back_table"]}))
    played.go(
        *("scrub: lap one two three four five", "(wait)", "circ: five"),
        *("scrub: gauze one two three four five", "(wait)", "circ: five"),
        *("scrub: clamp one two", "(wait)", "circ: two"),
        *("scrub: the count is finished", "scrub: we want a count now"),
        *("scrub: clamp on the field one two", "(wait)", "circ: two"),
        *("scrub: none anywhere else", "circ: none"),
        *("scrub: lap on the field one two three four five", "(wait)", "circ: five"),
        *("scrub: none anywhere else", "circ: none"),
        *("scrub: gauze on the field one two three four", "(wait)", "circ: four"),
        *("scrub: none anywhere else", "circ: none"),
        *("circ: that has been done", "circ: that has been done"),
    )

    due = {key.item for key in played.ledger.keys(State.RECOUNT)}
    assert len(due) == again
    assert "gauze" in due


def test_a_package_added_during_a_count_has_to_hold_its_number() -> None:
    """A package of four that comes during a closing count is set aside whole; five are added.

    Setting aside a package with another number: WHO and AORN, from memory.
    """
    played = counting()
    played.go("circ: add to the count", "circ: lap four")
    assert played.kinds[-1] == "package_set_aside"
    assert "Set the whole package aside. None of it is counted." in played.said
    assert played.ledger.expected("lap") == 5
    played.go("scrub: on the field one two three four five", "(wait)", "circ: five")
    assert places(played, "lap")["field"] == 5
    played.go("circ: add to the count", "circ: lap five", "scrub: five")

    assert played.ledger.expected("lap") == 10
