"""The sound check: each turn, on all channels, to levels, noise, leaks, and who is on which.

A voice's level is the median of its steps without the pauses, the noise its mean power. That comes
to the level of docs/hearing.md, which takes the loudest quarter of clips with their gaps, so the
limits can be those of what was measured there (``python -m benchmarks.sound_check`` compares).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.findings import ChannelSound, Finding, Problem, SoundCheck
from voicecount.sound.frame import Samples
from voicecount.sound.hum import hum_share
from voicecount.sound.level import LOUD_SHARE, SILENCE_DB, STEP, clipped_share, step_levels


@dataclass(frozen=True)
class CheckLimits:
    """Where a finding begins. Levels in dB under full scale."""

    noisy: float = 15.0
    """Voice above noise. At 15 dB in pink noise, music and babble 88 to 92 % of the counts were
    taken at first hearing and 8 to 12 % asked again (docs/hearing.md)."""
    too_noisy: float = 10.0
    """Voice above noise. At 10 dB 65 to 83 % were taken and 16 to 29 % asked again; with more
    noise than this the benchmark's standard conditions have nothing to say."""
    heard: float = 6.0
    """Loud steps above the quiet ones; less is no voice, but noise that goes up and down."""
    quiet: float = -40.0
    """A voice's level. Its parts 14 dB weaker are its own, and nothing under -60 dB is taken
    for voice (sound/speech.py): -46, and 6 dB more for who speaks lower than in the check."""
    clipped: float = 0.001
    """Share of a voice's samples. The recogniser refuses an utterance at 0.01; a tenth of that, as
    a sound check is said more calmly than a count."""
    leak: float = -20.0
    """The voice in the other channel. At -20 dB 77 % were taken and none was wrong, with somebody
    speaking all the time (docs/hearing.md)."""
    too_leaky: float = -10.0
    """The same; above it the other channel's copy counts as a voice of its own
    (``quieter_db`` in sound/speech.py)."""
    apart: float = 6.0
    """How much better the people fit their channels than the other way round; a turned head
    changes a microphone's level by about as much (common practice, no source)."""
    silent: float = -70.0
    """The loudest step of a channel in all turns; any open microphone is above it while
    somebody in the room speaks (common practice, no source)."""
    hum: float = 0.5
    """Share of the noise on the lines of 50 or 60 Hz."""
    hum_matters: float = 25.0
    """Voice above noise; with more, no noise changes how the recogniser cuts."""


LIMITS = CheckLimits()

_SMOOTH = 5
"""Steps (0.1 s) over which levels are smoothed to tell voice from pause: syllables, no flutter."""
_BEFORE, _AFTER = 5, 10
"""Steps around a voice that are no pause: soft consonants, and the room's echo."""
_FEWEST = 15
"""Steps (0.3 s) of pause; with fewer, the quietest tenth of the turn has to do."""
_WEAKEST = 25.0
"""dB under the loud steps; what is weaker is no part of the voice."""
_SEEN_DB = -6.0
"""A leak this far under the noise can still be seen in the sum of both."""


@dataclass(frozen=True, eq=False)
class Turn:
    """What was heard while one person said the sentence and counted to five."""

    who: str
    samples: NDArray[np.float32]
    """Shape (n, channels), full scale ±1, at 16 kHz, with the pauses before and after."""


@dataclass(frozen=True, eq=False)
class _Measured:
    """One turn. Powers are means over steps, by channel."""

    heard: bool
    floor: NDArray[np.float64]
    voice: NDArray[np.float64]
    """Mean power of the voice's steps without the noise; nothing where it is hidden."""
    level: NDArray[np.float64]
    """Power that half of the voice's steps exceed, without the noise."""
    clipped: NDArray[np.float64]
    loudest: NDArray[np.float64]
    """Power of the loudest step."""
    loud: NDArray[np.float64]
    """Power of the loud parts."""
    hum: NDArray[np.float64]
    """Share of the noise, 0 to 1."""


