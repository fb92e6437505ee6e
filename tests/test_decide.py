"""The decision, as a table over made-up verdicts and made-up odds."""

import numpy as np
import pytest

from voicecount.hear.embedded.candidates import Reading
from voicecount.hear.embedded.decide import decide
from voicecount.hear.embedded.decoder import Written
from voicecount.hear.embedded.judge import Score, Verdict
from voicecount.hear.embedded.odds import Line, Odds
from voicecount.hear.embedded.signs import is_lone, sound_alike
from voicecount.hear.heard import Outcome
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning

LIMITS = ((1.0, 0.01), (10.0, 0.1))


def run(*numbers: int, item: str | None = None) -> Meaning:
    """Make a run."""
    return Meaning(Form.RUN, item, numbers)


def verdict(
    best: Meaning,
    other: Meaning | None = None,
    lead: float = 20.0,
    *,
    ratio: float = -1.0,
    strain: float = 2.0,
    strays: int = 0,
    own: tuple[Meaning, ...] = (),
) -> Verdict:
    """Make a verdict in which the best reading leads another one."""
    scores = [Score(best, -1.0, -1.0, (-1.0, -1.0, -1.0), 0.0)]
    if other is not None:
        scores.append(Score(other, -1.0, -1.0 - lead, (-1.0 - lead,) * 3, -lead))
    reading = Reading(best, (), (("W", "AH", "N"),), -1.0, (-1.0, -1.0, -1.0))
    written = Written("", -1.0)
    places = np.zeros(1, np.int64)
    return Verdict(
        reading, ratio, strain, strays, strays, places, written, tuple(scores), frozenset(own)
    )


def odds(wrong: float, talk: float = -9.0) -> Odds:
    """Make odds that give the same answer to every verdict, as a logarithm."""
    return Odds(Line({}, wrong), Line({}, talk), LIMITS, "made up")


SURE, UNSURE = odds(-9.0), odds(0.0)
GAUZE = run(1, 2, 3, item="gauze")

ASKED = [
    (verdict(GAUZE, run(1, 2, item="gauze"), 1.5), Reason.CLOSE_CALL),
    (verdict(GAUZE, run(1, 2, 3, item="lap"), 3.0), Reason.CLOSE_CALL),
    (verdict(run(15), run(50), 7.0), Reason.SOUND_ALIKE),
    (verdict(run(15), run(50), 20.0), Reason.WEAK_MATCH),
    (verdict(run(20), run(40), 8.0), Reason.CLOSE_CALL),
    (verdict(run(12, 30), run(12, 13), 8.0), Reason.SOUND_ALIKE),
    (verdict(run(17, 18, 19), own=(run(17, 18, 19, 19),)), Reason.CLOSE_CALL),
    (verdict(run(15), own=(run(50),)), Reason.SOUND_ALIKE),
    (verdict(run(15), own=(run(15),)), Reason.WEAK_MATCH),
    (verdict(Meaning(Form.NAME, "gauze")), Reason.NO_NUMBER),
    (verdict(GAUZE, run(1, 2, item="gauze"), 1.5, strays=2), Reason.WEAK_MATCH),
    (verdict(run(1, 2, 3), strays=4), Reason.UNKNOWN_NAME),
    (verdict(GAUZE), Reason.WEAK_MATCH),
]


@pytest.mark.parametrize(("given", "reason"), ASKED)
def test_what_may_be_wrong_is_asked_for_with_its_reason(given: Verdict, reason: Reason) -> None:
    """Above the limit nothing is accepted, and the reason tells what was in the way."""
    outcome, why, wrong = decide(given, UNSURE)

    assert (outcome, why) == (Outcome.UNSURE, reason)
    assert wrong == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("meaning", "reason"),
    [
        (GAUZE, None),
        (run(15), None),
        (run(4, 1, 2, 3), Reason.UNCLEAR_NAME),
        (Meaning(Form.NAME, "gauze"), Reason.NO_NUMBER),
    ],
)
def test_some_things_are_asked_about_however_sure(meaning: Meaning, reason: Reason | None) -> None:
    """A run alone that leaps, and a name without a number, are no counts to store."""
    outcome, why, _ = decide(verdict(meaning), SURE)

    assert why == reason
    assert outcome is (Outcome.ACCEPTED if reason is None else Outcome.UNSURE)


@pytest.mark.parametrize(
    ("best", "other", "lead", "reason"),
    [
        (run(15), run(50), 5.9, Reason.SOUND_ALIKE),
        (run(15), run(50), 6.1, None),
        (run(15), run(16), 5.9, None),
        (run(15, item="gauze"), run(50, item="gauze"), 5.9, Reason.SOUND_ALIKE),
        (run(15, item="gauze"), run(50, item="lap"), 5.9, None),
        (run(14, 15, 16), run(14, 50, 16), 5.9, None),
    ],
)
def test_a_number_alone_near_one_that_sounds_alike_is_asked_about_however_sure(
    best: Meaning, other: Meaning, lead: float, reason: Reason | None
) -> None:
    """Nothing vouches for fifteen alone; in a run the numbers around it do."""
    assert decide(verdict(best, other, lead), SURE)[1] == reason


def test_talk_is_ignored_unless_it_is_surely_a_count() -> None:
    """Talk in the room is not asked about; what is surely a count is never thrown away."""
    assert decide(verdict(GAUZE), odds(0.0, talk=1.0))[:2] == (Outcome.IGNORED, Reason.NOT_FOR_US)
    assert decide(verdict(GAUZE), odds(-9.0, talk=1.0))[0] is Outcome.ACCEPTED


@pytest.mark.parametrize(("rate", "accepted"), [(1.0, False), (10.0, True), (5.0, False)])
def test_one_setting_moves_the_line(rate: float, accepted: bool) -> None:
    """The more wrong numbers in a thousand may be, the more is accepted."""
    outcome, _, wrong = decide(verdict(GAUZE), odds(-2.5), rate)

    assert wrong == pytest.approx(0.0759, abs=1e-4)
    assert (outcome is Outcome.ACCEPTED) is accepted


@pytest.mark.parametrize(
    ("rate", "limit"),
    [(0.0, 0.0), (0.5, 0.005), (1.0, 0.01), (5.5, 0.055), (10.0, 0.1), (99.0, 0.1)],
)
def test_the_limit_between_two_rates(rate: float, limit: float) -> None:
    """Between the rates of the table the limit is interpolated; beyond it the last one holds."""
    assert SURE.limit(rate) == pytest.approx(limit)


def test_only_the_same_line_can_sound_alike() -> None:
    """Fifteen and fifty of two different lines are two names, not two numbers."""
    assert sound_alike(run(15, item="gauze"), run(50, item="gauze"))
    assert not sound_alike(run(15, item="gauze"), run(50, item="lap"))
    assert not sound_alike(run(15), run(15))
    assert not sound_alike(run(15), run(15, 16))


@pytest.mark.parametrize(
    ("numbers", "lone"),
    [((), False), ((7,), True), ((7, 8), False), ((1, 2, 4), True), ((3, 3), True)],
)
def test_only_a_run_in_order_vouches_for_its_numbers(numbers: tuple[int, ...], lone: bool) -> None:
    """One number, a skip and a repetition have nothing to vouch for them."""
    assert is_lone(run(*numbers)) is lone
