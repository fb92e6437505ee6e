"""Judges an attempt at a drill from timed words alone. Pure.

Attempt ─▶ sensible ─▶ certain ─▶ sieve ─▶ gather ─▶ events, placed
        ─▶ lines (order, runs, measures) ─▶ marks ─▶ Judgement
"""

from dataclasses import replace

from voicecount.drill.attempt import Attempt
from voicecount.drill.judge_calls import Gathered, gather
from voicecount.drill.judge_doubt import certain
from voicecount.drill.judge_events import judge_events
from voicecount.drill.judge_heard import Spoken, give_up, sieve
from voicecount.drill.judge_lines import judge_lines
from voicecount.drill.judge_measures import Measures, judge_spread
from voicecount.drill.judge_parted import parted
from voicecount.drill.judge_plan import PlanOfLines, lines_of
from voicecount.drill.judge_readings import sensible
from voicecount.drill.judge_scene import Scene
from voicecount.drill.judgement import Fault, Judgement, Mark, Result, StepJudged
from voicecount.drill.model import Criterion, Drill, Task
from voicecount.drill.steps import Step, steps
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet


def judge(attempt: Attempt, drill: Drill, sheet: Sheet) -> Judgement:
    """Judge an attempt. The drill has been checked against the sheet.

    Nothing that was not understood, or may have been another thing, is held against the student,
    and a step whose cue is not in the recording is not judged.
    """
    plan = steps(drill, sheet)
    lines = lines_of(plan, sheet)

    def judged(one: Attempt) -> Judgement:
        return _judge(one, drill, sheet, plan, lines)

    return judged(certain(sensible(attempt, {step.item for step in plan}), judged))


def _judge(
    attempt: Attempt, drill: Drill, sheet: Sheet, plan: tuple[Step, ...], lines: PlanOfLines
) -> Judgement:
    understood, unheard, talk = sieve(attempt)
    spoken: list[Spoken] = []
    for one in understood:
        parts, lost = parted(one)
        spoken += parts
        unheard += lost
    said = tuple(sorted(attempt.said, key=lambda one: (one.start, one.end, one.cue)))
    confirms = drill.task is Task.CONFIRM
    gathered = _answers(spoken, plan) if confirms else gather(spoken, lines, said, unheard)
    unheard = sorted([*unheard, *gathered.unheard], key=lambda one: (one.start, one.end))
    scene = Scene(attempt, drill, sheet, plan, lines, unheard, talk, said)
    measures = Measures()
    judge_events(scene, gathered.answers, gathered.calls, measures)
    judge_lines(scene, gathered, measures)
    judge_spread(scene, measures)
    return Judgement(
        tuple(_result(scene, step) for step in plan),
        tuple(
            sorted(scene.findings, key=lambda one: (one.start, one.end, one.step or "", one.fault))
        ),
        tuple(
            one.shown(scene.owner.get(at) or _nearest(scene, one.start))
            for at, one in enumerate(unheard)
        ),
        measures.whole(),
        tuple(_mark(scene, criterion) for criterion in Criterion),
    )


def _answers(spoken: list[Spoken], plan: tuple[Step, ...]) -> Gathered:
    """Take everything for an answer; a number that sounds like another only where one is due."""
    due = {step.number for step in plan}
    due |= {step.planted.run[-1] for step in plan if step.planted and step.planted.run}
    found = Gathered()
    for one in spoken:
        if one.asked is Reason.SOUND_ALIKE and not due.issuperset(one.values):
            found.unheard.append(give_up(one))
        else:
            found.answers.append(one)
    return found


def _result(scene: Scene, step: Step) -> StepJudged:
    """Give what became of a step; a right one with a finding is faulty."""
    judged = scene.steps.get(step.id, StepJudged(step.id, Result.NOT_JUDGED))
    faults = {one.fault for one in scene.findings if one.step == step.id}
    if judged.result in {Result.RIGHT, Result.NOT_HEARD} and faults - {Fault.OTHER_NAME}:
        return replace(judged, result=Result.FAULTY)
    return judged


def _nearest(scene: Scene, start: float) -> str | None:
    """Give the step that was in hand when something was said that was not understood."""
    begun = [
        (one.start, one.step)
        for one in scene.steps.values()
        if one.start is not None and one.start <= start
    ]
    return max(begun)[1] if begun else None


def _mark(scene: Scene, criterion: Criterion) -> Mark:
    """Give one row: each step is one chance; what belongs to no step is one more, and wrong."""
    chances = dict.fromkeys(scene.chances.get(criterion, ()))
    found = [
        one
        for one in scene.findings
        if one.criterion is criterion and one.fault is not Fault.OTHER_NAME
    ]
    wrong = {one.step for one in found if one.step is not None}
    extra = sum(one.step is None for one in found)
    of = len(chances.keys() | wrong)
    return Mark(criterion, scene.drill.weight(criterion), of - len(wrong), of + extra)
