"""Attempts and judgements made by hand, to be shown: no drill file, no recogniser and no judge."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import soundfile

from voicecount.drill.attempt import Attempt, Said, Saying
from voicecount.drill.judgement import (
    Fault,
    Finding,
    Judgement,
    Mark,
    Measured,
    NotHeard,
    Number,
    Result,
    StepJudged,
)
from voicecount.drill.model import Criterion, Drill, Task, There
from voicecount.drill.steps import steps
from voicecount.hear.heard import Heard, Outcome
from voicecount.sheet.model import Sheet
from voicecount.sheet.plan import Group
from voicecount.words.numbers import in_words

NAMES = (
    "gauze",
    "lap sponge",
    "peanut",
    "suture needle",
    "skin blade",
    "towel clip",
    "vessel loop",
)


@dataclass(frozen=True)
class Given:
    """A drill with its sheet."""

    drill: Drill
    sheet: Sheet


def given(lines: int = 7, names: tuple[str, ...] = NAMES, title: str = "First count") -> Given:
    """Give a drill with so many lines, two to six of each."""
    items = [
        {
            "id": f"item{at}",
            "group": Group.SPONGES,
            "say": [names[at % len(names)] + (f" {at}" if at >= len(names) else "")],
        }
        for at in range(lines)
    ]
    sheet = Sheet.model_validate({"title": title, "items": items})
    drill = Drill(
        title=title,
        level=3,
        task=Task.FIRST_COUNT,
        sheet="made.yaml",
        about="Everything lies on the table; call it in the order of the sheet.",
        goal="A steady count in the right order.",
        table=tuple(There(item=f"item{at}", number=2 + at % 5) for at in range(lines)),
    )
    return Given(drill, sheet)


def called(loaded: Given, pause: float = 1.4, pace: float = 62.0) -> tuple[Judgement, Attempt]:
    """Give an attempt in which everything is right, from 1 s on."""
    at = 1.0
    found, said, sayings = [], [], []
    for place, step in enumerate(steps(loaded.drill, loaded.sheet)):
        start = at
        name = loaded.sheet.item(step.item).name(2)
        at += 0.8
        numbers = []
        for value in range(1, step.number + 1):
            numbers.append(Number(value, round(at, 3), round(at + 0.35, 3)))
            at += 60 / pace * (1 + 0.12 * ((value * 7 + place) % 3 - 1))
        end = numbers[-1].end
        words = f"{name} {' '.join(in_words(one.value) for one in numbers)}"
        found.append(
            StepJudged(
                step.id, Result.RIGHT, start, end, words, tuple(numbers),
                loud_db=-22.0, above_room=24.0 + place % 4,
            )
        )  # fmt: skip
        heard = Heard(0, start, end, Outcome.ACCEPTED, None, words)
        sayings.append(Saying(heard, -22.0, 24.0))
        for cue in step.cues:
            said.append(Said(cue.id, cue.words, end + 0.4, end + 1.9))
            at = end + 2.0
        at += pause
    marks = tuple(
        Mark(one, 1.0, len(found), len(found))
        if one is not Criterion.EVENTS
        else Mark(one, 1.0, 0, 0)
        for one in Criterion
    )
    measured = Measured(pace, sum(len(one.numbers) for one in found), 0.11, 0.9, 25.5, 1.2)
    judgement = Judgement(tuple(found), (), (), measured, marks)
    return judgement, Attempt(at, tuple(sayings), tuple(said), room_db=-58.0, recogniser="embedded")


def faulty(loaded: Given) -> tuple[Judgement, Attempt]:
    """Give an attempt with a skip, a line that is missing, two that are exchanged, and more."""
    judgement, attempt = called(loaded)
    found = list(judgement.steps)
    first, second, third, fourth = found[:4]
    last = found[-1]
    numbers = tuple(one for one in second.numbers if one.value != 2)
    found[0] = replace(first, result=Result.FAULTY)
    found[-1] = replace(last, result=Result.FAULTY)
    found[1] = replace(
        second, result=Result.FAULTY, numbers=numbers, words=second.words.replace(" two", "")
    )
    found[2] = replace(
        third, result=Result.FAULTY, start=fourth.start, end=fourth.end, numbers=fourth.numbers,
        words=fourth.words,
    )  # fmt: skip
    found[3] = replace(
        fourth, result=Result.FAULTY, start=third.start, end=third.end, numbers=third.numbers,
        words=third.words,
    )  # fmt: skip
    found[4] = replace(found[4], result=Result.MISSING, start=None, end=None, words="", numbers=())
    found[5] = replace(found[5], result=Result.NOT_HEARD, numbers=(), words="")
    unheard = judgement.steps[5]
    due = judgement.steps[4].start or 0.0
    items = [step.item for step in steps(loaded.drill, loaded.sheet)]
    gap = (second.numbers[1].end, second.numbers[2].start)
    around = (second.numbers[1].start, second.numbers[2].end)
    end = (attempt.seconds, attempt.seconds)
    findings = (
        Finding(Fault.TOO_FAST, *_span(first), first.step, items[0], value=131.0),
        Finding(Fault.SKIPPED, *around, second.step, items[1], heard=(2,), expected=3),
        Finding(Fault.LONG_PAUSE, *gap, second.step, items[1], value=2.6),
        Finding(Fault.WRONG_ORDER, *_span(third), fourth.step, items[3]),
        Finding(Fault.MISSED_ITEM, due, due, found[4].step, items[4]),
        Finding(Fault.TOO_QUIET, *_span(last), last.step, items[-1], value=9.0),
        Finding(Fault.CONFIRMED_WITHOUT_NUMBER, *end, last.step, items[-1]),
    )
    not_heard = (NotHeard(unheard.start or 0.0, unheard.end or 0.0, "weak_match", unheard.step),)
    marks = tuple(
        replace(one, right=max(0, one.of - sum(f.criterion is one.criterion for f in findings)))
        for one in judgement.marks
    )
    return replace(
        judgement, steps=tuple(found), findings=findings, not_heard=not_heard, marks=marks
    ), attempt


def _span(step: StepJudged) -> tuple[float, float]:
    return step.start or 0.0, step.end or 0.0


def nothing(loaded: Given, seconds: float = 12.0) -> tuple[Judgement, Attempt]:
    """Give an attempt in which nothing was called."""
    plan = steps(loaded.drill, loaded.sheet)
    found = tuple(StepJudged(step.id, Result.MISSING) for step in plan)
    missed = tuple(
        Finding(Fault.MISSED_ITEM, seconds, seconds, step.id, step.item) for step in plan
    )
    marks = tuple(
        Mark(one, 1.0, 0, len(plan) if one is Criterion.COMPLETE else 0) for one in Criterion
    )
    measured = Measured(None, 0, None, None, None, None)
    return Judgement(found, missed, (), measured, marks), Attempt(seconds, ())


def write_sound(path: Path, attempt: Attempt) -> Path:
    """Write a recording with a tone at each number, 16 kHz."""
    rate = 16_000
    sound = 0.004 * np.random.default_rng(7).standard_normal(max(1, int(attempt.seconds * rate)))
    for saying in attempt.sayings:
        first, last = int(saying.heard.start * rate), int(saying.heard.end * rate)
        at = np.arange(len(sound[first:last])) / rate
        sound[first:last] += (
            0.3 * np.sin(2 * np.pi * 180 * at) * np.abs(np.sin(2 * np.pi * 1.9 * at))
        )
    soundfile.write(path, sound.astype(np.float32), rate)
    return path
