"""What a room does to the assistant's voice, measured at set-up from one playback."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.frame import RATE, Samples
from voicecount.sound.gate import REACH_SECONDS, Echo
from voicecount.sound.level import SILENCE_DB, STEP, step_levels
from voicecount.sound.portaudio import DeviceError
from voicecount.sound.speech import SegmentSettings

MARGIN_SECONDS = 0.1
"""Added to the tail that was measured: no two playbacks end alike."""
FLOOR_SECONDS = 0.5
"""The end of a recording, by which the quiet room is known."""
QUIET_SECONDS = 0.2
"""The room is quiet once it stays so for as long; what comes later is no echo."""

_LIMITS = SegmentSettings()
_NEAR_PEAK_DB = 20.0
_MOST = 99.0


@dataclass(frozen=True)
class RoomSound:
    """What the gate has to know of a room."""

    tail: float
    """Seconds from the end of playback until the microphones hear nothing of it any more."""
    echo: Echo


def tail_seconds(
    samples: NDArray[np.float32], rate: int, before: NDArray[np.float32] | None = None
) -> float:
    """Give the tail of a room, in seconds, with its margin.

    ``samples``, shape (n,) or (n, channels), begin when the playback had ended; ``before`` is what
    was heard before it began, so that somebody who speaks all the time is not taken for the room's
    own noise. The tail is over where nothing is left that could count as voice: below the
    segmenter's lowest level, or hardly above the noise. DeviceError where that does not come.
    """
    channels = _two_axes(samples)
    earlier = _two_axes(samples[:0] if before is None else before)
    return max(
        _tail(channels[:, channel], earlier[:, channel], rate)
        for channel in range(channels.shape[1])
    )


def echo_gain(clip: Samples, recorded: Samples) -> float:
    """Give how many dB louder (weaker: negative) a microphone hears a clip than it is.

    Both mono at RATE and beginning together; the delays of the device count as the room's.
    """
    played, heard = step_levels(clip), step_levels(recorded)
    reach = round(REACH_SECONDS * RATE / STEP)
    before = np.concatenate((np.full(reach, SILENCE_DB, np.float32), played))
    steps = min(len(played), len(heard))
    if not steps:
        return SILENCE_DB
    loudest = np.array([before[step : step + reach + 1].max() for step in range(steps)])
    loud = loudest >= loudest.max() - _NEAR_PEAK_DB
    return float(np.percentile((heard[:steps] - loudest)[loud], _MOST))


def _two_axes(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    return samples[:, np.newaxis] if samples.ndim == 1 else samples


def _levels(samples: Samples, step: int) -> NDArray[np.float32]:
    steps = len(samples) // step
    power = np.square(samples[: steps * step].reshape(steps, step)).mean(axis=1)
    return np.asarray(10.0 * np.log10(np.maximum(power, 10.0 ** (SILENCE_DB / 10.0))), np.float32)


def _tail(samples: Samples, before: Samples, rate: int) -> float:
    step = max(1, round(STEP * rate / RATE))
    floor_steps = round(FLOOR_SECONDS * rate / step)
    levels = _levels(samples, step)
    steps = len(levels)
    if steps <= floor_steps:
        raise DeviceError(
            f"{len(samples) / rate:.1f} s are too short to measure a room's tail; record at least "
            "2 s after the playback"
        )
    floor = float(np.median(levels[-floor_steps:]))
    if len(before) >= step:
        floor = min(floor, float(np.median(_levels(before, step))))
    audible = levels > max(_LIMITS.quietest_db, floor + _LIMITS.above_floor_db)
    quiet = round(QUIET_SECONDS * rate / step)
    for first in range(steps - floor_steps + 1):
        if not audible[first : first + quiet].any():
            return first * step / rate + MARGIN_SECONDS
    raise DeviceError(
        "the room does not fall quiet after the assistant's voice; wait, and measure again"
    )
