"""What only one person said is not kept, whoever answers the questions of a form."""

import pytest
from playing import Play, sheet_of

from voicecount.count.ledger import fold

SHEET = sheet_of(
    {"id": "lap-sponge", "expect": 3},
    {"id": "needle", "group": "sharps", "expect": 2},
    policy={"places": ["field", "off_field"]},
)


def counted() -> Play:
    """Give a case whose initial count is finished."""
    return Play(SHEET).go(
        *("scrub: lap sponges one two three", "(wait)", "circ: three"),
        *("scrub: needles one two", "(wait)", "circ: two", "circ: the count is finished"),
    )


def test_the_one_who_tells_the_number_does_not_agree_to_it() -> None:
    """A form begun by the circulator and filled in by the scrub needs the circulator's number."""
    play = counted().go("circ: something was cut", "scrub: lap sponges one", "scrub: one")
    assert play.kinds[-1] == "count_finished"
    assert play.said == "The other one of you, say the number."
    play.go("circ: one")
    event = play.events[-1]
    assert event.kind == "incident_told"
    assert (event.by, event.agreed) == ("scrub", "circulator")


def test_what_follows_the_number_does_not_change_who_told_it() -> None:
    """The site may be said by the other person, who still has to say the number."""
    play = counted().go("scrub: tucking something in", "scrub: lap sponges one")
    play.go("circ: in the pelvis", "scrub: one")
    assert play.kinds[-1] == "count_finished"
    assert play.go("circ: one").kinds[-1] == "incident_told"


@pytest.mark.parametrize(("who", "stored"), [("circ", 0), ("scrub", 1)])
def test_only_the_scrub_says_that_there_is_none(who: str, stored: int) -> None:
    """The circulator's "none anywhere else" is no call, so one person cannot do it alone."""
    play = counted().go("circ: begin the closing count", "scrub: on the field one two three")
    play.go("(wait)", "circ: three")
    before = len(play.events)
    play.go(f"{who}: none anywhere else")
    assert [event.kind for event in play.events[before:]] == ["line_stored"] * stored


def in_closing_count() -> Play:
    """Give a case with a closing count in which all sponges were counted, as expected."""
    play = counted().go("circ: begin the closing count", "scrub: on the field one two three")
    return play.go("(wait)", "circ: three", "scrub: counted off none", "(wait)", "circ: none")


def test_a_difference_that_a_death_kept_from_being_opened_is_opened_at_the_end() -> None:
    """A journal that ends between an incident and what follows from it hides no difference."""
    play = in_closing_count()
    play.go("scrub: something was cut", "scrub: lap sponges one", "circ: one")
    cut = [event.kind for event in play.events].index("incident_told") + 1
    later = Play(SHEET, ledger_before=fold(play.events[:cut]))
    later.go("circ: the count is finished")
    assert [event.kind for event in later.events] == ["discrepancy_opened", "count_finished"]
    assert later.events[1].result == "differs"
    assert later.events[1].open == (1,)


def test_a_difference_found_during_an_addition_keeps_its_size_when_the_addition_ends() -> None:
    """One too many stays one too many, though more are expected from then on."""
    play = counted().go("scrub: add to the count", "scrub: lap sponges one two", "(wait)")
    play.go("circ: two", "scrub: there is one too many", "scrub: lap sponges one", "circ: one")
    assert play.ledger.discrepancies[1].off == 1
    play.go("circ: the count is finished")
    assert (play.ledger.expected("lap-sponge"), play.ledger.discrepancies[1].expected) == (5, 5)
    play.go(
        "circ: begin the closing count", "scrub: on the field one two three four five", "(wait)"
    )
    play.go("circ: five", "scrub: counted off none", "(wait)", "circ: none")
    assert play.ledger.discrepancies[1].off == 0


def test_nobody_closes_a_difference_by_a_recount_that_no_longer_stands() -> None:
    """The words of both are asked for only when every place is counted again."""
    play = counted().go("circ: begin the closing count", "scrub: on the field one two", "(wait)")
    play.go("circ: two", "scrub: counted off none", "(wait)", "circ: none")
    play.go("circ: that has been done", "circ: that has been done")
    play.go("scrub: one two three", "(wait)", "circ: three", "scrub: none", "(wait)", "circ: none")
    assert "Each of you, say" in play.said
    play.go("scrub: something was cut", "scrub: lap sponges one", "circ: one")
    assert "Each of you, say" not in play.said
    play.go("scrub: yes", "circ: yes")
    assert "discrepancy_closed" not in play.kinds


def passed_off() -> Play:
    """Give a case in its closing count with two of three sponges passed off the field."""
    play = counted().go("circ: passing them off the field", "circ: lap sponges total two")
    return play.go("scrub: two", "circ: begin the closing count")


def test_a_place_is_compared_by_itself_after_the_line_was_counted_again() -> None:
    """A recount with the right sum still tells that fewer lie off the field than should."""
    play = passed_off().go("scrub: on the field one", "(wait)", "circ: one")
    play.go("scrub: counted off one", "(wait)", "circ: one")
    play.go("circ: that has been done", "circ: that has been done")
    play.go("scrub: one two", "(wait)", "circ: two", "scrub: one", "(wait)", "circ: one")
    opened = [event for event in play.events if event.kind == "discrepancy_opened"]
    assert [(event.differs, event.counted, event.expected) for event in opened] == [
        ("line", 2, 3),
        ("place", 1, 2),
    ]


def test_a_place_that_a_death_kept_from_being_told_is_told_at_the_end() -> None:
    """A journal that ends right after a confirmation hides no difference off the field."""
    play = passed_off().go("scrub: on the field one two", "(wait)", "circ: two")
    play.go("scrub: counted off one", "(wait)", "circ: one")
    cut = [event.kind for event in play.events].index("discrepancy_opened")
    later = Play(SHEET, ledger_before=fold(play.events[:cut]))
    later.go("circ: the count is finished")
    assert [event.kind for event in later.events] == ["discrepancy_opened", "count_finished"]
