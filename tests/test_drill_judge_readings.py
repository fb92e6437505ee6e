"""Readings that nobody says are set aside, and what then is judged: common practice, no source."""

from dataclasses import replace

import pytest
from drill_rig import SHEET, attempt_of, changed, drill_of, kinds, lines, perfect, results
from hypothesis import given
from hypothesis import strategies as st

from voicecount.drill.attempt import LIKELY, Attempt
from voicecount.drill.judge import judge
from voicecount.drill.judge_readings import NEAR, VERY_SURE, nobody_says, sensible
from voicecount.drill.judgement import Fault, Result
from voicecount.hear.heard import Heard, Outcome, Rival, Word
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import in_words

DRILL = drill_of(("gauze", 5), ("lap", 8), ("peanut", 4))
ITEMS = {"gauze", "lap", "peanut"}
FAR = NEAR + 1


def run(*numbers: int, item: str | None = "lap") -> Meaning:
    """Give a count of one line."""
    return Meaning(Form.RUN, item, numbers)


def heard(
    meaning: Meaning,
    *rivals: tuple[Meaning, float],
    wrong: float = 0.001,
    reason: Reason | None = None,
) -> Heard:
    """Give an answer, with a word for each number, a second from each other."""
    name = [Word(meaning.item, 0.0, 0.5)] if meaning.item else []
    words = [
        Word(in_words(number), at, at + 0.4) for at, number in enumerate(meaning.numbers, start=1)
    ]
    outcome = Outcome.ACCEPTED if reason is None else Outcome.UNSURE
    return Heard(
        *(0, 0.0, len(words) + 1.0, outcome, meaning, ""),
        words=(*name, *words),
        wrong=wrong,
        reason=reason,
        rivals=tuple(Rival(*one) for one in rivals),
    )


def made(answer: Heard) -> Heard:
    """Give what becomes of one answer."""
    attempt = attempt_of(perfect(DRILL, SHEET), SHEET)
    saying = replace(attempt.sayings[0], heard=answer)
    return sensible(replace(attempt, sayings=(saying,)), ITEMS).sayings[0].heard


EIGHTY = run(1, 2, 3, 4, 5, 6, 7, 80)
EIGHT = run(1, 2, 3, 4, 5, 6, 7, 8)
NAMELESS = run(1, 4, 6, 1, 2, 3, 5, item=None)
NAMED = run(1, 2, 3, 5)


def test_a_run_that_leaps_gives_way_to_the_nearest_that_does_not() -> None:
    """Seven, eighty is no count; seven, eight sounds nearly so. Its words stay where they were."""
    found = made(heard(EIGHTY, (run(1, 2, 3, 4, 5, 6, 7, 18), 0.2), (EIGHT, 0.4)))

    assert (found.meaning, found.outcome, found.rivals) == (EIGHT, Outcome.ACCEPTED, ())
    assert found.words is not None
    assert [word.text for word in found.words] == ["lap", *map(in_words, range(1, 9))]
    assert [word.start for word in found.words] == [0.0, 1, 2, 3, 4, 5, 6, 7, 8]


def test_how_far_the_others_are_is_told_from_the_new_best() -> None:
    """A second reading that people say, near the first, leaves it asked about."""
    found = made(heard(EIGHTY, (EIGHT, 0.5), (run(1, 2, 3, 4, 5, 6, 7), 2.5)))

    assert (found.outcome, found.reason, found.wrong) == (
        Outcome.UNSURE,
        Reason.CLOSE_CALL,
        LIKELY,
    )
    assert found.rivals == (Rival(run(1, 2, 3, 4, 5, 6, 7), 2.0),)


@pytest.mark.parametrize(
    "answer",
    [
        heard(EIGHTY),
        heard(EIGHTY, (run(1, 2, 3, 4, 5, 6, 7, 18), 0.2)),
        heard(EIGHTY, (EIGHT, 0.2), reason=Reason.WEAK_MATCH),
    ],
    ids=["no other", "none that people say", "it fits badly"],
)
def test_a_run_that_leaps_was_misheard_where_nothing_else_fits(answer: Heard) -> None:
    """Seven, eighty is misheard however sure."""
    found = made(answer)

    assert (found.outcome, found.wrong, found.meaning) == (Outcome.UNSURE, 1.0, EIGHTY)


