"""What a printed record says where nothing else would show that it says something else."""

import pytest
from made_facts import difference
from report_facts import case, count, item, line

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
