"""What is shown of a class: sums that can be added up by hand, each with of how many."""

import csv
import html
import io
import re
from dataclasses import replace

import html5lib
import pytest
from class_rig import ROWS, graded, judgement, school

from voicecount.drill.class_csv import attempts_csv, findings_csv
from voicecount.drill.class_files import NotTaken
from voicecount.drill.class_page import class_page
from voicecount.drill.class_plots import lines as lines_plot
from voicecount.drill.class_result import ClassResult, Part, middle, percent
from voicecount.drill.class_table import findings, rows, show
from voicecount.drill.judgement import Fault, Mark, Result
from voicecount.drill.load import load_drill
from voicecount.drill.model import Criterion
from voicecount.drill.steps import steps
from voicecount.show.console import console

MADE = "2026-11-26T12:00:00+00:00"
R, F, M, N = Result.RIGHT, Result.FAULTY, Result.MISSING, Result.NOT_HEARD
LOADED = load_drill("skin_alone")
STEPS = len(steps(LOADED.drill, LOADED.sheet))


def of(*results: Result) -> list[Result]:
    """Give a result for each step; those that are not named are right."""
    return [*results, *[R] * (STEPS - len(results))]


def small(*attempts: tuple[str, list[Result]]) -> ClassResult:
    found = [
        graded(who, LOADED, judgement(LOADED, results), take)
        for take, (who, results) in enumerate(attempts, start=1)
    ]
    return ClassResult("a <b>class</b>", tuple(found), (), {"skin_alone": LOADED})


def test_lines_are_summed_over_attempts_and_what_was_not_heard_is_no_fault() -> None:
    """The first line: left out once, faulty once, not heard once, right once: two of three."""
    result = small(("a", of(M)), ("a", of(F)), ("b", of(N)), ("b", of(R, F)))
    first, second = result.lines()[:2]
    assert (first.wrong, first.missing, first.faulty, first.not_heard) == (2, 1, 1, 1)
    assert (first.heard, first.attempts) == (3, 4)
    assert (second.wrong, second.heard) == (1, 4)
    assert all(line.wrong == 0 for line in result.lines()[2:])
    assert "left out in 1, faulty in 1 of 3" in lines_plot(result.lines()[:2]).alternative


def test_a_line_that_nobody_heard_stands_last() -> None:
    """It is divided by nothing."""
    line = small(("a", of(N))).lines()[-1]
    assert (line.heard, line.not_heard) == (0, 1)


def test_what_was_not_judged_is_in_no_line() -> None:
    """Its cue is not in the recording."""
    assert len(small(("a", of(Result.NOT_JUDGED))).lines()) == STEPS - 1


def test_rows_are_summed_by_student() -> None:
    """Right and chances of all attempts; a row without a chance is not shown."""
    marks = [Mark(Criterion.ORDER, 1.0, 2, 3), Mark(Criterion.PACE, 1.0, 0, 0)]
    each = [graded("a", LOADED, judgement(LOADED, of(), marks=marks), take) for take in (1, 2)]
    result = ClassResult("class", tuple(each), (), {"skin_alone": LOADED})
    assert result.row("a", Criterion.ORDER) == Part(4, 6)
    assert str(result.row("a", Criterion.ORDER)) == "4 of 6"
    assert result.row("a", Criterion.PACE).share is None
    assert result.rows() == (Criterion.ORDER,)
    assert result.scores() == pytest.approx((2 / 3, 2 / 3))


def test_kinds_of_findings_are_counted_by_attempts() -> None:
    """Twice in one attempt is one attempt."""
    result = small(("a", of(M, M, F)), ("b", of(M)), ("c", of()))
    assert result.faults() == ((Fault.MISSED_ITEM, Part(2, 3)), (Fault.SKIPPED, Part(1, 3)))


def test_rows_and_findings_of_an_attempt_in_a_few_words() -> None:
    """All right, some right, nothing to judge; findings by kind."""
    assert rows(judgement(LOADED, of())) == f"all {len(ROWS)} right"
    assert rows(judgement(LOADED, of(M))).startswith(f"complete {STEPS - 1}/{STEPS}, order ")
    assert rows(judgement(LOADED, of(), marks=[])) == "nothing could be judged"
    assert findings(judgement(LOADED, of())) == "none"
    assert findings(judgement(LOADED, of(M, F, M))) == "3: missed item 2, skipped"
    many = judgement(LOADED, of(M))
    kinds = [replace(many.findings[0], fault=fault) for fault in list(Fault)[:5]]
    assert findings(replace(many, findings=tuple(kinds))).endswith(", …")


