"""Cells of a case's rows: all numbers are unlike, so that none can stand for another."""

import csv
import io
from typing import Any

import pytest
from made_facts import AT, case, chain, count, item, item_sum, line

from voicecount.report.csv_out import text
from voicecount.report.facts import CaseFacts, Moment

LATER = Moment(record=2, at=90.0, wall="2026-03-02T08:01:30+00:00")


def again(**more: Any) -> list[dict[str, str]]:
    """Read the rows of a case of one item in one count as a spreadsheet does."""
    facts: CaseFacts = case(
        chain("0" * 64), items=(item("lap", name="lap sponge"),), counts=(count(1, **more),)
    )
    return list(csv.DictReader(io.StringIO(text(facts), newline=""), strict=True))


def test_no_number_stands_in_the_column_of_another() -> None:
    """What is left in on purpose and what is only tucked in would change places unseen."""
    one = item_sum("lap", counted=12, expected=23, inside=4, tucked=3, off=-7, flags=("stated",))
    (row,) = again(sums=(one,), opened=AT, finished=LATER, title="first count", id="first")
    names = ("counted", "expected", "inside", "tucked", "off", "flags")
    assert [row[name] for name in names] == ["12", "23", "4", "3", "-7", "stated"]
    assert (row["opened"], row["finished"]) == (AT.wall, LATER.wall)
    assert [row[name] for name in ("count_id", "kind", "title", "item", "name", "group")] == [
        *("first", "initial", "first count", "lap", "lap sponge", "sponges")
    ]


@pytest.mark.parametrize(
    ("lines", "shown"),
    [
        ([(True, True)], "yes"),
        ([(True, False)], "no"),
        ([(False, False), (True, True)], "yes"),
        ([(True, True), (True, False)], "no"),
        ([(False, True)], "no"),
        ([], "no"),
    ],
)
def test_a_place_is_confirmed_by_all_that_stands_there(
    lines: list[tuple[bool, bool]], shown: str
) -> None:
    """A place with an unconfirmed line would be read as confirmed, or one put right as not."""
    stored = [
        line(number, "lap", place="mayo", stands=stands, confirmed=confirmed)
        for number, (stands, confirmed) in enumerate(lines, start=1)
    ]
    other = line(9, "lap", place="field", stands=True, confirmed=shown == "no")
    sums = (item_sum("lap", places=(("mayo", 6), ("field", 4))),)
    _, mayo, _ = again(lines=(*stored, other), sums=sums)
    assert (mayo["place"], mayo["confirmed"]) == ("mayo", shown)
