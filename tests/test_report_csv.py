"""Rows for a spreadsheet: each count's items and places, read again by the csv library.

Sources: RFC 4180 (quotes, CRLF); OWASP, "CSV Injection", and OWASP ASVS 5.0, 1.2.10 (formulas).
"""

import csv
import io
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from cases import CLOSING, FINAL, INITIAL, begun, case_of
from cases import told as spoken
from made_facts import AT, case, chain, difference, item, item_sum, told
from made_facts import count as held
from second_fold import read
from test_report_gather import facts_of as facts_at
from test_report_gather import played, played_at_random

from voicecount.commands.journals import CODEC
from voicecount.commands.verify import check
from voicecount.keep.reading import load_whole_part
from voicecount.report.csv_out import NOT_HELD, WAIVED, cell, header, labels, rows, text
from voicecount.report.facts import CaseFacts, PlannedFacts, StepFacts
from voicecount.report.gather import gather
from voicecount.report.many import ENDS

ROOT = Path(__file__).parents[1]
GOLDEN = ROOT / "tests" / "golden"


def facts_of(name: str, *given: tuple[str, str]) -> CaseFacts:
    """Gather a journal."""
    path = GOLDEN / f"{name}.vcj"
    reading = check(load_whole_part(path, CODEC)).reading
    return gather(path.name, reading, given=given, made="", made_by="test 1")


WHOLE = facts_of("whole_case_2026_11_26", ("Theatre", "4"), ("Case", "=cmd|' /C calc'!A0"))
OLD = facts_of("every_kind_0_1_0", ("Ward", "7"), ("Ward", "8"))


def small(**more: Any) -> CaseFacts:
    """Make a case of two items."""
    return case(chain("0" * 64), items=(item("lap"), item("tip")), **more)


def again(*cases: CaseFacts) -> list[dict[str, str]]:
    """Read the text of cases as a spreadsheet does."""
    return list(csv.DictReader(io.StringIO(text(*cases), newline=""), strict=True))


def test_every_item_of_every_count_has_a_row_and_its_places() -> None:
    """Each number is that of the facts; the places of an item add up to it."""
    found = again(WHOLE)
    left = iter(found)
    for count in WHOLE.counts:
        for one in count.sums:
            row = next(left)
            assert (row["count"], row["item"], row["row"]) == (str(count.number), one.item, "item")
            assert row["place"] == ""
            for name in ("counted", "expected", "inside", "tucked", "off"):
                value = getattr(one, name)
                assert row[name] == ("" if value is None else str(value))
            assert row["confirmed"] == ("yes" if one.confirmed else "no")
            places = [next(left) for _ in one.places]
            assert [(row["place"], row["counted"]) for row in places] == [
                (place, "" if n is None else str(n)) for place, n in one.places
            ]
            assert {row["row"] for row in places} <= {"place"}
            assert not places or sum(int(row["counted"]) for row in places) == one.counted
            for row in places:
                assert (row["expected"], row["inside"], row["tucked"], row["off"]) == ("",) * 4
                assert (row["found"], row["settled"], row["reason"]) == ("",) * 3
    assert next(left, None) is None


def test_a_row_tells_of_its_case_count_and_record() -> None:
    """The closing count of the whole case: one needle short, found on the floor."""
    (row,) = [
        row
        for row in again(WHOLE)
        if (row["count_id"], row["item"], row["row"]) == ("closing", "suture_needle", "item")
    ]

    assert (row["counted"], row["expected"], row["off"], row["confirmed"]) == (
        "5",
        "6",
        "-1",
        "yes",
    )
    assert (row["found"], row["settled"]) == ("1", "found")
    assert (row["result"], row["kind"], row["title"]) == ("reconciled", "closing", "closing count")
    assert (row["name"], row["group"], row["flags"]) == ("suture needle", "sharps", "recounted")
    assert (row["chain_whole"], row["head"]) == ("yes", "fb9c299b")
    assert row["opened"].startswith("2026-11-26T02:45:26")
    assert row["opened"].endswith("+00:00")
    assert row["finished"]
    assert (row["case"], row["journal"]) == (WHOLE.title, WHOLE.journal)


