"""The benefit of the doubt: a fault that a near reading of the same sound explains is none. Pure.

The recogniser gives, besides what it heard, what else that may have been, and knows nothing of what
lies on the table. Only after that the plan is compared with it: where another reading that fits the
sound nearly as well leaves less to be held against the student, the words count as not understood.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace

from voicecount.drill.attempt import Attempt
from voicecount.drill.judgement import Fault, Judgement
from voicecount.drill.model import Criterion
from voicecount.hear.heard import Outcome
from voicecount.reasons import Reason

NEAR = 8.0
"""Readings no further behind than this, in nats, are near. From the tuning part of the benchmark of
drills: see docs/measured.md."""
_HELD = frozenset({Criterion.COMPLETE, Criterion.ORDER, Criterion.CADENCE, Criterion.NUMBERS})
"""Rows of the rubric that are about what was said, and not how."""

Judge = Callable[[Attempt], Judgement]


def without_doubtful(attempt: Attempt, judge: Judge) -> Attempt:
    """Give the attempt, with those words as not understood that a near reading would excuse."""
    held = _held(judge(attempt))
    if not held:
        return attempt
    sayings = list(attempt.sayings)
    for at, saying in enumerate(sayings):
        if any(_less(held, _held(judge(other))) for other in _read_otherwise(attempt, at)):
            unsure = replace(saying.heard, outcome=Outcome.UNSURE, reason=Reason.CLOSE_CALL)
            sayings[at] = replace(saying, heard=replace(unsure, wrong=1.0))
    return replace(attempt, sayings=tuple(sayings))


def _read_otherwise(attempt: Attempt, at: int) -> Iterator[Attempt]:
    """Give the attempt with each near reading of one saying in the place of what was heard."""
    saying = attempt.sayings[at]
    for rival in saying.heard.rivals:
        if rival.behind <= NEAR and saying.heard.meaning is not None:
            heard = replace(saying.heard, meaning=rival.meaning)
            sayings = (
                *attempt.sayings[:at],
                replace(saying, heard=heard),
                *attempt.sayings[at + 1 :],
            )
            yield replace(attempt, sayings=sayings)


def _held(judgement: Judgement) -> Counter[Fault]:
    found = (one.fault for one in judgement.findings if one.criterion in _HELD)
    return Counter(found)


def _less(one: Counter[Fault], two: Counter[Fault]) -> bool:
    return two.total() < one.total()
