"""A class as it was graded: attempts, what could not be graded, and the sums of both. Pure data.

Every sum keeps of how many it is.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from voicecount.drill.class_files import Handed, NotTaken
from voicecount.drill.judgement import Fault, Judgement, Result
from voicecount.drill.load import Loaded
from voicecount.drill.model import Criterion
from voicecount.drill.steps import Step, StepKind, steps


@dataclass(frozen=True)
class Graded:
    """One recording with its judgement, or with the reason why there is none."""

    handed: Handed
    title: str
    """The drill's title; empty where the drill is not known."""
    recording: str
    """SHA-256 of the recording, in hex; empty where it could not be read."""
    against: str
    """SHA-256 of drill and sheet, in hex."""
    seconds: float | None = None
    """Length of the recording."""
    recogniser: str = ""
    judgement: Judgement | None = None
    error: str | None = None
    """One line, where there is no judgement."""


@dataclass(frozen=True)
class Part:
    """So many of so many."""

    right: int
    of: int

    def __str__(self) -> str:
        return f"{self.right} of {self.of}"

    @property
    def share(self) -> float | None:
        """Give the share, 0 to 1; None of nothing."""
        return self.right / self.of if self.of else None


@dataclass(frozen=True)
class Line:
    """A line of a drill, and how it went in all attempts at it."""

    drill: str
    """The drill's title."""
    name: str
    """What has to be called there."""
    faulty: int
    missing: int
    not_heard: int
    attempts: int
    """In which it could be judged or was not heard."""

    @property
    def heard(self) -> int:
        """Give in how many attempts it was heard or left out: what it can go wrong in."""
        return self.attempts - self.not_heard

    @property
    def wrong(self) -> int:
        """Give in how many attempts it was left out or called with a fault."""
        return self.faulty + self.missing


@dataclass(frozen=True)
class ClassResult:
    """What is shown of a class."""

    name: str
    """What the folder is called."""
    graded: tuple[Graded, ...]
    """By student, drill and attempt; those with an error among them."""
    not_taken: tuple[NotTaken, ...]
    drills: Mapping[str, Loaded]
    """By the name in ``Handed.drill``."""
    engine: str = ""

    @property
    def judged(self) -> tuple[tuple[Graded, Judgement], ...]:
        """Give the attempts that have a judgement."""
        return tuple((one, one.judgement) for one in self.graded if one.judgement is not None)

    @property
    def bad(self) -> tuple[NotTaken, ...]:
        """Give everything that was not graded, with its reason."""
        failed = [NotTaken(one.handed.file, one.error) for one in self.graded if one.error]
        return (*self.not_taken, *failed)

    @property
    def students(self) -> tuple[str, ...]:
        """Give the codes of the students with a judged attempt."""
        return tuple(dict.fromkeys(one.handed.student for one, _ in self.judged))

    @property
    def alike(self) -> tuple[tuple[str, ...], ...]:
        """Give the files that hold the very same recording under several names."""
        files: dict[str, list[str]] = {}
        for one in self.graded:
            if one.recording:
                files.setdefault(one.recording, []).append(one.handed.file)
        return tuple(tuple(same) for same in files.values() if len(same) > 1)

    def row(self, student: str, criterion: Criterion) -> Part:
        """Give a row of the rubric over all attempts of a student."""
        marks = [
            mark
            for one, judgement in self.judged
            if one.handed.student == student
            for mark in judgement.marks
            if mark.criterion is criterion
        ]
        return Part(sum(mark.right for mark in marks), sum(mark.of for mark in marks))

    def rows(self) -> tuple[Criterion, ...]:
        """Give the rows of the rubric in which anything was judged."""
        there = {m.criterion for _, judgement in self.judged for m in judgement.marks if m.of}
        return tuple(criterion for criterion in Criterion if criterion in there)

    def scores(self) -> tuple[float, ...]:
        """Give the scores of all attempts that have one, 0 to 1."""
        return tuple(
            score for _, judgement in self.judged if (score := judgement.score) is not None
        )

    def of_student(
        self, student: str, value: Callable[[Judgement], float | None]
    ) -> tuple[float, ...]:
        """Give a value of every attempt of a student that has it."""
        mine = [judgement for one, judgement in self.judged if one.handed.student == student]
        return tuple(found for judgement in mine if (found := value(judgement)) is not None)

    def lines(self) -> tuple[Line, ...]:
        """Give the lines of all drills, those first that went wrong most often."""
        found = [
            line
            for name, loaded in self.drills.items()
            for line in self._lines(
                loaded, [judged for one, judged in self.judged if one.handed.drill == name]
            )
        ]
        return tuple(
            sorted(found, key=lambda line: (-line.wrong / max(line.heard, 1), -line.heard))
        )

    @staticmethod
    def _lines(loaded: Loaded, judgements: Sequence[Judgement]) -> Iterable[Line]:
        for step in steps(loaded.drill, loaded.sheet):
            results: list[Result] = [
                one.result
                for judgement in judgements
                for one in judgement.steps
                if one.step == step.id and one.result is not Result.NOT_JUDGED
            ]
            if results:
                yield Line(
                    loaded.drill.title,
                    step_name(step, loaded),
                    results.count(Result.FAULTY),
                    results.count(Result.MISSING),
                    results.count(Result.NOT_HEARD),
                    len(results),
                )

    def faults(self) -> tuple[tuple[Fault, Part], ...]:
        """Give each kind of finding with the number of attempts that have it."""
        kinds = [{one.fault for one in judgement.findings} for _, judgement in self.judged]
        found = [(fault, sum(fault in one for one in kinds)) for fault in Fault]
        each = [(fault, Part(number, len(kinds))) for fault, number in found if number]
        return tuple(sorted(each, key=lambda one: -one[1].right))


_DOES: Mapping[StepKind, str] = {
    StepKind.CONFIRM: "confirm",
    StepKind.OBJECT: "object to",
    StepKind.ANSWER: "answer",
}


def step_name(step: Step, loaded: Loaded) -> str:
    """Give what a step is about in words of the sheet: ``lap sponges, in the field``."""
    name = loaded.sheet.item(step.item).name(2)
    place = "" if step.place is None else f", {step.place.replace('_', ' ')}"
    event = "" if step.planted is None else f" ({step.planted.kind.replace('_', ' ')})"
    does = f"{_DOES[step.kind]} " if step.kind in _DOES else ""
    return f"{does}{name}{place}{event}"


def middle(values: Sequence[float]) -> float | None:
    """Give the median; None of nothing."""
    return median(values) if values else None


def percent(share: float | None) -> str:
    """Write a share as whole percent; ``none`` where there is none."""
    return "none" if share is None else f"{100 * share:.0f} %"


def plain(code: str) -> str:
    """Write a code as words: ``too_few`` is ``too few``."""
    return code.replace("_", " ")
