"""The sums of many records, against a second sum that keeps every case in hand."""

import json
import pickle
from collections import Counter
from itertools import chain
from math import sqrt
from pathlib import Path
from statistics import quantiles

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from many_facts import case, cases, count, difference, happening, inside, line, moment

from voicecount.commands.journals import CODEC
from voicecount.commands.verify import check
from voicecount.keep.reading import load_whole_part
from voicecount.report.facts import CaseFacts, HeardFacts
from voicecount.report.gather import gather
from voicecount.report.many import OUTSIDE, Summary, in_order
from voicecount.report.many_figures import FEWEST, Rate, Share, Times, Z, duration, wilson

PLANNED = {"initial", "cavity", "closing", "final"}


# Newcombe, Statistics in Medicine 1998;17:857-72, Table I, "score" without continuity correction
# (examples and limits from memory; each limit is checked by its definition below as well)
@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_is_the_published_one(k: int, n: int, low: float, high: float) -> None:
    assert wilson(k, n) == (pytest.approx(low, abs=5e-5), pytest.approx(high, abs=5e-5))


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_each_limit_lies_as_many_standard_errors_away_as_it_should(found: tuple[int, int]) -> None:
    """By definition of the score interval: |k/n - p| = z sqrt(p (1-p) / n) at both limits."""
    k, n = found
    low, high = wilson(k, n)
    assert 0 <= low <= k / n <= high <= 1
    for limit, at_edge in ((low, k == 0), (high, k == n)):
        if not at_edge:
            away = abs(k / n - limit)
            assert away == pytest.approx(Z * sqrt(limit * (1 - limit) / n), rel=1e-6)
    mirrored = wilson(n - k, n)
    assert mirrored == (pytest.approx(1 - high), pytest.approx(1 - low))


def test_the_interval_is_of_95_percent() -> None:
    assert pytest.approx(1.959964, abs=1e-6) == Z  # any table of the normal distribution


@pytest.mark.parametrize(("k", "n"), [(0, 0), (-1, 5), (6, 5)])
def test_what_is_no_share_has_no_interval(k: int, n: int) -> None:
    with pytest.raises(ValueError, match=f"{k} of {n} is no share"):
        wilson(k, n)


def test_a_share_tells_what_it_rests_on() -> None:
    # 19 of 148 operations: Greenberg et al., Ann Surg 2008 (12.8 %)
    assert str(Share(19, 148)) == "19 of 148 (12.8 %, 95 % interval 8.4 to 19.2 %)"


@pytest.mark.parametrize("n", range(FEWEST))
def test_few_are_told_as_counts_only(n: int) -> None:
    share = Share(0, n)
    assert (str(share), share.value, share.interval) == (f"0 of {n}", None, None)
    rate = Rate(3, 40, "lines", n, "counts", 100)
    assert (str(rate), rate.value) == (f"3 in 40 lines, {n} counts", None)


def test_a_rate_tells_what_it_rests_on() -> None:
    assert str(Rate(3, 40, "lines", 6, "counts", 100)) == (
        "7.50 per 100 lines (3 in 40 lines, 6 counts)"
    )
    assert str(Rate(9, 1.5, "hours", 5, "counts")) == "6.00 per hour (9 in 1.50 hours, 5 counts)"
    assert Rate(0, 0, "lines", 9, "counts").value is None
    # fifteen seconds of counting are not "0.00 hours"
    assert str(Rate(0, 15 / 3600, "hours", 1, "counts")) == "0 in 0.004 hours, 1 counts"
    assert Rate(0, 0.0, "hours", 1, "counts").base_text == "0.00"


# numpy's default and the standard library's "inclusive" are Hyndman and Fan's type 7
@given(st.lists(st.integers(0, 5000), min_size=2, max_size=60))
def test_quartiles_are_those_of_reference_libraries(seconds: list[int]) -> None:
    times = Times()
    for one in seconds:
        assert times.add(one)
    spread = times.spread()
    assert spread is not None
    found = (spread.first, spread.median, spread.third)
    assert found == pytest.approx(tuple(np.quantile(seconds, [0.25, 0.5, 0.75])))
    assert found == pytest.approx(tuple(quantiles(seconds, n=4, method="inclusive")))
    assert (spread.n, spread.low, spread.high) == (len(seconds), min(seconds), max(seconds))
    assert spread.told == (len(seconds) >= FEWEST)
    assert list(times) == sorted(seconds)
    assert times.total == sum(seconds)
    enough = len(seconds) >= FEWEST
    assert times.mean == (pytest.approx(np.mean(seconds)) if enough else None)


