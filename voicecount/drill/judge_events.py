"""Judges confirmations, objections and answers to planted events. Pure.

With the times of the partner's words each has a stretch of its own; without them only what the
words alone can show is judged.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from voicecount.drill.attempt import Said
from voicecount.drill.judge_calls import Call
from voicecount.drill.judge_heard import Spoken
from voicecount.drill.judge_measures import Measures, judge_level
from voicecount.drill.judge_scene import Scene
from voicecount.drill.judgement import Fault, Result, StepJudged
from voicecount.drill.model import Criterion, EventKind
from voicecount.drill.steps import Step, StepKind
from voicecount.words.meaning import Form
from voicecount.words.soundalike import from_digits

REACT = 0.2
"""Seconds. What begins so soon after the partner's first word answers something earlier: simple
reactions to a sound take longer (about 0.15 to 0.2 s at the least, from memory)."""
_NO_ANSWER = frozenset(
    {
        *("say_again", "stand_by", "carry_on", "begin", "finish", "hush", "whats_left"),
        *("read_tally", "yes"),
    }
)
"""Commands that answer nothing wrongly."""


@dataclass(frozen=True)
class _Window:
    """Where the answer to a cue can be."""

    cue: Said
    begin: float
    soon: float
    """Up to here anything is an answer: then comes the next line or the next cue."""
    late: float
    """Up to here a command may still be the answer: then comes the next event."""


def judge_events(
    scene: Scene, answers: Sequence[Spoken], calls: Sequence[Call], measures: Measures
) -> None:
    """Judge every step that is no call."""
    if not scene.attempt.cues_known:
        _by_words_alone(scene, answers, calls, measures)
        return
    for step in scene.plan:
        window = None if step.kind is StepKind.CALL else _window(scene, step, calls)
        if window is None:
            if step.kind is not StepKind.CALL:
                scene.keep(StepJudged(step.id, Result.NOT_JUDGED))
        elif step.kind is StepKind.CONFIRM:
            own = [one for one in answers if window.begin <= one.start < window.soon]
            _confirm(scene, step, own, window, measures)
        else:
            _event(scene, step, answers, calls, window)


def _window(scene: Scene, step: Step, calls: Sequence[Call]) -> _Window | None:
    cue = scene.cue(step.id, *(one.id for one in step.cues))
    if cue is None:
        return None
    own = {step.id, *(one.id for one in step.cues)}
    known = {one.id for other in scene.plan for one in other.cues}
    events = {other.id for other in scene.plan if other.kind is not StepKind.CALL}
    later = [one for one in scene.said if one.start > cue.start and one.cue in known - own]
    begin = cue.start + REACT
    ends = [one.start + REACT for one in later]
    if step.kind is not StepKind.CONFIRM:
        ends += [
            call.start
            for call in calls
            if call.start >= begin
            and (step.kind is not StepKind.OBJECT or call.key != (step.item, step.place))
        ]
    late = [one.start + REACT for one in later if one.cue in events]
    rest = scene.attempt.seconds + REACT
    return _Window(cue, begin, min(ends, default=rest), min(late, default=rest))


# Events


def _event(
    scene: Scene, step: Step, answers: Sequence[Spoken], calls: Sequence[Call], window: _Window
) -> None:
    within = 60.0 if step.within is None else step.within
    right = [
        one
        for one in answers
        if window.begin <= one.start < window.late
        and _is_right(step, one, soon=one.start < window.soon)
    ]
    if step.kind is StepKind.OBJECT:
        right += [
            chunk.spoken
            for call in calls
            if call.key == (step.item, step.place)
            for chunk in call.chunks
            if window.begin <= chunk.start < window.soon and chunk.spoken.values
        ]
    close = min(window.soon, window.cue.end + within)
    heard = [
        at
        for at in scene.free(window.begin, close)
        if (meaning := scene.unheard[at].meaning) is None or meaning.item in {None, step.item}
    ]
    answer = min(right, key=lambda one: one.start, default=None)
    reaction = 0.0 if answer is None else answer.start - window.cue.end
    if answer is not None and (reaction <= within or not heard):
        scene.chance(Criterion.EVENTS, step)
        if reaction > within:
            scene.find(Fault.TOO_LATE, answer.start, answer.end, step, value=reaction)
        scene.keep(_told(step, Result.RIGHT, answer, reaction))
        return
    if heard:
        scene.owner[heard[0]] = step.id
        scene.keep(StepJudged(step.id, Result.NOT_HEARD))
        return
    if close > scene.attempt.seconds and close < window.cue.end + within:
        scene.keep(StepJudged(step.id, Result.NOT_JUDGED))
        return
    scene.chance(Criterion.EVENTS, step)
    wrong = [
        one for one in answers if window.begin <= one.start < window.soon and _is_wrong(step, one)
    ]
    if wrong:
        answer = wrong[0]
        reaction = answer.start - window.cue.end
        scene.find(Fault.WRONG_ANSWER, answer.start, answer.end, step, heard=answer.values)
        scene.keep(_told(step, Result.RIGHT, answer, reaction))
        return
    scene.find(Fault.NOT_NOTICED, window.cue.end, close, step)
    scene.keep(StepJudged(step.id, Result.MISSING))


def _is_right(step: Step, answer: Spoken, *, soon: bool) -> bool:
    """Tell whether an answer is one of those looked for; an objection may be the right number."""
    if answer.meaning.form is Form.COMMAND:
        return answer.meaning.command in step.expect
    number = _number(answer)
    if step.kind is not StepKind.OBJECT or not soon or number is None:
        return False
    return number == step.number and number != _partners(step)


def _is_wrong(step: Step, answer: Spoken) -> bool:
    """Tell whether an answer shows that something was noticed, and is not the right one."""
    if answer.meaning.form is Form.COMMAND:
        return answer.meaning.command not in _NO_ANSWER
    number = _number(answer)
    return step.kind is StepKind.OBJECT and number is not None and number != _partners(step)


def _partners(step: Step) -> int | None:
    """Give the number that the partner said: agreeing with it is noticing nothing."""
    if step.planted is None:
        return None
    if step.planted.kind is EventKind.MISCOUNT:
        return step.planted.run[-1] if step.planted.run else 0
    return step.planted.number


# Confirmations


def _number(answer: Spoken) -> int | None:
    """Give the one number of an answer, also when it is said by its digits."""
    values = answer.meaning.numbers
    if answer.meaning.form is Form.NOT_COUNTED:
        return None
    return values[0] if len(values) == 1 else from_digits(values)


def _confirm(
    scene: Scene, step: Step, answers: Sequence[Spoken], window: _Window, measures: Measures
) -> None:
    if any(_confirms(scene, step, one) for one in answers):
        answer = next(one for one in answers if _confirms(scene, step, one))
        _confirmed(scene, step, answer, answer.start - window.cue.end, measures)
        return
    heard = scene.free(window.begin, window.soon)
    if heard:
        scene.owner[heard[0]] = step.id
        scene.keep(StepJudged(step.id, Result.NOT_HEARD))
        return
    told = [one for one in answers if _decides(one)]
    if told:
        answer = max(told, key=lambda one: (_number(one) is not None, one.start))
        _confirmed(scene, step, answer, answer.start - window.cue.end, measures)
        return
    if scene.attempt.seconds < window.soon and scene.attempt.seconds <= window.cue.end:
        scene.keep(StepJudged(step.id, Result.NOT_JUDGED))
        return
    scene.chance(Criterion.CONFIRMING, step)
    scene.find(Fault.NOT_CONFIRMED, window.cue.end, window.soon, step, expected=step.number)
    scene.keep(StepJudged(step.id, Result.MISSING))


def _confirms(scene: Scene, step: Step, answer: Spoken) -> bool:
    if answer.meaning.command == "yes":
        return scene.sheet.policy.yes_confirms
    return _number(answer) == step.number and answer.meaning.item in {None, step.item}


def _decides(answer: Spoken) -> bool:
    """Tell whether words are a confirmation at all; counting along is none."""
    return answer.meaning.command == "yes" or _number(answer) is not None


def _confirmed(
    scene: Scene, step: Step, answer: Spoken, reaction: float | None, measures: Measures
) -> None:
    """Keep a confirmation, right or not."""
    scene.chance(Criterion.CONFIRMING, step)
    span = (answer.start, answer.end)
    number = _number(answer)
    if not _confirms(scene, step, answer):
        if number is None:
            scene.find(Fault.CONFIRMED_WITHOUT_NUMBER, *span, step, expected=step.number)
        else:
            scene.find(Fault.CONFIRMED_WRONG, *span, step, heard=(number,), expected=step.number)
    levels = judge_level(scene, measures, step, [answer], span)
    scene.keep(_told(step, Result.RIGHT, answer, reaction, levels))


def _told(
    step: Step,
    result: Result,
    answer: Spoken,
    reaction: float | None,
    levels: tuple[float | None, float | None] = (None, None),
) -> StepJudged:
    words = " ".join(answer.words)
    return StepJudged(
        step.id, result, answer.start, answer.end, words, answer.numbers, reaction, *levels
    )


# Without the times of the partner's words


def _by_words_alone(
    scene: Scene, answers: Sequence[Spoken], calls: Sequence[Call], measures: Measures
) -> None:
    left = list(answers)
    for step in scene.plan:
        if step.kind not in {StepKind.OBJECT, StepKind.ANSWER}:
            continue
        begin, end = _around(scene, step, calls)
        own = [
            one for one in left if begin <= one.start < end and one.meaning.command in step.expect
        ]
        if not own:
            scene.keep(StepJudged(step.id, Result.NOT_JUDGED))
            continue
        left.remove(own[0])
        scene.chance(Criterion.EVENTS, step)
        scene.keep(_told(step, Result.RIGHT, own[0], None))
    confirms = [step for step in scene.plan if step.kind is StepKind.CONFIRM]
    told = [one for one in left if _decides(one)]
    paired = _paired(scene, confirms, told)
    for at, step in enumerate(confirms):
        if at in paired:
            _confirmed(scene, step, told[paired[at]], None, measures)
        else:
            scene.keep(StepJudged(step.id, Result.NOT_JUDGED))


def _around(scene: Scene, step: Step, calls: Sequence[Call]) -> tuple[float, float]:
    """Give the stretch of an event by the calls alone."""
    key = (step.item, step.place)
    own = [call for call in calls if call.key == key]
    if step.planted is not None and step.planted.kind is EventKind.BROUGHT:
        start = min((call.start for call in own), default=scene.attempt.seconds)
        return max((call.end for call in calls if call.end <= start), default=0.0), start
    start = min((call.start for call in own), default=0.0)
    others = [call.start for call in calls if call.key != key and call.start > start]
    return start, min(others, default=float("inf"))


def _paired(scene: Scene, steps: Sequence[Step], told: Sequence[Spoken]) -> dict[int, int]:
    """Pair confirmations with lines: the longest row of right ones, and what is alone between."""
    best = [[0] * (len(told) + 1) for _ in range(len(steps) + 1)]
    for i in range(len(steps) - 1, -1, -1):
        for j in range(len(told) - 1, -1, -1):
            fits = _confirms(scene, steps[i], told[j])
            best[i][j] = max(best[i + 1][j], best[i][j + 1], (best[i + 1][j + 1] + 1) * fits)
    marks = [(-1, -1)]
    i = j = 0
    while i < len(steps) and j < len(told):
        if _confirms(scene, steps[i], told[j]) and best[i][j] == best[i + 1][j + 1] + 1:
            marks.append((i, j))
            i, j = i + 1, j + 1
        elif best[i][j] == best[i + 1][j]:
            i += 1
        else:
            j += 1
    marks.append((len(steps), len(told)))
    found = dict(marks[1:-1])
    for (a, b), (c, d) in pairwise(marks):
        if c - a == d - b:
            found |= {a + step: b + step for step in range(1, c - a)}
    return found
