"""The lines of a drill that the student calls: what is done, and what the partner reads back. Pure.

A line may come in packages, each a run of its own; it is read back after the last one. What is
read back is what the student called, never what lies there.
"""

from dataclasses import dataclass

from voicecount.count.cadence import check_run
from voicecount.drill.calls import Call
from voicecount.drill.model import Drill, EventKind, There
from voicecount.drill.steps import Cue, Step, StepKind, When, read_back, steps
from voicecount.sheet.model import Sheet
from voicecount.words.numbers import LARGEST


@dataclass(frozen=True)
class Speech:
    """Something that the partner says now."""

    cue: str
    """The id of a cue of ``steps.py``, or one of those in ``session.py``."""
    words: str


class Lines:
    """The steps of a drill and which of them are done. All cues but read-backs are said once."""

    def __init__(self, drill: Drill, sheet: Sheet) -> None:
        self._drill = drill
        self._sheet = sheet
        self._called: dict[str, list[int]] = {}
        self._used: set[str] = set()
        self.steps = steps(drill, sheet)
        self.done: set[str] = set()
        """Ids of steps that are done, or passed over."""

    @property
    def all_done(self) -> bool:
        """Whether nothing is left to do."""
        return self.done.issuperset(step.id for step in self.steps)

    @property
    def may_interrupt(self) -> bool:
        """Whether a cue still waits for a number inside a run."""
        talks = (_talk(step) for step in self.steps if step.id not in self.done)
        return any(cue is not None and cue.id not in self._used for cue in talks)

    def leading(self) -> list[Step]:
        """Give what comes before the first line that is to be called."""
        return self._until_call(self.steps)

    def following(self, call: Call) -> list[Step]:
        """Give what comes after a line, up to the next one."""
        mine = [at for at, step in enumerate(self.steps) if step in self._plan(call.line)]
        return self._until_call(self.steps[mine[-1] + 1 :]) if mine else []

    def place_of(self, item: str, before: Call | None, said: str | None) -> str | None:
        """Give where a line without a place of its own belongs to.

        ``before`` is the run in hand, ``said`` a place that was said alone.
        """
        mine = [step for step in self._calls() if step.item == item]
        if all(step.place is None for step in mine):
            return None
        if said is not None:
            return said
        if before is not None and before.item == item:
            return before.place
        ahead = [step for step in mine if step.id not in self.done]
        return (ahead or mine)[0].place

    def is_package(self, call: Call) -> bool:
        """Tell whether a run is near enough to a package that a further one may follow it."""
        left = self._left(call.line)
        if not call.numbers or len(left) < 2 or check_run(call.numbers) is not None:
            return False
        return call.number * 2 > left[0].number

    def take(self, call: Call) -> bool:
        """Take a run that is over; tells whether its line is over, too."""
        called = self._called.setdefault(call.line, [])
        if call.extends and called:
            called[-1] = call.number
            return not self._left(call.line)
        left = self._left(call.line)
        if not left:  # the whole line is called once more
            self.forget(call.line)
            left = self._left(call.line)
        self._called.setdefault(call.line, []).append(call.number)
        if left:
            self.done.add(left[0].id)
        return len(left) < 2

    def forget(self, line: str) -> None:
        """Take a line back."""
        self._called.pop(line, None)
        self.done.difference_update(step.id for step in self._plan(line))

    def read_back(self, call: Call) -> list[Speech]:
        """Read back what was called; nothing for a student alone with the table."""
        if not self._drill.partner:
            return []
        return [Speech(f"{call.line}.read_back", self._words(call, self.total(call)))]

    def misread(self, call: Call) -> Speech | None:
        """Give the planted misreading, once: another number than the student called."""
        events = (step.planted for step in self.following(call) if step.kind is StepKind.OBJECT)
        planted = next((one for one in events if one and one.kind is EventKind.MISREAD), None)
        said = [cue for step in self._plan(call.line) for cue in step.cues]
        cue = next((one for one in said if one.when is When.STEP_DONE), None)
        if planted is None or cue is None or cue.id in self._used:
            return None
        self._used.add(cue.id)
        number, total = planted.number, self.total(call)
        if number is None or number == total:
            number = total - 1 if total > 1 else total + 1
        return Speech(cue.id, self._words(call, number))

    def interruption(self, call: Call) -> Speech | None:
        """Talk, once, into a run that has come to the number planned, unless it is over by then."""
        left = self._left(call.line)
        cue = _talk(left[0]) if left else None
        if cue is None or cue.number is None or not call.numbers:
            return None
        if cue.id in self._used or not cue.number <= call.number < left[0].number:
            return None
        self._used.add(cue.id)
        return Speech(cue.id, cue.words)

    def total(self, call: Call) -> int:
        """Give what the student came to in a line, over all its packages."""
        total = sum(self._called.get(call.line, ())) or call.number
        return total if total <= LARGEST else call.number

    def _words(self, call: Call, number: int) -> str:
        there = There(item=call.item, number=number, place=call.place)
        return read_back(there, number, self._sheet)

    def _calls(self) -> list[Step]:
        return [step for step in self.steps if step.kind is StepKind.CALL]

    def _plan(self, line: str) -> list[Step]:
        """Give the runs that a line should have, in order."""
        return [step for step in self._calls() if _line(step) == line]

    def _left(self, line: str) -> list[Step]:
        return [step for step in self._plan(line) if step.id not in self.done]

    def _until_call(self, plan: tuple[Step, ...]) -> list[Step]:
        ends = (at for at, step in enumerate(plan) if step.kind is StepKind.CALL)
        found = plan[: next(ends, len(plan))]
        return [step for step in found if step.id not in self.done]


def _line(step: Step) -> str:
    return Call(step.item, step.place, (), 0.0).line


def _talk(step: Step) -> Cue | None:
    return next((cue for cue in step.cues if cue.when is When.NUMBER_SAID), None)
