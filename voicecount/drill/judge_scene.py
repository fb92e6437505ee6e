"""What all parts of the judge share: the attempt in parts, and what has been found so far. Pure."""

from dataclasses import dataclass, field, replace
from math import isfinite

from voicecount.drill.attempt import Attempt, Said
from voicecount.drill.judge_heard import Unheard
from voicecount.drill.judge_plan import PlanOfLines
from voicecount.drill.judgement import Fault, Finding, StepJudged
from voicecount.drill.model import Criterion, Drill
from voicecount.drill.steps import Step
from voicecount.sheet.model import Sheet


@dataclass
class Scene:
    """One attempt being judged."""

    attempt: Attempt
    drill: Drill
    sheet: Sheet
    plan: tuple[Step, ...]
    lines: PlanOfLines
    unheard: list[Unheard]
    talk: list[tuple[float, float]]
    said: tuple[Said, ...]
    """By their starts."""
    lost: list[tuple[float, float]] = field(default_factory=list)
    """Stretches in which numbers may have been said that were not heard."""
    findings: list[Finding] = field(default_factory=list)
    steps: dict[str, StepJudged] = field(default_factory=dict)
    chances: dict[Criterion, list[str]] = field(default_factory=dict)
    """Ids of the steps in which each row could be right or wrong."""
    owner: dict[int, str] = field(default_factory=dict)
    """The step that each of ``unheard`` belongs to, by index; each speaks for one step at most."""

    def find(
        self,
        fault: Fault,
        start: float,
        end: float,
        step: Step | None = None,
        *,
        heard: tuple[int, ...] = (),
        expected: int | None = None,
        value: float | None = None,
        words: str = "",
    ) -> None:
        """Keep a finding; its moment is put inside the recording."""
        item, place = (step.item, step.place) if step is not None else (None, None)
        found = Finding(
            fault,
            *self.moment(start, end),
            None if step is None else step.id,
            item,
            place,
            heard,
            expected,
            None if value is None or not isfinite(value) else value,
            words,
        )
        self.findings.append(found)

    def moment(self, start: float, end: float) -> tuple[float, float]:
        """Put a moment inside the recording."""
        first = min(max(start, 0.0), self.attempt.seconds)
        return first, min(max(end, first), self.attempt.seconds)

    def chance(self, criterion: Criterion, step: Step) -> None:
        """Count a step in a row of the rubric."""
        self.chances.setdefault(criterion, []).append(step.id)

    def keep(self, judged: StepJudged) -> None:
        """Keep what became of a step, inside the recording."""
        if judged.start is not None and judged.end is not None:
            start, end = self.moment(judged.start, judged.end)
            judged = replace(judged, start=start, end=end)
        self.steps[judged.step] = judged

    def cue(self, *ids: str) -> Said | None:
        """Give the first time that the partner said one of some cues."""
        return next((one for one in self.said if one.cue in ids), None)

    def free(self, start: float, end: float, step: str | None = None) -> list[int]:
        """Give what was not understood and begins in a stretch, and speaks for no other step."""
        return [
            at
            for at, one in enumerate(self.unheard)
            if start <= one.start < end and self.owner.get(at, step) == step
        ]
