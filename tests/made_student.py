"""A student with a made voice: words with exact times, in the noise of a quiet room."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import soundfile

from voicecount.rehearse.voices import Say
from voicecount.sound.frame import RATE, Samples

ROOM_DB = -62.0
_LEVEL = 0.25


@dataclass
class MadeStudent:
    """Says words one by one, with pauses between; ``ends`` tells when each one was over."""

    say: Say
    pause: float = 0.3
    ends: list[tuple[str, float]] = field(default_factory=list)
    """Words with the seconds of the recording at which they ended."""
    _parts: list[Samples] = field(default_factory=list)

    @property
    def seconds(self) -> float:
        """How long it is so far."""
        return sum(map(len, self._parts)) / RATE

    def wait(self, seconds: float) -> "MadeStudent":
        """Say nothing."""
        self._parts.append(np.zeros(round(seconds * RATE), np.float32))
        return self

    def speak(self, *words: str) -> "MadeStudent":
        """Say words with a short pause after each."""
        for word in words:
            sound = self.say(word)
            loud = np.flatnonzero(np.abs(sound) > 0.02 * np.abs(sound).max())
            sound = sound[loud[0] : loud[-1] + 1]
            self._parts.append((_LEVEL * sound / np.abs(sound).max()).astype(np.float32))
            self.ends.append((word, self.seconds))
            self.wait(self.pause)
        return self

    def write(self, path: Path) -> Path:
        """Write what was said as a recording, with the room's noise."""
        sound = np.concatenate(self._parts)
        noise = np.random.default_rng(1).standard_normal(len(sound)) * 10 ** (ROOM_DB / 20)
        soundfile.write(path, sound + noise, RATE, "PCM_16")
        return path
