"""The figures of many cases as plain JSON values; ``many_form.py`` tells what each one is."""

from collections.abc import Mapping, Sequence
from typing import Any

from voicecount.report.many import Held, LeftOut, Summary
from voicecount.report.many_figures import Rate, Share, Times
from voicecount.report.many_form import (
    DifferencesForm,
    HeardManyForm,
    HeldForm,
    InsideForm,
    LeftOutForm,
    ManyFigures,
    PeopleForm,
    PlannedForm,
    RateForm,
    ShareForm,
    TimesForm,
)
from voicecount.report.many_pages import CAUTIONS


def summary_object(
    summary: Summary, *, title: str, made: str, made_by: str, given: Sequence[tuple[str, str]] = ()
) -> dict[str, Any]:
    """Give all figures with what they rest on; a share or a median of too few is null."""
    figures = ManyFigures(
        title=title,
        given=tuple(given),
        made=made,
        made_by=made_by,
        digits=summary.digits,
        cautions=CAUTIONS,
        seen=summary.seen,
        cases=summary.cases,
        damaged=_left_out(summary.damaged),
        copies=_left_out(summary.copies),
        alike=tuple(summary.alike),
        began=summary.days,
        closed=_share(summary.of_cases(summary.closed)),
        roles_told_apart=_share(summary.of_cases(summary.roles_told_apart)),
        software=_sorted(summary.software),
        sheet_lines=_sorted(summary.sheet_lines),
        counts=_held(summary.all_counts),
        kinds={kind: _held(held) for kind, held in sorted(summary.kinds.items())},
        case_seconds=_times(summary.case_times),
        differences=DifferencesForm(
            n=summary.differences,
            cases=_share(summary.of_cases(summary.cases_with_difference)),
            what=_sorted(summary.differences_by(0)),
            group=_sorted(summary.differences_by(1)),
            ended=_sorted(summary.ended),
            found_in=_sorted(summary.found_in),
            seconds=_times(summary.resolving),
        ),
        planned=PlannedForm(
            held=summary.planned_held,
            waived=_share(summary.waived_share),
            not_held=summary.not_held,
        ),
        people=PeopleForm(
            to_stay={str(n): cases for n, cases in sorted(summary.takeovers.items())},
            for_a_break={str(n): cases for n, cases in sorted(summary.breaks.items())},
        ),
        inside=InsideForm(
            left_on_purpose=_sorted(summary.left),
            cases_left_on_purpose=_share(summary.of_cases(summary.cases_with_left)),
            tucked_not_out=summary.never_out,
            cases_tucked_not_out=_share(summary.of_cases(summary.cases_never_out)),
        ),
        heard=HeardManyForm(
            cases=summary.telling,
            utterances=summary.utterances,
            asked_again=_sorted(summary.asked),
            rate=_rate(summary.asked_again),
        ),
    )
    return figures.model_dump(mode="json")


def _held(held: Held) -> HeldForm:
    return HeldForm(
        held=held.held,
        finished=held.finished,
        waived=held.waived,
        results=_sorted(held.results),
        seconds=_times(held.times),
        interrupted=_share(Share(held.interrupted, held.held)),
        interruptions=held.interruptions,
        interruptions_per_hour=_rate(held.per_hour),
        lines=held.lines,
        standing=held.stood,
        confirmed=held.confirmed,
        refused=held.refused,
        disputed=held.disputed,
        recounted=held.recounted,
        with_difference=_share(Share(held.with_difference, held.held)),
        unlike_sheet=held.unlike_sheet,
    )


def _share(share: Share) -> ShareForm:
    return ShareForm(k=share.k, n=share.n, share=share.value, interval=share.interval)


def _rate(rate: Rate) -> RateForm:
    return RateForm(
        k=rate.k,
        base=rate.base,
        unit=rate.unit,
        n=rate.n,
        of=rate.of,
        per=rate.per,
        rate=rate.value,
    )


def _times(times: Times) -> TimesForm:
    found = times.spread()
    told = found is not None and found.told
    return TimesForm(
        n=times.n,
        total=times.total,
        low=found.low if found is not None else None,
        first_quartile=found.first if found is not None and told else None,
        median=found.median if found is not None and told else None,
        third_quartile=found.third if found is not None and told else None,
        high=found.high if found is not None else None,
        mean=times.mean,
        unusable=times.unusable,
    )


def _left_out(found: Sequence[LeftOut]) -> tuple[LeftOutForm, ...]:
    return tuple(LeftOutForm(journal=one.journal, why=one.why) for one in found)


def _sorted(counted: Mapping[str, int]) -> dict[str, int]:
    return dict(sorted(counted.items()))
