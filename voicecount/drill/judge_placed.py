"""Where everything belongs before it is judged: packages, runs without a name, and the unclear.

Pure. What was not understood speaks for one step each, or for as many lines as it sounds like.
"""

from itertools import pairwise
from math import inf

from voicecount.drill.attempt import A_LINE
from voicecount.drill.judge_calls import Call, Gathered
from voicecount.drill.judge_order import Ordered, order
from voicecount.drill.judge_plan import Line
from voicecount.drill.judge_runs import Run, by_package, runs_of
from voicecount.drill.judge_scene import Scene
from voicecount.drill.steps import Step


class Placed:
    """The calls by lines and packages, and what speaks for the steps that lack one."""

    def __init__(self, scene: Scene, gathered: Gathered) -> None:
        self._scene = scene
        self.calls = sorted(gathered.calls, key=lambda call: call.start)
        self.ordered: Ordered = order(scene.lines, self.calls)
        self.nameless: dict[int, Call] = {}
        """By ``Line.at``: a run without a name that came where a missing line was due."""
        self.alone: set[int] = set()
        """Lines, by ``at``, whose run without a name can be no other missing line's."""
        self._elsewhere: list[Call] = []
        """Runs whose names were lost, that came where no line was missing."""
        self.lost: set[int] = set()
        """Lines, by ``at``, a further package of which may be in numbers whose name was lost."""
        self.excused: set[str] = set()
        """Ids of steps that something not understood speaks for."""
        self._also: dict[int, int] = {}
        """For how many lines beside one each thing not understood speaks: noise joins lines."""
        self.packages: dict[int, list[list[Run]]] = {}
        """By ``Line.at``: the runs of each package."""
        self.missing = [line for line in scene.lines.lines if line.at not in self.ordered.by_line]
        self._place_nameless()
        for line in scene.lines.lines:
            if line.at in self.ordered.by_line:
                self.packages[line.at] = self._shared_out(line)
        self._excuse()

    def _shared_out(self, line: Line) -> list[list[Run]]:
        """Give the runs of each package; a part of an answer to an event is none."""
        talked = [one for one in self._scene.said if one.cue == line.interruption]
        runs = runs_of(self.ordered.by_line[line.at], talked, line.holds)
        after = self._event(line)
        kept = [run for run in runs if run.start < after or run.counted in line.holds]
        start, end = self.gap(line)
        unheard = any(
            start <= one.start < end and one.start > runs[0].start for one in self._scene.unheard
        )
        return by_package(
            kept or runs,
            line.holds,
            lambda one, two: self.may_begin_again(line, one, two),
            unheard=unheard,
        )

    def _event(self, line: Line) -> float:
        """Give when an event was told after which the line may be called again."""
        cue = self._scene.cue(*line.events)
        return inf if cue is None else cue.start

    def may_begin_again(self, line: Line, one: Run, two: Run) -> bool:
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

    def gap(self, line: Line) -> tuple[float, float]:
        """Give the stretch in which a line was due: between those around it that were called."""
        place = self.ordered.place
        before = [place[at].end for at in place if at < line.at]
        after = [place[at].start for at in place if at > line.at]
        start = max(before, default=-inf)
        return start, min((one for one in after if one >= start), default=inf)

    def _place_nameless(self) -> None:
        """Give each run without a name to the missing line whose place it has, or to the last."""
        free = list(self.missing)
        for call in self.ordered.orphans:
            topic = None if call.topic is None else self._scene.lines.by_key.get(call.topic)
            own = None if topic is None else self.ordered.by_line.get(topic.at)
            if own is not None and topic is not None:
                if call.lost:
                    self.lost.add(topic.at)
                if self._may_be_package(topic, call):
                    _take_in(own, call)
                    continue
            lines = [line for line in free if self.gap(line)[0] <= call.start <= self.gap(line)[1]]
            if lines:
                fits = [line for line in lines if call.values[-1] in line.holds]
                chosen = (fits or lines)[0]
                self.nameless[chosen.at] = call
                if len(lines) == 1:
                    self.alone.add(chosen.at)
                free.remove(chosen)
            elif own is not None and (not call.lost or call.chunks[0].spoken.parted):
                _take_in(own, call)
            elif call.lost:
                self._elsewhere.append(call)

    def _may_be_package(self, line: Line, call: Call) -> bool:
        """Tell whether a run without a name is what a further package of a line holds."""
        later = list(zip(line.holds, self._shared_out(line), strict=True))[1:]
        wanted = {hold for hold, runs in later if not runs or runs[-1].counted != hold}
        return call.values[0] == 1 and call.values[-1] in wanted

    def _excuse(self) -> None:
        """Let everything that was not understood speak for one step, or for as many as it holds."""
        scene = self._scene
        left = list(self.missing)
        for at in self._free():
            meaning = scene.unheard[at].meaning
            item = None if meaning is None else meaning.item
            named = next((line for line in left if line.key[0] == item), None)
            if named is not None:
                left.remove(named)
                self._speaks_for(at, named.steps[0])
            elif meaning is not None and item is None and meaning.numbers:
                self._goes_on(at)
        for found in (self._free_where_due, self._shared_where_due, self._free_elsewhere):
            for line in list(left):
                if (heard := found(line)) is not None:
                    left.remove(line)
                    self._speaks_for(heard, line.steps[0])
        self.excused |= {line.steps[0].id for line, _ in zip(left, self._elsewhere, strict=False)}
        for at in self._free():
            self._goes_on(at)

    def _free(self, start: float = -inf, end: float = inf) -> list[int]:
        """Give what was not understood, is the student's, and speaks for nothing else yet."""
        scene = self._scene
        return [at for at in scene.free(start, end) if not scene.unheard[at].faint]

    def _free_where_due(self, line: Line) -> int | None:
        return next(iter(self._free(*self.gap(line))), None)

    def _shared_where_due(self, line: Line) -> int | None:
        """Find what speaks for another step, and sounds like more lines than it speaks for."""
        start, end = self.gap(line)
        for at, one in enumerate(self._scene.unheard):
            numbers = () if one.meaning is None else one.meaning.numbers
            falls = sum(two < one for one, two in pairwise(numbers))
            if start <= one.start < end and not one.faint and falls > self._also.get(at, 0):
                self._also[at] = self._also.get(at, 0) + 1
                return at
        return None

    def _free_elsewhere(self, _line: Line) -> int | None:
        """Find what may be a whole line, called at another place."""
        return next((at for at in self._free() if self._may_be_line(at)), None)

    def _may_be_line(self, at: int) -> bool:
        """Tell whether something not understood may be a whole line, called at another place."""
        heard = self._scene.unheard[at]
        inside = any(call.start < heard.start < call.end for call in self.calls)
        return not inside and heard.end - heard.start >= A_LINE

    def _speaks_for(self, at: int, step: Step) -> None:
        self._scene.owner.setdefault(at, step.id)
        self.excused.add(step.id)

    def _goes_on(self, at: int) -> None:
        """Let it speak for the rest of the line that was in hand, where one is short."""
        heard = self._scene.unheard[at]
        before = [call for call in self.calls if call.start <= heard.start]
        if not before:
            return
        call = before[-1]
        for line in self._scene.lines.lines:
            if call in self.ordered.by_line.get(line.at, ()):
                short = [
                    step
                    for step, runs in zip(line.steps, self.packages[line.at], strict=True)
                    if step.id not in self.excused
                    and (not runs or runs[-1].counted is None or runs[-1].counted < step.number)
                ]
                if heard.start < call.end:
                    packages = zip(line.steps, self.packages[line.at], strict=True)
                    begun = [step for step, own in packages if own and own[0].start < heard.start]
                    self._scene.owner[at] = (begun[-1] if begun else line.steps[0]).id
                elif short:
                    self._speaks_for(at, short[0])


def _take_in(own: list[Call], call: Call) -> None:
    own.append(call)
    own.sort(key=lambda one: one.start)


def _first(run: Run) -> float:
    """Give where a run's numbers begin, or its name where it has none."""
    return run.spots[0].number.start if run.spots else run.start
