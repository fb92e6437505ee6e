"""Pace, evenness, pauses and loudness of a run, from the times of its words. Pure.

Evenness is measured from onset to onset, as it is heard, and not corrected for long numbers: two
people count together by the beats. The limit of a drill leaves room for "seven" beside "two".
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import isfinite
from statistics import fmean, median, median_low, pstdev

from voicecount.drill.judge_calls import Chunk
from voicecount.drill.judge_heard import Spoken
from voicecount.drill.judge_runs import Run
from voicecount.drill.judge_scene import Scene
from voicecount.drill.judgement import Fault, Measured
from voicecount.drill.model import Criterion
from voicecount.drill.steps import Step

_STANDS_OUT = 1.5
"""A long pause is longer than this many times the usual silence of its run; where all silences are
long the run is slow, and has no pauses."""
_EVEN_FROM = 4
"""Times from number to number that a spread needs; of fewer, one long number makes it uneven."""
_LINES_FROM = 3
"""Lines that an uneven loudness needs; our choice."""

Span = tuple[float, float]


@dataclass
class Measures:
    """What was measured, run by run and line by line."""

    paces: list[float] = field(default_factory=list)
    numbers: int = 0
    beats: list[float] = field(default_factory=list)
    """Times from number to number, each over the mean of its run."""
    pauses: list[float] = field(default_factory=list)
    loud: list[tuple[Step, Span, float]] = field(default_factory=list)
    """Steps that are loud enough: where, and dB under full scale."""
    all_loud: list[float] = field(default_factory=list)
    above: list[float] = field(default_factory=list)

    def whole(self) -> Measured:
        """Give the figures of the attempt."""
        return Measured(
            median(self.paces) if self.paces else None,
            self.numbers,
            pstdev(self.beats) if len(self.beats) > 1 else None,
            max(self.pauses, default=None),
            median(self.above) if self.above else None,
            pstdev(self.all_loud) if len(self.all_loud) > 1 else None,
        )


def level(sayings: Sequence[Spoken]) -> tuple[float | None, float | None]:
    """Give how loud some utterances are and how far above the room, as means over their time."""
    loud, above, weight = 0.0, 0.0, 0.0
    for one in sayings:
        share = max(one.end - one.start, 1e-3)
        if isfinite(one.saying.loud_db) and isfinite(one.saying.above_room):
            loud += share * one.saying.loud_db
            above += share * one.saying.above_room
            weight += share
    return (loud / weight, above / weight) if weight else (None, None)


def judge_level(
    scene: Scene, measures: Measures, step: Step, said: Sequence[Spoken], span: Span
) -> tuple[float | None, float | None]:
    """Judge whether a line was loud enough; give its loudness and how far above the room."""
    loud, above = level(said)
    if loud is None or above is None:
        return loud, above
    scene.chance(Criterion.LOUDNESS, step)
    measures.all_loud.append(loud)
    measures.above.append(above)
    if above < scene.drill.loudness.above_room:
        scene.find(Fault.TOO_QUIET, *span, step, value=above)
    else:
        measures.loud.append((step, span, loud))
    return loud, above


def judge_spread(scene: Scene, measures: Measures) -> None:
    """Judge how even the loudness is, at the line that is farthest from the others.

    What is too quiet has been told already and is left out.
    """
    levels = [loud for _, _, loud in measures.loud]
    if len(levels) < _LINES_FROM:
        return
    spread = pstdev(levels)
    if spread > scene.drill.loudness.unevenness:
        middle = median(levels)
        step, span, _ = max(measures.loud, key=lambda one: abs(one[2] - middle))
        scene.find(Fault.UNEVEN_LOUDNESS, *span, step, value=spread)


def judge_pace(scene: Scene, measures: Measures, step: Step, run: Run) -> None:
    """Judge pace, evenness and pauses of the run that counts."""
    if not run.spots or not all(spot.chunk.spoken.timed for spot in run.spots):
        return
    gaps = [gap for gap in _gaps(run) if not _busy(scene, gap[0], gap[1])]
    silences = [_silence(scene, one) for one in gaps]
    measures.pauses += silences
    longest = scene.drill.pace.longest_pause
    usual = median_low(silences) if len(silences) > 1 else 0.0
    long = [silence > max(longest, _STANDS_OUT * usual) for silence in silences]
    for (start, end), silence, is_long in zip(gaps, silences, long, strict=True):
        if is_long:
            scene.find(Fault.LONG_PAUSE, start, end, step, value=silence)
    left_out = [gap for gap, is_long in zip(gaps, long, strict=True) if is_long]
    beats = [
        two.number.start - one.number.start
        for one, two in pairwise(run.spots)
        if not _busy(scene, one.number.start, two.number.start)
        and (one.number.end, two.number.start) not in left_out
        and not any(begin < two.number.start and end > one.number.end for begin, end in scene.talk)
    ]
    if len(beats) < 2 or sum(beats) <= 0:
        return
    _judge_beats(scene, measures, step, run, beats)


def _judge_beats(
    scene: Scene, measures: Measures, step: Step, run: Run, beats: Sequence[float]
) -> None:
    pace, limits = 60 * len(beats) / sum(beats), scene.drill.pace
    spread = pstdev(beats) / fmean(beats)
    scene.chance(Criterion.PACE, step)
    measures.paces.append(pace)
    measures.numbers += len(run.spots)
    measures.beats += [beat / fmean(beats) for beat in beats]
    span = (run.spots[0].number.start, run.end)
    if pace > limits.most:
        scene.find(Fault.TOO_FAST, *span, step, value=pace)
    elif pace < limits.least:
        scene.find(Fault.TOO_SLOW, *span, step, value=pace)
    if len(beats) >= _EVEN_FROM and spread > limits.unevenness:
        scene.find(Fault.UNEVEN, *span, step, value=spread)


def _gaps(run: Run) -> Iterator[Span]:
    """Give the stretches between the words of a line: after its name, and between its numbers."""
    first = run.spots[0]
    named: Chunk | None = run.chunks[0] if run.chunks[0].named and run.leads else None
    if named is not None and named.spoken.name_end < first.number.start:
        yield named.spoken.name_end, first.number.start
    for one, two in pairwise(run.spots):
        yield one.number.end, two.number.start


def _busy(scene: Scene, start: float, end: float) -> bool:
    """Tell whether the partner spoke, or something was or may have been not heard, in a stretch."""
    said = [(one.start, one.end) for one in scene.said]
    heard = [(one.start, one.end) for one in scene.unheard]
    return any(begin < end and stop > start for begin, stop in (*said, *heard, *scene.lost))


def _silence(scene: Scene, gap: Span) -> float:
    """Give the longest silence in a stretch: talk in the room, of the student too, is none."""
    start, end = gap
    longest = 0.0
    for begin, stop in scene.talk:
        if begin < end and stop > start:
            longest = max(longest, begin - start)
            start = max(start, stop)
    return max(longest, end - start, 0.0)
