"""The tables of many records, by hand: no two numbers are alike, so none can stand for another."""

from collections import Counter

import pytest

from voicecount.report import words
from voicecount.report.blocks import Block, Facts, Points, Table
from voicecount.report.many import Held, Summary
from voicecount.report.many_figures import Times
from voicecount.report.many_pages import pages

INITIAL, CLOSING, ALL = "initial", words.KINDS["closing"], "all kinds together"


def _times(*seconds: int) -> Times:
    found = Times()
    for one in seconds:
        assert found.add(one)
    return found


def _summary() -> Summary:
    one = Summary()
    one.seen, one.cases, one.closed, one.roles_told_apart = 211, 200, 190, 170
    one.days = ("2026-03-02", "2026-03-09")
    one.kinds = {
        "closing": Held(
            *(50, 30, 7, Counter(agrees=19, differs=11), _times(60, 120, 240, 480, 960)),
            *(9, 23, 17, 410, 397, 383, 13, 21, 34, 12),
        ),
        "initial": Held(
            *(70, 40, 3, Counter(baseline=40), _times(100, 200, 300, 400, 600, 1000)),
            *(8, 27, 25, 520, 509, 491, 14, 22, 35, 16, 6),
        ),
    }
    one.sheet_lines = Counter(sponges=500, sharps=400, instruments=800, miscellaneous=250)
    one.differs = Counter(
        {("line", "sponges"): 5, ("place", "sharps"): 2, ("piece", "instruments"): 13}
    )
    one.ended = Counter(found=11, recounted=4, not_found=3, too_many=1, open=1)
    one.found_in = Counter({"closing": 15, "initial": 3, "outside of a count": 2})
    one.case_times = _times(150, 250, 350, 450, 550)
    one.resolving = _times(31, 32, 34, 38, 45)
    one.cases_with_difference, one.telling, one.utterances = 18, 40, 4000
    one.asked = Counter(close_call=60, clipped=20)
    one.left, one.cases_with_left = Counter(sponges=9, sharps=1), 7
    one.never_out, one.cases_never_out = 5, 4
    one.planned_held, one.waived, one.not_held = 85, 10, 5
    one.takeovers, one.breaks = Counter({0: 150, 1: 50}), Counter({0: 180, 2: 20})
    return one


BLOCKS: tuple[Block, ...] = pages(
    _summary(), title="Spring", made="2026-04-01T10:00:00+00:00", made_by="voicecount 1"
)
TABLES = {one.title: one for one in BLOCKS if isinstance(one, Table)}

COUNTS = {
    "Counts by kind": [
        (INITIAL, "70", "40", "3", "27", "16 of 70"),
        (CLOSING, "50", "30", "7", "13", "12 of 50"),
        (ALL, "120", "70", "10", "40", "28 of 120"),
    ],
}
SHARES = {
    "What finished counts came to": [
        (words.RESULTS["baseline"], "40", "70", "57.1 %"),
        (words.RESULTS["agrees"], "19", "70", "27.1 %"),
        (f"≠ {words.RESULTS['differs']}", "11", "70", "15.7 %"),
    ],
    "Counts with at least one interruption": [
        (INITIAL, "8", "70", "11.4 %"),
        (CLOSING, "9", "50", "18.0 %"),
        (ALL, "17", "120", "14.2 %"),
    ],
    "How often a difference came up": [
        ("cases", "18", "200", "9.0 %"),
        ("counts", "28", "120", "23.3 %"),
    ],
    "By what differed": [
        (words.DIFFERENCES["line"], "5", "20", "25.0 %"),
        (words.DIFFERENCES["place"], "2", "20", "10.0 %"),
        (words.DIFFERENCES["piece"], "13", "20", "65.0 %"),
    ],
    "Why it was asked": [
        (words.why_asked("clipped"), "20", "80", "25.0 %"),
        (words.why_asked("close_call"), "60", "80", "75.0 %"),
    ],
    "Planned counts that were not held": [
        ("waived, with a reason", "10", "100", "10.0 %"),
        ("neither held nor waived", "5", "100", "5.0 %"),
    ],
    "People who took over and stayed": [
        ("0", "150", "200", "75.0 %"),
        ("1", "50", "200", "25.0 %"),
    ],
    "People relieved for a break": [("0", "180", "200", "90.0 %"), ("2", "20", "200", "10.0 %")],
    "Cases with items in the patient at the record's end": [
        ("left on purpose", "7", "200", "3.5 %"),
        ("tucked in, and never told to be out", "4", "200", "2.0 %"),
    ],
}
RATES = {
    # 17 in 1860 s, 25 in 2600 s: 32.90 and 34.62 an hour; 42 in 4460 s: 33.90
    "Interruptions in finished counts": [
        (INITIAL, "25", "0.72", "34.62", "6"),
        (CLOSING, "17", "0.52", "32.90", "5"),
        (ALL, "42", "1.24", "33.90", "11"),
    ],
    "Calls that were refused": [
        (INITIAL, "14", "520", "2.69", "70"),
        (CLOSING, "13", "410", "3.17", "50"),
        (ALL, "27", "930", "2.90", "120"),
    ],
    "Lines that were disputed": [
        (INITIAL, "22", "520", "4.23", "70"),
        (CLOSING, "21", "410", "5.12", "50"),
        (ALL, "43", "930", "4.62", "120"),
    ],
    "Lines that were counted again": [
        (INITIAL, "35", "520", "6.73", "70"),
        (CLOSING, "34", "410", "8.29", "50"),
        (ALL, "69", "930", "7.42", "120"),
    ],
    "By group of items": [
        ("sponges", "5", "500", "1.00", "200"),
        ("sharps", "2", "400", "0.50", "200"),
        ("miscellaneous", "0", "250", "0.00", "200"),
        ("instruments", "13", "800", "1.62", "200"),
    ],
    "Questions to say something again": [("all reasons", "80", "4,000", "2.00", "40")],
}
TIMES = {
    "Time per finished count": [
        # quartiles of six: the second and a quarter on, the fourth and three quarters on
        (
            INITIAL,
            "6",
            "7 min 13 s",
            "5 min 50 s",
            "3 min 45 s to 9 min 10 s",
            "1 min 40 s to 16 min 40 s",
        ),
        (CLOSING, "5", "6 min 12 s", "4 min", "2 min to 8 min", "1 min to 16 min"),
        (
            "a whole case, its finished counts together",
            *(
                "5",
                "5 min 50 s",
                "5 min 50 s",
                "4 min 10 s to 7 min 30 s",
                "2 min 30 s to 9 min 10 s",
            ),
        ),
    ],
    "From a difference's coming up to its end": [
        ("closed by both", "5", "36 s", "34 s", "32 s to 38 s", "31 s to 45 s"),
    ],
}
ROWS = {**COUNTS, **SHARES, **RATES, **TIMES}


