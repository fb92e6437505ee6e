"""The decision, as a table over made-up verdicts."""

import numpy as np
import pytest

from voicecount.hear.embedded.candidates import Reading
from voicecount.hear.embedded.decide import Limits, decide, sound_alike
from voicecount.hear.embedded.decoder import Written
from voicecount.hear.embedded.judge import Score, Verdict
from voicecount.hear.heard import Outcome
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning


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
    scores = [Score(best, -1.0, -1.0, 0.0)]
    if other is not None:
        scores.append(Score(other, -1.0, -1.0, -lead))
    reading = Reading(best, (), (), -1.0)
    written = Written("", -1.0)
    places = np.zeros(1, np.int64)
    return Verdict(
        reading, ratio, strain, strays, strays, places, written, tuple(scores), frozenset(own)
    )


GAUZE = run(1, 2, 3, item="gauze")
CASES = [
    (verdict(GAUZE), None),
    (verdict(GAUZE, run(1, 2, item="gauze"), 2.5), None),
    (verdict(GAUZE, run(1, 2, item="gauze"), 1.5), Reason.CLOSE_CALL),
    (verdict(GAUZE, run(1, 2, item="gauze"), 9.9, strain=19.0), Reason.CLOSE_CALL),
    (verdict(GAUZE, run(1, 2, item="gauze"), 10.1, strain=19.0), None),
    (verdict(GAUZE, run(1, 2, 3, item="lap"), 3.0), Reason.CLOSE_CALL),
    (verdict(run(15), run(50), 7.0), Reason.SOUND_ALIKE),
    (verdict(run(15), run(50), 9.6), None),
    (verdict(run(20), run(40), 8.0), Reason.CLOSE_CALL),
    (verdict(run(12, 30), run(12, 13), 8.0), Reason.SOUND_ALIKE),
    (verdict(run(12, 13), run(12, 30), 3.0), None),
    (verdict(run(1, 5, item="gauze"), run(1, item="gauze"), 3.0), Reason.CLOSE_CALL),
    (verdict(run(17, 18, 19), run(18, 19), 9.1, own=(run(17, 18, 19, 19),)), Reason.CLOSE_CALL),
    (verdict(run(17, 18, 19), run(18, 19), 9.1, own=(run(17, 18, 19),)), None),
    (verdict(run(17, 18, 19), run(18, 19), 9.1), None),
    (verdict(run(17, 18, 19), run(18, 19), 12.1, own=(run(17, 19),)), None),
    (verdict(run(15), run(16), 11.0, own=(run(50),)), Reason.SOUND_ALIKE),
    (verdict(run(15), run(50), 9.4, own=(run(15),)), Reason.SOUND_ALIKE),
    (verdict(run(15), run(20), 6.9, own=(run(15),)), Reason.CLOSE_CALL),
    (verdict(run(15), run(20), 7.1, own=(run(15),)), None),
    (verdict(run(15), run(50), 5.6), Reason.SOUND_ALIKE),
    (verdict(run(4, 1, 2, 3)), Reason.UNCLEAR_NAME),
    (verdict(Meaning(Form.NAME, "gauze")), Reason.NO_NUMBER),
    (verdict(GAUZE, strays=2), Reason.WEAK_MATCH),
    (verdict(run(1, 2, 3), strays=4), Reason.UNKNOWN_NAME),
    (verdict(GAUZE, ratio=-20.0, strain=8.0), Reason.WEAK_MATCH),
    (verdict(Meaning(Form.NONE, "gauze", (0,)), run(1, item="gauze"), 5.0), None),
    (verdict(run(1, item="gauze"), Meaning(Form.NONE, "gauze", (0,)), 5.0), Reason.CLOSE_CALL),
    (verdict(Meaning(Form.COMMAND, command="yes"), run(8), 3.0), None),
]


@pytest.mark.parametrize(("given", "reason"), CASES)
def test_each_reason(given: Verdict, reason: Reason | None) -> None:
    """What is clear is accepted; anything else is asked for with its reason."""
    wanted = (Outcome.ACCEPTED if reason is None else Outcome.UNSURE, reason)

    assert decide(given, Limits()) == wanted


def test_what_neither_judge_can_explain_is_ignored() -> None:
    """Talk in the room is not asked about."""
    given = verdict(GAUZE, ratio=-30.0, strain=15.0, strays=6)

    assert decide(given, Limits()) == (Outcome.IGNORED, Reason.NOT_FOR_US)


def test_only_the_same_line_can_sound_alike() -> None:
    """Fifteen and fifty of two different lines are two names, not two numbers."""
    assert sound_alike(run(15, item="gauze"), run(50, item="gauze"))
    assert not sound_alike(run(15, item="gauze"), run(50, item="lap"))
    assert not sound_alike(run(15), run(15))
    assert not sound_alike(run(15), run(15, 16))
