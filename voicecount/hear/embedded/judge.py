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
from voicecount.hear.embedded.decoder import Decoder, Written
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
    twin_margin: float = 5.0
    """For one number alone that sounds like another one."""
    ratio: float = -14.0
    ignore: float = -22.0
    """Below this ratio, speech is not meant for us."""
    fit: float = -0.35
    """Head's own fit, in nats per step, against the best phone at every step."""


@dataclass(frozen=True)
class Verdict:
    """What the judges came to."""

    best: Reading
    margin: float
    ratio: float
    fit: float
    """Nats per head step by which the reading lies under the best phone at every step."""
    runner_up: Meaning | None
    written: Written


def judge(
    found: Sequence[Reading],
    free: float,
    steps: int,
    frames: NDArray[np.float32],
    decoder: Decoder,
) -> Verdict:
    """Judge the readings, the likeliest by the head first.

    ``free`` is the head's score of the best phone at every one of ``steps`` steps.
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
    written = decoder.write(frames, steps * 0.012)
    return Verdict(
        seen[best],
        total[best] - total[order[1]] if len(order) > 1 else 50.0,
        spelled[best] - written.score,
        (seen[best].head - free) / steps,
        seen[order[1]].meaning if len(order) > 1 else None,
        written,
    )


def decide(verdict: Verdict, limits: Limits) -> tuple[Outcome, Reason | None]:
    """Accept, ask, or ignore."""
    meaning = verdict.best.meaning
    if verdict.ratio < limits.ignore:
        return Outcome.IGNORED, Reason.NOT_FOR_US
    if verdict.ratio < limits.ratio or verdict.fit < limits.fit:
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