def test_times_without_any_and_with_one() -> None:
    times = Times()
    assert times.spread() is None
    assert not times.add(-1)
    assert (times.n, times.unusable) == (0, 1)
    times.add(61.4)
    spread = times.spread()
    assert spread is not None
    assert (spread.low, spread.first, spread.median, spread.third, spread.high) == (61,) * 5
    assert not spread.told


def test_durations_as_people_say_them() -> None:
    said = [duration(one) for one in (0, 59.4, 59.6, 291, 3599.6, 3720)]
    assert said == ["0 s", "59 s", "1 min", "4 min 51 s", "1 h", "1 h 2 min"]


@given(cases())
def test_a_second_sum_that_keeps_all_cases_agrees(found: list[CaseFacts]) -> None:
    summary = Summary.of(iter(found))
    whole = [one for one in found if one.chain.whole]
    assert summary.seen == len(found)
    assert summary.cases == len(whole)
    assert [one.journal for one in summary.damaged] == [
        one.journal for one in found if not one.chain.whole
    ]
    assert summary.closed == sum(1 for one in whole if one.closed)
    everything = [one for facts in whole for one in facts.counts]
    for kind in {one.kind for one in everything} | set(summary.kinds):
        _same_counts(summary, kind, [one for one in everything if one.kind == kind], whole)
    _same_times_of_cases(summary, whole)
    _same_differences(summary, whole)
    _same_people_and_items(summary, whole)
    telling = [one.heard for one in whole if one.heard is not None]
    asked = summary.asked_again
    assert (asked.k, asked.base, asked.n) == (
        sum(n for heard in telling for _, n in heard.asked),
        sum(heard.utterances for heard in telling),
        len(telling),
    )


def _same_counts(summary: Summary, kind: str, found: list, whole: list[CaseFacts]) -> None:
    held = summary.kinds[kind]
    finished = [one for one in found if one.finished is not None and one.result is not None]
    timed = [one for one in finished if one.finished.at >= one.opened.at]
    lasted = [round(one.finished.at - one.opened.at) for one in timed]
    assert (held.held, held.finished) == (len(found), len(finished))
    assert held.results == Counter(one.result for one in finished)
    assert list(held.times) == sorted(lasted)
    assert held.times.unusable == len(finished) - len(timed)
    assert held.interrupted == len([one for one in found if one.interruptions])
    assert held.interruptions == sum(one.interruptions for one in found)
    rate = held.per_hour
    assert rate.k == sum(one.interruptions for one in timed)
    assert rate.base == pytest.approx(sum(lasted) / 3600)
    lines = list(chain.from_iterable(one.lines for one in found))
    assert held.lines == len(lines)
    assert held.stood == len([one for one in lines if one.stands])
    assert held.confirmed == len([one for one in lines if one.confirmed])
    for name in ("refused", "disputed", "recounted"):
        k = sum(getattr(one, name) for one in found)
        rate = held.per_hundred(getattr(held, name))
        assert (rate.k, rate.base, rate.n, rate.per) == (k, len(lines), len(found), 100)
    assert held.unlike_sheet == sum(kind == "initial" and bool(one.differing) for one in found)
    assert held.with_difference == sum(
        any(one.count == here.number for one in facts.discrepancies)
        for facts in whole
        for here in facts.counts
        if here.kind == kind
    )


def _same_times_of_cases(summary: Summary, whole: list[CaseFacts]) -> None:
    lasted = []
    for facts in whole:
        done = [one for one in facts.counts if one.finished is not None and one.result]
        mine = [
            one.finished.at - one.opened.at
            for one in done
            if one.finished.at >= one.opened.at and one.result != "not_done"
        ]
        lasted += [round(sum(mine))] if mine else []
    assert list(summary.case_times) == sorted(lasted)


def _same_differences(summary: Summary, whole: list[CaseFacts]) -> None:
    pairs = [(facts, one) for facts in whole for one in facts.discrepancies]
    assert summary.differences == len(pairs)
    assert summary.differences_by(0) == Counter(one.differs for _, one in pairs)
    groups = {"lap": "sponges", "needle": "sharps", "loop": "miscellaneous"}
    groups |= {"clamp": "instruments", "unheard of": "not known"}
    assert summary.differences_by(1) == Counter(groups[one.item] for _, one in pairs)
    ends = Counter(
        "open"
        if one.settled is None
        else "too_many"
        if one.settled == "not_found" and one.off_now > 0
        else one.settled
        for _, one in pairs
    )
    assert summary.ended == ends
    places: Counter[str] = Counter()
    for facts, one in pairs:
        kinds = [here.kind for here in facts.counts if here.number == one.count]
        places[OUTSIDE if one.count == 0 else (kinds or ["not known"])[0]] += 1
    assert summary.found_in == places
    took = [round(one.closed.at - one.opened.at) for _, one in pairs if one.closed]
    assert list(summary.resolving) == sorted(took)
    assert summary.cases_with_difference == sum(1 for facts in whole if facts.discrepancies)