def check(
    turns: Sequence[Turn],
    expected: Mapping[str, int] | None = None,
    limits: CheckLimits = LIMITS,
) -> SoundCheck:
    """Measure the turns, each of another person, all with the same channels.

    ``expected`` is whose each channel should be; by default the first turn's is the first one. On
    a single channel nobody is told apart, and nothing is said about it. Raises ValueError for
    turns of different channels, and for an expected channel that is not there.
    """
    if not turns or len({turn.samples.shape[1] for turn in turns}) != 1:
        raise ValueError("a sound check needs turns, all with the same channels")
    channels = turns[0].samples.shape[1]
    people = [turn.who for turn in turns]
    planned = [
        (expected or {}).get(who, min(place, channels - 1)) for place, who in enumerate(people)
    ]
    if not all(0 <= channel < channels for channel in planned):
        raise ValueError(f"somebody is expected on a channel that is not there, of {channels}")
    measured = [_measure(turn.samples, limits) for turn in turns]
    loudest = np.max([found.loudest for found in measured], axis=0)
    silent = [channel for channel in range(channels) if _db(loudest[channel]) < limits.silent]
    problems = [
        Problem(Finding.NO_SOUND, channel, _planned_for(channel, people, planned))
        for channel in silent
    ]
    problems += [
        Problem(Finding.NOT_HEARD, channel, who)
        for who, channel, found in zip(people, planned, measured, strict=True)
        if not found.heard and channel not in silent
    ]
    own = planned
    if channels >= len(turns) > 1 and not problems:
        own, more = _whose(measured, planned, limits)
        problems += more
    rows = [
        _row(who, channel, found) for who, channel, found in zip(people, own, measured, strict=True)
    ]
    for row, found in zip(rows, measured, strict=True):
        if row.channel not in silent:
            problems += _judge(row, float(found.hum[row.channel]), limits)
    rows += [_nobodys(channel, measured) for channel in range(channels) if channel not in own]
    order = list(Finding)
    return SoundCheck(
        tuple(rows),
        tuple(sorted(problems, key=lambda found: (not found.stops, order.index(found.code)))),
        {row.who: row.channel for row in rows if row.who is not None and row.speech is not None},
    )


def _measure(samples: NDArray[np.float32], limits: CheckLimits) -> _Measured:
    """Measure one turn on all channels, by the voice on the channel where it stands out most."""
    channels = [np.ascontiguousarray(part) for part in samples.T]
    power = np.stack([10.0 ** (step_levels(part).astype(float) / 10) for part in channels])
    if not power.shape[1]:
        power = np.full((len(channels), 1), 10.0 ** (SILENCE_DB / 10))
    smooth = np.stack([_smoothed(part) for part in power])
    low, high = np.percentile(smooth, (10.0, 95.0), axis=1)
    best = int(np.argmax(high - low))
    heard = bool(high[best] - low[best] >= limits.heard and high[best] >= limits.silent)
    limit = max(low[best] + limits.heard / 2, high[best] - _WEAKEST, (low[best] + high[best]) / 2)
    voiced = smooth[best] >= limit
    pause = ~_widened(voiced)
    if pause.sum() < _FEWEST:
        pause = smooth[best] <= low[best]
    floor = power[:, pause].mean(axis=1)
    steps = power[:, voiced] if voiced.any() else power
    return _Measured(
        heard=heard,
        floor=floor,
        voice=np.maximum(steps.mean(axis=1) - floor, 0.0),
        level=np.maximum(np.median(steps, axis=1) - floor, 0.0),
        clipped=np.array([_clipped(part, voiced) for part in channels]),
        loudest=power.max(axis=1),
        loud=np.percentile(power, LOUD_SHARE, axis=1),
        hum=np.array([hum_share(part, pause) for part in channels]),
    )


