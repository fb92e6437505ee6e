"""What is said after a drill: what went well, and the one thing to do next. Pure."""

from collections.abc import Mapping

from voicecount.drill.judgement import Fault, Finding, Judgement, Result
from voicecount.drill.model import Criterion, Drill
from voicecount.drill.wording import told
from voicecount.sheet.model import Sheet

RANK: tuple[Criterion, ...] = (
    *(Criterion.COMPLETE, Criterion.NUMBERS, Criterion.CADENCE, Criterion.ORDER),
    *(Criterion.EVENTS, Criterion.CONFIRMING, Criterion.FLUENCY, Criterion.PACE),
    *(Criterion.LOUDNESS, Criterion.WORDING),
)
"""What matters first: what could leave an item uncounted, then what could hide it. Our choice."""
_UNHEARD = 1 / 3
"""Share of the steps that were not heard from which on hearing is the thing to mend first."""
_GOOD = 0.8
"""Least share of a row that is praised."""

_WELL: Mapping[Criterion, str] = {
    Criterion.COMPLETE: "every line was called",
    Criterion.NUMBERS: "each number was what lay there",
    Criterion.CADENCE: "each run went one by one from one",
    Criterion.ORDER: "the lines came in order",
    Criterion.EVENTS: "you noticed what happened and answered it",
    Criterion.CONFIRMING: "you confirmed each line with its number",
    Criterion.FLUENCY: "you called each line in one go",
    Criterion.PACE: "your pace was steady",
    Criterion.LOUDNESS: "you could be heard well",
    Criterion.WORDING: "you used names of the sheet",
}
_NEXT: Mapping[Criterion, str] = {
    Criterion.COMPLETE: "call every line, in the order of the sheet",
    Criterion.NUMBERS: "look at each one as you say its number",
    Criterion.CADENCE: "count one by one, from one, each number once",
    Criterion.ORDER: "follow the order of the sheet",
    Criterion.EVENTS: "listen to your partner, and answer at once",
    Criterion.CONFIRMING: "confirm each line with its number",
    Criterion.FLUENCY: "finish each line before you go on",
    Criterion.PACE: "keep a steady beat that others can follow",
    Criterion.LOUDNESS: "speak up, as loud at the end as at the start",
    Criterion.WORDING: "use the first name on the sheet",
}


def summary(judgement: Judgement, drill: Drill, sheet: Sheet) -> str:
    """Give two or three short sentences to be spoken."""
    judged = [one.result for one in judgement.steps]
    unheard = judged.count(Result.NOT_HEARD)
    if not judged or unheard >= _UNHEARD * len(judged):
        return (
            "Too much was not heard to judge this attempt."
            " Next time, move closer to the microphone and speak up."
        )
    if all(one in {Result.MISSING, Result.NOT_JUDGED} for one in judged):
        return "Nothing of this drill was heard. Next time, begin with the first line."
    first = _next(judgement)
    well = _well(judgement)
    if first is None:
        end = "Try the next drill." if unheard == 0 else "A part was not heard: speak up."
        return f"Well done: {well}. {end}"
    praise = f"Good: {well}. " if well else ""
    return f"{praise}{told(first, drill, sheet)} Next time, {_NEXT[first.criterion]}."


def _well(judgement: Judgement) -> str | None:
    """Give the best that is true: a row without a fault, by rank; else nothing."""
    shares = {mark.criterion: mark.share for mark in judgement.marks}
    whole = [row for row in RANK if shares.get(row) == 1.0]
    if whole:
        return _WELL[whole[0]]
    best = max(
        (mark for mark in judgement.marks if mark.of and mark.right >= _GOOD * mark.of),
        key=lambda mark: (mark.right / mark.of, -RANK.index(mark.criterion)),
        default=None,
    )
    return None if best is None else f"nearly always, {_WELL[best.criterion]}"


def _next(judgement: Judgement) -> Finding | None:
    """Give the first finding of the row that matters most; other names are no fault."""
    found = [one for one in judgement.findings if one.fault is not Fault.OTHER_NAME]
    return min(found, key=lambda one: (RANK.index(one.criterion), one.start), default=None)
