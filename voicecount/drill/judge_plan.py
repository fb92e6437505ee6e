"""The plan of a drill by lines, as the judge compares with it. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from voicecount.drill.steps import Step, StepKind, When
from voicecount.sheet.model import Sheet
from voicecount.sheet.plan import Group

Key = tuple[str, str | None]
"""Item and place."""


@dataclass(frozen=True)
class Line:
    """One line that is to be called: a CALL for each of its packages."""

    at: int
    key: Key
    group: Group
    steps: tuple[Step, ...]
    events: tuple[str, ...] = ()
    """Ids of the cues after which it may well be called again."""
    told: frozenset[int] = frozenset()
    """Numbers that an answer to the partner may well be."""

    @property
    def holds(self) -> tuple[int, ...]:
        """Give how many each package holds."""
        return tuple(step.number for step in self.steps)

    @property
    def number(self) -> int:
        """Give how many lie there."""
        return sum(self.holds)

    @property
    def done_cues(self) -> frozenset[str]:
        """Give the cues that say that the line is over."""
        cues = (cue for step in self.steps for cue in step.cues)
        return frozenset(cue.id for cue in cues if cue.when is When.STEP_DONE)

    @property
    def interruption(self) -> str | None:
        """Give the cue that talks into its first run."""
        cues = (cue for step in self.steps for cue in step.cues)
        return next((cue.id for cue in cues if cue.when is When.NUMBER_SAID), None)


@dataclass(frozen=True)
class PlanOfLines:
    """All lines in the order in which they are to be called."""

    lines: tuple[Line, ...]
    by_key: dict[Key, Line] = field(default_factory=dict)

    def of_item(self, item: str) -> list[Line]:
        """Give the lines of an item, in order."""
        return [line for line in self.lines if line.key[0] == item]

    @property
    def interruptions(self) -> frozenset[str]:
        """Give the cues that talk into any line."""
        return frozenset(line.interruption for line in self.lines if line.interruption is not None)


def lines_of(plan: Sequence[Step], sheet: Sheet) -> PlanOfLines:
    """Group the CALLs of a plan by lines, and find what may happen to each."""
    by_key: dict[Key, list[Step]] = {}
    events: dict[Key, list[Step]] = {}
    for step in plan:
        key = (step.item, step.place)
        if step.kind is StepKind.CALL:
            by_key.setdefault(key, []).append(step)
        elif by_key.get(key):  # an event before the line gives no reason to call it again
            events.setdefault(key, []).append(step)
    lines = tuple(
        Line(
            at,
            key,
            sheet.item(key[0]).group,
            tuple(steps),
            tuple(step.id for step in events.get(key, ())),
            frozenset(
                {
                    sum(step.number for step in steps),
                    *(number for step in events.get(key, ()) for number in _told(step)),
                }
            ),
        )
        for at, (key, steps) in enumerate(by_key.items())
    )
    return PlanOfLines(lines, {line.key: line for line in lines})


def _told(step: Step) -> tuple[int, ...]:
    """Give the number that the partner says in an event."""
    number = None if step.planted is None else step.planted.number
    return () if number is None else (number,)