def test_a_place_is_confirmed_by_itself() -> None:
    """One place that the other person did not answer is marked; the item then is not either."""
    count = WHOLE.counts[2]
    at = next(at for at, line in enumerate(count.lines) if line.place == "mayo")
    lines = [
        line.model_copy(update={"confirmed": line.confirmed and number != at})
        for number, line in enumerate(count.lines)
    ]
    changed = WHOLE.model_copy(
        update={"counts": (count.model_copy(update={"lines": tuple(lines)}),)}
    )
    item = count.lines[at].item
    mine = [row for row in again(changed) if (row["item"], row["row"]) == (item, "place")]

    assert [(row["place"], row["confirmed"]) for row in mine] == [
        *(("field", "yes"), ("mayo", "no")),
        *(("back_table", "yes"), ("off_field", "yes")),
    ]


def test_what_was_not_counted_has_no_number() -> None:
    """An empty cell is not a nought; a count of the first version has no result."""
    row = next(row for row in again(OLD) if row["item"] == "gauze")

    assert (row["counted"], row["off"], row["confirmed"], row["result"]) == ("", "", "no", "")
    assert row["expected"] == "20"


def test_labels_of_several_cases_share_a_header() -> None:
    """Each label is one column; what a case was not given is empty there."""
    found = again(WHOLE, OLD)

    assert labels(WHOLE, OLD) == ("Theatre", "Case", "Ward")
    assert header(labels(WHOLE, OLD))[:5] == [
        *("case", "journal", "given Theatre", "given Case"),
        "given Ward",
    ]
    assert (found[0]["given Theatre"], found[0]["given Ward"]) == ("4", "")
    assert (found[-1]["given Theatre"], found[-1]["given Ward"]) == ("", "7; 8")
    assert len(found) == len(list(rows(WHOLE))) + len(list(rows(OLD)))
    assert {len(row) for row in rows(WHOLE)} == {len(header(labels(WHOLE)))}


@pytest.mark.parametrize("first", ["=", "+", "-", "@", "\t", "\r"])
def test_text_is_never_a_formula(first: str) -> None:
    """The characters are those that OWASP names; the apostrophe is their remedy."""
    shown = " " if first.isspace() else first
    assert cell(f"{first}1+1") == f"'{shown}1+1"
    assert first.isspace() or cell(f" \u2028{first}1+1") == f"'  {first}1+1"
    assert cell(f"a{first}b") == f"a{shown}b"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("12\u202e34", "12[U+202E]34"),
        ("a\u2066b\u2069", "a[U+2066]b[U+2069]"),
        ("\u200e\u061c\ufeff\u00ad", "[U+200E][U+061C][U+FEFF][U+00AD]"),
        ("a\x00b\x1b[31m", "a[U+0000]b[U+001B][31m"),
        ("two\r\nlines\tand \u0085", "two  lines and  "),
        ("שלום é 日本 😀", "שלום é 日本 😀"),
    ],
)
def test_what_cannot_be_seen_is_a_mark(text: str, shown: str) -> None:
    """What turns the reading direction could show a number the other way round (UAX 9)."""
    assert cell(text) == shown
    assert cell(cell(text)) == shown


def test_names_that_steer_are_marks_in_every_column() -> None:
    """Titles, names and what was given come from outside."""
    odd = "\u202eodd\u2067"
    items = tuple(item.model_copy(update={"name": odd}) for item in WHOLE.items)
    counts = tuple(one.model_copy(update={"title": odd}) for one in WHOLE.counts)
    facts = WHOLE.model_copy(
        update={
            "title": odd,
            "journal": odd,
            "items": items,
            "counts": counts,
            "given": ((odd, odd),),
        }
    )
    out = text(facts)

    assert not {"\u202e", "\u2067"} & set(out)
    (first, *_) = again(facts)
    for name in ("case", "journal", "title", "name", "given [U+202E]odd[U+2067]"):
        assert first[name] == "[U+202E]odd[U+2067]"


def test_a_formula_that_was_given_is_text() -> None:
    """It is read back with its apostrophe, its quotes whole."""
    assert again(WHOLE)[0]["given Case"] == "'=cmd|' /C calc'!A0"


