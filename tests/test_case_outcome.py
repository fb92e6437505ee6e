"""How a difference ends, in typed words: found, recounted, not found, explained; by both people."""

import pytest
from cases import (
    BOTH_AGREE,
    CASE,
    DONE,
    NEEDLES_AT,
    SHORT,
    TWO_COUNTS,
    WHOLE,
    begun,
    closed,
    first_count,
    of_kind,
    placed,
    recounted,
    short,
    told,
    walked,
)
from playing import Play

from voicecount.count.events import CountResult

NO = "circ: no that is not right"


def test_found_is_told_with_its_place_and_number() -> None:
    """Found at a place that one names and the other's number confirms, the difference is closed."""
    played = recounted().go("scrub: we have found it", "scrub: in the linen", "scrub: one")
    assert played.said.startswith("Found: lap sponge, one, in the linen.")
    assert closed(played) == []
    played.go("circ: one")

    (event,) = closed(played)
    assert (event.settled, event.where, event.n) == ("found", "linen", 1)
    assert (event.by, event.agreed) == ("scrub", "circulator")
    played.go(*placed(CASE, NEEDLES_AT), "circ: the count is finished")
    assert of_kind(played, "count_finished")[-1].result is CountResult.RECONCILED


def test_found_is_taken_at_any_step() -> None:
    """Whoever finds it says so at once, even before the first step; the steps end with it."""
    played = short()
    told(played, "we have found it", "on the floor", "one", agreed="one", by="circ")

    assert played.ledger.discrepancies == {}
    assert [event.settled for event in closed(played)] == ["found"]
    assert "Next, suture needles, on the field." in played.said


def test_more_cannot_be_found_than_is_missing() -> None:
    """Two found where one is missing is told back, and keeps nothing."""
    played = recounted().go("scrub: we have found it", "scrub: on the floor", "scrub: two")

    assert "That does not fit." in played.said
    played.go("circ: two")
    assert list(played.ledger.discrepancies) == [1]


def test_one_of_two_found_leaves_the_other_missing() -> None:
    """A part that is found is kept, and the search goes on for the rest."""
    two = {"lap": (2, 0, 6, 0)}
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, two), DONE, DONE)
    played.go(*placed(CASE, two))
    told(played, "we have found it", "in the waste", "one", agreed="one")

    assert [one.off for one in played.ledger.discrepancies.values()] == [-1]
    assert closed(played) == []
    told(played, "we have found it", "on the floor", "one", agreed="one")
    assert played.ledger.discrepancies == {}


def test_a_recount_after_a_find_tells_all_that_is_there() -> None:
    """What was found and then counted with the rest is never counted twice."""
    two = {"lap": (2, 0, 6, 0)}
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, two), DONE, DONE)
    played.go(*placed(CASE, two))
    told(played, "we have found it", "on the floor", "one", agreed="one")
    played.go("scrub: lap sponges on the field one two three", "(wait)", "scrub: that is a recount")
    played.go("circ: three")

    assert "Lap sponges, nine. Expected, ten. One short." in played.said
    assert [one.off for one in played.ledger.discrepancies.values()] == [-1]


def test_a_recount_that_agrees_still_takes_both() -> None:
    """When the recount comes to what is expected, each of the two has to say so."""
    played = short().go(DONE, DONE, *placed(CASE, WHOLE))
    assert "Lap sponges, counted again, ten. Expected, ten. Each of you, say:" in played.said
    played.go("scrub: yes that is right", "scrub: yes that is right", "(wait)", "(finish)")
    assert closed(played) == []

    played.go("circ: yes that is right")
    assert [event.settled for event in closed(played)] == ["recounted"]


def test_a_no_leaves_it_open() -> None:
    """One no is enough to leave a recounted difference open; counting again asks again."""
    played = short().go(DONE, DONE, *placed(CASE, WHOLE), "scrub: yes", NO)
    assert list(played.ledger.discrepancies) == [1]
    played.go("scrub: lap sponges on the field one two three", "scrub: that is a recount", "(wait)")
    played.go("circ: three", *BOTH_AGREE)

    assert played.ledger.discrepancies == {}


