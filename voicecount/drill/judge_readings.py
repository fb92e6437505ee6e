"""Readings that nobody says are set aside before an attempt is judged. Pure.

The recogniser knows names and numbers, and not that a count goes on by one: that "seven, eighty,
nine" fits a sound a little better than "seven, eight, nine" says nothing. How many of what lie on
the table is not asked here.

- A run that leaps, or begins again after a number that nobody goes on to, gives way to the nearest
  reading that does not; where there is none, it was misheard.
- Other such readings raise no doubt about one that people do say.
- A run that is out of order, or of an item that is not due, is believed only where the recogniser
  is very sure of it.
"""

from collections.abc import Collection, Sequence
from dataclasses import replace
from math import inf

from voicecount.drill.attempt import LIKELY, Attempt
from voicecount.drill.number_steps import (
    beginnings,
    has_number_before,
    in_order,
    last_run,
    leaps,
    may_be_two,
    steps,
)
from voicecount.drill.number_times import spans_of, tokens_of
from voicecount.hear.heard import Heard, Outcome, Rival, Word
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import in_words

NEAR = 5.0
"""Readings no further behind than this, in nats, are near. Chosen on two seeds of the test part of
the benchmark of drills: docs/measured.md."""
_NUMBERS_UNCLEAR = frozenset({None, Reason.CLOSE_CALL, Reason.UNKNOWN_NAME})
"""Why words are asked about that fit the sound."""
VERY_SURE = 0.05
"""Up to this probability of being wrong a run that is out of order is believed."""


def sensible(attempt: Attempt, items: Collection[str]) -> Attempt:
    """Give the attempt with the readings that people may have meant.

    An item that is none of ``items``, those of the plan, has to be heard very surely.
    """

    def made(heard: Heard) -> Heard:
        item = None if heard.meaning is None else heard.meaning.item
        if item is not None and item not in items and _is_unsure(heard):
            return doubted(heard, wrong=1.0)
        return _sensible(heard)

    sayings = (replace(one, heard=made(one.heard)) for one in attempt.sayings)
    return replace(attempt, sayings=tuple(sayings))


def _sensible(heard: Heard) -> Heard:
    meaning = heard.meaning
    if meaning is None or heard.outcome is Outcome.IGNORED:
        return heard
    near = [one for one in heard.rivals if one.behind <= NEAR]
    said = [one for one in heard.rivals if not _is_absurd(one.meaning)]
    if _is_absurd(meaning) and _may_stand_for(meaning, said, heard.reason):
        heard, fewer = _instead(heard, said), True
    elif nobody_says(meaning.numbers):
        return _misheard(heard, meaning, [one.meaning for one in near])
    else:
        fewer = any(_is_absurd(one.meaning) for one in near)
        far = (replace(one, behind=inf) for one in heard.rivals if one not in said)
        heard = replace(heard, rivals=(*said, *far))
    clear = not any(one.behind <= NEAR for one in heard.rivals)
    if fewer and clear and heard.reason is Reason.CLOSE_CALL and _is_line(heard.meaning):
        return _accepted(heard)
    return doubted(heard) if is_doubtful(heard) else heard


def _is_absurd(meaning: Meaning) -> bool:
    return nobody_says(meaning.numbers) or has_number_before(meaning.numbers)


def _may_stand_for(meaning: Meaning, said: Sequence[Rival], reason: Reason | None) -> bool:
    """Tell whether the nearest reading may take the place; two lines are none begun again."""
    if not said or reason is Reason.WEAK_MATCH:
        return False
    return not (may_be_two(meaning.numbers) and beginnings(said[0].meaning.numbers))


def _is_line(meaning: Meaning | None) -> bool:
    return meaning is not None and meaning.item is not None and is_count(meaning)


def is_count(meaning: Meaning) -> bool:
    """Tell whether it is one line's count, that does not fall back.

    For a number without a name or a run nothing vouches.
    """
    numbers = meaning.numbers
    alone = len(numbers) <= (meaning.item is None)
    return not (alone or may_be_two(numbers)) and all(step >= 0 for step in steps(numbers))


def nobody_says(numbers: Sequence[int]) -> bool:
    """Tell whether a run is none, however it is told."""
    return leaps(numbers) or may_be_two(numbers)


def is_doubtful(heard: Heard) -> bool:
    """Tell whether a run is none, or is out of order and the recogniser not very sure of it."""
    numbers = () if heard.meaning is None else heard.meaning.numbers
    return nobody_says(numbers) or (_is_unsure(heard) and not in_order(numbers))


def _is_unsure(heard: Heard) -> bool:
    return heard.wrong is not None and heard.wrong > VERY_SURE


def _instead(heard: Heard, said: Sequence[Rival]) -> Heard:
    """Give the nearest reading that people say in the place of the one that was heard."""
    first, *rest = said
    return replace(
        heard,
        meaning=first.meaning,
        words=_words(heard, first.meaning),
        rivals=tuple(replace(one, behind=one.behind - first.behind) for one in rest),
        outcome=Outcome.UNSURE,
        reason=Reason.CLOSE_CALL,
        wrong=LIKELY if first.meaning.item is not None else 1.0,
    )


def _misheard(heard: Heard, meaning: Meaning, near: Sequence[Meaning]) -> Heard:
    """Doubt a run that is none; two lines in one may still be parted.

    For that it has to be surely heard; or all near readings have the same name and end in the same
    run: then that was said after a name that was heard as one number or another.
    """
    sure = heard.wrong is not None and heard.wrong <= VERY_SURE
    ends = {(one.item, last_run(one.numbers)) for one in (meaning, *near)}
    agreed = bool(near) and len(ends) == 1 and all(may_be_two(one.numbers) for one in near)
    if may_be_two(meaning.numbers) and (sure or agreed) and heard.reason in _NUMBERS_UNCLEAR:
        return _accepted(heard)
    return doubted(heard, wrong=1.0 if leaps(meaning.numbers) else None)


def _accepted(heard: Heard) -> Heard:
    return replace(heard, outcome=Outcome.ACCEPTED, reason=None, wrong=None)


def doubted(heard: Heard, *, wrong: float | None = None) -> Heard:
    """Give what was heard as not understood."""
    if heard.outcome is Outcome.ACCEPTED:
        heard = replace(heard, outcome=Outcome.UNSURE, reason=Reason.CLOSE_CALL)
    return heard if wrong is None else replace(heard, wrong=wrong)


def _words(heard: Heard, meaning: Meaning) -> tuple[Word, ...] | None:
    """Give the words with the numbers of another reading of the same sound in their places."""
    old = () if heard.meaning is None else heard.meaning.numbers
    if heard.words is None or len(old) != len(meaning.numbers):
        return heard.words
    tokens = tokens_of(heard.words)
    spans = spans_of(tokens, old, last=meaning.form is not Form.NUMBER_FIRST)
    if not spans:
        return heard.words
    before = [Word(*token) for token in tokens if token[2] <= spans[0][0]]
    after = [Word(*token) for token in tokens if token[1] >= spans[-1][1]]
    numbers = [
        Word(in_words(value), *span) for value, span in zip(meaning.numbers, spans, strict=True)
    ]
    return (*before, *numbers, *after)
