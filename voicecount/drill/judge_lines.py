"""Judges the lines that the student calls: all there, in order, one by one, as many as lie there.

Pure. Nothing that was not understood is held against anybody: it speaks for one step at most.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import inf

from voicecount.drill.judge_calls import Call, Gathered
from voicecount.drill.judge_measures import Measures, judge_level, judge_pace
from voicecount.drill.judge_order import Ordered, order
from voicecount.drill.judge_plan import Line
from voicecount.drill.judge_runs import Run, Spot, by_package, cadence, runs_of
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
        self._calls = sorted(gathered.calls, key=lambda call: call.start)
        self._measures = measures
        self._ordered: Ordered = order(scene.lines, self._calls)
        self._nameless: dict[int, Call] = {}
        self._lost: set[int] = set()
        """Lines, by ``at``, a further package of which may be in numbers whose name was lost."""
        self._excused: set[str] = set()
        """Ids of steps that something not understood speaks for."""
        self._packages: dict[int, list[list[Run]]] = {}

    def judge(self) -> None:
        """Judge all."""
        scene, ordered = self._scene, self._ordered
        missing = [line for line in scene.lines.lines if line.at not in ordered.by_line]
        self._place_nameless(missing)
        for line in scene.lines.lines:
            if line.at in ordered.by_line:
                self._packages[line.at] = self._shared_out(line)
        self._excuse(missing)
        for line in scene.lines.lines:
            if line in missing:
                self._missing(line)
            else:
                self._line(line)
        self._order()

    def _shared_out(self, line: Line) -> list[list[Run]]:
        """Give the runs of each package; a part of an answer to an event is none."""
        talked = [one for one in self._scene.said if one.cue == line.interruption]
        runs = runs_of(self._ordered.by_line[line.at], talked, line.holds)
        after = self._event(line)
        kept = [run for run in runs if run.start < after or run.counted in line.holds]
        start, end = self._gap(line)
        unheard = any(
            start <= one.start < end and one.start > runs[0].start for one in self._scene.unheard
        )
        return by_package(
            kept or runs,
            line.holds,
            lambda one, two: self._may_begin_again(line, one, two),
            unheard=unheard,
        )

    def _event(self, line: Line) -> float:
        """Give when an event was told after which the line may be called again."""
        cue = self._scene.cue(*line.events)
        return inf if cue is None else cue.start

    def _may_begin_again(self, line: Line, one: Run, two: Run) -> bool:
        """Tell whether there was a reason to begin again: an event, or words not understood."""
        scene = self._scene
        if two.start >= self._event(line):
            return True
        own = scene.sheet.policy.interrupted == "line"
        reasons = {line.interruption} if own else scene.lines.interruptions
        known = {cue.id for step in scene.plan for cue in step.cues}
        if not scene.attempt.cues_known and (line.events or line.interruption is not None):
            return True
        return any(
            one.start <= said.start < _first(two) and (said.cue in reasons or said.cue not in known)
            for said in scene.said
        ) or any(one.start <= heard.start < _first(two) for heard in scene.unheard)

    # What was not understood, and runs without a name

    def _gap(self, line: Line) -> tuple[float, float]:
        """Give the stretch in which a line was due: between those around it that were called."""
        place = self._ordered.place
        before = [place[at].end for at in place if at < line.at]
        after = [place[at].start for at in place if at > line.at]
        start = max(before, default=-inf)
        return start, min((one for one in after if one >= start), default=inf)

    def _place_nameless(self, missing: Sequence[Line]) -> None:
        """Give each run without a name to the missing line whose place it has, or to the last."""
        free = list(missing)
        for call in self._ordered.orphans:
            topic = None if call.topic is None else self._scene.lines.by_key.get(call.topic)
            own = None if topic is None else self._ordered.by_line.get(topic.at)
            if own is not None and topic is not None:
                if call.lost:
                    self._lost.add(topic.at)
                if self._may_be_package(topic, call):
                    _take_in(own, call)
                    continue
            lines = [
                line for line in free if self._gap(line)[0] <= call.start <= self._gap(line)[1]
            ]
            if lines:
                fits = [line for line in lines if call.values[-1] in line.holds]
                chosen = (fits or lines)[0]
                self._nameless[chosen.at] = call
                free.remove(chosen)
            elif not call.lost and own is not None:
                _take_in(own, call)

    def _may_be_package(self, line: Line, call: Call) -> bool:
        """Tell whether a run without a name is what a further package of a line holds."""
        later = list(zip(line.holds, self._shared_out(line), strict=True))[1:]
        wanted = {hold for hold, runs in later if not runs or runs[-1].counted != hold}
        return call.values[0] == 1 and call.values[-1] in wanted

    def _excuse(self, missing: Sequence[Line]) -> None:
        """Let everything that was not understood speak for one step."""
        scene = self._scene
        left = list(missing)
        for at in scene.free(-inf, inf):
            meaning = scene.unheard[at].meaning
            item = None if meaning is None else meaning.item
            named = next((line for line in left if line.key[0] == item), None)
            if named is not None:
                left.remove(named)
                self._speaks_for(at, named.steps[0])
            elif meaning is not None and item is None and meaning.numbers:
                self._goes_on(at)
        for line in list(left):
            found = scene.free(*self._gap(line))
            if found:
                left.remove(line)
                self._speaks_for(found[0], line.steps[0])
        for at in scene.free(-inf, inf):
            self._goes_on(at)

    def _speaks_for(self, at: int, step: Step) -> None:
        self._scene.owner[at] = step.id
        self._excused.add(step.id)

    def _goes_on(self, at: int) -> None:
        """Let it speak for the rest of the line that was in hand, where one is short."""
        heard = self._scene.unheard[at]
        before = [call for call in self._calls if call.start <= heard.start]
        if not before:
            return
        call = before[-1]
        for line in self._scene.lines.lines:
            if call in self._ordered.by_line.get(line.at, ()):
                short = [
                    step
                    for step, runs in zip(line.steps, self._packages[line.at], strict=True)
                    if step.id not in self._excused
                    and (not runs or runs[-1].counted is None or runs[-1].counted < step.number)
                ]
                if heard.start < call.end:
                    packages = zip(line.steps, self._packages[line.at], strict=True)
                    begun = [step for step, own in packages if own and own[0].start < heard.start]
                    self._scene.owner[at] = (begun[-1] if begun else line.steps[0]).id
                elif short:
                    self._speaks_for(at, short[0])

    # Judging

    def _missing(self, line: Line) -> None:
        """Judge a line that was never named."""
        scene = self._scene
        call = self._nameless.get(line.at)
        start, end = self._gap(line)
        span = (max(start, 0.0), end) if call is None else (call.start, call.end)
        heard = () if call is None else call.values[-1:]
        excused = line.steps[0].id in self._excused
        for step in line.steps:
            if excused:
                scene.keep(StepJudged(step.id, Result.NOT_HEARD))
                continue
            scene.chance(Criterion.COMPLETE, step)
            if step is line.steps[0]:
                scene.find(Fault.MISSED_ITEM, *span, step, heard=heard, expected=step.number)
            scene.keep(StepJudged(step.id, Result.MISSING))

    def _line(self, line: Line) -> None:
        self._interruption(line)
        end = max(call.end for call in self._ordered.by_line[line.at])
        before: Run | None = None
        for step, runs in zip(line.steps, self._packages[line.at], strict=True):
            if runs:
                self._called(line, step, runs, before)
                end, before = runs[-1].end, runs[-1]
            elif step.id in self._excused or line.at in self._lost:
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
            if self._may_begin_again(line, one, two):
                continue
            if one.counted is not None and one.counted >= step.number:
                scene.find(Fault.CALLED_TWICE, two.start, two.end, step)
            else:
                scene.find(Fault.FALSE_START, one.start, one.end, step, heard=one.values[-1:])
        doubt = self._numbers(line, step, run, before)
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
        excused = step.id in self._excused
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
        if counted < step.number and self._cut_short(line, run):
            return doubt
        if counted != step.number and (doubt or (excused and counted < step.number)):
            return True
        scene.chance(Criterion.NUMBERS, step)
        if counted != step.number:
            fault = Fault.TOO_FEW if counted < step.number else Fault.TOO_MANY
            last = run.spots[-1].number
            scene.find(fault, last.start, last.end, step, heard=(counted,), expected=step.number)
        return doubt

    def _cadence(self, line: Line, step: Step, run: Run, before: Run | None) -> bool:
        scene = self._scene
        talked = [one for one in scene.said if one.cue == line.interruption]
        used: list[int] = []

        def doubtful(one: Spot | None, two: Spot) -> bool:
            start = run.start if one is None else one.number.start
            if one is None and not run.chunks[0].named:
                start = self._before(run) if before is None else before.end
            last = run.base if one is None else one.number.value
            if two.number.value == last + 1:
                return False
            found = scene.free(start, two.number.start, step.id)
            used.extend(found)
            cut = any(start < cue.start < two.number.start for cue in talked)
            return bool(found) or cut

        wrong = cadence(run, doubtful)
        for at in used:
            scene.owner[at] = step.id
        if wrong or not used:
            scene.chance(Criterion.CADENCE, step)
        for one in wrong:
            scene.find(one.fault, one.start, one.end, step, heard=one.heard)
        return bool(used)

    def _before(self, run: Run) -> float:
        """Give the end of the call before a run."""
        ends = [call.end for call in self._calls if call.start < run.chunks[0].start]
        return max((end for end in ends if end <= run.chunks[0].start), default=-inf)

    def _name(self, step: Step, run: Run) -> None:
        named = next((one.spoken for one in run.chunks if one.named), None)
        if named is None or named.meaning.item != step.item:
            return
        scene = self._scene
        scene.chance(Criterion.WORDING, step)
        said = f" {' '.join(named.words)} "
        ways = [
            (len(words), -at)
            for at, say in enumerate(scene.sheet.item(step.item).say)
            for words in (words_of(say.one), words_of(say.many))
            if f" {' '.join(words)} " in said
        ]
        if ways and max(ways)[1] < 0:
            scene.find(Fault.OTHER_NAME, run.start, named.name_end, step)

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
        runs = [run for runs in self._packages[line.at] for run in runs]
        into = [run for run in runs if run.spots and run.spots[0].number.start <= cue.start]
        if not into or (into[-1].counted == step.number and into[-1].end <= cue.start):
            return
        due = self._due_again(line)
        if due is line:
            again = any(run.spots and run.spots[0].number.start > cue.start for run in runs)
        else:
            calls = self._ordered.by_line.get(due.at, ())
            again = any(call.start > cue.start for call in calls)
        others = [call.start for call in self._calls if call.start > cue.end]
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
        scene, ordered = self._scene, self._ordered
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


def _take_in(own: list[Call], call: Call) -> None:
    own.append(call)
    own.sort(key=lambda one: one.start)


def _first(run: Run) -> float:
    """Give where a run's numbers begin, or its name where it has none."""
    return run.spots[0].number.start if run.spots else run.start
