"""Words beside the calls: sums told again, places alone, talk, and what was not certain."""

from dataclasses import replace
from typing import Any

import pytest
from drill_rig import SHEET, TABLE, Act, Answer, Line, attempt_of, drill_of, kinds, lines, perfect

from voicecount.drill.attempt import Attempt, Saying
from voicecount.drill.judge import judge
from voicecount.drill.judge_heard import SURE_WRONG
from voicecount.drill.judgement import Fault, Judgement, Result
from voicecount.drill.model import Drill
from voicecount.hear.heard import Outcome
from voicecount.reasons import Reason


def judged(acts: list[Act], drill: Drill = TABLE) -> Judgement:
    """Play and judge."""
    return judge(attempt_of(acts, SHEET), drill, SHEET)


def after(step: str, text: str, wait: float = 3.0) -> list[Act]:
    """Give a perfect attempt with something said after a line."""
    acts = perfect(TABLE, SHEET)
    at = next(at for at, act in enumerate(acts) if isinstance(act, Line) and act.step.id == step)
    line = lines(acts)[0]
    return [*acts[: at + 1], Answer(line.step, text, wait), *acts[at + 1 :]]


@pytest.mark.parametrize("text", ["six", "six lap sponges", "lap sponges six"])
def test_the_sum_told_again(text: str) -> None:
    """The number of a line told once more, after a while or with its name, is no fault."""
    assert judged(after("lap", text)).findings == ()


@pytest.mark.parametrize("text", ["say that again", "the count is finished"])
def test_other_words_are_no_call(text: str) -> None:
    """Commands that change nothing are no fault of a line."""
    assert judged(after("lap", text)).findings == ()


def test_a_place_alone_before_its_line() -> None:
    """A place said alone belongs to the line after it; a name said alone to the place after it."""
    drill = drill_of(("gauze", 3, "field"), ("gauze", 2, "mayo"), task="closing_count")
    acts = perfect(drill, SHEET)
    first, second = lines(acts)
    second.before = "on the mayo stand"
    first.before = "X-ray gauze"
    place = Answer(first.step, "on the field")

    assert judged([place, *acts], drill).findings == ()


def test_a_place_that_is_not_said() -> None:
    """A line without its place is told once."""
    drill = drill_of(("gauze", 3, "field"), ("lap", 2, "mayo"), task="closing_count")
    acts = perfect(drill, SHEET)
    lines(acts)[1].before = "lap sponges"

    assert kinds(judged(acts, drill)) == [(Fault.WRONG_PLACE, "lap@mayo")]


def talking(attempt: Attempt, at: int, **heard: Any) -> Attempt:
    """Change what was heard of one utterance."""
    sayings = list(attempt.sayings)
    sayings[at] = replace(sayings[at], heard=replace(sayings[at].heard, **heard))
    return replace(attempt, sayings=tuple(sayings))


def test_talk_is_no_silence() -> None:
    """Talk inside a line is neither a number nor a silence."""
    drill = drill_of(("lap", 6))
    acts = perfect(drill, SHEET)
    lines(acts)[0].pauses = {3: 2.6}
    attempt = attempt_of(acts, SHEET)
    assert kinds(judge(attempt, drill, SHEET)) == [(Fault.LONG_PAUSE, "lap")]
    gap = attempt.sayings[0].heard.end
    talk = replace(
        attempt.sayings[0].heard,
        start=gap + 1.0,
        end=gap + 2.0,
        outcome=Outcome.IGNORED,
        meaning=None,
        reason=Reason.NOT_FOR_US,
    )
    noisy = replace(attempt, sayings=(*attempt.sayings, Saying(talk, -30.0, 20.0)))

    assert judge(noisy, drill, SHEET).findings == ()


@pytest.mark.parametrize(
    ("numbers", "wrong", "expected"),
    [
        ([5], 0.001, []),
        ([15], 0.001, []),
        ([5], 2 * SURE_WRONG, []),
        ([5], None, []),
    ],
)
def test_a_stated_number_that_sounds_like_another(
    numbers: list[int], wrong: float | None, expected: list[tuple[Fault, str]]
) -> None:
    """A number alone that sounds like another is taken where right, and never held against."""
    drill = drill_of(("gauze", 3), ("needle", 5))
    acts = perfect(drill, SHEET)
    lines(acts)[1].numbers = numbers
    attempt = attempt_of(acts, SHEET)
    attempt = talking(attempt, -1, outcome=Outcome.UNSURE, reason=Reason.SOUND_ALIKE, wrong=wrong)

    found = judge(attempt, drill, SHEET)

    assert kinds(found) == expected
    right = numbers == [5] and wrong == 0.001
    assert found.steps[1].result is (Result.RIGHT if right else Result.NOT_HEARD)


def test_words_without_times() -> None:
    """Without the times of its words a run is judged, and its pace is not measured."""
    attempt = attempt_of(perfect(TABLE, SHEET), SHEET)
    bare = tuple(
        replace(saying, heard=replace(saying.heard, words=None)) for saying in attempt.sayings
    )

    found = judge(replace(attempt, sayings=bare), TABLE, SHEET)

    assert found.findings == ()
    assert found.measured.numbers_per_minute is None
    assert [one.value for one in found.steps[1].numbers] == [1, 2, 3, 4, 5, 6]


@pytest.mark.parametrize(
    ("number", "text"),
    [(21, "twenty one"), (100, "one hundred"), (105, "a hundred and five"), (3, "three")],
)
def test_the_times_of_long_numbers(number: int, text: str) -> None:
    """A number of several words begins with its first and ends with its last."""
    drill = drill_of(("needle", number))
    step = lines(perfect(drill, SHEET))[0].step
    attempt = attempt_of([Answer(step, f"suture needles {text}")], SHEET)

    found = judge(attempt, drill, SHEET).steps[0]

    words = attempt.sayings[0].heard.words
    assert words is not None
    assert [(one.value, one.start, one.end) for one in found.numbers] == [
        (number, words[2].start, words[-1].end)
    ]


def test_a_name_with_a_number_in_it() -> None:
    """A number word in a name is no number of the run."""
    drill = drill_of(("blade", 2))
    found = judged(perfect(drill, SHEET), drill).steps[0]
    assert [one.value for one in found.numbers] == [1, 2]
    assert found.words == "number ten blades one two"
