"""What a printed record says where nothing else would show that it says something else."""

from typing import Any

import pytest
from made_facts import difference, item_sum
from report_facts import case, count, dropped, item, line

from voicecount.count.events import UtterancesHeard
from voicecount.count.ledger import Ledger
from voicecount.count.roles import Role
from voicecount.report import words
from voicecount.report.blocks import Notice, Table
from voicecount.report.pages import pages
from voicecount.report.tell import tell
from voicecount.report.tell_names import both
from voicecount.report.timeline import alternative


def test_a_difference_given_up_with_none_missing_stands_in_front() -> None:
    """Both said that the item is not found: that would stand on no first page."""
    one = difference(1, "lap", off=-1, off_now=0, settled="not_found", count=0)
    facts = case(items=(item("lap", "lap sponge"),), discrepancies=(one,))
    found = {block.title: block.text for block in pages(facts) if isinstance(block, Notice)}
    assert found["≠ Closed without the item"] == "lap sponge, no difference, outside of a count."


def test_what_was_called_as_added_is_what_stands_of_it() -> None:
    """A line that was taken back would be read as an addition, one in another count as none."""
    counts = (
        count(
            1, 10, 20, kind="addition", lines=(line(1, 11, counted=5), line(2, 12, stands=False))
        ),
        count(2, 30, 40, kind="closing", lines=(line(3, 31), line(4, 32, entry="addition"))),
        count(3, 50, 60, kind="closing", lines=(line(5, 51, entry="addition", stands=False),)),
    )
    (table,) = (
        block
        for block in pages(case(counts=counts))
        if isinstance(block, Table) and block.title == "Called as added"
    )
    assert [cells[1:3] for cells in table.rows] == [("1", "1"), ("2", "4")]


def test_what_was_heard_is_told_number_by_number() -> None:
    """Talk that was passed over would be read as understood."""
    event = UtterancesHeard(
        at=1, utterances=97, accepted=41, ignored=33, asked=(("faint", 11), ("clipped", 5))
    )
    assert tell(event, Ledger()) == (
        "Heard since it was last written down: 97 utterances, 41 understood, 16 asked again, 33 "
        "not meant for the assistant."
    )


@pytest.mark.parametrize("two", [(Role.SCRUB, None), (None, Role.SCRUB), (None, None)])
def test_of_two_people_one_alone_is_named_by_nobody(two: tuple[Role | None, Role | None]) -> None:
    """Nobody is made up, and one known voice is not told as an agreement of two."""
    assert both(*two) == "said and said again; who spoke is not known"
    assert both(Role.SCRUB, Role.CIRCULATOR) == "said by the scrub, agreed by the circulator"


def test_no_difference_has_no_sign() -> None:
    """A nought with a plus looks like one too many."""
    assert [words.signed(n) for n in (2, 0, -1)] == ["+2", "0", "\N{MINUS SIGN}1"]
    assert [words.off(n) for n in (2, 0, None)] == ["≠ +2", "0", words.NONE]


def test_the_drawing_in_words_counts_answers_and_not_what_still_holds() -> None:
    """A line that was answered, then counted again, was answered: it is drawn so."""
    lines = (line(1, 11), line(2, 12, confirmed=False), line(3, 13, confirmed=False, answered=None))
    told = alternative(case(counts=(count(1, 10, 20, lines=lines),)))
    assert "3 lines stored, 2 of them answered by the other person." in told


def in_count(title: str, **more: Any) -> Table:
    """Give a table of a case of one closing count."""
    facts = case(counts=(count(1, 10, 20, kind="closing", **more),))
    (found,) = (one for one in pages(facts) if isinstance(one, Table) and one.title == title)
    return found


def test_too_many_is_marked_as_too_few_is() -> None:
    """One too many is a difference: somebody may have counted one twice that is not there."""
    sums = tuple(item_sum(f"item {off}", off=off) for off in (-1, 0, 2, None))
    assert in_count("Sums of count 1", sums=sums).marked == (0, 2)


def test_in_the_patient_is_what_was_left_and_what_was_tucked_in() -> None:
    """What is tucked in and not out is in the patient: left out, the line would not add up."""
    table = in_count("Sums of count 1", sums=(item_sum("lap", inside=2, tucked=3),))
    at = [column.head for column in table.columns].index("In patient")
    assert table.rows[0][at] == "5"


def test_a_no_to_a_line_is_told_as_such() -> None:
    """A dispute without a number would be an empty place."""
    no = dropped(12, "disputed", by="circulator")
    (row,) = in_count("Lines of count 1", lines=(line(1, 11, stands=False, dropped=no),)).rows
    assert "0:12 circulator: ≠ no" in row