def test_numbers_stay_numbers() -> None:
    """A difference below zero begins with a minus and is no text."""
    assert (cell(-1), cell(0), cell(None), cell(True), cell(False)) == ("-1", "0", "", "yes", "no")
    assert cell("-1") == "'-1"


def test_the_form_is_that_of_rfc_4180() -> None:
    """CRLF ends every line, quotes stand around every cell and are doubled inside one."""
    odd = WHOLE.model_copy(update={"title": 'Two "quotes", a comma and a line'})
    out = text(odd)

    assert out.startswith('"case","journal",')
    assert out.endswith('"\r\n')
    assert out.count("\r\n") == out.count("\n") == 1 + len(list(rows(odd)))
    assert '"Two ""quotes"", a comma and a line",' in out
    assert again(odd)[0]["case"] == odd.title


# What came of a difference


def step(name: str, found: int = 0, n: int | None = None) -> StepFacts:
    return StepFacts(when=AT, step=name, answer="done", found=found, n=n)


@pytest.mark.parametrize(
    ("steps", "end", "shown"),
    [
        ((), {}, ("0", "open")),
        ((step("search", 2),), {}, ("2", "open")),
        ((), {"settled": "found", "n": 3}, ("3", "found")),
        ((step("search", 2),), {"settled": "found", "n": 1}, ("3", "found")),
        # counted again with those that were found before: they are in that number
        ((step("search", 2), step("recount", n=9)), {"settled": "found", "n": 1}, ("1", "found")),
        ((step("search", 2), step("recount", n=10)), {"settled": "recounted"}, ("0", "recounted")),
        ((step("recount", n=8), step("search", 1)), {"settled": "not_found"}, ("1", "not_found")),
        ((), {"settled": "not_found", "off_now": 2}, ("0", "too_many")),
        ((), {"settled": "explained"}, ("0", "explained")),
    ],
)
def test_what_came_of_a_difference_stands_beside_it(
    steps: tuple[StepFacts, ...], end: dict[str, Any], shown: tuple[str, str]
) -> None:
    """The item stays short as it was counted; what was found, and how it ended, stand there too."""
    one = difference(1, "lap", **{"off": -3, "off_now": -1, "steps": steps, **end})
    sums = (item_sum("lap", counted=7, off=-3), item_sum("tip"))
    facts = small(counts=(held(1, sums=sums), held(2, sums=sums)), discrepancies=(one,))
    found = {(row["count"], row["item"]): row for row in again(facts)}

    mine = found["1", "lap"]
    assert (mine["off"], mine["found"], mine["settled"]) == ("-3", *shown)
    for key in (("1", "tip"), ("2", "lap"), ("2", "tip")):
        assert (found[key]["found"], found[key]["settled"]) == ("", "")


def test_several_differences_of_one_item() -> None:
    """All ends are told; the pieces of an item that were found are no items."""
    facts = small(
        counts=(held(1, sums=(item_sum("lap", counted=9, off=-1),)),),
        discrepancies=(
            difference(1, "lap", off=-1, off_now=0, settled="recounted"),
            difference(2, "lap", off=-1, off_now=-1, settled="found", n=1, differs="piece"),
            difference(3, "lap", off=-1, off_now=-1, settled="found", n=1),
            difference(4, "lap", off=-1, off_now=-1, count=0),
        ),
    )
    (row,) = again(facts)

    assert (row["found"], row["settled"]) == ("1", "recounted found found")


def test_a_difference_of_pieces_alone_has_no_number() -> None:
    facts = small(
        counts=(held(1, sums=(item_sum("lap"),)),),
        discrepancies=(
            difference(1, "lap", off=-1, off_now=-1, settled="found", n=1, differs="piece"),
        ),
    )
    (row,) = again(facts)

    assert (row["off"], row["found"], row["settled"]) == ("0", "", "found")


def test_what_is_missing_at_a_place_stands_with_the_place() -> None:
    """Fewer off the field than were passed off: the sum of all places is not short."""
    one = item_sum("lap", places=(("field", 6), ("off_field", 4)))
    facts = small(
        counts=(held(1, sums=(one,)),),
        discrepancies=(
            difference(
                *(1, "lap"),
                off=-1,
                off_now=-1,
                settled="found",
                n=1,
                differs="place",
                place="off_field",
            ),
        ),
    )
    found = [(row["place"], row["found"], row["settled"]) for row in again(facts)]

    assert found == [("", "", ""), ("field", "", ""), ("off_field", "1", "found")]


