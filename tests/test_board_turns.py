"""Rows, turns and words of a board at moments that are easily told wrong.

Each number is worked out by hand; what a person has to do is the project's own rule.
"""

from typing import Any

import pytest
from board_rig import board_of
from cases import CLOSING, FINAL, INITIAL, LAPS, NEEDLES, case_of
from playing import Play
from test_account import (
    BASE,
    BOTH,
    CIRC,
    SHORT,
    count,
    differs,
    finished,
    incident,
    line,
    opened,
)

from voicecount.board import words
from voicecount.board.rows import Row
from voicecount.board.view import Board
from voicecount.count.events import (
    DiscrepancyClosed,
    Incident,
    RecountCalled,
    Settled,
    Step,
    StepTold,
    Why,
)

SHEET = case_of(LAPS, NEEDLES, plan=(INITIAL, CLOSING, FINAL))
UNISON = case_of(LAPS, NEEDLES, plan=(INITIAL, CLOSING), policy={"in_unison": True})


def row(shown: Board, item: str) -> Row:
    return next(one for group in shown.groups for one in group.rows if one.item == item)


def asked(shown: Board) -> tuple[str, str]:
    return shown.next.who, shown.next.what


def recount(item: str, number: int, place: str | None = None) -> RecountCalled:
    return RecountCalled(at=12.0, by=CIRC, item=item, place=place, lines=(number,), why=Why.ASKED)


def test_what_was_explained_is_in_the_change() -> None:
    """Else "expected" moves by one, and nothing on the board says that two people told why."""
    explained = DiscrepancyClosed(
        at=13.0, discrepancy=1, settled=Settled.EXPLAINED, reason="miscounted", **BOTH
    )
    found = row(board_of([*SHORT, differs(), explained]), "lap")
    assert (found.expected, found.change) == ("9", "-1")


def test_the_sheet_is_no_number_of_two_people() -> None:
    """Else a closing count without an initial one shows a printed number as what is expected."""
    found = row(board_of([opened(), finished(result="incomplete"), count()]), "lap")
    assert found.expected == "-"
    assert row(board_of([opened()]), "lap").expected == "10"


def test_fewer_off_the_field_than_were_passed_off() -> None:
    """Else ten of ten looks like agreement, while two that were passed off are on the field."""
    off = incident(Incident.COUNTED_OFF, 5)
    both = [*line(4, "lap", 7, "field"), *line(5, "lap", 3, "off_field")]
    found = row(board_of([*BASE, off, count(), *both]), "lap")
    assert (found.counted, found.expected, found.state) == ("10", "10", "differs")


def test_what_is_to_be_counted_again_goes_before_what_waits() -> None:
    """Else a number that no longer stands is shown as one that only wants its confirmation."""
    lines = [*line(4, "lap", 3, "field"), line(5, "lap", 7, "off_field")[0]]
    found = row(board_of([*BASE, count(), *lines, recount("lap", 4, "field")]), "lap")
    assert (found.state, found.places) == ("recount", ("↻", "7"))


def test_nothing_is_to_be_called_once_a_count_is_finished() -> None:
    """Else a board asks for lines of a count that is over."""
    half = [*line(4, "lap", 3, "field"), recount("lap", 4, "field")]
    open_ = board_of([*BASE, count(), *half])
    assert "lap sponge" in open_.left
    assert row(open_, "lap").places == ("↻", "-")
    end = finished(number=2, count="closing", result="incomplete", at=13.0)
    shown = board_of([*BASE, count(), *half, end])
    assert shown.left == ()
    assert row(shown, "lap").places == ("3", "-")


def test_the_item_in_hand_goes_on_before_the_sheet_does() -> None:
    """Else a scrub with needles in hand is sent back to the sponges, and loses the place."""
    placed = count(places=("field", "mayo", "off_field"))
    shown = board_of([*BASE, placed, *line(4, "needle", 1, "field")])
    assert shown.next.what == "Call suture needle, Mayo stand"
    assert shown.line is not None
    assert shown.line.then == "next: suture needle, Mayo stand"


def alert(role: str | None) -> dict[str, Any]:
    return {"said": {"text": "Words.", "kind": "alert", "next": role, "at": 0.0, "spoken": True}}


def test_who_does_what_an_alert_asks_in_unison() -> None:
    """Else one person waits for another who was never asked. What both count, both count again."""
    counting = Play(UNISON).events
    over = [*BASE]
    for events, role, together, who in (
        (counting, "scrub", True, "Both of you"),
        (counting, "circulator", True, "Circulator"),
        (counting, "scrub", False, "Scrub"),
        (over, "scrub", True, "Scrub"),
    ):
        shown = board_of(events, together=together, **alert(role))
        assert asked(shown) == (who, words.AS_ASKED), (role, together)


@pytest.mark.parametrize(
    ("number", "place", "state"), [(4, "field", "confirmed"), (5, "off_field", "recount")]
)
def test_a_difference_waits_while_its_item_is_counted_again(
    number: int, place: str, state: str
) -> None:
    """Else both are sent to search the room while the line they search for is being recounted."""
    shown = board_of([*SHORT, differs(), recount("lap", number, place)])
    assert asked(shown) == ("Scrub", f"Call lap sponge, {place.replace('off_', 'off the ')}")
    assert shown.line is not None
    assert (shown.line.item, shown.line.state) == ("lap sponge", state)


def test_both_have_to_agree_to_a_recount() -> None:
    """Else one of the two is taken for enough to end a difference."""
    told = StepTold(at=12.0, by=CIRC, discrepancy=1, step=Step.RECOUNT, n=10)
    question = alert(None)
    question["said"]["kind"] = "question"
    assert asked(board_of([*SHORT, differs(), told], **question)) == (words.BOTH, words.AGREE)
    short = told.model_copy(update={"n": 9})
    assert asked(board_of([*SHORT, differs(), short], **question)) == (
        "Either of you",
        words.ANSWER,
    )


@pytest.mark.parametrize("name", ["partial", "heard"])
def test_words_of_the_line_that_is_stored_are_not_being_called(name: str) -> None:
    """Else a line that is in the record stands there as "nothing is stored" until the next one."""
    stored = line(1, "lap", 5)[0].model_copy(update={"end": 3.0})
    said = {"role": "scrub", "text": "lap sponge nine", "item": "lap", "outcome": "accepted"}
    at_the_end = board_of([opened(), stored], **{name: said | {"at": 3.0}}).line
    later = board_of([opened(), stored], **{name: said | {"at": 3.1}}).line
    assert at_the_end is not None
    assert later is not None
    assert (at_the_end.state, at_the_end.number, at_the_end.heard) == ("waiting", "5", "")
    assert later.state == {"partial": "calling", "heard": "heard"}[name]


def test_what_was_not_found_is_at_least_one() -> None:
    """Else a board says "0 not found" of an item that two people closed as missing."""
    told = StepTold(at=12.0, by=CIRC, discrepancy=1, step=Step.RECOUNT, n=10)
    lost = DiscrepancyClosed(at=13.0, discrepancy=1, settled=Settled.NOT_FOUND, **BOTH)
    assert board_of([*SHORT, differs(), lost]).differences == ("lap sponge: 1 not found",)
    shown = board_of([*SHORT, differs(), told, lost])
    assert shown.differences == ("lap sponge: 1 not found",)
