"""The printed record as blocks: what is in it, in which order, in which words."""

import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from cases import TEAM, begun, case_of, placed
from cases import told as told_aloud
from made_facts import inside, item_sum
from playing import Play
from pydantic import ValidationError
from report_facts import (
    GOLDEN,
    HARMLESS,
    HOSTILE,
    REASSURING,
    case,
    chain,
    count,
    damaged,
    golden,
    hostile,
    item,
    long_case,
    planned,
    told,
    whole,
)
from test_report_gather import played

from voicecount.report import words
from voicecount.report.blocks import (
    Facts,
    Heading,
    Notice,
    Signatures,
    Table,
    Title,
    as_data,
    every_page,
    title_of,
)
from voicecount.report.facts import CaseFacts, DiscrepancyFacts, Moment
from voicecount.report.pages import pages as draw_pages
from voicecount.room import TOLD_BEFORE
from voicecount.show.verify_out import LIMIT

pages = cache(draw_pages)
"""Facts are values: the same ones need to be drawn once only."""

SECTIONS = [
    "What this record is",
    "The case at a glance",
    "The case over time",
    "People",
    "Counts",
    "Additions and incidents",
    "Differences",
    "Items in the patient",
    "Counts not held",
    "Sound of the room",
    "Software and sheet",
    "How it can be checked",
    "All records",
    "Signatures",
]
"""The order of the brief for this record (no outside source)."""


def strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for name, one in value.items():
            if name not in {"block", "svg", "made", "lang"}:
                yield from strings(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from strings(one)


def text_of(facts: CaseFacts) -> str:
    return "\n".join(strings(as_data(pages(facts))))


def table(facts: CaseFacts, title: str) -> Table:
    found = [b for b in pages(facts) if isinstance(b, Table) and b.title == title]
    assert len(found) == 1, title
    return found[0]


def pairs(facts: CaseFacts, after: str) -> dict[str, str]:
    """Give the facts that follow a heading."""
    blocks = list(pages(facts))
    at = next(n for n, b in enumerate(blocks) if isinstance(b, Heading) and b.text == after)
    return dict(next(b for b in blocks[at:] if isinstance(b, Facts)).pairs)


@pytest.mark.parametrize("facts", [case(), whole(), damaged(), golden(), long_case()])
def test_the_order_is_always_the_same(facts: CaseFacts) -> None:
    blocks = pages(facts)
    assert isinstance(blocks[0], Title)
    assert [b.text for b in blocks if isinstance(b, Heading) and b.level == 1] == SECTIONS
    assert isinstance(blocks[-1], Signatures)


def test_what_the_user_gave_stands_first() -> None:
    title, first = pages(whole())[:2]
    assert isinstance(title, Title)
    assert isinstance(first, Facts)
    assert title.text == "Caesarean, invented"
    assert first.pairs[:2] == (("Case", "K 2041"), ("Theatre", "4"))
    nothing = pages(case())[1]
    assert isinstance(nothing, Facts)
    assert "Nothing was given" in nothing.pairs[0][1]


def test_a_journal_that_does_not_verify_is_said_first_and_on_every_page() -> None:
    blocks = pages(damaged())
    notice = blocks[2]
    assert isinstance(notice, Notice)
    assert "line 42: its content does not fit its hash" in notice.text
    assert every_page(blocks) == [notice.every_page]
    assert "does not verify" in (notice.every_page or "")
    assert "≠ The journal does not verify" in pairs(damaged(), "How it can be checked")["Chain"]
    assert not every_page(pages(whole()))
    one = case(chain=chain(whole=False))
    assert every_page(pages(one)) == [
        "The journal does not verify: only the 1 record before the damage is in this document."
    ]
    assert "it is not whole" in text_of(one)


@pytest.mark.parametrize("facts", [case(), whole(), damaged(), golden(), long_case()])
def test_no_word_says_that_a_count_is_correct_or_safe(facts: CaseFacts) -> None:
    text = text_of(facts)
    for caution in (*facts.cautions, *HARMLESS):
        text = text.replace(caution, "")
    assert not REASSURING.findall(text)


def test_the_cautions_are_in_it() -> None:
    text = text_of(golden())
    assert "does not replace the team's own count, wound exploration or imaging" in text
    assert "safe to close" in text
    assert text.count(LIMIT) == 1
    assert LIMIT in text_of(case(cautions=()))


def test_how_it_can_be_checked() -> None:
    facts = golden()
    last = json.loads((GOLDEN / "whole_case_2026_11_26.vcj").read_bytes().splitlines()[-1])
    said = pairs(facts, "How it can be checked")
    assert said["Whole head"] == last["hash"]
    assert said["Eight digits"] == last["hash"][:8]
    # ICAO Annex 10, volume II: Foxtrot, Bravo, Charlie.
    assert said["Spoken"] == "foxtrot bravo nine charlie two nine nine bravo"
    assert said["Records"] == str(last["seq"]) == "201"
    assert "wall clock went back" in text_of(whole())


def test_typed_talk_is_not_called_heard() -> None:
    assert "nobody was heard" in text_of(case(recogniser="typed 0.1.0"))
    assert "nobody was heard" not in text_of(case(recogniser="embedded 0.1.0"))


def test_results_are_told_in_words_and_differences_with_a_sign() -> None:
    assert words.result("agrees", finished=True) == "Every line has the number expected."
    assert words.result("differs", finished=True) == "≠ Not reconciled."
    assert words.result("reconciled", finished=True).startswith("≠ ")
    assert words.result("baseline", finished=True) == "Every line has its number from both people."
    assert words.result(None, finished=True) == words.NO_RESULT
    assert words.result(None, finished=False) == words.NOT_FINISHED
    assert words.result("of_a_later_version", finished=True) == "of a later version"


def test_counts_at_a_glance() -> None:
    found = table(golden(), "Counts")
    assert [row[0] for row in found.rows] == ["1", "2", "3", "4", "5", "6"]
    assert found.rows[4][1] == "closing count"
    assert found.rows[4][5] == "≠ Reconciled after a difference."
    assert found.marked == (4,)
    assert table(whole(), "Counts").rows[4][4] == words.NONE


def test_differences_at_a_glance() -> None:
    found = table(whole(), "Differences")
    assert [row[0] for row in found.rows] == ["≠ 1", "≠ 2", "≠ 3"]
    assert [row[5] for row in found.rows] == ["−2", "+1", "−1"]
    assert [row[6] for row in found.rows] == ["−1", "+1", "−1"]  # one was found in between
    assert found.rows[1][2] == "outside of a count"
    assert found.marked == (0, 1)
    notices = [b.title for b in pages(whole()) if isinstance(b, Notice)]
    assert notices == [
        "≠ 1 difference open at the end",
        "≠ Closed without the item",
        "≠ 1 planned count waived",
        "The record was not ended",
    ]
    assert not [b for b in pages(golden()) if isinstance(b, Notice)]


def test_a_difference_always_tells_how_it_stands_last() -> None:
    """There is no number that stands in for one that was not given: it would be a guess."""
    values = whole().discrepancies[0].model_dump()
    assert DiscrepancyFacts(**values).off_now == -1
    for name in ("off", "off_now"):
        with pytest.raises(ValidationError, match=name):
            DiscrepancyFacts(**{key: n for key, n in values.items() if key != name})


def test_what_was_closed_is_judged_by_how_it_stood_then() -> None:
    """What came up as too many and was one short at its end is missing, and the other way round."""
    short, over, _ = whole().discrepancies
    was_over = short.model_copy(update={"off": 2, "off_now": -1})
    was_short = over.model_copy(
        update={"off": -2, "off_now": 1, "settled": "not_found", "closed": short.closed}
    )
    facts = whole(discrepancies=(was_over, was_short))
    found = table(facts, "Differences")
    notices = {b.title: b.text for b in pages(facts) if isinstance(b, Notice)}

    assert [row[5:7] for row in found.rows] == [("+2", "−1"), ("−2", "+1")]
    assert "without the item" in found.rows[0][7]
    assert "too many, not explained" in found.rows[1][7]
    assert notices["≠ Closed without the item"].startswith("lap sponge, 1 short, count 3")
    assert notices["≠ Closed with too many, not explained"].startswith("bulldog clamp, 1 too many")
    said = pairs(facts, "≠ Difference 1: lap sponge")
    assert said["When both closed it"] == "1 short"
    assert "When the record ends" not in said
    assert pairs(whole(), "≠ Difference 2: bulldog clamp")["When the record ends"] == "1 too many"


def test_the_words_of_initial_and_of_what_was_heard_are_true() -> None:
    """An initial number holds what was in the patient; what was heard is written at count ends.

    Sources: Account.initial in count/account.py, and TOLD_BEFORE in room.py.
    """
    note = table(whole(), "Every line of the sheet when the record ends").note
    glance = pairs(whole(), "The case at a glance")
    sound = pairs(whole(), "Sound of the room")

    assert "with what was in the patient then" in note
    assert "whole case" not in glance["Asked again"]
    assert glance["Asked again"].endswith(words.HEARD_UP_TO)
    assert sound["Up to"] == words.HEARD_UP_TO
    assert glance["Asked again"].startswith("13 of 233 utterances, up to")
    # every utterance is taken, asked again, or left aside: talk/so_far.py counts each once
    assert sound["Heard"].startswith("233 utterances")
    parts = ("Taken", "Asked again", "Left aside as talk or noise")
    assert [sound[part] for part in parts] == ["120 of 233", "13 of 233", "100 of 233"]
    for text in ("count was finished", "record ended", "just before a crash"):
        assert text in words.HEARD_UP_TO
    assert {event.__name__ for event in TOLD_BEFORE} == {"CountFinished", "CaseClosed"}


def test_every_time_of_day_has_its_zone() -> None:
    """A time of day is in a column whose head names UTC, or has UTC beside it."""
    for one in pages(whole()):
        if isinstance(one, Table):
            columns = zip(one.columns, zip(*one.rows, strict=True), strict=True)
            timed = [column for column, cells in columns if any(map(_OF_DAY.search, cells))]
            assert all(column.head.endswith("(UTC)") for column in timed), one.title
        elif isinstance(one, Facts):
            for label, text in one.pairs:
                assert len(_OF_DAY.findall(text)) == text.count(" UTC"), label
    assert pairs(whole(), "Count 1: initial count")["Held"] == (
        "07:40:30 UTC (0:30) to 07:45:00 UTC (5:00)"
    )


_OF_DAY = re.compile(r"\b\d\d:\d\d:\d\d\b")


def test_what_is_in_the_patient_is_told_apart_at_a_glance() -> None:
    """What was left on purpose and what was tucked in are never one number."""
    glance = pairs(whole(), "The case at a glance")
    assert glance["Items in the patient"] == (
        "2 left on purpose, ≠ 1 tucked in, never told to be out"
    )
    left = case(in_patient=(inside("gone", 3), inside("gone", 1, site="chest")))
    assert pairs(left, "The case at a glance")["Items in the patient"] == "4 left on purpose"


def test_what_there_is_none_of_is_said_in_words() -> None:
    """A dash alone could be taken for something that was not looked at."""
    glance = pairs(case(), "The case at a glance")
    assert glance["Planned, waived"] == glance["Unlike the sheet"] == "none"
    assert glance["Planned, not held"] == "the record holds no plan"
    assert pairs(case(plan=(PLANNED,)), "The case at a glance")["Planned, not held"] == "none"
    assert glance["Ended by both"] == "not ended by both"
    assert glance["Items in the patient"] == "none was told"
    assert pairs(case(), "People")["Named by the sheet"] == "nobody"


PLANNED = planned("initial", "initial count", "initial")


def test_what_was_waived_stands_at_a_glance() -> None:
    """The most important line of a record in which nobody counted at the end."""
    (notice,) = (b for b in pages(whole()) if isinstance(b, Notice) and b.title.endswith("waived"))
    assert notice.text == "skin count, life is in danger (told by, agreed by: scrub, –)."
    assert pairs(whole(), "The case at a glance")["Planned, waived"] == "skin count"


def test_planned_counts_that_nobody_held_are_told_once_a_case_is_over() -> None:
    over = whole(closed=whole().ended)
    told_of = {b.title: b.text for b in pages(over) if isinstance(b, Notice)}
    assert told_of["≠ 1 planned count not held"] == "skin count. Nobody gave a reason."
    assert "≠ 1 planned count not held" not in {
        b.title for b in pages(whole()) if isinstance(b, Notice)
    }


def test_an_initial_count_unlike_the_sheet_is_told_as_such() -> None:
    """It is no difference of a later count, and is never passed over."""
    five = item("lap_sponge", "lap sponge", initial=5, expected=5)
    first = count(1, 30, 300, differing=("lap_sponge",))
    facts = case(items=(five, item("needle", "suture needle")), counts=(first,))
    glance = pairs(facts, "The case at a glance")
    ledger = table(facts, "Every line of the sheet when the record ends")

    assert glance["Unlike the sheet"] == "≠ lap sponge (initial 5, sheet 10)"
    assert ledger.marked == (0,)
    assert [row[1:3] for row in ledger.rows] == [("10", "≠ 5"), ("10", "10")]
    assert table(facts, "Counts").marked == (0,)
    assert pairs(facts, "Count 1: initial count")["What it came to"] == (
        "≠ Every line has its number from both people. Unlike the sheet: lap sponge."
    )
    assert "Initial numbers unlike the sheet: ≠ lap sponge" in text_of(facts)


def test_what_a_count_leaves_out_stands_with_what_it_came_to() -> None:
    said = pairs(whole(), "Count 3: closing count")["What it came to"]
    assert said == "≠ Not reconciled. Not in it: bulldog clamp."
    assert table(whole(), "Counts").rows[2][5] == said


def test_who_was_scrub_and_circulator_when() -> None:
    found = table(whole(), "Who was scrub and circulator")
    assert [row[:2] for row in found.rows] == [
        ("scrub", "not named"),
        ("circulator", "Robin"),
        ("circulator", "Taylor"),
        ("scrub", "guest, for a break"),
        ("scrub", "not named"),
    ]
    assert found.rows[1][2:] == ("07:40:00 (0:00)", "08:00:00 (20:00)")
    assert found.rows[2][3] == "the record's end"


def test_a_count_names_who_held_it_where_anybody_is_named(tmp_path: Path) -> None:
    """Those who had the role at some time from its opening to its last answer."""
    facts = played(named_case(), tmp_path)
    first, relief = (pairs(facts, f"Count {one.number}: {one.title}") for one in facts.counts)

    assert first["Scrub"] == "Ada Field"
    assert "Circulator" not in first
    assert relief["Scrub"] == "Ben Moss"


def named_case() -> Play:
    """Ada Field counts first; Ben Moss takes over, with a count at the change."""
    sheet = case_of(team=TEAM)
    play = called_in(begun(sheet), "the scrub is changing", "Ada Field", "Ben Moss")
    return play.go(*placed(sheet, {"lap": (10, 0, 0, 0)}))


def called_in(play: Play, *words_: str) -> Play:
    return told_aloud(play, *words_, agreed="yes that is right")


def test_a_case_whose_clocks_part_says_how_long_both_were() -> None:
    """A replay, or a clock that was set: 10 s by the one, an hour and a half by the other."""
    began = whole().began
    fast = whole(ended=began.model_copy(update={"at": 10.0, "wall": whole().ended.wall}))
    back = whole(ended=began.model_copy(update={"at": 60.0}), began=whole().ended)
    assert pairs(whole(), "The case at a glance")["Lasted"] == "1:30:00 on the case's clock"
    assert pairs(fast, "The case at a glance")["Lasted"] == (
        "0:10 on the case's clock, 1:30:00 by the time of day"
    )
    assert "set back meanwhile" in pairs(back, "The case at a glance")["Lasted"]


def test_what_is_left_of_several_says_so() -> None:
    found = table(whole(), "Items in the patient when the record ends")
    assert found.rows[0][1] == "2 of 3"
    assert "nobody said which" in found.note
    assert (
        "nobody said which"
        not in table(
            whole(in_patient=whole().in_patient[1:]), "Items in the patient when the record ends"
        ).note
    )


def test_everybody_who_held_a_role_signs_once() -> None:
    """Outgoing and incoming both sign (AORN 2006, at relief); who comes back signed already."""
    block = pages(whole())[-1]
    assert isinstance(block, Signatures)
    assert block.people == (
        ("Scrub", ""),
        ("Scrub from 21:40", "guest"),
        ("Circulator", "Robin"),
        ("Circulator from 20:00", "Taylor"),
        ("Surgeon", ""),
        ("", ""),
    )
    said = dict(block.pairs)
    assert said["Differences open, or closed without the item"].startswith("≠ lap sponge, 1 short")
    assert said["Planned counts waived or not held"] == (
        "≠ skin count (waived), skin count (not held)"
    )
    assert said["Items in the patient"].startswith("2 left on purpose, ≠ 1 tucked in")
    assert said["Eight digits of the head"] == whole().chain.digits
    nobody = pages(case())[-1]
    assert isinstance(nobody, Signatures)
    assert nobody.people[:2] == (("Scrub", ""), ("Circulator", ""))


def test_what_the_case_is_told_by_stands_on_every_page() -> None:
    """A page that goes astray can be matched; a long text is cut."""
    assert title_of(pages(whole())).case == "Case K 2041, Theatre 4"
    assert title_of(pages(case())).case == ""
    assert len(title_of(pages(case(given=(("Case", "x" * 200),)))).case) == 60


def test_groups_of_the_sheet_part_its_lines() -> None:
    """Lines are counted by groups; one group alone needs no name."""
    facts = case(
        items=(item("lap", "lap sponge"), item("k", "Kelly clamp", group="instruments")),
        counts=(count(1, 30, 300, sums=(item_sum("lap"), item_sum("k"))),),
    )
    begin = ((0, "sponges"), (1, "instruments"))
    assert table(facts, "Every line of the sheet when the record ends").groups == begin
    assert table(facts, "Sums of count 1").groups == begin
    assert table(whole(), "Sums of count 1").groups == ()


def test_a_time_of_another_day_has_its_day() -> None:
    at_night = Moment(record=2, at=7200.0, wall="2026-03-03T00:08:05+00:00")
    same_day = Moment(record=2, at=60.0, wall="2026-03-03T00:08:05+00:00")
    assert words.both_times(at_night) == "2026-03-03 00:08:05 (2:00:00)"
    assert words.zoned(same_day) == "00:08:05 UTC (1:00)"


def test_the_ledger_adds_up() -> None:
    # The rule of docs/case.md: initial + added + changed + explained - handed over.
    found = table(golden(), "Every line of the sheet when the record ends")
    assert [row[0] for row in found.rows][:2] == ["lap sponge", "suture needle"]
    for row in found.rows:
        initial, added, changed, explained, handed, expected = (
            int(cell.replace("−", "-")) for cell in row[2:8]
        )
        assert initial + added + changed + explained + handed == expected
    invented = table(whole(), "Every line of the sheet when the record ends").rows
    assert invented[0][6] == "−1"
    assert invented[0][9] == "2"
    assert invented[1][0] == "bulldog clamp, 2 pieces each"
    assert invented[2][1] == words.NONE


def test_every_stored_line_is_in_it_as_the_journal_has_it() -> None:
    facts = golden()
    lines = (GOLDEN / "whole_case_2026_11_26.vcj").read_bytes().splitlines()
    stored = [
        one["payload"] for one in map(json.loads, lines) if one["kind"] == "line_stored"
    ]  # read past all code of this package
    rows = {
        row[0]: dict(zip((c.head for c in b.columns), row, strict=True))
        for b in pages(facts)
        if isinstance(b, Table) and b.title.startswith("Lines of count")
        for row in b.rows
    }
    assert len(rows) == len(stored) == 88
    for one in stored:
        row = rows[str(one["line"])]
        assert row["Counts"] == str(one["counted"])
        assert int(re.findall(r"\d+", row["Heard"])[-1]) == one["numbers"][-1]
    assert rows["49"]["At the end"] == "stands no longer: to be counted again"
    assert rows["53"]["How"] == "one by one; counted again"


def test_sums_stand_line_by_line_and_place_by_place() -> None:
    found = table(golden(), "Sums of count 5")
    heads = [c.head for c in found.columns]
    assert heads[1:5] == ["Field", "Mayo stand", "Back table", "Off the field"]
    assert dict(zip(heads, found.rows[1], strict=True))["Off"] == "≠ −1"
    assert found.marked == (1,)
    assert "Recounted: counted again; the record keeps both counts." in found.note
    inside = table(whole(), "Sums of count 3")
    row = dict(zip((c.head for c in inside.columns), inside.rows[0], strict=True))
    assert (row["In patient"], row["Back table"], row["Off the field"]) == ("2", "–", "–")
    many = table(whole(), "Sums of count 4").rows[0]
    assert many[1].startswith("wound 2, field 2, Mayo stand 2")


def test_what_a_count_left_open_is_told() -> None:
    said = pairs(whole(), "Count 1: initial count")
    assert said["Not counted"] == "bulldog clamp"
    assert said["Not confirmed"] == "suture needle"
    assert said["On the way"] == (
        "1 call not stored, 2 disputes, 1 line counted again, 1 interruption"
    )
    assert pairs(whole(), "Count 3: closing count")["≠ Differed at the end"] == "lap sponge"
    assert pairs(whole(), "Count 5: count")["Held"].endswith("not finished")
    rows = table(whole(), "Lines of count 1").rows
    assert [row[-1] for row in rows] == [
        "confirmed",
        "confirmed",
        "stands no longer: ≠ disputed",
        "not confirmed",
    ]
    assert rows[2][-2] == "1:22 circulator: ≠ 11"
    assert rows[1][-2] == "1:01"
    assert rows[2][2] == "–, 2 pieces"
    assert rows[3][-3:-1] == ("1:30", words.NONE)


def test_additions_and_incidents() -> None:
    added = table(whole(), "Called as added")
    assert added.rows == (
        ("07:50:20 (10:20)", "2", "5", "lap sponge", "5", "scrub", "confirmed 10:21 circulator"),
        ("07:50:30 (10:30)", "2", "8", "suture needle", "2", "scrub", "≠ not confirmed"),
    )
    assert added.marked == (1,)
    rows = table(whole(), "What happened").rows
    assert rows[1][4] == "left in the patient on purpose; in the pelvis; comes out on the ward"
    assert "printed on it: 5" in rows[2][4]
    assert rows[2][5] == "–, scrub"
    assert rows[3][1] == "3"
    assert rows[4][2] == words.NONE
    assert [row[4] for row in rows[5:]] == ["standing by: nothing is taken", "listening again"]
    assert "Nothing was added" in text_of(case())


def test_every_step_of_a_difference() -> None:
    rows = table(whole(), "Steps of difference 1").rows
    assert [row[1:] for row in rows] == [
        ("closing pauses", "–", "done", "circulator"),
        ("both count again", "–", "done; counted 12", "–"),
        ("search", "floor", "found; 1 found", "–"),
        ("imaging", "–", "nothing seen on the image; read by the radiologist", "–"),
        ("imaging", "–", "not done; the patient is too ill for it", "–"),
    ]
    first = pairs(whole(), "≠ Difference 1: lap sponge")
    assert first["How it ended"].startswith("≠ closed by both without the item: not found; an im")
    assert first["Open for"] == "5:00 on the case's clock"
    second = pairs(whole(), "≠ Difference 2: bulldog clamp")
    assert second["How it ended"] == "≠ open: nobody closed it"
    assert second["Place"] == "Mayo stand"
    assert "1 too many" in second["What differs"]
    third = pairs(whole(), "≠ Difference 3: suture needle")
    assert third["How it ended"] == "closed by both: found (1, floor)"
    assert "in count 4" in third["Came up"]


def test_a_difference_of_a_count_that_is_not_here_and_one_that_was_too_many() -> None:
    over = whole().discrepancies[1].model_copy(update={"settled": "not_found", "count": 77})
    said = pairs(whole(discrepancies=(over,)), "≠ Difference 2: bulldog clamp")
    assert said["How it ended"] == "≠ closed by both: too many, not explained"
    assert said["Came up"].endswith("in count 77")
    assert words.settled("of_a_later_version", 1) == "of a later version"


def test_items_in_the_patient_with_their_removal() -> None:
    found = table(whole(), "Items in the patient when the record ends")
    assert found.rows[0][2:5] == (
        "in the pelvis",
        "left on purpose",
        "comes out on the ward; no plan for it yet",
    )
    assert found.rows[1][2:5] == (
        "not said",
        "≠ tucked in, never told to be out",
        "nothing was said",
    )
    assert found.marked == (1,)


def test_counts_not_held() -> None:
    assert table(whole(), "Waived, with a reason").rows[0][1:] == (
        "skin count",
        "life is in danger",
        "scrub, –",
    )
    assert "Planned and not held: skin count." in text_of(whole())
    due = text_of(case(due=("final count",)))
    assert "Planned and not held: final count." in due
    assert "Waived" not in due
    waived = case(happenings=(told(5, "count_waived", reason="other_reason"),))
    assert "Planned and not held" not in text_of(waived)


def test_people() -> None:
    rows = table(whole(), "Changes of people").rows
    assert rows[0][1:] == ("circulator", "Robin", "Taylor", "to stay", "circulator, scrub")
    assert rows[1][2:] == ("not named", "guest", "for a break", words.NONE)
    assert rows[2][4] == "back from a break"
    assert "from the turn, not from the voice" in text_of(case(roles_told_apart=False))
    assert "No change of people was told." in text_of(case())


def test_sound_and_machine() -> None:
    assert len(table(whole(), "Sound checks, noise and microphones").rows) == 3
    assert table(whole(), "Asked to be said again").rows[1] == (
        "two readings were nearly as likely",
        "1",
    )
    silent = whole().heard
    assert silent is not None
    quiet = whole(heard=silent.model_copy(update={"asked": ()}))
    assert "Asked to be said again" not in text_of(quiet)
    said = pairs(whole(), "Software and sheet")
    assert said["Session 1"] == "records 1 to 30, voicecount 0.1.0"
    assert said["Session 2"] == "record 31, software not named"
    assert "Nothing of the sound is in the record." in text_of(case())


def test_all_records_are_listed() -> None:
    found = table(golden(), "Every record of the journal, in its order")
    assert [row[0] for row in found.rows] == [str(n) for n in range(1, 202)]


def test_a_count_without_sums_and_an_initial_line_without_a_number() -> None:
    facts = case(counts=(count(1, 0, 5, sums=(item_sum("gone", off=3),)),))
    assert table(facts, "Sums of count 1").rows[0][3] == "≠ +3"
    assert "Nothing was stored in it." in text_of(facts)


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_texts_like_others(name: str) -> None:
    blocks = pages(hostile(name))
    assert title_of(blocks).text == name
    assert [type(b) for b in blocks] == [type(b) for b in pages(hostile("plain"))]
