"""Cutting an utterance at every short pause, or at its long ones, by its level alone.

The voice detector goes on through noise that follows a voice, and then two lines come as one. Where
a person speaks near the microphone the pauses stand out by level all the same.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from statistics import median

import numpy as np

from voicecount.sound.frame import RATE, Utterance

_STEP = RATE // 50
"""Samples of one level: 20 ms."""
_SMOOTH = 3
"""Steps over which the level is taken."""
_UNDER_LOUD_DB = 14.0
"""A pause lies further than this under the loud parts of the voice."""
_PAUSE = 0.3
"""Seconds: shorter silences lie inside words."""
_SOUND = 0.1
"""Seconds: shorter sounds are no words."""
_LONG = 1.6
"""A pause is long from so many times the median of its utterance."""
_LONG_LEAST = 0.6
"""And from so many seconds."""
_PAUSES_FROM = 4
"""The fewest pauses whose median tells what is usual."""
_EDGE = 0.2
"""Seconds kept around each part: soft consonants lie there."""


def cut_at_pauses(utterance: Utterance) -> list[Utterance]:
    """Give the parts between pauses, in order; the utterance alone where there is no pause.

    Of an utterance that was too long, only the parts at its ends are cut.
    """
    return _parts(utterance, _spans(utterance))


def cut_at_long_pauses(utterance: Utterance) -> list[Utterance]:
    """Give the parts between pauses that are long beside its others; the utterance alone if none.

    Between two lines one breathes longer than between two numbers, at any pace.
    """
    spans = _spans(utterance)
    pauses = [two[0] - one[1] for one, two in pairwise(spans)]
    if len(pauses) < _PAUSES_FROM:
        return [utterance]
    least = max(_LONG * median(pauses), _LONG_LEAST * RATE / _STEP)
    lines = [spans[:1]]
    for pause, span in zip(pauses, spans[1:], strict=True):
        if pause >= least:
            lines.append([])
        lines[-1].append(span)
    return _parts(utterance, [(line[0][0], line[-1][1]) for line in lines])


def _spans(utterance: Utterance) -> list[tuple[int, int]]:
    """Give the first step and the one after the last of each part between pauses."""
    steps = len(utterance.samples) // _STEP
    if steps < 1:
        return []
    power = np.square(utterance.samples[: steps * _STEP].reshape(steps, _STEP)).mean(axis=1)
    smooth = np.convolve(power, np.full(_SMOOTH, 1 / _SMOOTH), mode="same")
    levels = 10 * np.log10(np.maximum(smooth, 1e-12))
    loud = levels >= np.percentile(levels, 95) - _UNDER_LOUD_DB
    edges = np.flatnonzero(np.diff(np.concatenate([[False], loud, [False]])))
    spans: list[tuple[int, int]] = []
    for first, stop in edges.reshape(-1, 2).tolist():
        if spans and (first - spans[-1][1]) * _STEP < _PAUSE * RATE:
            spans[-1] = (spans[-1][0], stop)
        else:
            spans.append((first, stop))
    return [span for span in spans if (span[1] - span[0]) * _STEP >= _SOUND * RATE]


def _parts(utterance: Utterance, spans: Sequence[tuple[int, int]]) -> list[Utterance]:
    if len(spans) < 2:
        return [utterance]
    return [_part(utterance, first * _STEP, stop * _STEP) for first, stop in spans]


def _part(utterance: Utterance, first: int, stop: int) -> Utterance:
    edge = round(_EDGE * RATE)
    begin, end = max(0, first - edge), min(len(utterance.samples), stop + edge)
    at = utterance.offset
    return replace(
        utterance,
        start=at + first / RATE,
        end=at + stop / RATE,
        samples=utterance.samples[begin:end],
        offset=at + begin / RATE,
        cut=utterance.cut and (begin == 0 or end == len(utterance.samples)),
    )