def _same_people_and_items(summary: Summary, whole: list[CaseFacts]) -> None:
    items = [one for facts in whole for one in facts.in_patient]
    assert summary.left.total() == sum(one.n for one in items if one.on_purpose)
    assert summary.never_out == sum(one.n for one in items if not one.on_purpose)
    assert summary.cases_with_left == sum(
        any(one.on_purpose for one in facts.in_patient) for facts in whole
    )
    assert summary.cases_never_out == sum(
        any(not one.on_purpose for one in facts.in_patient) for facts in whole
    )
    told = [one for facts in whole for one in facts.happenings]
    waived = summary.waived_share
    assert waived.k == len([one for one in told if one.what == "count_waived"])
    held = sum(len({one.id for one in facts.counts if one.kind in PLANNED}) for facts in whole)
    assert waived.n == held + waived.k + sum(len(facts.due) for facts in whole)
    for name, permanent in (("takeovers", True), ("breaks", False)):
        per_case = Counter(
            len(
                [
                    one
                    for one in facts.happenings
                    if (one.what, one.permanent, one.back) == ("people_changed", permanent, False)
                ]
            )
            for facts in whole
        )
        assert getattr(summary, name) == per_case


def test_all_counts_together_are_the_sum_of_the_kinds() -> None:
    summary = Summary.of(
        [
            case(
                "a",
                counts=(
                    count(1, "initial", lasted=100, lines=[line(), line(2, stands=False)]),
                    count(2, "final", lasted=50, interruptions=2, refused=1, result="agrees"),
                ),
            )
        ]
    )
    together = summary.all_counts
    assert (together.held, together.lines, together.stood, together.refused) == (2, 2, 1, 1)
    assert list(together.times) == [50, 100]
    assert together.results == {"baseline": 1, "agrees": 1}
    assert (together.per_hour.k, together.per_hour.base) == (2, 150 / 3600)
    assert summary.kinds["initial"].held == 1


def test_no_case_at_all() -> None:
    summary = Summary.of([])
    assert (summary.seen, summary.cases, summary.days) == (0, 0, None)
    assert str(summary.of_cases(0)) == "0 of 0"
    assert summary.all_counts.per_hour.value is None
    assert summary.asked_again.value is None
    assert str(summary.waived_share) == "0 of 0"


def test_all_damaged_leaves_no_number() -> None:
    found = [case(str(n), damage=f"line {n}: its hash is not that of its text") for n in range(3)]
    summary = Summary.of(found)
    summary.leave_out("nothing.vcj", "not even the opening of a case is whole in it")
    assert (summary.seen, summary.cases, len(summary.damaged)) == (4, 0, 4)
    assert summary.damaged[2].why == "line 2: its hash is not that of its text"
    assert summary.damaged[3].journal == "nothing.vcj"
    assert summary.kinds == {}


def test_a_copy_is_named_and_counted_once() -> None:
    summary = Summary.of([case("a", head="1" * 64), case("backup/a", head="1" * 64)])
    assert (summary.seen, summary.cases) == (2, 1)
    assert [(one.journal, one.why) for one in summary.copies] == [
        ("backup/a", "the same records as a")
    ]


def test_two_records_of_one_beginning_are_both_in_and_named() -> None:
    summary = Summary.of([case("a", sheet="s"), case("older", sheet="s"), case("b")])
    assert summary.cases == 3
    assert summary.alike == [("a", "older")]


def test_days_are_the_first_and_the_last() -> None:
    found = [
        case(day, wall=f"{day}T23:59:00+00:00")
        for day in ("2026-03-05", "2026-02-28", "2026-03-04")
    ]
    assert Summary.of(found).days == ("2026-02-28", "2026-03-05")


def test_a_count_waived_while_open_is_no_held_one() -> None:
    waived = case(
        "a",
        counts=(count(1), count(2, "closing", result="not_done"), count(3, "final", lasted=None)),
        happenings=(happening("count_waived"),),
        due=("uterine count",),
    )
    summary = Summary.of([waived])
    assert summary.kinds["closing"].waived == 1
    assert summary.kinds["closing"].finished == 0
    assert summary.kinds["closing"].times.n == 0
    assert (summary.waived_share.k, summary.waived_share.n) == (1, 4)


