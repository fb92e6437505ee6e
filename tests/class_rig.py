"""A class with invented judgements: students, attempts, and what went wrong in each."""

import random
from collections.abc import Sequence
from pathlib import Path

from voicecount.drill.class_files import Handed, NotTaken
from voicecount.drill.class_result import ClassResult, Graded
from voicecount.drill.judgement import (
    Fault,
    Finding,
    Judgement,
    Mark,
    Measured,
    NotHeard,
    Result,
    StepJudged,
)
from voicecount.drill.load import Loaded, load_drill
from voicecount.drill.model import Criterion
from voicecount.drill.steps import steps

ROWS = (Criterion.COMPLETE, Criterion.ORDER, Criterion.CADENCE, Criterion.NUMBERS, Criterion.PACE)


def judgement(
    loaded: Loaded,
    results: Sequence[Result],
    *,
    pace: float | None = 60.0,
    marks: Sequence[Mark] | None = None,
) -> Judgement:
    """Give a judgement with these results, one for each step; each fault is a finding."""
    all_steps = steps(loaded.drill, loaded.sheet)
    judged = [StepJudged(one.id, result) for one, result in zip(all_steps, results, strict=False)]
    findings = [
        Finding(
            Fault.MISSED_ITEM if one.result is Result.MISSING else Fault.SKIPPED,
            *(3.5 * at, 3.5 * at + 2, one.step, all_steps[at].item, all_steps[at].place),
            heard=() if one.result is Result.MISSING else (4, 5),
        )
        for at, one in enumerate(judged)
        if one.result in {Result.MISSING, Result.FAULTY}
    ]
    unheard = [NotHeard(0.5, 1.5, "close_call") for one in judged if one.result is Result.NOT_HEARD]
    right = sum(one.result is Result.RIGHT for one in judged)
    if marks is None:
        marks = [Mark(row, 1.0, right, len(judged)) for row in ROWS]
    measured = Measured(pace, 12, 0.2, 0.8, 31.5, 1.2)
    return Judgement(tuple(judged), tuple(findings), tuple(unheard), measured, tuple(marks))


def graded(
    student: str, loaded: Loaded, judged: Judgement | None, take: int = 1, error: str | None = None
) -> Graded:
    """Give a recording with its judgement, or with an error."""
    name = loaded.path.stem
    file = f"{student}.{name}.{take}.flac"
    handed = Handed(student, name, take, Path("/nowhere", file), file)
    digest = f"{hash((student, name, take)) & 0xFFFFFFFF:064x}"
    return Graded(
        *(handed, loaded.drill.title, digest, "0" * 64, 61.25, "quick recogniser"),
        judgement=judged,
        error=error,
    )


def school(students: int = 12, seed: int = 7) -> ClassResult:
    """Give a class of invented students with one to three attempts at two drills."""
    chance = random.Random(seed)  # noqa: S311 - invented figures
    drills = {name: load_drill(name) for name in ("skin_groups", "birth_circulator")}
    found = []
    for number in range(students):
        skill = chance.uniform(0.55, 0.99)
        for name, loaded in drills.items():
            for take in range(1, chance.randint(1, 3) + 1):
                results = [
                    Result.RIGHT
                    if chance.random() < skill
                    else chance.choice((Result.MISSING, Result.FAULTY, Result.NOT_HEARD))
                    for _ in steps(loaded.drill, loaded.sheet)
                ]
                made = judgement(loaded, results, pace=chance.uniform(25, 115))
                found.append(graded(f"s{number + 1:02d}", loaded, made, take))
                assert name == loaded.path.stem
    found.append(graded("s99", drills["skin_groups"], None, error="an empty file; record it again"))
    bad = (NotTaken("interview.m4a", "a .m4a file; hand in a WAV, FLAC or OGG file"),)
    return ClassResult("autumn class", tuple(found), bad, drills, "2 processes on this machine")
