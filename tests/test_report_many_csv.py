"""Many cases as rows, read by the standard library and against the sums of all of them."""

import csv
import io

from hypothesis import given, settings
from many_facts import case, cases, count, difference

from voicecount.report.facts import CaseFacts, HeardFacts
from voicecount.report.many import DIFFERENCES, ENDS, KINDS, Summary
from voicecount.report.many_csv import header, row, write


def _read(found: list[CaseFacts], *given: str) -> tuple[list[dict[str, str]], Summary]:
    out = io.StringIO(newline="")
    summary = write(out, iter(found), given)
    return list(csv.DictReader(io.StringIO(out.getvalue(), newline=""), strict=True)), summary


@given(cases())
@settings(max_examples=40, deadline=None)
def test_columns_add_up_to_the_sums(found: list[CaseFacts]) -> None:
    rows, summary = _read(found)
    assert vars(Summary.of(found)).keys() == vars(summary).keys()
    assert summary.digits == Summary.of(found).digits
    assert len(rows) == len(found)

    def added(column: str) -> int:
        return sum(int(one[column] or 0) for one in rows)

    whole = summary.all_counts
    assert (added("counts"), added("finished")) == (whole.held, whole.finished)
    assert added("finished_seconds") == whole.times.total
    assert (added("waived"), added("not_held")) == (summary.waived, summary.not_held)
    for kind in KINDS:
        held = summary.kinds[kind].held if kind in summary.kinds else 0
        assert added(f"counts_{kind}") == held
    for column, name in (("lines", "lines"), ("standing", "stood"), ("confirmed", "confirmed")):
        assert added(column) == getattr(whole, name)
    for name in ("refused", "disputed", "recounted", "interruptions"):
        assert added(name) == getattr(whole, name)
    assert added("interrupted_counts") == whole.interrupted
    assert added("differences") == summary.differences
    assert added("differences_seconds") == summary.resolving.total
    for kind in DIFFERENCES:
        assert added(f"differs_{kind}") == summary.differences_by(0)[kind]
    for end in ENDS:
        assert added(f"ended_{end}") == summary.ended[end]
    assert added("left_on_purpose") == summary.left.total()
    assert added("tucked_not_out") == summary.never_out
    assert added("takeovers") == sum(n * k for n, k in summary.takeovers.items())
    assert added("breaks") == sum(n * k for n, k in summary.breaks.items())
    assert (added("utterances"), added("asked_again")) == (
        summary.utterances,
        summary.asked.total(),
    )
    told = [one for one in rows if one["utterances"]]
    assert len(told) == summary.telling


def test_a_row_by_hand() -> None:
    heard = HeardFacts(utterances=9, accepted=5, ignored=2, asked=(("clipped", 2),))
    found = case(
        "b.vcj",
        counts=(count(1, lasted=61.2), count(2, "final", lasted=None, interruptions=3)),
        discrepancies=(difference(count=2, settled="not_found", off=-1, off_now=1, took=40),),
        heard=heard,
    )
    (one,), _ = _read([found])
    wanted = {
        "journal": "b.vcj",
        "case": "Caesarean section",
        "left_out": "",
        "closed": "yes",
        "counts": "2",
        "finished": "1",
        "finished_seconds": "61",
        "counts_final": "1",
        "interruptions": "3",
        "interrupted_counts": "1",
        "differs_line": "1",
        "ended_too_many": "1",
        "ended_not_found": "0",
        "differences_seconds": "40",
        "utterances": "9",
        "asked_again": "2",
    }
    assert wanted.items() <= one.items()


def test_what_is_left_out_has_a_reason_and_no_number() -> None:
    found = [
        case("a", head="1" * 64),
        case("b", head="1" * 64),
        case("c", damage="line 3: no record", counts=(count(),)),
    ]
    rows, _ = _read(found)
    assert [one["left_out"] for one in rows] == ["", "the same records as a", "line 3: no record"]
    start = header().index("counts")
    assert not any(value for one in rows[1:] for value in list(one.values())[start:])
    assert rows[0]["counts"] == "0"


def test_no_cell_is_taken_for_a_formula() -> None:
    """OWASP, "CSV Injection": a cell that begins with one of these has to be led by another."""
    facts = case('=HYPERLINK("x")', title="+1", given=(("Theatre", "@SUM(A1)"), ("-x", "7")))
    rows, _ = _read([facts.model_copy(update={"software": "-2+3"})], "Theatre", "=label")
    (one,) = rows
    assert one["journal"] == '\'=HYPERLINK("x")'
    assert (one["case"], one["given Theatre"], one["software"]) == ("'+1", "'@SUM(A1)", "'-2+3")
    assert one["given =label"] == ""


def test_no_person_is_in_it() -> None:
    facts = case(team=(("p1", "An Invented Name"),), counts=(count(),))
    assert not any("Invented Name" in cell for cell in row(facts, None))
    assert not {"by", "scrub", "circulator", "team"} & set(header())


def test_every_cell_is_quoted_and_lines_end_as_the_standard_says() -> None:
    """RFC 4180, 2.1 and 2.5."""
    out = io.StringIO(newline="")
    write(out, [case('say "a"')])
    lines = out.getvalue().split("\r\n")
    assert lines[-1] == ""
    assert lines[1].startswith('"say ""a""","Caesarean section",')
    assert "\n" not in "".join(lines)