def test_a_finished_count_that_was_changed_afterwards_has_no_time() -> None:
    summary = Summary.of([case(counts=(count(1, result=None, interruptions=3),))])
    held = summary.kinds["initial"]
    assert (held.held, held.finished, held.times.n, held.interrupted) == (1, 0, 0, 1)
    assert held.per_hour.k == 0


def test_differences_end_as_people_said() -> None:
    found = case(
        counts=(count(1), count(2, "closing", result="differs")),
        discrepancies=(
            difference(1, count=2, settled="not_found"),
            difference(2, "needle", count=2, settled="not_found", off=-1, off_now=2),
            difference(3, "needle", count=0, settled=None, differs="piece"),
            difference(4, "clamp", count=9, took=-5),
        ),
    )
    summary = Summary.of([found])
    assert summary.ended == {"not_found": 1, "too_many": 1, "open": 1, "found": 1}
    assert summary.found_in == {"closing": 2, OUTSIDE: 1, "not known": 1}
    assert summary.differs["piece", "sharps"] == 1
    assert summary.kinds["closing"].with_difference == 1
    assert (summary.resolving.n, summary.resolving.unusable) == (2, 1)
    assert summary.sheet_lines == Counter(
        {"sponges": 1, "sharps": 1, "miscellaneous": 1, "instruments": 1}
    )


def test_asking_again_rests_on_cases_that_tell() -> None:
    heard = HeardFacts(
        utterances=200, accepted=150, ignored=40, asked=(("close_call", 7), ("clipped", 3))
    )
    summary = Summary.of([*(case(str(n), heard=heard) for n in range(5)), case("silent")])
    assert str(summary.asked_again) == ("5.00 per 100 utterances (50 in 1,000 utterances, 5 cases)")
    assert summary.asked == {"close_call": 35, "clipped": 15}


def test_items_left_and_people_by_case() -> None:
    summary = Summary.of(
        [
            case(
                "a",
                in_patient=(inside(n=2), inside("needle", on_purpose=False), inside("what")),
                happenings=(
                    happening("people_changed", permanent=True, back=False),
                    happening("people_changed", permanent=False, back=False),
                    happening("people_changed", permanent=False, back=True),
                ),
            ),
            case("b", closed=moment(1), roles_told_apart=False),
        ]
    )
    assert summary.left == {"sponges": 2, "not known": 1}
    assert (summary.cases_with_left, summary.never_out, summary.cases_never_out) == (1, 1, 1)
    assert summary.takeovers == {1: 1, 0: 1}
    assert summary.breaks == {1: 1, 0: 1}
    assert summary.roles_told_apart == 1


def test_memory_grows_by_marks_and_names_only() -> None:
    """Three hundred more cases of forty lines each: what is kept of one is a name and two marks."""

    def kept(n: int) -> int:
        lines = [line(number) for number in range(40)]
        summary = Summary.of(
            case(f"{one}.vcj", counts=(count(1, lasted=60.0 + one % 9, lines=lines),))
            for one in range(n)
        )
        return len(pickle.dumps(vars(summary)))

    assert (kept(400) - kept(100)) / 300 < 250
    assert len(pickle.dumps(case(counts=(count(1, lines=[line()] * 40),)))) > 2000


def test_whole_journals_against_their_bare_lines() -> None:
    """What the sums say of whole journals is what a reader of their bare JSON lines counts."""
    files = sorted((Path(__file__).parent / "golden").glob("*.vcj"))
    kinds: Counter[str] = Counter()
    for file in files:
        kinds.update(json.loads(text)["kind"] for text in file.read_text("utf-8").splitlines())
    summary = Summary.of(
        gather(
            file.name,
            check(load_whole_part(file, CODEC)).reading,
            made="2026-04-01T10:00:00+00:00",
            made_by="test",
        )
        for file in files
    )
    whole = summary.all_counts
    assert (summary.cases, summary.damaged) == (kinds["case_opened"], [])
    assert kinds["line_stored"] > 20
    assert whole.lines == kinds["line_stored"]
    assert whole.refused == kinds["line_refused"]
    assert whole.disputed == kinds["line_disputed"]


def test_digits_tell_records_and_not_their_order() -> None:
    found = [case(name) for name in "abc"]
    assert Summary.of(found).digits == Summary.of(found[::-1]).digits
    assert Summary.of(found).digits != Summary.of(found[:2]).digits


def test_names_that_are_not_known_come_last() -> None:
    assert in_order(["zeta", "b", "eta"], ("a", "b")) == ("a", "b", "eta", "zeta")