def test_medians_and_shares_of_nothing() -> None:
    """Are told as none."""
    assert middle([]) is None
    assert percent(None) == "none"
    assert percent(0.725) == "72 %"


def test_the_terminal_cannot_be_steered(capsys: pytest.CaptureFixture[str]) -> None:
    """A file's name with an escape in it is shown without it, and so is markup."""
    result = replace(small(("a", of())), not_taken=(NotTaken("\x1b[31mred[bold].m4a", "no"),))
    show(console(), result)
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "?[31mred[bold].m4a: no" in out


def test_the_page_is_whole_and_says_what_it_is_not() -> None:
    """Valid HTML, a strict policy, nothing from elsewhere, each picture in words."""
    page = class_page(school(), made=MADE)
    parser = html5lib.HTMLParser(strict=True)  # the HTML Standard's own algorithm (WHATWG)
    parser.parse(page)
    assert "default-src 'none'" in html.unescape(page)
    assert not re.findall(r'(?:src|href)="(?!#)[^"]', page.replace("xlink:href", "href"))
    assert page.count('role="img"') == 4 == page.count("<svg ")
    assert all(len(one) > 60 for one in re.findall(r'role="img" aria-label="([^"]*)"', page))
    text = " ".join(page.split())
    assert "replaces no count of a team" in text
    assert "held against nobody" in text
    assert "safe" not in text
    assert "Not graded: 2" in text
    assert "interview.m4a" in text


def test_text_from_outside_is_never_markup() -> None:
    """A folder, a file and a reason are only text."""
    bad = (NotTaken("<script>alert(1)</script>.m4a", "<img src=x>\u202e"),)
    page = class_page(replace(small(("a", of())), not_taken=bad), made=MADE)
    assert "<script" not in page
    assert "<img" not in page
    assert "<b>class" not in page
    assert "[U+202E]" in page


def test_the_same_class_gives_the_same_page() -> None:
    """Pictures too: nothing of it depends on chance or on the clock."""
    assert class_page(school(), made=MADE) == class_page(school(), made=MADE)


@pytest.mark.parametrize("students", [0, 1, 45])
def test_a_class_of_any_size_is_shown(students: int) -> None:
    """Nobody, one, and more than one picture holds."""
    page = class_page(school(students), made=MADE)
    html5lib.HTMLParser(strict=True).parse(page)
    assert page.count("In each field, what was right") == -(-students // 30)
    assert (students == 0) == ("No attempt was graded." in page)


def test_a_class_without_anything_to_measure() -> None:
    """No score, no pace, no fault: each is said."""
    made = judgement(LOADED, of(), pace=None, marks=[])
    result = ClassResult("class", (graded("a", LOADED, made),), (), {"skin_alone": LOADED})
    page = class_page(result, made=MADE)
    for text in (
        "No attempt has a score",
        "No line went wrong",
        "Nothing was found",
        "No run was long enough",
    ):
        assert text in page


def test_the_same_recording_twice_is_on_the_page() -> None:
    """With both names."""
    one, other = small(("a", of()), ("b", of())).graded
    same = replace(other, recording=one.recording)
    result = ClassResult("class", (one, same), (), {"skin_alone": LOADED})
    assert result.alike == ((one.handed.file, other.handed.file),)
    assert "The very same recording under several names" in class_page(result, made=MADE)


def test_tables_hold_every_attempt_and_every_finding() -> None:
    """Sums of the tables are those of the judgements."""
    result = school()
    told = list(csv.DictReader(io.StringIO(attempts_csv(result))))
    assert len(told) == len(result.graded) + len(result.not_taken)
    assert sum(int(one["findings"] or 0) for one in told) == sum(
        len(one.findings) for _, one in result.judged
    )
    assert told[0]["longest_pause"] == "0.8"
    assert told[0]["wording_right"] == ""
    found = list(csv.DictReader(io.StringIO(findings_csv(result))))
    assert {one["finding"] for one in found} == {"missed_item", "skipped"}
    skipped = next(one for one in found if one["finding"] == "skipped")
    assert (skipped["heard"], skipped["row"]) == ("4 5", "cadence")
