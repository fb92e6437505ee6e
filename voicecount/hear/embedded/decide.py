"""One decision: accept, ask or ignore, with the reason.

The limits were set on the tuning part of the benchmark (``benchmarks/``), those that look at what
the decoder wrote on a recorded person too (docs/measured.md); never with an expected total.
"""

from dataclasses import dataclass
from itertools import pairwise

from voicecount.hear.embedded.judge import Verdict, leaps
from voicecount.hear.heard import Outcome
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning
from voicecount.words.soundalike import twins


@dataclass(frozen=True)
class Limits:
    """Where accepting, asking and ignoring part, in nats."""

    margin: float = 2.0
    """How far a run in order must lead: each number in it vouches for the others."""
    name_margin: float = 4.0
    """How far it must lead a reading with another name, and a run out of order any other."""
    lone_margin: float = 9.5
    """How far a number that nothing vouches for must lead another number."""
    agreed_margin: float = 7.0
    """The same, where the decoder, asked freely, wrote just that, and the other sounds unlike."""
    disputed_margin: float = 12.0
    """How far any reading must lead when the decoder, asked freely, wrote another count: a repeated
    last number can be lost by the head alone, by 9 nats."""
    calm: float = 12.0
    """What strangeness goes above this is added to every lead that is needed: a thing on no sheet
    is often nearest to one reading, but fits it badly."""
    strange: float = 26.0
    """Above this much strangeness, speech near the sheet is asked for again."""
    foreign: float = 38.0
    """Above this, it was not meant for us."""
    strays: int = 1
    """More phones than this belong to a word that is not in the reading."""


def decide(verdict: Verdict, limits: Limits) -> tuple[Outcome, Reason | None]:
    """Accept, ask, or ignore."""
    if verdict.strangeness > limits.foreign:
        return Outcome.IGNORED, Reason.NOT_FOR_US
    reason = _why_ask(verdict, limits)
    return (Outcome.ACCEPTED if reason is None else Outcome.UNSURE), reason


def _why_ask(verdict: Verdict, limits: Limits) -> Reason | None:
    """Tell why speech that was meant for us must be said again."""
    meaning = verdict.best.meaning
    reason: Reason | None = None
    if verdict.strangeness > limits.strange:
        reason = Reason.WEAK_MATCH
    elif verdict.strays > limits.strays:
        named = meaning.item is not None or not meaning.numbers
        reason = Reason.WEAK_MATCH if named else Reason.UNKNOWN_NAME
    elif verdict.disputed and verdict.margin < limits.disputed_margin:
        alike = any(sound_alike(meaning, other) for other in verdict.own)
        reason = Reason.SOUND_ALIKE if alike else Reason.CLOSE_CALL
    elif (rival := _too_near(verdict, limits)) is not None:
        reason = Reason.SOUND_ALIKE if sound_alike(meaning, rival) else Reason.CLOSE_CALL
    elif leaps(meaning):
        reason = Reason.UNCLEAR_NAME
    elif meaning.form is Form.NAME:
        reason = Reason.NO_NUMBER
    return reason


def _too_near(verdict: Verdict, limits: Limits) -> Meaning | None:
    """Give the first reading that the best one does not lead by enough."""
    best, *others = verdict.scores
    agreed = best.meaning in verdict.own
    more = max(0.0, verdict.strangeness - limits.calm)
    for other in others:
        needed = _needed(best.meaning, other.meaning, limits, agreed=agreed)
        if best.total - other.total < needed + more:
            return other.meaning
    return None


def _needed(best: Meaning, other: Meaning, limits: Limits, *, agreed: bool) -> float:
    """Give how far the best reading must lead another one."""
    if Form.COMMAND in {best.form, other.form}:
        return limits.margin
    if best.form is Form.NONE:  # "none" is said clearly or taken for "one", never the other way
        return limits.name_margin
    if _is_lone(best) and other.numbers and best.numbers != other.numbers:
        same_length = len(best.numbers) == len(other.numbers)
        if best.item is None or (same_length and best.item == other.item):
            unlike = agreed and not sound_alike(best, other)
            return limits.agreed_margin if unlike else limits.lone_margin
    in_doubt = _is_lone(best) or best.item != other.item
    return limits.name_margin if in_doubt else limits.margin


def _is_lone(meaning: Meaning) -> bool:
    """Tell whether nothing in a reading vouches for its numbers: it is no run in order."""
    numbers = meaning.numbers
    in_order = len(numbers) > 1 and all(after == one + 1 for one, after in pairwise(numbers))
    return bool(numbers) and not in_order


def sound_alike(best: Meaning, other: Meaning) -> bool:
    """Tell whether two readings differ only in numbers that sound alike."""
    if (best.form, best.item) != (other.form, other.item):
        return False
    if len(best.numbers) != len(other.numbers) or best.numbers == other.numbers:
        return False
    pairs = zip(best.numbers, other.numbers, strict=True)
    return all(mine == theirs or theirs in twins(mine) for mine, theirs in pairs)