def test_three_numbers_may_be_left_out_at_once() -> None:
    """A leap of more was misheard."""
    assert not nobody_says((1, 5))
    assert nobody_says((1, 6))
    assert not nobody_says((6, 7, 4))
    assert nobody_says((6, 7, 2))


def test_what_nobody_says_raises_no_doubt() -> None:
    """A line that was asked about only because of such a reading is believed."""
    asked = heard(EIGHT, (EIGHTY, 0.3), (run(1, 2, 3), FAR), wrong=0.7, reason=Reason.CLOSE_CALL)

    assert made(asked).outcome is Outcome.ACCEPTED


@pytest.mark.parametrize(
    "answer",
    [
        heard(EIGHT, (EIGHTY, 0.3), (run(1, 2, 3), 2.0), wrong=0.7, reason=Reason.CLOSE_CALL),
        heard(EIGHT, (run(1, 2, 3), FAR), wrong=0.7, reason=Reason.CLOSE_CALL),
        heard(EIGHT, (EIGHTY, 0.3), wrong=0.7, reason=Reason.WEAK_MATCH),
        heard(run(3, 4, item=None), (EIGHTY, 0.3), wrong=0.7, reason=Reason.CLOSE_CALL),
        heard(run(1, 2, 3, 2), (EIGHTY, 0.3), wrong=0.7, reason=Reason.CLOSE_CALL),
    ],
    ids=["another is near", "none was set aside", "it fits badly", "no name", "it falls back"],
)
def test_other_doubts_stay(answer: Heard) -> None:
    """For these nothing vouches."""
    assert made(answer).outcome is Outcome.UNSURE


@pytest.mark.parametrize(
    ("numbers", "wrong", "outcome"),
    [
        ((1, 2, 4), VERY_SURE + 0.05, "unsure"),
        ((1, 2, 4), VERY_SURE - 0.01, "accepted"),
        ((1, 2, 3), VERY_SURE + 0.05, "accepted"),
    ],
)
def test_a_run_out_of_order_needs_to_be_very_sure(
    numbers: tuple[int, ...], wrong: float, outcome: str
) -> None:
    """What would be held against a student is doubted above 5 %; the same run in order is not."""
    found = made(heard(run(*numbers), wrong=wrong))

    assert found.outcome == outcome
    assert found.reason is (Reason.CLOSE_CALL if outcome == "unsure" else None)


def test_a_name_that_was_heard_as_numbers_gives_way_to_the_name() -> None:
    """One, four, six, one, two, three, five is no run; a name before the last four is near."""
    found = made(heard(NAMELESS, (NAMED, 0.1), wrong=0.9, reason=Reason.CLOSE_CALL))

    assert (found.meaning, found.outcome) == (NAMED, Outcome.ACCEPTED)


@pytest.mark.parametrize(
    ("numbers", "rival", "taken"),
    [
        ((6, 1, 2, 3, 4), (1, 2, 3, 4), True),
        ((4, 1, 2, 3, 4), (1, 2, 3, 4), False),
        ((1, 1, 2, 3, 4), (1, 2, 3, 4), False),
    ],
    ids=["a name", "its own sum", "one twice"],
)
def test_a_number_before_a_run(
    numbers: tuple[int, ...], rival: tuple[int, ...], taken: bool
) -> None:
    """It is a name where a reading with one fits; who states the sum first says it twice."""
    answer = heard(
        run(*numbers, item=None), (run(*rival), 2.0), wrong=0.9, reason=Reason.UNKNOWN_NAME
    )

    assert (made(answer).meaning == run(*rival)) is taken


def test_a_number_before_a_run_stays_without_another_reading() -> None:
    """Nothing else is known of it."""
    answer = heard(run(6, 1, 2, 3, 4))

    assert made(answer) == answer


def test_a_run_may_say_a_number_twice_and_begin_again() -> None:
    """It goes on after the second one; where it does not, that may have been a name."""
    assert not nobody_says((1, 2, 3, 3, 4, 1, 2, 3, 4))
    assert nobody_says((1, 2, 3, 3, 1, 2, 3, 4))


