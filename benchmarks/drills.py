"""How well a drill is judged: planted faults that are found, false alarms, pace, what is not heard.

    python -m benchmarks.drills --part tune --attempts 40
    python -m benchmarks.drills --part test --attempts 420 --json FILE

Attempts are made (``drill_attempts.py``), heard by the embedded recogniser and judged by the judge.
What was heard is kept row by row (``--kept``): a run that was killed goes on, and a second run with
the same arguments only judges.
"""

import argparse
import json
import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.drill_attempts import MAIN, Plant, Script, script
from benchmarks.drill_rows import Row, Run, heard
from benchmarks.figures import lower_bound, rate, upper_bound
from voicecount.drill.hearing import WRONG_PER_THOUSAND
from voicecount.drill.judge import judge
from voicecount.drill.judgement import Fault, Finding, Judgement, Result
from voicecount.drill.model import Criterion

FAULTS = {
    "skipped": (Fault.SKIPPED,),
    "repeated": (Fault.REPEATED,),
    "order": (Fault.WRONG_ORDER, Fault.WRONG_GROUP),
    "missed": (Fault.MISSED_ITEM,),
    "stated": (Fault.STATED,),
    "too_few": (Fault.TOO_FEW,),
    "restart": (Fault.FALSE_START,),
}
"""How each planted fault has to be called."""
ALARMS = (Criterion.COMPLETE, Criterion.ORDER, Criterion.CADENCE, Criterion.NUMBERS)
"""The rows of the rubric in which a finding that was not planted is a false alarm."""
_CLOSE = 0.05
"""A pace within so much of the true one is right."""


@dataclass(frozen=True)
class Judged:
    """One attempt against what was planted in it."""

    at: int
    found: tuple[tuple[Plant, bool], ...]
    alarms: tuple[Finding, ...]
    lines: int
    not_heard: int
    steps: int
    pace_error: float | None
    """Share of the true pace; None where it is not known, or was not measured."""
    paces_known: bool
    cpu: float


def against(row: Row, given: Script) -> Judged:
    """Judge one attempt."""
    judgement = judge(row.attempt, given.drill, given.sheet)
    found = tuple((plant, _is_found(plant, judgement)) for plant in given.plants)
    alarms = tuple(
        finding
        for finding in judgement.findings
        if finding.criterion in ALARMS and not any(_fits(one, finding) for one in given.plants)
    )
    unheard = sum(step.result is Result.NOT_HEARD for step in judgement.steps)
    pace, error = judgement.measured.numbers_per_minute, None
    if row.paces and pace is not None:
        true = float(np.median(row.paces))
        error = abs(pace - true) / true
    return Judged(
        row.at,
        found,
        alarms,
        len(given.lines),
        unheard,
        len(judgement.steps),
        error,
        bool(row.paces),
        row.cpu,
    )


def _is_found(plant: Plant, judgement: Judgement) -> bool:
    return any(
        finding.fault in FAULTS[plant.kind] and _fits(plant, finding) and _number(plant, finding)
        for finding in judgement.findings
    )


def _fits(plant: Plant, finding: Finding) -> bool:
    """Tell whether a finding is of the fault and of the line that were planted.

    A line of several packages has a step for each, so lines are told apart by item and place.
    """
    line = finding.item if finding.place is None else f"{finding.item}@{finding.place}"
    return finding.fault in FAULTS[plant.kind] and line in {plant.step, plant.other}


def _number(plant: Plant, finding: Finding) -> bool:
    return plant.kind not in {"skipped", "repeated"} or plant.number in finding.heard


