"""Two lines that were heard as one utterance, parted, with what lies between them. Pure.

Noise that goes on hides the pause between two lines, and a name may be heard as numbers.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from statistics import median

from voicecount.drill.judge_heard import Spoken, Unheard, give_up
from voicecount.drill.number_steps import beginnings, ends_odd, leaps, may_be_two
from voicecount.drill.number_times import tokens_of
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning

_GAP = 1.5
"""Beats from which a name may have been said between two numbers of one utterance; our choice."""
_STEPS = 2
"""The fewest times from number to number that tell a beat."""
_RUN = 2
"""The fewest numbers before a name that are a run."""

Parted = tuple[list[Spoken], list[Unheard]]
"""What was understood and what was not."""


def parted(spoken: Spoken) -> Parted:
    """Part an utterance that holds two lines; nothing of it is understood where that fails.

    It begins again from one: after more than a beat and a half, or after a number that nobody goes
    on to. Such numbers are what the name of the second line was heard as.
    """
    if may_be_two(spoken.values):
        return _at_names(spoken) if spoken.timed else ([], [give_up(spoken)])
    return _at_gaps(spoken), []


def _at_gaps(spoken: Spoken) -> list[Spoken]:
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
    parts = [_part(spoken, first, stop) for first, stop in pairwise(edges)]
    return [parts[0], *(replace(one, parted=True) for one in parts[1:])]


def _at_names(spoken: Spoken) -> Parted:
    """Part it where it begins again after numbers that are none of a run."""
    values = spoken.values
    understood: list[Spoken] = []
    lost: list[Unheard] = []
    begin = 0
    for first, stop in pairwise([0, *beginnings(values), len(values)]):
        last = stop == len(values) and not leaps(values[first:stop])
        kept = stop if last else first + _run(values[first:stop])
        if last or kept < stop:
            understood += [_part(spoken, begin, kept)] if kept > begin else []
            begin = stop
        if kept < stop:
            start, end = spoken.numbers[kept].start, spoken.numbers[stop - 1].end
            lost.append(Unheard(start, end, Reason.NOT_A_COUNT.value, None))
    first_lost = not understood or understood[0].start > spoken.start
    if first_lost and spoken.meaning.item is not None:  # what was named has no run
        return [], [give_up(spoken)]
    return understood, lost


def _run(values: Sequence[int]) -> int:
    """Give how many of some numbers make a run, before those that are none."""
    run = ends_odd(values)
    return run if run == len(values) or run >= _RUN else 0


def _part(spoken: Spoken, first: int, stop: int) -> Spoken:
    """Give some numbers of an utterance; only the first have a name that was understood."""
    numbers, last = spoken.numbers[first:stop], stop == len(spoken.numbers)
    start = numbers[0].start if first else spoken.start
    end = spoken.end if last else numbers[-1].end
    meaning = Meaning(Form.RUN) if first else spoken.meaning
    tokens = tokens_of(spoken.saying.heard.words or ())
    return replace(
        spoken,
        saying=replace(spoken.saying, heard=replace(spoken.saying.heard, start=start, end=end)),
        meaning=replace(meaning, numbers=tuple(one.value for one in numbers)),
        numbers=numbers,
        words=tuple(text for text, begun, _ in tokens if start <= begun < end),
        name_end=start if first else spoken.name_end,
        words_before=bool(first) or spoken.words_before,
        words_after=last and spoken.words_after,
    )