@pytest.mark.parametrize(
    ("item", "wrong", "outcome"),
    [
        ("needle", VERY_SURE + 0.05, "unsure"),
        ("needle", VERY_SURE - 0.01, "accepted"),
        ("lap", VERY_SURE + 0.05, "accepted"),
    ],
)
def test_an_item_that_is_not_due_needs_to_be_very_sure(
    item: str, wrong: float, outcome: str
) -> None:
    """Otherwise another was meant, and nobody is told of a line that was not called."""
    found = made(heard(run(1, 2, 3, item=item), wrong=wrong))

    assert found.outcome == outcome


TWO = ((1, 2, 3, 4, 10, 8, 1, 2, 4), (1, 2, 3, 4, 7, 8, 1, 2, 4))


@pytest.mark.parametrize(
    ("other", "outcome"),
    [(TWO[1], "accepted"), ((1, 2, 3, 4, 7, 8, 1, 2, 3, 4), "unsure")],
    ids=["the same last run", "another one"],
)
def test_near_readings_that_end_alike(other: tuple[int, ...], outcome: str) -> None:
    """As what the name was heard does not matter, where all end in one run."""
    answer = heard(run(*TWO[0]), (run(*other), 0.5), wrong=0.8, reason=Reason.CLOSE_CALL)

    assert made(answer).outcome == outcome


def test_what_is_not_likely_is_not_taken_for_a_milder_reading() -> None:
    """A line that was asked about, and is likelier wrong than right, stays not heard."""
    attempt = attempt_of(perfect(DRILL, SHEET), SHEET)
    unclear = changed(
        attempt,
        1,
        lambda one: replace(
            one,
            outcome=Outcome.UNSURE,
            reason=Reason.WEAK_MATCH,
            wrong=LIKELY + 0.05,
            rivals=(Rival(run(1, 2, 3, 4, 5, 6, 7), 1.0),),
        ),
    )

    found = judge(unclear, DRILL, SHEET)

    assert kinds(found) == []
    assert results(found)["lap"] is Result.NOT_HEARD


def test_a_count_that_begins_again_takes_the_place_of_none() -> None:
    """Two lines in one are not one line that was begun again."""
    two = run(1, 2, 3, 7, 9, 1, 2, 3)
    found = made(heard(two, (run(1, 2, 3, 1, 2, 3), 0.1), wrong=0.3, reason=Reason.CLOSE_CALL))

    assert (found.meaning, found.outcome) == (two, Outcome.UNSURE)


@given(st.lists(st.integers(1, 12), min_size=1, max_size=9), st.floats(0, 1))
def test_what_people_say_is_never_changed(numbers: list[int], wrong: float) -> None:
    """Without another reading the words stay; a run in order keeps its outcome, too."""
    for answer in (
        heard(run(*numbers), wrong=wrong),
        heard(run(*numbers), wrong=wrong, reason=Reason.CLOSE_CALL),
    ):
        found = made(answer)
        assert (found.meaning, found.words) == (answer.meaning, answer.words)
        if numbers == list(range(numbers[0], numbers[0] + len(numbers))):
            assert found == answer


def joined(numbers: list[int]) -> Attempt:
    """Give three lines of which the name of the third was heard as numbers of the second."""
    acts = perfect(DRILL, SHEET)[:2]
    line = lines(acts)[1]
    line.beat, line.numbers = 0.6, numbers
    return attempt_of(acts, SHEET)


LAPS = [1, 2, 3, 4, 5, 6, 7, 8]


@pytest.mark.parametrize("name", [[1, 4, 6], [1, 5, 1, 4, 6], [11], [8]])
def test_a_name_that_was_heard_as_numbers_parts_two_lines(name: list[int]) -> None:
    """What the third line's run says is judged; it is not held missing, nor shown as heard."""
    whole = judge(joined([*LAPS, *name, 1, 2, 3, 4]), DRILL, SHEET)
    left_out = judge(joined([*LAPS, *name, 1, 2, 4]), DRILL, SHEET)

    assert kinds(whole) == []
    assert results(whole) == {
        "gauze": Result.RIGHT,
        "lap": Result.RIGHT,
        "peanut": Result.NOT_HEARD,
    }
    assert whole.not_heard
    words = {one.step: one.words for one in whole.steps}
    assert words["lap"] == "lap sponges one two three four five six seven eight"
    assert kinds(left_out) == [(Fault.SKIPPED, "peanut")]


