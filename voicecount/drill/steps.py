"""What has to happen in a drill, in order: the steps, and the partner's cues. Pure.

    Drill + Sheet ─▶ steps(…) ─▶ Step, Step, …

The session speaks by it and the judge compares with it, so that both know one plan.

A line of packages is called package by package in a first count and in an addition (count packaged
items by the number they are packed in: AORN FAQ 2015), so each package is a CALL of its own; the
partner reads the line back after the last one.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from voicecount.drill.model import Drill, EventKind, Planted, Task, There
from voicecount.sheet.model import Item, Sheet
from voicecount.words.numbers import in_words
from voicecount.words.places import BY_ID


class StepKind(StrEnum):
    """What the student has to do."""

    CALL = "call"
    """Call a line: name, then one, two, three … up to ``number``; "none" where it is 0."""
    CONFIRM = "confirm"
    """Say the number of a line that the partner called."""
    OBJECT = "object"
    """Say that something is not right: by the command, or by the right number."""
    ANSWER = "answer"
    """Answer a planted event by one of ``expect``."""


class When(StrEnum):
    """What a cue waits for."""

    STEP_BEGINS = "step_begins"
    """The step before is done."""
    NUMBER_SAID = "number_said"
    """The student has said number ``number`` of the step's run."""
    STEP_DONE = "step_done"
    """The student has done the step."""


@dataclass(frozen=True)
class Cue:
    """Something that the partner says."""

    id: str
    """The cue that an OBJECT or ANSWER waits for has the id of that step."""
    when: When
    words: str
    number: int | None = None


@dataclass(frozen=True)
class Step:
    """One thing that the student has to do."""

    id: str
    """Unique in the drill: ``lap_sponge``, ``lap_sponge.2`` (its second package),
    ``lap_sponge@field``, ``lap_sponge.dropped``.
    """
    kind: StepKind
    item: str
    place: str | None
    number: int
    """How many lie there; of a package, how many it holds."""
    may_be_stated: bool = False
    """Whether a total may be stated instead of being counted one by one."""
    expect: tuple[str, ...] = ()
    """Ids of commands, any of which is right."""
    within: float | None = None
    """Seconds from the end of the cue in which the answer has to begin; None: no limit."""
    planted: Planted | None = None
    """The event that this step answers; an INTERRUPTION stands at the CALL itself."""
    cues: tuple[Cue, ...] = ()
    package: int | None = None
    """Which package of a line of several this is, from 1; None for a line in one run. From the
    second on the name may be left out.
    """

    @property
    def interrupted_after(self) -> int | None:
        """The number of the run after which the partner talks into it."""
        if self.kind is StepKind.CALL and self.planted is not None:
            return self.planted.after
        return None


def steps(drill: Drill, sheet: Sheet) -> tuple[Step, ...]:
    """Give what has to happen, in order. The drill has been checked against the sheet."""
    found: list[Step] = []
    for there in drill.table:
        events = [one for one in drill.events if (one.item, one.place) == (there.item, there.place)]
        if drill.task is Task.CONFIRM:
            found += _confirming(drill, there, events, sheet)
        else:
            found += _calling(drill, there, events, sheet)
    return tuple(found)


def cues(plan: Iterable[Step]) -> tuple[Cue, ...]:
    """Give everything that the partner says, in order."""
    return tuple(cue for step in plan for cue in step.cues)


def packages(drill: Drill, there: There, sheet: Sheet) -> tuple[int, ...]:
    """Give what each package of a line holds; a line without packages is one run.

    A wrong package comes last, so 19 in packages of ten are ten and nine, and 21 ten and eleven.
    """
    pack = pack_of(drill, there, sheet)
    if pack is None or there.number <= pack:
        return (there.number,)
    whole, rest = divmod(there.number, pack)
    if rest == 0:
        return (pack,) * whole
    if rest * 2 >= pack:
        return (*(pack,) * whole, rest)
    return (*(pack,) * (whole - 1), pack + rest)


def pack_of(drill: Drill, there: There, sheet: Sheet) -> int | None:
    """Give how many a package of a line should hold; None where it is counted loose."""
    if drill.task is Task.CLOSING_COUNT or there.place is not None:
        return None
    item: Item = sheet.item(there.item)
    for event in drill.events:
        if event.kind is EventKind.WRONG_PACKAGE and event.item == there.item:
            return event.number or item.pack
    return item.pack


