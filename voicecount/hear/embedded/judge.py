"""Two judges, one decision: accept, ask or ignore, with the reason.

The head's exact score and the text decoder's are added; the distance to the second-best meaning
is the margin, and the decoder's distance to what it would have written freely is the ratio. The
limits were set on the tuning part of the benchmark only (``benchmarks/``), never on the clips
that are reported, and never with an expected total.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.candidates import Reading
from voicecount.hear.embedded.ctc import align, strain, stray
from voicecount.hear.embedded.decoder import Decoder, Written
from voicecount.hear.embedded.spell import spellings
from voicecount.hear.port import Outcome
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning
from voicecount.words.soundalike import twins

JUDGED = 5
"""Readings that the decoder sees, beside its own; each has up to four spellings."""
DECODER_FLOOR = -25.0
HEAD_WEIGHT = 0.5
LEAP_COST = 5.0
NAME_COST = 2.0


@dataclass(frozen=True)
class Limits:
    """Where accepting, asking and ignoring part, in nats."""

    margin: float = 3.0
    twin_margin: float = 8.0
    """For numbers not in order whose rival sounds like them."""
    strange: float = 23.0
    """Above this much strangeness, speech near the sheet is asked for again."""
    foreign: float = 38.0
    """Above this, it was not meant for us."""
    strays: int = 1
    """More phones than this belong to a word that is not in the reading."""


@dataclass(frozen=True, eq=False)
class Evidence:
    """What both judges have of an utterance."""

    log_probabilities: NDArray[np.float32]
    """The head's, shape (steps, 40)."""
    frames: NDArray[np.float32]
    """The encoder's, shape (n, 288)."""
    written: Written
    """What the decoder wrote freely."""
    own: frozenset[Meaning]
    """The readings of what it wrote; they are judged in any case."""


@dataclass(frozen=True, eq=False)
class Verdict:
    """What the judges came to."""

    best: Reading
    margin: float
    ratio: float
    strain: float
    """How badly it fits where it fits worst, in nats over 0.3 s."""
    stray: int
    """The longest row of phones that were heard and are not in it."""
    strays: int
    """All of them."""
    places: NDArray[np.int64]
    """Where each head step stands in the phones, see ctc.align."""
    runner_up: Meaning | None
    written: Written
    scores: tuple[tuple[Meaning, float, float], ...]
    """Every reading judged, with its natural-log probability by the decoder and by the head."""

    @property
    def strangeness(self) -> float:
        """How much both judges miss, in nats: the decoder over all, the head at its worst."""
        return self.strain - self.ratio


def judge(found: Sequence[Reading], evidence: Evidence, decoder: Decoder) -> Verdict:
    """Judge the readings, the likeliest by the head first."""
    log_probabilities, frames = evidence.log_probabilities, evidence.frames
    written = evidence.written
    seen = [*found[:JUDGED], *(more for more in found[JUDGED:] if more.meaning in evidence.own)]
    texts = [spellings(reading.tokens) for reading in seen]
    flat = decoder.score(frames, [text for ways in texts for text in ways])
    ends = np.cumsum([len(ways) for ways in texts])
    spelled = [float(np.logaddexp.reduce(part)) for part in np.split(flat, ends[:-1])]
    total = [
        max(DECODER_FLOOR, by_decoder) + HEAD_WEIGHT * reading.head - _oddity(reading.meaning)
        for by_decoder, reading in zip(spelled, seen, strict=True)
    ]
    order = sorted(range(len(seen)), key=lambda at: -total[at])
    best = order[0]
    phones = seen[best].phones
    places = align(log_probabilities, phones)
    return Verdict(
        seen[best],
        total[best] - total[order[1]] if len(order) > 1 else 50.0,
        spelled[best] - written.score,
        strain(log_probabilities, phones, places),
        *stray(log_probabilities, places),
        places,
        seen[order[1]].meaning if len(order) > 1 else None,
        written,
        tuple(
            (reading.meaning, by_decoder, reading.head)
            for by_decoder, reading in zip(spelled, seen, strict=True)
        ),
    )


def decide(verdict: Verdict, limits: Limits) -> tuple[Outcome, Reason | None]:
    """Accept, ask, or ignore."""
    if verdict.strangeness > limits.foreign:
        return Outcome.IGNORED, Reason.NOT_FOR_US
    reason = _why_ask(verdict, limits)
    return (Outcome.ACCEPTED if reason is None else Outcome.UNSURE), reason


def _why_ask(verdict: Verdict, limits: Limits) -> Reason | None:
    """Tell why speech that was meant for us must be said again."""
    meaning = verdict.best.meaning
    alike = _sound_alike(meaning, verdict.runner_up)
    reason: Reason | None = None
    if verdict.strangeness > limits.strange:
        reason = Reason.WEAK_MATCH
    elif verdict.strays > limits.strays:
        named = meaning.item is not None or not meaning.numbers
        reason = Reason.WEAK_MATCH if named else Reason.UNKNOWN_NAME
    elif verdict.margin < (limits.twin_margin if alike else limits.margin):
        reason = Reason.SOUND_ALIKE if alike else Reason.CLOSE_CALL
    elif meaning.form is Form.NAME:
        reason = Reason.NO_NUMBER
    return reason


def _sound_alike(best: Meaning, other: Meaning | None) -> bool:
    """Tell whether two readings differ only in numbers that sound alike.

    A run in order protects itself: "twelve, thirteen" is no near miss of "twelve, thirty".
    """
    if other is None or (best.form, best.item) != (other.form, other.item):
        return False
    if len(best.numbers) != len(other.numbers) or best.numbers == other.numbers:
        return False
    if len(best.numbers) > 1 and all(b == a + 1 for a, b in pairwise(best.numbers)):
        return False
    pairs = zip(best.numbers, other.numbers, strict=True)
    return all(mine == theirs or theirs in twins(mine) for mine, theirs in pairs)


def _oddity(meaning: Meaning) -> float:
    """Give what a reading costs because hardly anybody says such a thing, in nats.

    A run alone, without a name, that leaps is far more often a name taken for numbers ("forceps"
    for "four, six") than a run. A skipped or repeated number is no leap, and a run with its name
    costs nothing: what a count is there to find is never made less likely. A name alone is asked
    about in any case.
    """
    numbers = meaning.numbers
    if meaning.form is Form.NAME:
        return NAME_COST
    if meaning.item is not None or meaning.form is not Form.RUN:
        return 0.0
    leaps = any(after not in {one, one + 1, one + 2} for one, after in pairwise(numbers))
    return LEAP_COST if leaps else 0.0
