"""Rows for a spreadsheet: each count's items and places, read again by the csv library.

Sources: RFC 4180 (quotes, CRLF); OWASP, "CSV Injection", and OWASP ASVS 5.0, 1.2.10 (formulas).
"""

import csv
import io
from pathlib import Path

import pytest

from voicecount.commands.journals import CODEC
from voicecount.commands.verify import check
from voicecount.keep.reading import load_whole_part
from voicecount.report.csv_out import cell, header, labels, rows, text
from voicecount.report.facts import CaseFacts
from voicecount.report.gather import gather

GOLDEN = Path(__file__).parent / "golden"


def facts_of(name: str, *given: tuple[str, str]) -> CaseFacts:
    """Gather a journal."""
    path = GOLDEN / f"{name}.vcj"
    reading = check(load_whole_part(path, CODEC)).reading
    return gather(path.name, reading, given=given, made="", made_by="test 1")


WHOLE = facts_of("whole_case_2026_11_26", ("Theatre", "4"), ("Case", "=cmd|' /C calc'!A0"))
OLD = facts_of("every_kind_0_1_0", ("Ward", "7"), ("Ward", "8"))


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
    assert cell(f"{first}1+1") == f"'{first}1+1"
    assert cell(f"a{first}") == f"a{first}"


def test_a_formula_that_was_given_is_text() -> None:
    """It is read back with its apostrophe, its quotes whole."""
    assert again(WHOLE)[0]["given Case"] == "'=cmd|' /C calc'!A0"


def test_numbers_stay_numbers() -> None:
    """A difference below zero begins with a minus and is no text."""
    assert (cell(-1), cell(0), cell(None), cell(True), cell(False)) == ("-1", "0", "", "yes", "no")
    assert cell("-1") == "'-1"


def test_the_form_is_that_of_rfc_4180() -> None:
    """CRLF ends every line, quotes stand around every cell and are doubled inside one."""
    odd = WHOLE.model_copy(update={"title": 'Two "quotes", a comma\r\nand a line'})
    out = text(odd)

    assert out.startswith('"case","journal",')
    assert out.endswith('"\r\n')
    assert out.count("\r\n") == 1 + len(list(rows(odd))) * 2
    assert '"Two ""quotes"", a comma\r\nand a line",' in out
    assert again(odd)[0]["case"] == odd.title