def test_a_run_without_a_name_is_not_judged_where_it_may_be_one_of_two_lines() -> None:
    """Two lines are missing there: it may be either."""
    drill = drill_of(("gauze", 5), ("lap", 8), ("peanut", 4), ("needle", 3))

    found = judge(joined([*LAPS, 1, 4, 6, 1, 2, 4]), drill, SHEET)

    assert (Fault.SKIPPED, "peanut") not in kinds(found)


def test_a_name_whose_own_run_is_lost_is_not_understood() -> None:
    """What was named has no run: the numbers after it may be another line's."""
    found = judge(joined([1, 4, 6, 1, 2, 3, 4]), DRILL, SHEET)

    assert results(found)["lap"] is Result.NOT_HEARD
    assert not [one for one in kinds(found) if one[1] == "lap"]


def test_two_lines_without_times_are_not_parted() -> None:
    """Nobody knows when the second began."""
    attempt = joined([*LAPS, 1, 4, 6, 1, 2, 3, 4])
    attempt = changed(attempt, 1, lambda one: replace(one, words=None))

    found = judge(attempt, DRILL, SHEET)

    assert results(found)["lap"] is Result.NOT_HEARD


def test_a_last_run_that_leaps_is_not_heard() -> None:
    """The first line stays."""
    found = judge(joined([*LAPS, 1, 4, 6, 1, 2, 30]), DRILL, SHEET)

    assert kinds(found) == []
    assert results(found)["lap"] is Result.RIGHT


def test_a_run_whose_name_was_lost_speaks_for_a_line_due_elsewhere() -> None:
    """Nothing is missing where it came: it may be the line that was due before."""
    swapped = drill_of(("peanut", 4), ("gauze", 5), ("lap", 8))

    found = judge(joined([*LAPS, 1, 4, 6, 1, 2, 3, 4]), swapped, SHEET)

    assert kinds(found) == []
    assert results(found)["peanut"] is Result.NOT_HEARD


@pytest.mark.parametrize(("under", "missing"), [(8.0, False), (16.0, True)])
def test_noise_speaks_for_no_line(under: float, missing: bool) -> None:
    """So far under the student's voice it is the room's; a quiet line is shown as not heard."""
    acts = perfect(DRILL, SHEET)
    peanut = lines(acts)[2]
    peanut.heard, peanut.before, peanut.loud = False, "", -20.0 - under

    found = judge(attempt_of(acts, SHEET), DRILL, SHEET)

    assert kinds(found) == ([(Fault.MISSED_ITEM, "peanut")] if missing else [])
    assert len(found.not_heard) == 1


def test_where_the_name_is_clear_the_place_in_the_order_is_judged() -> None:
    """All near readings name the line, and differ in its numbers: these are not heard."""
    acts = perfect(DRILL, SHEET)
    first, second = lines(acts)[:2]
    second.numbers = [1, 2, 3, 4, 5, 6, 7, 8, 8]
    acts = [second, first, *acts[2:]]
    attempt = attempt_of(acts, SHEET)
    rivals = (Rival(EIGHT, 0.5),)

    sure = judge(changed(attempt, 0, lambda one: replace(one, rivals=rivals)), DRILL, SHEET)
    asked = judge(
        changed(
            attempt,
            0,
            lambda one: replace(
                one,
                outcome=Outcome.UNSURE,
                reason=Reason.CLOSE_CALL,
                wrong=0.2,
                rivals=rivals,
            ),
        ),
        DRILL,
        SHEET,
    )
    other = (Rival(Meaning(Form.RUN, "peanut", tuple(LAPS)), 0.5),)
    unnamed = judge(changed(attempt, 0, lambda one: replace(one, rivals=other)), DRILL, SHEET)

    for found in (sure, asked):
        assert kinds(found) == [(Fault.WRONG_ORDER, "lap")]
    assert (Fault.WRONG_ORDER, "lap") not in kinds(unnamed)


def test_numbers_in_doubt_are_not_shown_as_right() -> None:
    """The line counts as called; whether a number came twice is not told."""
    acts = perfect(DRILL, SHEET)
    lines(acts)[1].numbers = [1, 2, 3, 4, 5, 6, 7, 8, 8]
    attempt = attempt_of(acts, SHEET)
    doubted = changed(attempt, 1, lambda one: replace(one, rivals=(Rival(EIGHT, 0.5),)))

    found = judge(doubted, DRILL, SHEET)

    assert kinds(found) == []
    assert results(found)["lap"] is Result.NOT_HEARD