def _calling(drill: Drill, there: There, events: list[Planted], sheet: Sheet) -> list[Step]:
    by_kind = {one.kind: one for one in events}
    holds = packages(drill, there, sheet)
    brought = by_kind.get(EventKind.BROUGHT)
    found = [] if brought is None else [_answer(there, brought)]
    for at, number in enumerate(holds, start=1):
        first, last = at == 1, at == len(holds)
        talk = by_kind.get(EventKind.INTERRUPTION) if first else None
        name = step_id(there) if first else f"{step_id(there)}.{at}"
        said: list[Cue] = []
        if talk is not None:
            said.append(Cue(f"{name}.{talk.kind}", When.NUMBER_SAID, talk.says, talk.after))
        if last:
            said += _reading_back(drill, there, by_kind.get(EventKind.MISREAD), sheet)
        found.append(
            Step(
                name,
                StepKind.CALL,
                there.item,
                there.place,
                number,
                sheet.item(there.item).stated,
                planted=talk,
                cues=tuple(said),
                package=at if len(holds) > 1 else None,
            )
        )
    misread = by_kind.get(EventKind.MISREAD)
    if misread is not None:
        found.append(_object(there, misread, ()))
    return [*found, *_told(there, events)]


def _reading_back(
    drill: Drill, there: There, misread: Planted | None, sheet: Sheet
) -> tuple[Cue, ...]:
    """Give what the partner reads back of a line, rightly or not; nothing for a student alone."""
    name = step_id(there)
    if misread is not None:
        words = read_back(there, misread.number, sheet)
        return (Cue(f"{name}.{misread.kind}", When.STEP_DONE, words),)
    if drill.partner:
        return (Cue(f"{name}.read_back", When.STEP_DONE, read_back(there, None, sheet)),)
    return ()


def _confirming(drill: Drill, there: There, events: list[Planted], sheet: Sheet) -> list[Step]:
    name = step_id(there)
    found = []
    for event in events:
        if event.kind is EventKind.MISCOUNT:
            words = called(there, (event.run,), sheet)
            cue = Cue(f"{name}.{event.kind}", When.STEP_BEGINS, words)
            found.append(_object(there, event, (cue,)))
    runs = [tuple(range(1, number + 1)) for number in packages(drill, there, sheet)]
    cue = Cue(f"{name}.call", When.STEP_BEGINS, called(there, runs, sheet))
    span = (there.item, there.place, there.number)
    return [*found, Step(name, StepKind.CONFIRM, *span, cues=(cue,)), *_told(there, events)]


def _told(there: There, events: list[Planted]) -> list[Step]:
    """Give the events that the partner tells of when a line is over."""
    told = (EventKind.WRONG_PACKAGE, EventKind.DROPPED)
    return [_answer(there, event) for kind in told for event in events if event.kind is kind]


def _answer(there: There, event: Planted) -> Step:
    cue = Cue(f"{step_id(there)}.{event.kind}", When.STEP_BEGINS, event.says)
    return _event_step(StepKind.ANSWER, there, event, (cue,))


def _object(there: There, event: Planted, said: tuple[Cue, ...]) -> Step:
    return _event_step(StepKind.OBJECT, there, event, said)


def _event_step(kind: StepKind, there: There, event: Planted, said: tuple[Cue, ...]) -> Step:
    return Step(
        f"{step_id(there)}.{event.kind}",
        kind,
        there.item,
        there.place,
        there.number,
        expect=event.right,
        within=event.within,
        planted=event,
        cues=said,
    )


def step_id(there: There) -> str:
    """Give the id of a line's own step."""
    return there.item if there.place is None else f"{there.item}@{there.place}"


def called(there: There, runs: Sequence[Sequence[int]], sheet: Sheet) -> str:
    """Give the words of a line that the partner calls: place, name, a run for each package."""
    name = sheet.item(there.item).name(1 if there.number == 1 else 2)
    said = [", ".join(in_words(number) for number in run) or "none" for run in runs]
    further = "".join(f" {_sentence(run)}." for run in said[1:])
    return _sentence(f"{_at(there)}{name}, {said[0]}.{further}")


def read_back(there: There, number: int | None, sheet: Sheet) -> str:
    """Give the words with which the partner reads a line back; None: as many as lie there."""
    many = there.number if number is None else number
    name = sheet.item(there.item).name(many)
    return _sentence(
        f"{_at(there)}{in_words(many)} {name}." if many else f"{_at(there)}{name}, none."
    )


def _at(there: There) -> str:
    return "" if there.place is None else f"{BY_ID[there.place].phrases[0]}, "


def _sentence(text: str) -> str:
    """Begin with a capital letter; one word of the name may have its own."""
    return text[:1].upper() + text[1:]
