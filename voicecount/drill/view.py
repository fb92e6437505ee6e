"""An attempt as it is shown: every step and finding with its number or letter, moment and words.

The page and its pictures are made from this one list, so that they cannot tell different things.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from string import ascii_uppercase
from typing import Protocol

from voicecount.drill.attempt import Attempt, Said
from voicecount.drill.judgement import Judgement, Number, Result
from voicecount.drill.model import Criterion, Drill
from voicecount.drill.steps import Step, StepKind, steps
from voicecount.drill.wording import told
from voicecount.reasons import MEANINGS, Reason
from voicecount.report.marks import visible
from voicecount.sheet.model import Sheet
from voicecount.words.commands import COMMANDS
from voicecount.words.places import BY_ID

MARKERS: Mapping[Criterion, str] = {
    Criterion.COMPLETE: "s",
    Criterion.ORDER: "D",
    Criterion.CADENCE: "^",
    Criterion.NUMBERS: "v",
    Criterion.WORDING: "p",
    Criterion.PACE: "o",
    Criterion.FLUENCY: "<",
    Criterion.LOUDNESS: ">",
    Criterion.CONFIRMING: "P",
    Criterion.EVENTS: "*",
}
"""The shape of each row of the rubric; colour only helps."""

ROWS: Mapping[Criterion, str] = {
    Criterion.COMPLETE: "Every item named",
    Criterion.ORDER: "Order of the sheet",
    Criterion.CADENCE: "One by one",
    Criterion.NUMBERS: "As many as lie there",
    Criterion.WORDING: "Names of the sheet",
    Criterion.PACE: "Pace",
    Criterion.FLUENCY: "Without pauses and new starts",
    Criterion.LOUDNESS: "Loudness",
    Criterion.CONFIRMING: "Confirmed with the number",
    Criterion.EVENTS: "What was planted",
}

RESULTS: Mapping[Result, str] = {
    Result.RIGHT: "right",
    Result.FAULTY: "something to mend",
    Result.MISSING: "missing",
    Result.NOT_HEARD: "not heard; not held against you",
    Result.NOT_JUDGED: "not judged; its cue is not in the recording",
}
SIGNS: Mapping[Result, str] = {
    Result.RIGHT: "✓",
    Result.FAULTY: "≠",
    Result.MISSING: "✗",
    Result.NOT_HEARD: "?",
    Result.NOT_JUDGED: "\N{EN DASH}",
}
"""Stands before a result's words."""

_KINDS = {StepKind.CONFIRM: "Say back", StepKind.OBJECT: "Object", StepKind.ANSWER: "Answer"}
_PHRASES = {one.id: one.phrases[0] for one in COMMANDS}


class Loaded(Protocol):
    """A drill and its sheet, as ``load.py`` gives them."""

    @property
    def drill(self) -> Drill:
        """The drill."""

    @property
    def sheet(self) -> Sheet:
        """Its sheet."""


@dataclass(frozen=True)
class Line:
    """One step."""

    number: int
    """From 1, in the order of the drill."""
    name: str
    """The item, with its place, or what is to be done."""
    expected: str
    words: str
    numbers: tuple[Number, ...]
    start: float | None
    end: float | None
    result: Result
    letters: tuple[str, ...]
    """Of the findings that belong to it."""
    reaction: float | None
    above_room: float | None


@dataclass(frozen=True)
class Found:
    """One finding."""

    letter: str
    row: Criterion
    start: float
    end: float
    sentence: str
    line: int | None
    """The number of its step."""


@dataclass(frozen=True)
class Unheard:
    """One utterance that was not understood."""

    start: float
    end: float
    why: str
    line: int | None


@dataclass(frozen=True)
class View:
    """All of it."""

    seconds: float
    lines: tuple[Line, ...]
    found: tuple[Found, ...]
    unheard: tuple[Unheard, ...]
    other: tuple[tuple[float, float, str], ...]
    """What else was understood, with no step: start, end, words."""
    said: tuple[Said, ...]
    drill: Drill


