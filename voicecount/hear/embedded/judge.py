"""Two judges, one decision: accept, ask or ignore, with the reason.

The head's exact score and the text decoder's are added; the distance to the second-best meaning
is the margin, and the decoder's distance to what it would have written freely is the ratio. The
limits were set on the tuning part of the benchmark only (``benchmarks/``), never on the clips
that are reported, and never with an expected total.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.candidates import Reading
from voicecount.hear.embedded.ctc import align, strain, stray
from voicecount.hear.embedded.decoder import Decoder, Written
from voicecount.hear.embedded.head import STEP_SECONDS
from voicecount.hear.embedded.spell import spellings
from voicecount.hear.port import Outcome
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning
from voicecount.words.soundalike import twins

JUDGED = 5
"""Readings that the decoder sees; each has up to four spellings."""
DECODER_FLOOR = -25.0
HEAD_WEIGHT = 0.5


@dataclass(frozen=True)
class Limits:
    """Where accepting, asking and ignoring part, in nats."""

    margin: float = 3.0
    twin_margin: float = 7.0
    """For one number alone whose rival sounds like it."""
    strange: float = 32.0
    """Above this much strangeness, speech near the sheet is asked for again."""
    foreign: float = 46.0
    """Above this, it was not meant for us."""
    stray: int = 2
    """More phones in a row than this belong to a word that is not in the reading."""


@dataclass(frozen=True)
class Verdict:
    """What the judges came to."""

    best: Reading
    margin: float
    ratio: float
    strain: float
    """How badly it fits where it fits worst, in nats over 0.3 s."""
    stray: int
    """The longest row of phones that were heard and are not in it."""
    places: NDArray[np.int64]
    """Where each head step stands in the phones, see ctc.align."""
    runner_up: Meaning | None
    written: Written

    @property
    def strangeness(self) -> float:
        """How much both judges miss, in nats: the decoder over all, the head at its worst."""
        return self.strain - self.ratio


def judge(
    found: Sequence[Reading],
    log_probabilities: NDArray[np.float32],
    frames: NDArray[np.float32],
    decoder: Decoder,
) -> Verdict:
    """Judge the readings, the likeliest by the head first.

    ``log_probabilities`` are the head's, shape (steps, 40); ``frames`` the encoder's.
    """
    seen = found[:JUDGED]
    texts = [spellings(reading.tokens) for reading in seen]
    flat = decoder.score(frames, [text for ways in texts for text in ways])
    ends = np.cumsum([len(ways) for ways in texts])
    spelled = [float(np.logaddexp.reduce(part)) for part in np.split(flat, ends[:-1])]
    total = [
        max(DECODER_FLOOR, by_decoder) + HEAD_WEIGHT * reading.head
        for by_decoder, reading in zip(spelled, seen, strict=True)
    ]
    order = sorted(range(len(seen)), key=lambda at: -total[at])
    best = order[0]
    written = decoder.write(frames, len(log_probabilities) * STEP_SECONDS)
    phones = seen[best].phones
    places = align(log_probabilities, phones)
    return Verdict(
        seen[best],
        total[best] - total[order[1]] if len(order) > 1 else 50.0,
        spelled[best] - written.score,
        strain(log_probabilities, phones, places),
        stray(log_probabilities, places),
        places,
        seen[order[1]].meaning if len(order) > 1 else None,
        written,
    )


def decide(verdict: Verdict, limits: Limits) -> tuple[Outcome, Reason | None]:
    """Accept, ask, or ignore."""
    meaning = verdict.best.meaning
    if verdict.strangeness > limits.foreign:
        return Outcome.IGNORED, Reason.NOT_FOR_US
    if verdict.strangeness > limits.strange or verdict.stray > limits.stray:
        return Outcome.UNSURE, Reason.WEAK_MATCH
    alike = _sound_alike(meaning, verdict.runner_up)
    if verdict.margin < (limits.twin_margin if alike else limits.margin):
        return Outcome.UNSURE, Reason.SOUND_ALIKE if alike else Reason.CLOSE_CALL
    if meaning.form is Form.NAME:
        return Outcome.UNSURE, Reason.NO_NUMBER
    return Outcome.ACCEPTED, None


def _sound_alike(best: Meaning, other: Meaning | None) -> bool:
    """Tell whether two readings differ only in a number that sounds like another one."""
    if other is None or (best.form, best.item) != (other.form, other.item):
        return False
    if len(best.numbers) != 1 or len(other.numbers) != 1:
        return False
    return other.numbers[0] in twins(best.numbers[0])
