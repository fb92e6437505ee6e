"""What every near reading of the same sound has in common is judged; what one excuses is not. Pure.

The recogniser gives, besides what it heard, what else that may have been, and knows nothing of what
lies on the table. Only after that the plan is compared with it:

- Words that it was sure of count as not understood where another reading that fits the sound nearly
  as well leaves less to be held against the student. Where all name the same line, the one with
  the least stands for them, and the line's numbers are shown as not heard.
- Words that it asks about count as understood where they are likely enough, and no reading that
  fits nearly as well has fewer faults; where they have none, no other may have any.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from voicecount.drill.attempt import LIKELY, Attempt, Saying
from voicecount.drill.judge_readings import NEAR, is_count
from voicecount.drill.judgement import Fault, Judgement
from voicecount.drill.model import Criterion
from voicecount.hear.heard import Outcome
from voicecount.reasons import Reason
from voicecount.words.meaning import Meaning

_UNCLEAR = frozenset({Reason.CLOSE_CALL, Reason.WEAK_MATCH, Reason.UNKNOWN_NAME})
_HELD = frozenset({Criterion.COMPLETE, Criterion.ORDER, Criterion.CADENCE, Criterion.NUMBERS})
"""Rows of the rubric that are about what was said, and not how."""

Judge = Callable[[Attempt], Judgement]
_Found = Counter[tuple[Fault, str | None]]


def certain(attempt: Attempt, judge: Judge) -> Attempt:
    """Give the attempt with every saying as understood or not understood, by the two rules."""
    given = attempt.sayings
    sayings = [_taken(saying) for saying in given]
    for at, saying in enumerate(sayings):
        near = [one.meaning for one in saying.heard.rivals if one.behind <= NEAR]
        if not near and saying is given[at]:
            continue
        held = _held(judge, attempt, sayings)
        if saying is given[at] and not held:
            continue
        others = list(_others(judge, attempt, tuple(sayings), at, near))
        if saying is given[at]:
            if any(other.total() < held.total() for other in others):
                sayings[at] = _mildest(saying, near, held, others) or _doubted(saying)
            continue
        sayings[at] = given[at]
        right = held == _held(judge, attempt, sayings)
        if all(held == other if right else held.total() <= other.total() for other in others):
            sayings[at] = saying
        else:
            sayings[at] = _mildest(saying, near, held, others) or given[at]
    return replace(attempt, sayings=tuple(sayings))


def _taken(saying: Saying) -> Saying:
    """Take a count that was asked about for what was heard, where that is likely enough."""
    heard = saying.heard
    unclear = heard.outcome is Outcome.UNSURE and heard.reason in _UNCLEAR and bool(heard.rivals)
    likely = heard.wrong is not None and heard.wrong <= LIKELY
    if heard.meaning is None or not (unclear and likely and is_count(heard.meaning)):
        return saying
    return replace(saying, heard=replace(heard, outcome=Outcome.ACCEPTED, reason=None))


def _mildest(
    saying: Saying, near: Sequence[Meaning], held: _Found, others: Sequence[_Found]
) -> Saying | None:
    """Give the reading that holds nothing against the student but what all near ones do.

    All have to name the same line: then its place in the order is known, and its numbers are not.
    """
    best = saying.heard.meaning
    if best is None or best.item is None or saying.heard.outcome is not Outcome.ACCEPTED:
        return None
    if any((one.item, one.place) != (best.item, best.place) for one in near):
        return None
    ways = list(zip([best, *near], [held, *others], strict=True))
    meaning, least = min(ways, key=lambda way: way[1].total())
    if not all(least <= found for _, found in ways):
        return None
    return replace(saying, heard=replace(saying.heard, meaning=meaning), doubt=True)


def _doubted(saying: Saying) -> Saying:
    """Give a saying as one that was not understood, and is not to be believed again."""
    unsure = replace(saying.heard, outcome=Outcome.UNSURE, reason=Reason.CLOSE_CALL, wrong=1.0)
    return replace(saying, heard=unsure)


def _others(
    judge: Judge, attempt: Attempt, sayings: Sequence[Saying], at: int, near: Sequence[Meaning]
) -> Iterator[_Found]:
    """Give what would be held against the student with each near reading of one saying."""
    for meaning in near:
        other = replace(sayings[at], heard=replace(sayings[at].heard, meaning=meaning))
        yield _held(judge, attempt, [*sayings[:at], other, *sayings[at + 1 :]])


def _held(judge: Judge, attempt: Attempt, sayings: Sequence[Saying]) -> _Found:
    found = judge(replace(attempt, sayings=tuple(sayings))).findings
    return Counter((one.fault, one.step) for one in found if one.criterion in _HELD)