def tables(judged: list[Judged], rows: list[Row]) -> Iterator[str]:
    """Give the figures as Markdown, each with its sample size."""
    seconds = sum(row.attempt.seconds for row in rows)
    yield f"{len(judged)} attempts, {seconds / 3600:.2f} hours of sound"
    kinds = Counter(plant.kind for one in judged for plant, _ in one.found)
    hits = Counter(plant.kind for one in judged for plant, hit in one.found if hit)
    yield "\n| planted | n | found | at least, 95 % |\n|---|---|---|---|"
    for kind in FAULTS:
        yield _share(kind, hits[kind], kinds[kind])
    some, n = (sum(count[kind] for kind in MAIN) for count in (hits, kinds))
    yield _share("**skips, repeats, order, missed**", some, n)
    lines = sum(one.lines for one in judged)
    alarms = Counter(str(finding.fault) for one in judged for finding in one.alarms)
    bound = 100 * upper_bound(alarms.total(), lines)
    yield (
        f"\nfalse alarms: {rate(alarms.total(), lines)} of {lines} lines called, below "
        f"{bound:.1f} % ({dict(alarms)})"
    )
    unheard, steps = sum(one.not_heard for one in judged), sum(one.steps for one in judged)
    yield f"steps not heard: {rate(unheard, steps)} of {steps}"
    errors = [one.pace_error for one in judged if one.pace_error is not None]
    known = sum(one.paces_known for one in judged)
    if errors:
        close = sum(error <= _CLOSE for error in errors)
        yield (
            f"pace: error median {100 * np.median(errors):.2f} %, 95th percentile "
            f"{100 * np.percentile(errors, 95):.2f} %, most {100 * max(errors):.2f} %; within 5 %: "
            f"{rate(close, known)} of {known} attempts of known times, at least "
            f"{100 * lower_bound(close, known):.1f} %"
        )
    cpu = [one.cpu for one in judged]
    yield (
        f"one core hears an attempt in {np.median(cpu):.1f} s (median, n = {len(cpu)}), "
        f"{sum(cpu) / seconds:.2f} of its length"
    )


def _share(kind: str, some: int, n: int) -> str:
    low = f"{100 * lower_bound(some, n):.1f} %" if n else "-"
    return f"| {kind} | {n} | {rate(some, n)} | {low} |"


def mistakes(judged: list[Judged], rows: list[Row], run: Run) -> Iterator[str]:
    """Tell every planted fault that was not found, and every false alarm."""
    by_at = {row.at: row for row in rows}
    for one in judged:
        missed = [plant for plant, hit in one.found if not hit]
        if not (missed or one.alarms):
            continue
        given = script(run.part, one.at, run.seed)
        kind = "joined" if given.joined else "whole lines"
        yield f"\nattempt {one.at}: {given.voice}, {given.condition}, {kind}, {given.pace:.2f}"
        for plant in missed:
            yield f"  not found: {plant}"
        for finding in one.alarms:
            yield f"  false alarm: {finding}"
        steps = {plant.step for plant in missed} | {finding.step for finding in one.alarms}
        for line in given.lines:
            mark = "*" if line.step in steps else " "
            yield f"  {mark} said {line.step}: {line.name} {line.numbers or line.total}"
        for saying in by_at[one.at].attempt.sayings:
            heard = saying.heard
            yield (
                f"    {heard.start:6.2f}-{heard.end:6.2f} {heard.outcome} {heard.reason or ''} "
                f"{heard.text!r} wrong {heard.wrong}"
            )


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--part", choices=("tune", "test"), default="tune")
    parser.add_argument("--attempts", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--wrong-per-thousand", type=float, default=WRONG_PER_THOUSAND)
    parser.add_argument("--kept", type=Path, default=Path(".cache/drills.jsonl"))
    parser.add_argument("--json", type=Path, help="where to write what was found, as JSON")
    parser.add_argument("--mistakes", action="store_true", help="tell every mistake")
    given = parser.parse_args()
    run = Run(given.part, given.seed, given.wrong_per_thousand)
    rows = heard(run, given.attempts, given.kept, given.jobs)
    judged = [against(row, script(run.part, row.at, run.seed)) for row in rows]
    print(*tables(judged, rows), sep="\n")
    if given.mistakes:
        print(*mistakes(judged, rows, run), sep="\n")
    if given.json:
        told: list[dict[str, Any]] = [asdict(one) for one in judged]
        given.json.write_text(json.dumps(told, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