# Planned counts that were not done


def test_planned_counts_that_were_not_done_have_a_row() -> None:
    """Waived ones with when and why, then those that nobody held or waived."""
    plan = (
        PlannedFacts(id="skin", title="skin count", kind="final", leaves_out=(), unless_open=False),
        PlannedFacts(id="end", title="end count", kind="final", leaves_out=(), unless_open=False),
    )
    facts = small(
        plan=plan,
        counts=(held(3, id="skin", kind="final", title="skin count", result="not_done"),),
        happenings=(
            told(AT, "count_waived", title="skin count", reason="life_threatening", count=3),
            told(AT, "count_waived", title="of an old sheet", reason="=1+1", count=3),
            told(AT, "stood_by"),
        ),
        due=("end count", "another count"),
    )
    found = again(facts)

    names = ("count", "count_id", "kind", "title", "row", "result", "reason", "finished")
    assert [tuple(row[name] for name in names) for row in found] == [
        ("3", "skin", "final", "skin count", "count", "waived", "life_threatening", AT.wall),
        ("", "", "", "of an old sheet", "count", "waived", "'=1+1", AT.wall),
        ("", "end", "final", "end count", "count", "not_held", "", ""),
        ("", "", "", "another count", "count", "not_held", "", ""),
    ]
    for row in found:
        told_too = {*names, "case", "journal", "chain_whole", "head"}
        assert not any(value for name, value in row.items() if name not in told_too)
        assert (row["case"], row["chain_whole"], row["head"]) == ("Small case", "yes", "0" * 8)


def test_a_waiver_of_a_case_as_it_is_played(tmp_path: Path) -> None:
    """Both say that the closing count cannot be held now; nobody holds the final count."""
    play = begun(case_of(plan=(INITIAL, CLOSING, FINAL)))
    spoken(play, "we cannot count now", "life is in danger", agreed="yes that is right")
    found = [row for row in again(played(play, tmp_path)) if row["row"] == "count"]

    assert [(row["title"], row["result"], row["reason"]) for row in found] == [
        ("closing count", "waived", "life_threatening"),
        ("final count", "not_held", ""),
    ]
    assert [row["finished"] == "" for row in found] == [False, True]


def test_rows_of_random_cases_against_their_raw_lines(tmp_path: Path) -> None:
    """Each waiver has its row, each difference of a count its end beside the item or the place."""
    seen = 0
    for seed in range(12):
        path = played_at_random(seed, tmp_path / str(seed))
        raw, found = read(path), again(facts_at(path))
        waived = [(one["title"], one["reason"]) for one in raw if one["kind"] == "count_waived"]
        rows_of = [row for row in found if row["result"] == "waived"]
        assert [(row["title"], row["reason"]) for row in rows_of] == waived, seed

        ends: Counter[tuple[str, str, str]] = Counter()
        closed = {one["discrepancy"]: one for one in raw if one["kind"] == "discrepancy_closed"}
        number = 1
        for one in raw:
            number = one["number"] if one["kind"] == "count_opened" else number
            if one["kind"] == "discrepancy_opened":
                end = closed.get(one["number"], {}).get("settled", "open")
                ends[str(number), one["item"], end] += 1
        told_of: Counter[tuple[str, str, str]] = Counter()
        for row in found:
            for end in row["settled"].split():
                of = "not_found" if end == "too_many" else end
                told_of[row["count"], row["item"], of] += 1
        assert told_of <= ends, seed  # those between counts are in no row
        seen += told_of.total()
    assert seen > 10


def test_the_page_explains_every_column() -> None:
    """docs/report.md names each one, and each code that only this table has."""
    page = (ROOT / "docs" / "report.md").read_text(encoding="utf-8")
    mine = page.split("## CSV")[1].split("\n## ")[0]
    for name in (*header(), "item", "place", "count", WAIVED, NOT_HELD, *ENDS):
        assert f"`{name}`" in mine