@pytest.mark.parametrize("title", ROWS)
def test_every_row_has_its_own_numbers(title: str) -> None:
    """A number of the wrong thing, or over the wrong base, looks like any other to a reader."""
    rows = [cells[:4] if title in SHARES else cells for cells in TABLES[title].rows]
    assert sorted(rows) == sorted(ROWS[title])


def test_no_table_is_left_out_here() -> None:
    """A new table would have no number that anybody worked out."""
    parts = {"By how they ended", "By the count in which they came up"}
    mine = {title for title in TABLES if "as published" not in title}
    assert mine == ROWS.keys() | parts


def test_parts_of_differences_by_hand() -> None:
    """Ends and counts in which they came up: each with its number, of all twenty."""
    ended = {cells[0]: cells[1:3] for cells in TABLES["By how they ended"].rows}
    assert [
        ended[words.SETTLED[one]] for one in ("found", "recounted", "not_found", "explained")
    ] == [*(("11", "20"), ("4", "20"), ("3", "20"), ("0", "20"))]
    assert (ended[words.TOO_MANY], ended[words.OPEN]) == (("1", "20"), ("1", "20"))
    came = {cells[0]: cells[1:3] for cells in TABLES["By the count in which they came up"].rows}
    assert (came[CLOSING], came[INITIAL]) == (("15", "20"), ("3", "20"))
    assert came["outside of a count"] == ("2", "20")
    assert came[words.KINDS["final"]] == ("0", "20")


def test_what_stands_below_and_beside_the_tables() -> None:
    """Notes and facts tell what the tables leave out; a wrong number there is as wrong."""
    note = TABLES["Counts by kind"].note
    assert "6 of 70 had a number unlike the sheet" in note
    assert TABLES["Interruptions in finished counts"].note == (
        "Only counts that stand finished have a time: 11 of 120. In these were 42 of 50 "
        "interruptions."
    )
    assert TABLES["How often a difference came up"].note.startswith("20 differences altogether")
    inside = TABLES["Cases with items in the patient at the record's end"].note
    assert inside == "10 items left on purpose, 5 items tucked in and never told to be out."
    told = dict(pair for one in BLOCKS if isinstance(one, Facts) for pair in one.pairs)
    assert told["Lines stored"] == "930"
    assert told["Stood when their count ended"] == "906 of 930"
    assert told["Confirmed by the other person"] == "874 of 930"
    assert told["Ended by both people"].startswith("190 of 200 (95.0 %")
    assert told["One microphone for each person"].startswith("170 of 200 (85.0 %")


CAUTIONS = (
    "sums of what people said aloud while they counted",
    "They tell nothing of what is in a patient.",
    "Nothing here says that it is safe to close.",
    "They do not replace the team's own count, wound exploration or imaging, nor local policy",
    "and licensed judgement.",
    "They are not for judging people, teams or rooms.",
    "Nobody's name is in them, and cases differ",
    "More differences, disputes or interruptions may mean that more of them are said aloud.",
    "Fewer may mean that they are kept quiet.",
    "Small numbers say little. Below 5 only what was counted is shown.",
    "An interval shows what chance alone would allow if all were independent",
    "so the true uncertainty is wider",
    "A journal that is missing is not seen here.",
    "Compare the number of cases with your list of operations.",
    "Journals that are damaged or not readable are left out",
    "The program can mishear, in quiet too.",
    "What was refused or asked again is partly its doing.",
)


@pytest.mark.parametrize("sentence", CAUTIONS)
def test_no_caution_is_gone(sentence: str) -> None:
    """Written out here: a test against the program's own list would go along with a loss."""
    (first, *_) = (one for one in BLOCKS if isinstance(one, Points))
    assert sentence in " ".join(first.texts)
