"""The noise of the room during a case: fine, loud or too loud, told when it changes.

The noise is compared with the voices of the sound check, because what counts is how far they stand
above it (docs/hearing.md). A state is entered when the noise has been there for a while and left
only well below its limit, so that nobody is told of it again and again.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.check import LIMITS
from voicecount.sound.findings import Noise, NoiseState
from voicecount.sound.frame import RATE
from voicecount.sound.level import SILENCE_DB

BLOCK = 1600
"""Samples of one level: 0.1 s."""


@dataclass(frozen=True)
class NoiseLimits:
    """How noise is judged. dB of the voice above the noise; times in seconds of sound."""

    loud: float = LIMITS.noisy
    too_loud: float = LIMITS.too_noisy
    back: float = 3.0
    """dB better than a limit before its state is left. Our choice."""
    rise: float = 2.0
    """How long noise lasts before it is told: longer than a dropped bowl, shorter than a line."""
    fall: float = 5.0
    """How long it is quieter before that is told. Our choice."""
    window: float = 3.0
    """The noise is the median of the last speechless seconds: a clatter does not move it."""
    stale: float = 10.0
    """With no speechless stretch for so long, the quietest tenth of all sound has to do. Babble
    and song may pass for speech without end; nobody counts for so long without a breath."""


class NoiseWatch:
    """Follows the noise of every channel. ``speech`` is each channel's voice by the sound check.

    A channel whose voice is None is not watched.
    """

    def __init__(self, speech: Sequence[float | None], limits: NoiseLimits | None = None) -> None:
        self._speech = [(at, level) for at, level in enumerate(speech) if level is not None]
        if not self._speech:
            raise ValueError("no channel has a voice to compare the noise with")
        self._limits = limits or NoiseLimits()
        self._channels = len(speech)
        self._pending = np.zeros((0, self._channels), dtype=np.float32)
        self._speechless = True
        self._quiet: deque[NDArray[np.float64]] = deque(maxlen=_blocks(self._limits.window))
        self._all: deque[NDArray[np.float64]] = deque(maxlen=_blocks(self._limits.stale))
        self._since_quiet = 0
        self._towards: Noise | None = None
        self._lasted = 0
        self.state = Noise.FINE
        """The state as it was last told."""
        self.current: NoiseState | None = None
        """What was measured last; None in the first moments."""

    def feed(self, samples: NDArray[np.float32], *, speech: bool) -> NoiseState | None:
        """Take sound, shape (n, channels); give the new state when it changes.

        ``speech`` says whether anybody, or the assistant, speaks in it.
        """
        told = None
        self._pending = np.concatenate((self._pending, samples))
        self._speechless = self._speechless and not speech
        while len(self._pending) >= BLOCK:
            block, self._pending = self._pending[:BLOCK], self._pending[BLOCK:]
            told = self._block(block) or told
            self._speechless = not speech
        return told

    def _block(self, block: NDArray[np.float32]) -> NoiseState | None:
        power = np.square(block, dtype=np.float64).mean(axis=0)
        level = 10.0 * np.log10(np.maximum(power, 10.0 ** (SILENCE_DB / 10)))
        self._all.append(level)
        self._since_quiet += 1
        if self._speechless:
            self._quiet.append(level)
            self._since_quiet = 0
        floor = self._floor()
        if floor is None:
            return None
        above, channel = min((speech - float(floor[at]), at) for at, speech in self._speech)
        self.current = NoiseState(self._judge(above), float(floor[channel]), above, channel)
        return self._settle(self.current)

    def _floor(self) -> NDArray[np.float64] | None:
        """Give the noise of each channel, or None while too little was heard."""
        if self._since_quiet >= _blocks(self._limits.stale):
            self._quiet.clear()
            return np.asarray(np.percentile(np.array(self._all), 10.0, axis=0), np.float64)
        if len(self._quiet) < min(_blocks(1.0), _blocks(self._limits.window)):
            return None
        return np.asarray(np.median(np.array(self._quiet), axis=0), np.float64)

    def _judge(self, above: float) -> Noise:
        """Give the state that a noise would lead to from the present one."""
        back = self._limits.back
        loud = self._limits.loud + (0.0 if self.state is Noise.FINE else back)
        too_loud = self._limits.too_loud + (back if self.state is Noise.TOO_LOUD else 0.0)
        if above < too_loud:
            return Noise.TOO_LOUD
        return Noise.LOUD if above < loud else Noise.FINE

    def _settle(self, found: NoiseState) -> NoiseState | None:
        """Change the state once another one has lasted."""
        if found.state is self.state:
            self._towards, self._lasted = None, 0
            return None
        order = list(Noise)
        louder = order.index(found.state) > order.index(self.state)
        if self._towards is None or louder != (
            order.index(self._towards) > order.index(self.state)
        ):
            self._lasted = 0
        self._towards = found.state
        self._lasted += 1
        if self._lasted < _blocks(self._limits.rise if louder else self._limits.fall):
            return None
        self.state = found.state
        self._towards, self._lasted = None, 0
        return found


def _blocks(seconds: float) -> int:
    return max(1, round(seconds * RATE / BLOCK))
