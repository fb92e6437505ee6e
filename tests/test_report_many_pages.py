"""The document on many records: what has to stand in it, and what must never."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from many_facts import case, cases, count, difference, happening, inside, line

from voicecount.report import many_tables, words
from voicecount.report.blocks import Block, Facts, Notice, Picture, Points, Table, Text, Title
from voicecount.report.context import LEFT_BEHIND, PUBLISHED
from voicecount.report.facts import CaseFacts, HeardFacts
from voicecount.report.many import Summary
from voicecount.report.many_figures import FEWEST, Share, Times, wilson
from voicecount.report.many_pages import CAUTIONS, pages

LEFT_OUT = "≠ Damaged or not readable, and in no figure"
HEARD = HeardFacts(utterances=50, accepted=40, ignored=8, asked=(("close_call", 2),))


def _pages(*found: CaseFacts) -> tuple[Block, ...]:
    return pages(
        Summary.of(found), title="Spring", made="2026-04-01T10:00:00+00:00", made_by="voicecount 1"
    )


def _cases(n: int = 6, **other: Any) -> list[CaseFacts]:
    full: dict[str, Any] = {
        "counts": (
            count(1, lasted=240, lines=[line(), line(2)], disputed=1),
            count(2, "closing", lasted=120, result="agrees", interruptions=1, lines=[line(3)]),
        ),
        "discrepancies": (difference(count=2),),
        "in_patient": (inside(n=2),),
        "happenings": (happening("people_changed", permanent=True, back=False),),
        "heard": HEARD,
        **other,
    }
    return [case(f"{one}.vcj", **full) for one in range(n)]


def _texts(blocks: tuple[Block, ...]) -> Iterator[str]:
    for block in blocks:
        match block:
            case Table():
                yield from (block.title, block.note, *(column.head for column in block.columns))
                yield from (text for cells in block.rows for text in cells)
            case Facts():
                yield from (text for pair in block.pairs for text in pair)
            case Points():
                yield from block.texts
            case Picture():
                yield from (block.caption, block.alternative)
            case Title():
                yield from (block.text, block.kind, block.head, block.caution)
            case Notice():
                yield from (block.title, block.text)
            case _:
                yield getattr(block, "text", "")


def _table(blocks: tuple[Block, ...], title: str) -> Table:
    (found,) = (one for one in blocks if isinstance(one, Table) and one.title == title)
    return found


def test_cautions_come_before_any_figure() -> None:
    blocks = _pages(*_cases())
    assert isinstance(blocks[0], Title)
    first = next(place for place, one in enumerate(blocks) if isinstance(one, Table | Facts))
    assert Points(CAUTIONS) in blocks[:first]
    everything = " ".join(CAUTIONS)
    for wanted in ("not for judging", "Small numbers", "missing is not seen", "do not replace"):
        assert wanted in everything


def test_every_published_figure_stands_in_it_once_as_context() -> None:
    blocks = _pages(*_cases())
    contexts = [one for one in blocks if isinstance(one, Table) and "as published" in one.title]
    rows = [cells[:2] for one in contexts for cells in one.rows]
    assert sorted(rows) == sorted((one.says, one.figure) for one in (*PUBLISHED, *LEFT_BEHIND))
    assert all("no target and no comparison" in one.note for one in contexts)


def test_nothing_is_judged_and_nobody_is_named() -> None:
    named = _cases(team=(("p1", "An Invented Name"),))
    said = " ".join(_texts(_pages(*named)))
    assert "Invented Name" not in said
    judging = r"\b(better|worse|best|worst|good|bad|poor|rank\w*|significan\w*|benchmark)\b"
    assert not re.search(judging, said, re.IGNORECASE)
    for found in re.finditer(r"\bsafe\b", said):
        assert re.search(
            r"\b(none|no|nothing)\b",
            said[max(0, found.start() - 80) : found.start()],
            re.IGNORECASE,
        )


def test_shares_stand_with_numerator_denominator_and_interval() -> None:
    table = _table(_pages(*_cases()), "Counts with at least one interruption")
    low, high = (100 * limit for limit in wilson(6, 12))
    assert table.rows == (
        ("initial", "0", "6", "0.0 %", "0.0 to 39.0 %"),
        (words.KINDS["closing"], "6", "6", "100.0 %", "61.0 to 100.0 %"),
        ("all kinds together", "6", "12", "50.0 %", f"{low:.1f} to {high:.1f} %"),
    )
    # 0 of 6 and 6 of 6: z²/(n + z²) = 3.8415 / 9.8415 = 0.3903, from the formula at its ends


def test_rates_stand_with_numerator_denominator_and_n() -> None:
    blocks = _pages(*_cases())
    hours = _table(blocks, "Interruptions in finished counts")
    assert hours.rows[1] == (words.KINDS["closing"], "6", "0.20", "30.00", "6")
    assert hours.rows[2][1:] == ("6", "0.60", "10.00", "12")
    assert hours.note == (
        "Only counts that stand finished have a time: 12 of 12. In these were 6 of 6 interruptions."
    )
    disputed = _table(blocks, "Lines that were disputed")
    assert disputed.rows[0] == ("initial", "6", "12", "50.00", "6")
    again = _table(blocks, "Questions to say something again")
    assert again.rows == (("all reasons", "12", "300", "4.00", "6"),)
    assert _table(blocks, "Why it was asked").rows == (
        (words.why_asked("close_call"), "12", "12", "100.0 %", "75.8 to 100.0 %"),
    )


def test_few_are_told_as_counts_only() -> None:
    blocks = _pages(*_cases(FEWEST - 1))
    assert any(isinstance(one, Notice) and one.title == "Only 4 cases" for one in blocks)
    cells = _table(blocks, "How often a difference came up").rows[0]
    assert cells == ("cases", "4", "4", words.NONE, words.NONE)
    assert _table(blocks, "Lines that were disputed").rows[0][3] == words.NONE
    times = _table(blocks, "Time per finished count")
    assert times.rows[0][2:] == (*(words.NONE,) * 3, "only " + ", ".join(["4 min"] * 4))


def test_times_stand_with_median_quartiles_and_range() -> None:
    table = _table(_pages(*_cases()), "Time per finished count")
    assert table.rows[0] == (
        "initial",
        "6",
        "4 min",
        "4 min",
        "4 min to 4 min",
        "4 min to 4 min",
    )
    assert table.rows[-1][:2] == ("a whole case, its finished counts together", "6")
    assert (
        "0 of 6 had a number unlike the sheet" in _table(_pages(*_cases()), "Counts by kind").note
    )
    assert table.note == ""


def test_a_time_that_cannot_be_is_told() -> None:
    times = Times()
    times.add(-2)
    table = many_tables.times("Times", "What", (("all", times),))
    assert table.rows == (("all", "0", *(words.NONE,) * 4),)
    assert table.note == "1 time below zero left out: a clock was set back."


def test_what_is_left_out_is_named() -> None:
    blocks = _pages(
        *_cases(5),
        case("x.vcj", damage="line 4: no record"),
        case("copy.vcj", head=case("0.vcj").chain.head),
        case("older.vcj", sheet=case("1.vcj").sheet),
    )
    assert _table(blocks, LEFT_OUT).rows == (("x.vcj", "line 4: no record"),)
    copies = _table(blocks, "Copies, counted once")
    assert copies.rows == (("copy.vcj", "the same records as 0.vcj"),)
    twice = [one.text for one in blocks if isinstance(one, Notice)]
    assert twice[0].endswith("1.vcj and older.vcj.")
    facts = dict(next(one.pairs for one in blocks if isinstance(one, Facts)))
    assert (facts["Journals read"], facts["Cases in the figures"]) == ("8", "6")


@pytest.mark.parametrize("found", [[], [case(damage="line 1: no record")]])
def test_without_a_case_there_is_no_figure(found: list[CaseFacts]) -> None:
    blocks = _pages(*found)
    assert any(isinstance(one, Notice) and "No case" in one.title for one in blocks)
    assert not any(isinstance(one, Picture) for one in blocks)
    tables = [one.title for one in blocks if isinstance(one, Table)]
    assert [one for one in tables if "published" not in one] == ([LEFT_OUT] if found else [])


def test_it_is_told_how_far_what_was_heard_reaches() -> None:
    """It is written down when a count is finished or the record ends (TOLD_BEFORE in room.py)."""
    blocks = _pages(case("a", heard=HEARD))
    assert Text(f"Each case is told up to {words.HEARD_UP_TO}.") in blocks


def test_a_case_without_a_count_is_told_as_such() -> None:
    blocks = _pages(case("a"))
    assert Text("No count was opened in these cases.") in blocks
    assert Text("No record here tells how often something was heard and asked again.") in blocks
    facts = dict(next(one.pairs for one in blocks if isinstance(one, Facts)))
    assert facts["Cases began"] == "2026-03-02"


def test_days_from_first_to_last() -> None:
    found = (case("a"), case("b", wall="2026-05-01T01:00:00+00:00"))
    facts = dict(next(one.pairs for one in _pages(*found) if isinstance(one, Facts)))
    assert facts["Cases began"] == "from 2026-03-02 to 2026-05-01 (UTC)"


def test_results_that_differ_have_their_sign() -> None:
    found = _cases(5, counts=(count(1, result="differs"),))
    table = _table(_pages(*found), "What finished counts came to")
    assert table.rows[0][0].startswith(words.DIFFERS)
    assert "tells nothing of the wound" in table.note


@given(cases())
@settings(max_examples=8, deadline=None)
def test_whatever_came_every_row_of_shares_is_whole(found: list[CaseFacts]) -> None:
    heads = ("How many", "Share", "95 % interval")
    for table in (one for one in _pages(*found) if isinstance(one, Table)):
        columns = tuple(column.head for column in table.columns)
        if (columns[1], *columns[3:]) != heads:
            continue
        for name, k, n, percent, interval in table.rows:
            share = Share(int(k.replace(",", "")), int(n.replace(",", "")))
            assert many_tables.share_row(name, share)[3:] == (percent, interval)
            assert (percent == words.NONE) == (share.n < FEWEST)


def test_parts_of_a_whole_add_up() -> None:
    blocks = _pages(*_cases())
    for title in ("By what differed", "By the count in which they came up", "By how they ended"):
        table = _table(blocks, title)
        assert sum(int(cells[1]) for cells in table.rows) == 6
        assert {cells[2] for cells in table.rows} == {"6"}
    groups = _table(blocks, "By group of items")
    assert sum(int(cells[1]) for cells in groups.rows) == 6
