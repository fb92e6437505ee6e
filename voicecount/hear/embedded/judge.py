"""Two judges: how well each reading fits the sound, and how far the best is ahead.

The heads' exact score and a share of the text decoder's are added; the distance to the second-best
meaning is the margin, and the decoder's distance to what it would have written freely is the ratio.
What can be seen in that is in ``signs.py``, and what follows from it in ``decide.py``.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.candidates import Reading
from voicecount.hear.embedded.ctc import stray
from voicecount.hear.embedded.decoder import Decoder, Written
from voicecount.hear.embedded.ensemble import Hearing
from voicecount.hear.embedded.spell import Respelled, spellings
from voicecount.words.meaning import Form, Meaning
from voicecount.words.soundalike import from_digits

JUDGED = 6
"""Readings that the decoder sees, beside its own; each has up to four spellings."""
DECODER_FLOOR = -25.0
DECODER_WEIGHT = 0.5
LEAP_COST = 5.0
NAME_COST = 2.0
ALONE = 50.0
"""The margin of a reading that has no rival."""


@dataclass(frozen=True)
class Score:
    """What the judges give one reading, in nats."""

    meaning: Meaning
    decoder: float
    """Natural-log probability of its spellings."""
    head: float
    """Natural-log probability of its phones."""
    by_head: tuple[float, ...]
    """The same by each phone head."""
    total: float
    """Both together, less what the reading costs for its oddity."""


@dataclass(frozen=True, eq=False)
class Evidence:
    """What both judges have of an utterance."""

    hearing: Hearing
    """What the phone heads heard."""
    frames: NDArray[np.float32]
    """The encoder's, shape (n, 288)."""
    written: Written
    """What the decoder wrote freely."""
    own: frozenset[Meaning]
    """The readings of what it wrote; they are judged in any case."""
    respelled: Respelled = field(default_factory=dict)
    """Words for which there are further spellings: as they sound, or as was learned."""


@dataclass(frozen=True, eq=False)
class Verdict:
    """What the judges came to."""

    best: Reading
    ratio: float
    """How far the decoder's score of it lies from what the decoder wrote freely."""
    strain: float
    """How badly it fits where it fits worst, in nats over 0.3 s."""
    stray: int
    """The longest row of phones that were heard and are not in it."""
    strays: int
    """All of them."""
    places: NDArray[np.int64]
    """Where each head step stands in the phones, see ctc.align."""
    written: Written
    scores: tuple[Score, ...]
    """Every reading that was judged, the best first."""
    own: frozenset[Meaning]
    """The readings of what the decoder wrote freely; empty when that is no count."""

    @property
    def disputed(self) -> bool:
        """Tell whether the decoder, asked freely, wrote another count than the best reading."""
        return bool(self.own) and self.best.meaning not in self.own

    @property
    def margin(self) -> float:
        """How far the best reading leads the second-best meaning, in nats."""
        return self.scores[0].total - self.scores[1].total if len(self.scores) > 1 else ALONE

    @property
    def rivals(self) -> tuple[tuple[Score, float], ...]:
        """Every other reading, with how far it trails the best in nats, the nearest first."""
        best, *others = self.scores
        return tuple((other, best.total - other.total) for other in others)


def judge(found: Sequence[Reading], evidence: Evidence, decoder: Decoder) -> Verdict:
    """Judge the readings, the likeliest by the head first."""
    hearing, frames, written = evidence.hearing, evidence.frames, evidence.written
    seen = [*found[:JUDGED], *(more for more in found[JUDGED:] if more.meaning in evidence.own)]
    texts = [spellings(reading.tokens, evidence.respelled) for reading in seen]
    flat = decoder.score(frames, [text for ways in texts for text in ways])
    ends = np.cumsum([len(ways) for ways in texts])
    spelled = [float(np.logaddexp.reduce(part)) for part in np.split(flat, ends[:-1])]
    scores = sorted(
        (
            Score(
                reading.meaning,
                by_decoder,
                reading.head,
                reading.by_head,
                _total(by_decoder, reading),
            )
            for by_decoder, reading in zip(spelled, seen, strict=True)
        ),
        key=lambda score: -score.total,
    )
    best = next(reading for reading in seen if reading.meaning == scores[0].meaning)
    phones = best.phones
    places = hearing.align(phones)
    return Verdict(
        best,
        scores[0].decoder - written.score,
        hearing.strain(phones, places),
        *stray(hearing.first, places[0]),
        places[0],
        written,
        tuple(scores),
        evidence.own,
    )


def _total(by_decoder: float, reading: Reading) -> float:
    heard = DECODER_WEIGHT * max(DECODER_FLOOR, by_decoder) + reading.head
    return heard - _oddity(reading.meaning)


def leaps(meaning: Meaning) -> bool:
    """Tell whether a run alone, without a name, goes other than on, by a skip, or in place.

    The digits of a number that sounds like another are no leap: they are asked for.
    """
    if meaning.item is not None or meaning.form is not Form.RUN:
        return False
    if from_digits(meaning.numbers) is not None:
        return False
    return any(after not in {one, one + 1, one + 2} for one, after in pairwise(meaning.numbers))


def _oddity(meaning: Meaning) -> float:
    """Give what a reading costs because hardly anybody says such a thing, in nats.

    A run alone that leaps is far more often a name taken for numbers ("forceps" for "four, six")
    than a run. A skipped or repeated number is no leap, and a run with its name costs nothing:
    what a count is there to find is never made less likely. A name alone is asked about anyway.
    """
    if meaning.form is Form.NAME:
        return NAME_COST
    return LEAP_COST if leaps(meaning) else 0.0
