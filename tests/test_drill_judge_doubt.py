"""What may have been another thing is held against nobody: near readings, room, words beside."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from drill_rig import SHEET, Act, attempt_of, changed, drill_of, kinds, lines, perfect, results
from playing import sheet_of

from voicecount.drill.attempt import LIKELY, Attempt
from voicecount.drill.judge import judge
from voicecount.drill.judge_doubt import NEAR
from voicecount.drill.judgement import Fault, Judgement, Result
from voicecount.drill.model import Drill
from voicecount.hear.heard import Heard, Outcome, Rival, Word
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet
from voicecount.words.meaning import Form, Meaning

DRILL = drill_of(("gauze", 5), ("lap", 6), ("peanut", 4))
WHOLE = Meaning(Form.RUN, "lap", (1, 2, 3, 4, 5, 6))
SKIPPED = Meaning(Form.RUN, "lap", (1, 2, 3, 5, 6))
REPEATED = Meaning(Form.RUN, "lap", (1, 2, 3, 4, 4, 5, 6))


def acts(numbers: list[int] | None = None, **pauses: float) -> list[Act]:
    """Give a perfect attempt, in which the second line has these numbers."""
    found = perfect(DRILL, SHEET)
    line = lines(found)[1]
    if numbers is not None:
        line.numbers = numbers
    line.pauses = {int(at.removeprefix("at")): seconds for at, seconds in pauses.items()}
    return found


def with_rival(rival: Meaning, behind: float) -> Callable[[Heard], Heard]:
    """Let another reading be near."""
    return lambda heard: replace(heard, rivals=(Rival(rival, behind),))


def asked(wrong: float, *rivals: Meaning) -> Callable[[Heard], Heard]:
    """Let it be asked about, all these readings being near."""
    return lambda heard: replace(
        heard,
        outcome=Outcome.UNSURE,
        reason=Reason.CLOSE_CALL,
        wrong=wrong,
        rivals=tuple(Rival(one, 1.0) for one in rivals),
    )


@pytest.mark.parametrize(
    ("rival", "behind", "expected"),
    [
        (WHOLE, NEAR - 1, Result.NOT_HEARD),
        (WHOLE, NEAR + 1, Result.FAULTY),
        (REPEATED, NEAR - 1, Result.FAULTY),
    ],
)
def test_a_fault_that_a_near_reading_excuses(
    rival: Meaning, behind: float, expected: Result
) -> None:
    """A number left out is held against nobody where the whole run fits nearly as well."""
    attempt = changed(attempt_of(acts([1, 2, 3, 5, 6]), SHEET), 1, with_rival(rival, behind))

    found = judge(attempt, DRILL, SHEET)

    assert results(found)["lap"] is expected
    assert kinds(found) == ([(Fault.SKIPPED, "lap")] if expected is Result.FAULTY else [])


def test_a_right_line_stays_right() -> None:
    """Another reading that would be a fault takes nothing from words that were sure."""
    attempt = changed(attempt_of(acts(), SHEET), 1, with_rival(SKIPPED, 1.0))

    found = judge(attempt, DRILL, SHEET)

    assert {one.result for one in found.steps} == {Result.RIGHT}


@pytest.mark.parametrize(
    ("numbers", "wrong", "rivals", "expected"),
    [
        ([1, 2, 3, 5, 6], 0.3, [REPEATED], Result.FAULTY),
        ([1, 2, 3, 5, 6], 0.3, [REPEATED, WHOLE], Result.NOT_HEARD),
        ([1, 2, 3, 5, 6], LIKELY + 0.1, [REPEATED], Result.NOT_HEARD),
        ([1, 2, 3, 5, 6], 0.3, [], Result.NOT_HEARD),
        ([1, 2, 3, 4, 5, 6], 0.3, [replace(WHOLE, form=Form.RUN)], Result.RIGHT),
        ([1, 2, 3, 4, 5, 6], 0.3, [SKIPPED], Result.NOT_HEARD),
    ],
)
def test_words_that_were_asked_about(
    numbers: list[int], wrong: float, rivals: list[Meaning], expected: Result
) -> None:
    """They are judged where no near reading has less; where there are none, never."""
    attempt = changed(attempt_of(acts(numbers), SHEET), 1, asked(wrong, *rivals))

    found = judge(attempt, DRILL, SHEET)

    assert results(found)["lap"] is expected
    assert kinds(found) == ([(Fault.SKIPPED, "lap")] if expected is Result.FAULTY else [])


@pytest.mark.parametrize(
    ("pause", "expected"),
    [(0.0, [(Fault.SKIPPED, "lap")]), (0.3, [(Fault.SKIPPED, "lap")]), (0.9, [])],
)
def test_a_number_left_out_leaves_no_room(
    pause: float, expected: list[tuple[Fault, str | None]]
) -> None:
    """Where it would have had its beat it may have been said, and was not heard."""
    found = judge(attempt_of(acts([1, 2, 3, 5, 6], at3=pause), SHEET), DRILL, SHEET)

    assert kinds(found) == expected
    assert results(found)["lap"] is (Result.FAULTY if expected else Result.NOT_HEARD)


@pytest.mark.parametrize(
    ("others", "expected"), [(0.0, []), (0.55, [(Fault.SKIPPED, "lap")])], ids=["short", "long"]
)
def test_a_number_that_always_takes_long_leaves_no_room(
    others: float, expected: list[tuple[Fault, str | None]]
) -> None:
    """Where "three" is as long in the other lines, nothing was said after it in this one."""
    said = acts([1, 2, 3, 5, 6], at3=0.55)
    for other in (0, 2):
        lines(said)[other].pauses = {3: others}
    found = judge(attempt_of(said, SHEET), DRILL, SHEET)

    assert [one for one in kinds(found) if one[0] is not Fault.LONG_PAUSE] == expected


def test_a_number_that_is_always_short_leaves_no_room_either() -> None:
    """Where "three" is short in the other lines, a usual beat after it is still no room."""
    said = acts([1, 2, 3, 5, 6])
    for other in (0, 2):
        lines(said)[other].pauses = {1: 3.0, 2: 3.0}
    found = judge(attempt_of(said, SHEET), DRILL, SHEET)

    assert (Fault.SKIPPED, "lap") in kinds(found)


@pytest.mark.parametrize(
    ("numbers", "expected"),
    [
        ([1, 2, 3, 8, 1, 2, 3, 4], []),
        ([1, 2, 3, 1, 2, 3, 4, 5, 6], [(Fault.FALSE_START, "lap")]),
    ],
)
def test_a_name_heard_as_a_number(
    numbers: list[int], expected: list[tuple[Fault, str | None]]
) -> None:
    """An eight before the next "one", asked about, may be the name of another line."""
    heard = Meaning(Form.RUN, "lap", tuple(numbers))
    attempt = changed(attempt_of(acts(numbers), SHEET), 1, asked(0.3, heard))

    found = judge(attempt, DRILL, SHEET)

    assert kinds(found) == expected
    assert results(found)["lap"] is (Result.FAULTY if expected else Result.NOT_HEARD)


def test_room_for_one_is_no_room_for_two() -> None:
    """Two numbers left out, with a beat and a quarter more: both cannot have been there."""
    found = judge(attempt_of(acts([1, 2, 5, 6], at2=0.3), SHEET), DRILL, SHEET)

    assert kinds(found) == [(Fault.SKIPPED, "lap")]


def test_a_first_number_that_may_be_lost() -> None:
    """A run from two, long after its name: the one may have been said."""
    near = judge(attempt_of(acts([2, 3, 4, 5, 6]), SHEET), DRILL, SHEET)
    far = judge(attempt_of(acts([2, 3, 4, 5, 6], at0=1.0), SHEET), DRILL, SHEET)

    assert kinds(near) == [(Fault.NOT_FROM_ONE, "lap")]
    assert kinds(far) == []
    assert results(far)["lap"] is Result.NOT_HEARD


@pytest.mark.parametrize(("seconds", "expected"), [(0.2, [Fault.TOO_FEW]), (0.8, [])])
def test_voice_after_the_last_number(seconds: float, expected: list[Fault]) -> None:
    """A run that ends early is held against nobody where the voice goes on after it."""
    attempt = changed(
        attempt_of(acts([1, 2, 3, 4, 5]), SHEET),
        1,
        lambda heard: replace(heard, end=round(heard.end + seconds, 3)),
    )

    found = judge(attempt, DRILL, SHEET)

    assert [one.fault for one in found.findings] == expected
    assert results(found)["lap"] is (Result.FAULTY if expected else Result.NOT_HEARD)


PLACES = drill_of(("gauze", 3, "field"), ("lap", 2, "field"), ("gauze", 2, "mayo"))


def without_place(heard: Heard) -> Heard:
    """Let the place not be understood; its voice is there."""
    assert heard.meaning is not None
    assert heard.words is not None
    words: tuple[Word, ...] = heard.words[3:]
    return replace(heard, meaning=replace(heard.meaning, place=None), words=words)


def test_voice_before_the_name_may_be_the_place() -> None:
    """Where it was heard, the place was not left out; without it, it was."""
    drill = PLACES.model_copy(update={"task": "closing_count"})
    played = perfect(drill, SHEET)
    for line in lines(played):
        words = line.before.split(" on the ")
        line.before = f"on the {words[1]} {words[0]}" if len(words) == 2 else line.before
    attempt = attempt_of(played, SHEET)
    lost = changed(attempt, 2, without_place)
    left_out = changed(lost, 2, lambda heard: replace(heard, start=(heard.words or ())[0].start))

    assert kinds(judge(attempt, drill, SHEET)) == []
    assert kinds(judge(lost, drill, SHEET)) == []
    assert kinds(judge(left_out, drill, SHEET)) == [(Fault.WRONG_PLACE, "gauze@mayo")]


def packed(number: int, total: str) -> tuple[Drill, Sheet, Judgement]:
    """State what lies in two packages."""
    sheet = sheet_of({"id": "lap", "pack": 4}, {"id": "peanut"})
    drill = drill_of(("lap", number), ("peanut", 2))
    played = perfect(drill, sheet)
    first = lines(played)[0]
    first.before, first.numbers = f"lap {total}", []
    return drill, sheet, judge(attempt_of([first, *played[2:]], sheet), drill, sheet)


def test_a_stated_sum_of_several_packages() -> None:
    """It is one fault, stated; not too many of the first and none of the second."""
    _, _, found = packed(7, "total seven")

    assert kinds(found) == [(Fault.STATED, "lap")]
    assert results(found)["lap.2"] is Result.RIGHT


def test_a_wrong_sum_of_several_packages() -> None:
    """A sum that is not theirs is no whole count."""
    _, _, found = packed(7, "total six")

    assert Fault.MISSED_ITEM in {one.fault for one in found.findings}


def test_a_line_not_understood_at_another_place() -> None:
    """It may be the one that is missing where it is due; what is short is none."""
    found = acts()
    peanut = lines(found)[2]
    moved = [peanut, *(act for act in found if act is not peanut)]
    peanut.heard = False
    peanut.before = "lap sponge"
    whole = attempt_of(moved, SHEET)
    short = changed(whole, 0, lambda heard: replace(heard, end=heard.start + 0.5))

    assert kinds(judge(whole, DRILL, SHEET)) == []
    assert results(judge(whole, DRILL, SHEET))["peanut"] is Result.NOT_HEARD
    assert kinds(judge(short, DRILL, SHEET)) == [(Fault.MISSED_ITEM, "peanut")]


def joined(
    second: list[int], gap: float, first: tuple[int, ...] = (1, 2, 3, 4, 5, 6)
) -> tuple[Attempt, Drill]:
    """Give one utterance with the numbers of two lines, the second name lost in the gap."""
    drill = drill_of(("gauze", 5), ("lap", 6), ("peanut", len(second)))
    played = perfect(drill, SHEET)[:2]
    line = lines(played)[1]
    line.beat, line.numbers = 0.6, [*first, *second]
    line.pauses = {len(first): gap}
    return attempt_of(played, SHEET), drill


@pytest.mark.parametrize("second", [[1, 2, 3, 4], [1, 11, 1, 2, 3, 4]])
def test_two_lines_heard_as_one(second: list[int]) -> None:
    """Where there was time for a name, what follows may be the next line; none is held missing."""
    attempt, _ = joined(second, 0.35)
    drill = drill_of(("gauze", 5), ("lap", 6), ("peanut", 4))

    found = judge(attempt, drill, SHEET)

    assert kinds(found) == []
    assert results(found)["lap"] is Result.RIGHT
    assert results(found)["peanut"] is Result.NOT_HEARD


def test_a_line_begun_again_at_once_is_one_line() -> None:
    """Without the time for a name it is a false start, and the next line is missing."""
    attempt, drill = joined([1, 2, 3, 4, 5, 6], 0.0, first=(1, 2, 3))

    found = judge(attempt, drill, SHEET)

    assert kinds(found) == [(Fault.FALSE_START, "lap"), (Fault.MISSED_ITEM, "peanut")]


def test_a_line_begun_again_after_a_while_is_one_line() -> None:
    """Where no line is missing, nothing was lost in the gap."""
    attempt, _ = joined([1, 2, 3, 4, 5, 6], 0.35, first=(1, 2, 3))

    found = judge(attempt, drill_of(("gauze", 5), ("lap", 6)), SHEET)

    assert kinds(found) == [(Fault.FALSE_START, "lap")]


def test_what_sounds_like_two_lines_speaks_for_two() -> None:
    """Something not understood whose numbers begin anew may be two lines that noise has joined."""
    drill = drill_of(("gauze", 5), ("lap", 6), ("peanut", 4))
    played = perfect(drill, SHEET)[:2]
    lap = lines(played)[1]
    lap.heard, lap.beat = False, 0.6
    one = judge(attempt_of(played, SHEET), drill, SHEET)
    lap.numbers = [1, 2, 3, 4, 5, 6, 1, 2, 3, 4]
    two = judge(attempt_of(played, SHEET), drill, SHEET)

    assert kinds(one) == [(Fault.MISSED_ITEM, "peanut")]
    assert kinds(two) == []
    assert results(two)["peanut"] is Result.NOT_HEARD


def test_one_number_alone_is_not_taken_unless_it_was_understood() -> None:
    """Nothing vouches for it."""
    played = [*acts()[:2], *acts()[2:]]
    attempt = attempt_of(played, SHEET)
    lone = replace(
        attempt.sayings[1],
        heard=replace(
            attempt.sayings[1].heard,
            start=attempt.sayings[1].heard.end + 0.2,
            end=attempt.sayings[1].heard.end + 0.5,
            outcome=Outcome.UNSURE,
            reason=Reason.CLOSE_CALL,
            meaning=Meaning(Form.RUN, None, (60,)),
            words=None,
            wrong=0.4,
            rivals=(Rival(Meaning(Form.RUN, None, (63,)), 1.0),),
        ),
    )

    found = judge(replace(attempt, sayings=(*attempt.sayings, lone)), DRILL, SHEET)

    assert kinds(found) == []