def _whose(
    measured: Sequence[_Measured], planned: Sequence[int], limits: CheckLimits
) -> tuple[list[int], list[Problem]]:
    """Find the channels that fit the people best; gains of microphones and voices cancel out."""
    seen = [np.maximum(found.voice, found.floor * 10 ** (_SEEN_DB / 10)) for found in measured]
    level = np.array([[_db(power) for power in powers] for powers in seen])
    people = range(len(measured))
    ways = list(permutations(range(level.shape[1]), len(measured)))
    fit = {way: float(sum(level[who, way[who]] for who in people)) for way in ways}
    best, second = sorted(ways, key=lambda way: -fit[way])[:2]
    if (fit[best] - fit[second]) / len(measured) < limits.apart:
        return list(planned), [Problem(Finding.NOT_TOLD_APART)]
    return list(best), [] if list(best) == list(planned) else [Problem(Finding.SWAPPED)]


def _row(who: str, channel: int, found: _Measured) -> ChannelSound:
    floor = _db(found.floor[channel])
    if not found.heard or found.level[channel] <= 0.0:
        return ChannelSound(channel, who, None, floor, 0.0, None)
    others = [other for other in range(len(found.floor)) if other != channel]
    leak, hidden = None, False
    if others:
        seen = found.floor * 10 ** (_SEEN_DB / 10)
        other = max(others, key=lambda one: max(found.voice[one], seen[one]))
        hidden = bool(found.voice[other] < seen[other])
        leak = _db(max(found.voice[other], seen[other])) - _db(found.voice[channel])
    return ChannelSound(
        channel,
        who,
        _db(found.level[channel]),
        floor,
        float(found.clipped[channel]),
        leak,
        hidden,
        _db(found.loud[channel]),
    )


def _nobodys(channel: int, measured: Sequence[_Measured]) -> ChannelSound:
    floor = float(np.mean([found.floor[channel] for found in measured]))
    return ChannelSound(channel, None, None, _db(floor), 0.0, None)


def _judge(row: ChannelSound, hum: float, limits: CheckLimits) -> list[Problem]:
    """Give what is wrong with one person on their channel."""
    if row.speech is None or row.above_noise is None:
        return []
    found: list[tuple[Finding, bool]] = []
    if row.clipped >= limits.clipped:
        found.append((Finding.CLIPPED, True))
    if row.speech < limits.quiet:
        found.append((Finding.TOO_QUIET, True))
    too_noisy = row.above_noise < limits.too_noisy
    if hum >= limits.hum and row.above_noise < limits.hum_matters:
        found.append((Finding.HUM, too_noisy))
    elif row.above_noise < limits.noisy:
        found.append((Finding.TOO_NOISY, True) if too_noisy else (Finding.NOISY, False))
    if row.leak is not None and not row.leak_hidden and row.leak > limits.leak:
        leaky = row.leak > limits.too_leaky
        found.append((Finding.LEAKS, True) if leaky else (Finding.LEAKS_SOMEWHAT, False))
    return [Problem(code, row.channel, row.who, stops) for code, stops in found]


def _planned_for(channel: int, people: Sequence[str], planned: Sequence[int]) -> str | None:
    """Give whose channel it should be; on one channel for all, nobody's."""
    whose = [who for who, own in zip(people, planned, strict=True) if own == channel]
    return whose[0] if len(whose) == 1 else None


def _db(power: float) -> float:
    return max(SILENCE_DB, 10.0 * float(np.log10(power))) if power > 0.0 else SILENCE_DB


def _smoothed(power: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give levels in dB, smoothed over neighbouring steps."""
    weights = np.ones(_SMOOTH)
    total = np.convolve(power, weights)[_SMOOTH // 2 :][: len(power)]
    count = np.convolve(np.ones(len(power)), weights)[_SMOOTH // 2 :][: len(power)]
    return np.asarray(10.0 * np.log10(total / count), np.float64)


def _widened(voiced: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark the steps around a voice, too."""
    wide = np.convolve(voiced.astype(int), np.ones(_BEFORE + _AFTER + 1, int))
    return wide[_BEFORE : _BEFORE + len(voiced)] > 0


def _clipped(samples: Samples, voiced: NDArray[np.bool_]) -> float:
    """Give the clipped share of what is voice."""
    inside = np.repeat(voiced, STEP)[: len(samples)]
    return clipped_share(samples[: len(inside)][inside])
