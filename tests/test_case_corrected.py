"""An initial count that is corrected after something was told: nothing is taken in twice.

Found by a second fold (tests/second_fold.py). Common practice, no source: what was told before a
recount is in the number that the recount gives; what is in the patient cannot be counted again.
"""

import pytest
from cases import CLAMPS, CLOSING, INITIAL, LAPS, NEEDLES, begun, case_of, placed, told
from playing import Play

from voicecount.count.case_events import CountFinished
from voicecount.count.ledger import apply, fold
from voicecount.errors import JournalError

SHEET = case_of(LAPS, NEEDLES, CLAMPS, plan=(INITIAL, CLOSING))


def corrected(item: str, n: str, form: str, *answers: str, agreed: str = "one") -> Play:
    """Finish the initial count, tell something, and give the item's number anew."""
    play = told(begun(SHEET), form, *answers, agreed=agreed)
    play.go(f"scrub: {item} {n}", "(wait)", "scrub: that is a recount")
    play.go(f"circ: {n.rsplit(maxsplit=1)[-1]}", "circ: the count is finished")
    return play


def test_what_left_before_a_corrected_count_is_not_taken_off_twice() -> None:
    """Two clamps, one handed over, one counted again: one is expected, and none is a difference."""
    play = corrected(
        "clamps", "one", "something leaves the count", "clamp one", "out with the specimen"
    )
    account = play.ledger.account("clamp")

    assert (account.initial, account.handed_over, account.expected) == (1, 0, 1)
    play.go("circ: begin the closing count")
    play.go(*placed(SHEET, {"lap": (10, 0, 0, 0), "needle": (4, 0, 0, 0), "clamp": (0, 0, 0, 0)}))
    (missing,) = play.ledger.discrepancies.values()
    assert (missing.item, missing.off) == ("clamp", -1)


def test_what_came_about_before_a_corrected_count_is_not_added_twice() -> None:
    """Two clamps, one cut in two, three counted again: three are expected, not four."""
    play = corrected("clamps", "one two three", "something was cut", "clamp one")

    assert play.ledger.expected("clamp") == 3


def test_what_is_told_after_a_corrected_count_comes_on_top() -> None:
    """One handed over before, one after: of three clamps one is expected."""
    first = "clamps", "one two", "something leaves the count", "clamp one", "out with the specimen"
    play = corrected(*first)
    play = told(
        play, "something leaves the count", "clamp one", "out with the specimen", agreed="one"
    )

    assert play.ledger.expected("clamp") == 1


def test_what_is_tucked_in_belongs_to_a_corrected_count() -> None:
    """Ten sponges, one tucked in, nine on the table: ten are expected, with the one inside."""
    play = corrected(
        "lap sponges",
        "one two three four five",
        "tucking something in",
        *("lap sponge one", "behind the bowel"),
    )

    assert (play.ledger.account("lap").initial, play.ledger.expected("lap")) == (6, 6)


def test_what_came_out_again_before_a_corrected_count_is_on_the_table() -> None:
    """One tucked in and out again: nothing comes on top of what both count then."""
    play = told(
        begun(SHEET), "tucking something in", "lap sponge one", "behind the bowel", agreed="one"
    )
    play = told(play, "that one came out again", "lap sponge one", "behind the bowel", agreed="one")
    play.go("scrub: lap sponges one two three four five", "(wait)", "scrub: that is a recount")
    play.go("circ: five", "circ: the count is finished")

    assert play.ledger.expected("lap") == 5


def test_an_addition_is_finished_once() -> None:
    """A record that ends it twice would add its numbers twice."""
    play = begun(SHEET).go(
        "scrub: add to the count", "scrub: clamps one two", "(wait)", "circ: two"
    )
    play.go("circ: the count is finished")
    end = next(one for one in play.events[::-1] if isinstance(one, CountFinished))

    assert play.ledger.expected("clamp") == 4
    with pytest.raises(JournalError, match="an addition is finished once"):
        apply(play.ledger, end)


def test_between_two_lines_of_a_number_more_are_expected_rather_than_fewer() -> None:
    """Five and two more, one handed over in between, seven said by both: seven are expected."""
    play = begun(SHEET).go("scrub: lap sponges one two three four five", "(wait)")
    play.go("scrub: that is an addition", "(wait)")
    play = told(
        play, "something leaves the count", "lap sponge one", "out with the specimen", agreed="one"
    )
    before = play.ledger.tally("lap")
    assert [line.counted for line in before.lines] == [5, 5, 5]
    play.go("scrub: start this line over", "scrub: lap sponges one two three four five", "(wait)")
    play.go(f"circ: {'fifteen'}", "circ: the count is finished")
    account = play.ledger.account("lap")

    assert (account.initial, account.handed_over, account.expected) == (15, 0, 15)


def test_a_record_of_before_is_read_as_it_was_made() -> None:
    """It took off twice what had left before a correction; its other numbers hang on that."""
    play = corrected(
        "clamps", "one", "something leaves the count", "clamp one", "out with the specimen"
    )
    before = [
        event.model_copy(update={"takes_in": False}) if isinstance(event, CountFinished) else event
        for event in play.events
    ]

    assert fold(before).account("clamp").expected == 0
    assert CountFinished.model_fields["takes_in"].default is False