@pytest.mark.parametrize(
    ("answer", "code"),
    [
        ("the surgeon will go on", "surgeon_goes_on"),
        ("the wound was explored again", "wound_explored_again"),
        ("an image comes later", "image_later"),
        ("for another reason", "other_reason"),
    ],
)
def test_not_found_has_what_was_decided(answer: str, code: str) -> None:
    """An item that stays missing is closed with what was decided, and is told to the very end.

    Source: what is missing, steps, image and outcome are recorded (WHO, ACS ST-51).
    """
    played = walked(recounted()).go(DONE, "circ: that cannot be done", "circ: for another reason")
    told(played, "it stays missing", answer, agreed="yes that is right")
    (event,) = closed(played)
    assert (event.settled, event.reason) == ("not_found", code)

    played.go(*placed(CASE, NEEDLES_AT), "circ: the count is finished")
    assert of_kind(played, "count_finished")[-1].result is CountResult.DIFFERS
    assert "Not found: lap sponges. Closing count finished. Not reconciled." in played.said
    played.go("circ: close the record now", "scrub: yes that is right")
    assert of_kind(played, "case_closed")[0].not_found == (1,)
    assert "Not found: lap sponges." in played.said


def test_not_found_comes_up_again_at_the_next_count() -> None:
    """What was closed without the item is a difference again in the next count."""
    sheet = TWO_COUNTS
    played = walked(recounted(sheet)).go(DONE, "circ: that cannot be done")
    played.go("circ: for another reason")
    told(played, "it stays missing", "the surgeon will go on", agreed="yes that is right")
    played.go(*placed(sheet, NEEDLES_AT), "circ: the count is finished")
    played.go("circ: begin the final count", *placed(sheet, SHORT))

    assert [one.off for one in played.ledger.discrepancies.values()] == [-1]
    played.go("circ: the count is finished", "circ: close the record now")
    assert "In earlier counts, not found or not explained: one." in played.said


@pytest.mark.parametrize(
    ("answer", "code"),
    [
        ("an addition was not called", "not_written_down"),
        ("the first count was wrong", "first_count_wrong"),
        ("it was taken away uncalled", "taken_away_uncalled"),
    ],
)
def test_an_explained_difference_changes_what_is_expected(answer: str, code: str) -> None:
    """A mistake in the expected number itself is given by both, with its reason, after all steps.

    Source: kinds of discrepancies: miscount, documentation, misplaced (AORN FAQ 2015).
    """
    played = walked(recounted()).go(DONE, "circ: that cannot be done", "circ: for another reason")
    played.go("scrub: we can explain it", f"scrub: {answer}")
    assert "Lap sponges, expected from now on, nine." in played.said
    assert played.ledger.expected("lap") == 10
    played.go("circ: yes that is right")

    assert played.ledger.expected("lap") == 9
    assert (closed(played)[0].settled, closed(played)[0].reason) == ("explained", code)


@pytest.mark.parametrize("last", ["scrub: yes that is right", "circ: nine", "circ?: yes", "(wait)"])
def test_nothing_but_the_words_of_both_closes_it(last: str) -> None:
    """The same person, a number, a doubtful yes and silence close nothing."""
    played = walked(recounted()).go(DONE, "circ: that cannot be done", "circ: for another reason")
    played.go("scrub: it stays missing", "scrub: the surgeon will go on", last, "(finish)")

    assert closed(played) == []
    assert list(played.ledger.discrepancies) == [1]


def test_on_one_channel_a_recount_takes_two_answers() -> None:
    """Where one channel holds both voices, one yes does not close a difference: two do."""
    script = [
        *(*first_count(CASE), "circ: begin the closing count", *placed(CASE, SHORT)),
        *(DONE, DONE, *placed(CASE, WHOLE)),
    ]
    one = [line.replace("scrub:", "one:").replace("circ:", "one:") for line in script]
    played = Play(CASE, told_apart=False).go(*one, "one: yes that is right")
    assert closed(played) == []
    played.go("one: yes that is right")

    assert [event.settled for event in closed(played)] == ["recounted"]
