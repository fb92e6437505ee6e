"""What a report holds of a case where nothing else would show that it is lost."""

from pathlib import Path
from typing import Any

import pytest
from cases import (
    CLAMPS,
    CLOSING,
    DONE,
    INITIAL,
    LAPS,
    NEEDLES,
    begun,
    case_of,
    recounted,
    told,
    walked,
)
from playing import Play
from test_report_gather import facts_of, kept, played

from voicecount.count.events import Event, Incident, IncidentTold
from voicecount.count.roles import Role

PACKED = ("packing is left inside", "in the pelvis", "comes out on the ward")
OUT = "that one came out again"


def test_what_a_case_that_turned_open_should_count_is_told_as_left(tmp_path: Path) -> None:
    """A count that nobody finished would look whole though it never came to the instruments."""
    closing = {**CLOSING, "leaves_out": ["instruments"], "unless_open": True}
    sheet = case_of(LAPS, NEEDLES, CLAMPS, plan=(INITIAL, closing))
    play = begun(sheet, "circ: begin the closing count")
    assert played(play, tmp_path).counts[-1].left == ("lap", "needle")

    told(play, "we are turning to open", agreed="yes that is right", by="circ")
    assert "clamp" in played(play, tmp_path).counts[-1].left


def test_what_is_in_the_patient_without_a_site_is_told_too(tmp_path: Path) -> None:
    """A record that names no site would have no report at all."""
    play = begun()
    tucked = IncidentTold(
        at=play.events[-1].at + 1,
        incident=Incident.TUCKED,
        item="lap",
        n=1,
        by=Role.SCRUB,
        agreed=Role.CIRCULATOR,
    )
    events: list[Event] = [*play.events, tucked]
    (one,) = facts_of(kept(events, tmp_path / "a.vcj")).in_patient
    assert (one.item, one.n, one.site, one.on_purpose, one.of) == (
        "lap",
        1,
        "not_said",
        False,
        None,
    )


def test_what_is_all_out_again_is_no_part_of_what_comes_after(tmp_path: Path) -> None:
    """It would stand as one of three, with the plan of two that are long out."""
    play = begun()
    told(play, PACKED[0], "lap sponges two", "in the pelvis", "comes out in theatre", agreed="two")
    told(play, OUT, "lap sponges two", "in the pelvis", agreed="two")
    told(play, PACKED[0], "lap sponge one", *PACKED[1:], agreed="one")
    (one,) = played(play, tmp_path).in_patient
    assert (one.n, one.of, one.removal) == (1, None, "on_ward")


@pytest.mark.parametrize(
    ("second", "both"), [("scrub", ("scrub", "circulator")), ("circ", (None, None))]
)
def test_who_put_in_what_is_left_is_told_only_where_it_was_one(
    second: str, both: tuple[Any, Any], tmp_path: Path
) -> None:
    """A sponge in the patient would be ascribed to whoever may have put in the one that is out."""
    play = begun()
    told(play, PACKED[0], "lap sponge one", *PACKED[1:], agreed="one")
    told(play, PACKED[0], "lap sponge one", *PACKED[1:], agreed="one", by=second)
    told(play, OUT, "lap sponge one", "in the pelvis", agreed="one")
    (one,) = played(play, tmp_path).in_patient
    assert (one.n, one.of) == (1, 2)
    assert (one.by, one.agreed) == both


def test_who_read_an_image_is_told(tmp_path: Path) -> None:
    """An image that nobody is known to have read would stand as one that was read."""
    play = walked(recounted()).go(
        *(DONE, DONE, "circ: nothing seen on the image", "circ: read by the radiologist")
    )
    (difference,) = played(play, tmp_path).discrepancies
    last = difference.steps[-1]
    assert (last.step, last.answer, last.reader) == ("image", "nothing_seen", "radiologist")


def test_a_line_that_was_confirmed_twice_was_answered_the_last_time(tmp_path: Path) -> None:
    """The total of both packages is what holds; the answer to the first one alone is past."""
    play = Play(case_of()).go("scrub: lap sponges one two three four five", "(wait)", "circ: five")
    play.go("scrub: further package", "scrub: one two three four five", "(wait)", "circ: ten")
    (count,) = played(play, tmp_path).counts
    assert [one.answered is not None for one in count.lines] == [True, True]
    first, second = count.lines[:2]
    assert first.answered == second.answered