def view(judgement: Judgement, attempt: Attempt, loaded: Loaded) -> View:
    """Give an attempt as it is shown."""
    drill, sheet = loaded.drill, loaded.sheet
    plan = {step.id: step for step in steps(drill, sheet)}
    numbers = {one.step: place for place, one in enumerate(judgement.steps, start=1)}
    found = tuple(
        Found(
            letter,
            one.criterion,
            one.start,
            one.end,
            visible(told(one, drill, sheet)),
            None if one.step is None else numbers.get(one.step),
        )
        for letter, one in zip(letters(), judgement.findings, strict=False)
    )
    lines = tuple(
        Line(
            number=numbers[one.step],
            name=visible(_name(plan.get(one.step), one.step, sheet)),
            expected=visible(_expected(plan.get(one.step), one.step, sheet)),
            words=visible(one.words),
            numbers=one.numbers,
            start=one.start,
            end=one.end,
            result=one.result,
            letters=tuple(each.letter for each in found if each.line == numbers[one.step]),
            reaction=one.reaction,
            above_room=one.above_room,
        )
        for one in judgement.steps
    )
    unheard = tuple(
        Unheard(one.start, one.end, reason(one.reason), numbers.get(one.step or ""))
        for one in judgement.not_heard
    )
    taken: list[tuple[float | None, float | None]] = [
        *((one.start, one.end) for one in judgement.not_heard),
        *((one.start, one.end) for one in judgement.steps),
    ]
    other = tuple(
        (one.heard.start, one.heard.end, visible(one.heard.text))
        for one in attempt.sayings
        if one.heard.text and not any(_overlaps(one.heard.start, one.heard.end, *t) for t in taken)
    )
    said = tuple(Said(one.cue, visible(one.words), one.start, one.end) for one in attempt.said)
    return View(attempt.seconds, lines, found, unheard, other, said, drill)


def letters() -> Iterator[str]:
    """Give A to Z, then AA, AB, and so on."""
    length = 1
    while True:
        for each in product(ascii_uppercase, repeat=length):
            yield "".join(each)
        length += 1


def reason(code: str) -> str:
    """Say why something was not understood."""
    return MEANINGS[Reason(code)] if code in set(Reason) else visible(code.replace("_", " "))


def _overlaps(start: float, end: float, left: float | None, right: float | None) -> bool:
    return left is not None and right is not None and start < right and left < end


def _name(step: Step | None, known: str, sheet: Sheet) -> str:
    if step is None:
        return known
    name = sheet.item(step.item).name(2)
    place = "" if step.place is None else f", {BY_ID[step.place].label}"
    what = "" if step.kind is StepKind.CALL else f"{_KINDS[step.kind].lower()}: "
    package = "" if step.package is None else f", package {step.package}"
    return f"{what}{name}{package}{place}"


def _expected(step: Step | None, known: str, sheet: Sheet) -> str:
    if step is None:
        return known
    place = "" if step.place is None else f"{BY_ID[step.place].label}: "
    item = sheet.item(step.item)
    if step.kind is StepKind.CALL:
        package = "" if step.package is None else f" package {step.package},"
        return f"{place}{item.name(2)},{package} {_run(step)}"
    if step.kind is StepKind.CONFIRM:
        return f"{place}say back {step.number} {item.name(step.number)}"
    ways = " or ".join(f"“{_PHRASES.get(one, one.replace('_', ' '))}”" for one in step.expect)
    if step.kind is StepKind.OBJECT:
        event = step.planted
        what = "the number read back is wrong" if event and event.number else "the run is wrong"
        return f"{place}{item.name(2)}, {what}: object, {ways} or {step.number}"
    event = step.planted
    about = f"to “{event.says}”" if event else ""
    within = "" if step.within is None else f" within {step.within:g} s"
    return f"answer {about} by {ways}{within}" if ways else f"answer {about}{within}"


def _run(step: Step) -> str:
    if step.number == 0:
        return "none"
    run = "one" if step.number == 1 else f"1 to {step.number}"
    return f"{run}, or the total" if step.may_be_stated else run
