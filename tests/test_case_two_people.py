"""What only one person said is not kept, whoever answers the questions of a form."""

import pytest
from playing import Play, sheet_of

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
