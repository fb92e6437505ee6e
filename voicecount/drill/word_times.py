"""Where words really begin and end: the recogniser's marks, moved to the edges of the sound.

The recogniser marks a sound somewhere inside it, a tenth of a second or more after it began. Where
there is silence before a word, however short, its edges are seen in the level of the sound; where
it follows another without any, only the usual delay is taken off.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.heard import Word
from voicecount.sound.frame import RATE, Utterance

_STEP = RATE // 100
"""Samples of one level: 10 ms."""
_UNDER_LOUD_DB = 30.0
"""A word is as loud as this beside the loud parts of its utterance, from its edge on."""
_OVER_FLOOR_DB = 8.0
"""And stands out of the noise between the words by so much."""
_SHORTEST = 3
"""Steps: less silence parts nothing, and less sound is a click."""
_LATE = 0.09
"""Seconds that a mark comes late in the middle of sound."""
_MARK = 0.1
"""Seconds of a word that the recogniser adds before its first mark."""
_LEAST = 0.01
_REACH = 0.45
"""Seconds before its mark in which a word has begun."""
_CLOSURE = 0.09
"""Seconds of silence that may lie inside a word, before a "t" or "x"."""

Span = tuple[float, float]


def on_the_sound(words: Sequence[Word], utterance: Utterance) -> tuple[Word, ...]:
    """Give the words with better times; they stay in order and do not overlap.

    The last long silence between the first marks of two words parts them: shorter ones are the
    lips or the tongue before a "t" or "x", and earlier ones lie between breaths or noises.
    """
    if not words or len(utterance.samples) < _STEP:
        return tuple(words)
    silences = _silences(utterance)
    marks = [min(word.start + _MARK, word.end) for word in words]
    starts: list[float] = []
    ends: list[float] = []
    earliest = utterance.offset
    for word, mark in zip(words, marks, strict=True):
        between = [one for one in silences if earliest <= one[0] and one[1] <= mark + _LEAST]
        near = [one for one in between if one[1] >= mark - _REACH]
        starts.append(_parting(near)[1] if near else word.start - _LATE)
        if starts[1:]:
            ends.append(_parting(between)[0] if between else starts[-1])
        earliest = mark
    after = [one for one in silences if one[0] >= earliest and one[1] - one[0] > _CLOSURE]
    ends.append(after[0][0] if after else words[-1].end)
    placed: list[Word] = []
    before = utterance.offset
    for word, start, end in zip(words, starts, ends, strict=True):
        begins = max(before, start)
        before = max(begins + _LEAST, end)
        placed.append(replace(word, start=round(begins, 3), end=round(before, 3)))
    return tuple(placed)


def _parting(silences: Sequence[Span]) -> Span:
    """Give the last silence that is no less than half of the longest one."""
    lengths = [last - first for first, last in silences]
    return [
        one for one, length in zip(silences, lengths, strict=True) if length >= max(lengths) / 2
    ][-1]


def _silences(utterance: Utterance) -> list[Span]:
    """Give the stretches without sound, in seconds of the stream."""
    levels = _levels(utterance)
    loud, floor = np.percentile(levels, 95), np.percentile(levels, 10)
    sounds = levels >= max(loud - _UNDER_LOUD_DB, floor + _OVER_FLOOR_DB)
    for first, stop in _runs(sounds):
        if stop - first < _SHORTEST:
            sounds[first:stop] = False
    step = _STEP / RATE
    return [
        (utterance.offset + first * step, utterance.offset + stop * step)
        for first, stop in _runs(~sounds)
        if stop - first >= _SHORTEST
    ]


def _runs(steps: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Give the first step and the one after the last of each stretch that holds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], steps, [False]])))
    return [(int(first), int(stop)) for first, stop in edges.reshape(-1, 2)]


def _levels(utterance: Utterance) -> NDArray[np.float64]:
    """Give the level of every 10 ms in dB."""
    steps = len(utterance.samples) // _STEP
    power = np.square(utterance.samples[: steps * _STEP].reshape(steps, _STEP)).mean(axis=1)
    return np.asarray(10 * np.log10(np.maximum(power, 1e-12)), np.float64)
