"""Judges the lines that the student calls: all there, in order, one by one, as many as lie there.

Pure. Nothing that was not understood is held against anybody: it speaks for one step at most.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import inf
from statistics import median

from voicecount.drill.judge_calls import Call, Gathered
from voicecount.drill.judge_measures import Measures, judge_level, judge_pace
from voicecount.drill.judge_placed import Placed
from voicecount.drill.judge_plan import Line
from voicecount.drill.judge_runs import Run, Spot, beats, cadence, has_room, lengths, runs_of
from voicecount.drill.judge_scene import Scene
from voicecount.drill.judgement import Fault, Finding, Result, StepJudged
from voicecount.drill.model import Criterion
from voicecount.drill.steps import Step
from voicecount.words.numbers import words_of
from voicecount.words.soundalike import from_digits


def judge_lines(scene: Scene, gathered: Gathered, measures: Measures) -> None:
    """Judge every line of the plan that is to be called."""
    _Lines(scene, gathered, measures).judge()


class _Lines:
    def __init__(self, scene: Scene, gathered: Gathered, measures: Measures) -> None:
        self._scene = scene
        self._measures = measures
        self._placed = Placed(scene, gathered)
        runs = [
            run for packages in self._placed.packages.values() for one in packages for run in one
        ]
        self._beats = [beat for run in runs for beat in beats(run)]
        self._lengths = lengths(runs)

    def judge(self) -> None:
        """Judge all."""
        for line in self._scene.lines.lines:
            if line in self._placed.missing:
                self._missing(line)
            else:
                self._line(line)
        self._order()

    def _missing(self, line: Line) -> None:
        """Judge a line that was never named."""
        scene = self._scene
        call = self._placed.nameless.get(line.at)
        start, end = self._placed.gap(line)
        span = (max(start, 0.0), end) if call is None else (call.start, call.end)
        heard = () if call is None else call.values[-1:]
        nameless = call is not None and call.lost and call.chunks[0].spoken.words_before
        excused = nameless or line.steps[0].id in self._placed.excused
        if excused and call is not None:
            self._without_name(line, call)
        for step in line.steps:
            if excused:
                scene.keep(StepJudged(step.id, Result.NOT_HEARD))
                continue
            scene.chance(Criterion.COMPLETE, step)
            if step is line.steps[0]:
                scene.find(Fault.MISSED_ITEM, *span, step, heard=heard, expected=step.number)
            scene.keep(StepJudged(step.id, Result.MISSING))

    def _without_name(self, line: Line, call: Call) -> None:
        """Judge the run of a line whose name was not understood, where it can be no other's."""
        runs = runs_of([call], (), line.holds)
        if line.at in self._placed.alone and len(line.steps) == len(runs) == 1:
            self._cadence(line, line.steps[0], runs[0], None)

    def _line(self, line: Line) -> None:
        self._interruption(line)
        end = max(call.end for call in self._placed.ordered.by_line[line.at])
        before: Run | None = None
        packages = self._placed.packages[line.at]
        stated = _stated(line, packages)
        if stated is not None:
            self._called(line, replace(line.steps[0], number=line.number), [stated], None)
            for step in line.steps[1:]:
                self._scene.keep(StepJudged(step.id, Result.RIGHT, stated.start, stated.end))
            return
        for step, runs in zip(line.steps, packages, strict=True):
            if runs:
                self._called(line, step, runs, before)
                end, before = runs[-1].end, runs[-1]
            elif step.id in self._placed.excused or line.at in self._placed.lost:
                self._scene.keep(StepJudged(step.id, Result.NOT_HEARD))
            else:
                self._scene.chance(Criterion.COMPLETE, step)
                self._scene.find(Fault.MISSED_ITEM, end, end, step, expected=step.number)
                self._scene.keep(StepJudged(step.id, Result.MISSING))

    def _called(self, line: Line, step: Step, runs: Sequence[Run], before: Run | None) -> None:
        scene, run = self._scene, runs[-1]
        for criterion in (Criterion.COMPLETE, Criterion.FLUENCY):
            scene.chance(criterion, step)
        for one, two in pairwise(runs):
            if self._placed.may_begin_again(line, one, two):
                continue
            if one.counted is not None and one.counted >= step.number:
                scene.find(Fault.CALLED_TWICE, two.start, two.end, step)
            else:
                scene.find(Fault.FALSE_START, one.start, one.end, step, heard=one.values[-1:])
        doubt = self._numbers(line, step, run, before)
        doubt |= any(chunk.spoken.saying.doubt for chunk in run.chunks)
        self._name(step, run)
        judge_pace(scene, self._measures, step, run)
        spoken = [chunk.spoken for chunk in run.chunks]
        levels = judge_level(scene, self._measures, step, spoken, (run.start, run.end))
        scene.keep(
            StepJudged(
                step.id,
                Result.NOT_HEARD if doubt else Result.RIGHT,
                run.start,
                run.end,
                " ".join(" ".join(one.words) for one in spoken),
                tuple(spot.number for spot in run.spots),
                None,
                *levels,
            )
        )

    def _numbers(self, line: Line, step: Step, run: Run, before: Run | None) -> bool:
        """Judge the numbers of a run; tell whether any of it was not understood."""
        scene = self._scene
        excused = step.id in self._placed.excused
        span = (run.start, run.end)
        if not run.spots:
            if not excused:
                scene.chance(Criterion.NUMBERS, step)
                scene.find(Fault.NO_NUMBER, *span, step, expected=step.number)
            return excused
        values, counted = run.values, run.counted or 0
        doubt = False
        if step.may_be_stated and from_digits(values) == step.number:
            counted = step.number  # told by its digits, as a number that sounds like another is
        elif run.total:
            seen = run.glanced and values[0] <= scene.sheet.policy.glance
            if not (step.may_be_stated or seen):
                scene.chance(Criterion.CADENCE, step)
                scene.find(Fault.STATED, *span, step, heard=values)
        elif values != (0,):
            doubt = self._cadence(line, step, run, before)
        short = counted < step.number
        if short and (run.after is not None or self._cut_short(line, run)):
            return doubt
        if (short and (excused or _goes_on(run.spots[-1]))) or (doubt and counted != step.number):
            return True
        self._sum(step, run, counted)
        return doubt

    def _sum(self, step: Step, run: Run, counted: int) -> None:
        self._scene.chance(Criterion.NUMBERS, step)
        if counted != step.number:
            fault = Fault.TOO_FEW if counted < step.number else Fault.TOO_MANY
            last = run.spots[-1].number
            heard, due = (counted,), step.number
            self._scene.find(fault, last.start, last.end, step, heard=heard, expected=due)

    def _cadence(self, line: Line, step: Step, run: Run, before: Run | None) -> bool:
        scene = self._scene
        talked = [one for one in scene.said if one.cue == line.interruption]
        used: list[int] = []
        lost: list[tuple[float, float]] = []

        def doubtful(one: Spot | None, two: Spot) -> bool:
            start = run.start if one is None else one.number.start
            if one is None and not run.chunks[0].named:
                start = self._before(run) if before is None else before.end
            last = run.base if one is None else one.number.value
            if two.number.value == last + 1:
                return False
            found = scene.free(start, two.number.start, step.id)
            used.extend(found)
            if found or any(start < cue.start < two.number.start for cue in talked):
                return True
            length = 1.0 if one is None else self._lengths.get(one.number.value, 1.0)
            if has_room(run, one, two, self._beat(run), length):
                lost.append((start, two.number.start))
                return True
            return False

        wrong = cadence(run, doubtful)
        for at in used:
            scene.owner[at] = step.id
        scene.lost += lost
        if wrong or not (used or lost):
            scene.chance(Criterion.CADENCE, step)
        for one in wrong:
            scene.find(one.fault, one.start, one.end, step, heard=one.heard)
        return bool(used or lost)

    def _beat(self, run: Run) -> float:
        """Give the usual seconds from number to number: of the run, or of all where it is short."""
        own = beats(run)
        return median(own if len(own) > 1 else self._beats or [inf])

    def _before(self, run: Run) -> float:
        """Give the end of the call before a run."""
        ends = [call.end for call in self._placed.calls if call.start < run.chunks[0].start]
        return max((end for end in ends if end <= run.chunks[0].start), default=-inf)

    def _name(self, step: Step, run: Run) -> None:
        named = next((one.spoken for one in run.chunks if one.named), None)
        if named is None or named.meaning.item != step.item:
            return
        scene = self._scene
        scene.chance(Criterion.WORDING, step)
        said = f" {' '.join(named.words)} "
        ways = [
            (len(words), -at, " ".join(words))
            for at, say in enumerate(scene.sheet.item(step.item).say)
            for words in (words_of(say.one), words_of(say.many))
            if f" {' '.join(words)} " in said
        ]
        _, at, name = max(ways, default=(0, 0, ""))
        if at < 0:
            scene.find(Fault.OTHER_NAME, run.start, named.name_end, step, words=name)

    # Interruptions

    def _cut_short(self, line: Line, run: Run) -> bool:
        """Tell whether a run ends where the partner talked into it: that is judged on its own."""
        cue = self._scene.cue(line.interruption) if line.interruption is not None else None
        return cue is not None and run.start < cue.start and run.end < cue.end + 0.5

    def _interruption(self, line: Line) -> None:
        scene, step = self._scene, line.steps[0]
        cue = scene.cue(line.interruption) if line.interruption is not None else None
        if cue is None or not scene.attempt.cues_known:
            return
        runs = [run for runs in self._placed.packages[line.at] for run in runs]
        into = [run for run in runs if run.spots and run.spots[0].number.start <= cue.start]
        if not into or (into[-1].counted == step.number and into[-1].end <= cue.start):
            return
        due = self._due_again(line)
        if due is line:
            again = any(run.spots and run.spots[0].number.start > cue.start for run in runs)
        else:
            calls = self._placed.ordered.by_line.get(due.at, ())
            again = any(call.start > cue.start for call in calls)
        others = [call.start for call in self._placed.calls if call.start > cue.end]
        heard = scene.free(cue.start, min(others, default=inf), step.id)
        if not again and heard:
            scene.owner[heard[0]] = step.id
            return
        scene.chance(Criterion.EVENTS, step)
        if not again:
            later = [spot for spot in into[-1].spots if spot.number.start >= cue.start]
            before = [spot for spot in into[-1].spots if spot.number.start < cue.start]
            end = later[0].number.end if later else cue.end
            last = (before or into[-1].spots)[-1].number.value
            scene.find(Fault.NOT_BEGUN_AGAIN, cue.start, end, step, heard=(last,))

    def _due_again(self, line: Line) -> Line:
        """Give the line that has to be called first after an interruption."""
        lines = self._scene.lines.lines
        scope = self._scene.sheet.policy.interrupted
        if scope == "count":
            return lines[0]
        if scope == "group":
            return next(one for one in lines if one.group is line.group)
        return line

    def _order(self) -> None:
        scene, ordered = self._scene, self._placed.ordered
        lines = scene.lines.lines
        for at in ordered.place:
            scene.chance(Criterion.ORDER, lines[at].steps[0])
        for at in ordered.moved:
            call = ordered.place[at]
            scene.find(Fault.WRONG_ORDER, call.start, call.end, lines[at].steps[0])
        for group, at in ordered.groups:
            own = [
                ordered.place[one.at]
                for one in lines
                if one.group is group and one.at in ordered.place
            ]
            end = max(call.end for call in own)
            scene.find(Fault.WRONG_GROUP, ordered.place[at].start, end, lines[at].steps[0])
        for at, call in ordered.wrong_place.items():
            scene.find(Fault.WRONG_PLACE, call.start, call.end, lines[at].steps[0])
        for call in ordered.unexpected:
            key = call.key or ("", None)
            start, end = scene.moment(call.start, call.end)
            found = Finding(Fault.UNEXPECTED_ITEM, start, end, None, *key, heard=call.values[-1:])
            scene.findings.append(found)


def _stated(line: Line, packages: Sequence[Sequence[Run]]) -> Run | None:
    """Give the run that states what several packages hold as one number, where it came to that."""
    runs = [run for runs in packages for run in runs]
    whole = len(packages) > 1 and bool(runs) and runs[-1].total
    return runs[-1] if whole and runs[-1].counted == line.number else None


def _goes_on(last: Spot) -> bool:
    """Tell whether further numbers may be in the voice after the last one."""
    return last.number is last.chunk.spoken.numbers[-1] and last.chunk.spoken.words_after
