"""Two lines that were heard as one utterance: noise that goes on hides the pause between. Pure."""

from dataclasses import replace
from itertools import pairwise
from statistics import median

from voicecount.drill.judge_heard import Spoken
from voicecount.words.meaning import Form, Meaning

_GAP = 1.5
"""Beats from which a name may have been said between two numbers of one utterance; our choice."""
_STEPS = 2
"""The fewest times from number to number that tell a beat."""


def parted(spoken: Spoken) -> list[Spoken]:
    """Part an utterance where it begins again from one after more than a beat and a half.

    In noise that goes on the voice detector hears two lines as one, and the name of the second may
    be lost.
    """
    numbers = spoken.numbers
    gaps = [two.start - one.start for one, two in pairwise(numbers)]
    going = [gap for gap, at in zip(gaps, numbers[1:], strict=True) if at.value > 1]
    if not spoken.timed or len(going) < _STEPS or spoken.meaning.form is not Form.RUN:
        return [spoken]
    cut = [
        at + 1
        for at, gap in enumerate(gaps)
        if numbers[at + 1].value == 1 and gap > _GAP * median(going)
    ]
    if not cut:
        return [spoken]
    edges = [0, *cut, len(numbers)]
    return [_part(spoken, first, stop) for first, stop in pairwise(edges)]


def _part(spoken: Spoken, first: int, stop: int) -> Spoken:
    """Give some numbers of an utterance; what follows a gap has no name that was understood."""
    numbers, last = spoken.numbers[first:stop], stop == len(spoken.numbers)
    start = numbers[0].start if first else spoken.start
    end = spoken.end if last else numbers[-1].end
    meaning = Meaning(Form.RUN) if first else spoken.meaning
    return replace(
        spoken,
        saying=replace(spoken.saying, heard=replace(spoken.saying.heard, start=start, end=end)),
        meaning=replace(meaning, numbers=tuple(one.value for one in numbers)),
        numbers=numbers,
        words=() if first else spoken.words,
        name_end=start if first else spoken.name_end,
        words_before=bool(first) or spoken.words_before,
        words_after=last and spoken.words_after,
        parted=bool(first),
    )
