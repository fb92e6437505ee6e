"""How the assistant speaks: how fast, how loud, and how long it may take to find its words.

voice ──▶ WithinTime: a voice that hangs is given up ──▶ AtLoudness: every clip equally loud
"""

import threading
from dataclasses import dataclass

import numpy as np

from voicecount.errors import VoicecountError, VoiceError
from voicecount.sound.level import measure
from voicecount.speak.port import Clip, Voice

LEVEL_DB = -20.0
"""The loud steps of a clip, in dB under full scale, at a loudness of 0: both voices sound alike
loud, and there is room above for louder ones."""
SILENT_DB = -50.0
"""A clip whose loud steps are softer holds no voice, perhaps a click."""
_PEAK = 0.98
_PATIENCE = 4.0
_PATIENCE_A_WORD = 0.3
"""Seconds that a voice may take for a text, and for each of its words; a healthy one takes less
than a tenth of that, also on a small computer that is busy."""


@dataclass(frozen=True)
class Manner:
    """How fast and how loud; a person sets it for a room."""

    rate: float = 1.0
    """How many times as fast as the voice's own pace."""
    loudness: float = 0.0
    """dB louder than LEVEL_DB; negative: softer."""


class AtLoudness:
    """Speaks with another voice, each clip at one loudness; never so loud that it is cut off."""

    def __init__(self, voice: Voice, loudness: float = 0.0) -> None:
        self._voice = voice
        self._loudness = loudness

    @property
    def name(self) -> str:
        """Name of the voice, for the record."""
        return self._voice.name

    def speak(self, text: str) -> Clip:
        """Make the sound of a text. Raises VoiceError as the voice does, and where it is silent."""
        clip = self._voice.speak(text)
        peak = float(np.abs(clip.samples).max(initial=0.0))
        if measure(clip.samples).loud < SILENT_DB:
            raise VoiceError(f"the voice {self.name} gave silence; use another --voice")
        gain = 10 ** ((LEVEL_DB + self._loudness - measure(clip.samples).loud) / 20)
        return Clip((min(gain, _PEAK / peak) * clip.samples).astype(np.float32), clip.rate)


class WithinTime:
    """Speaks with another voice, which is given up when it takes too long.

    A thread that hangs cannot be ended: it is left behind, and the voice is not asked again.
    """

    def __init__(
        self, voice: Voice, patience: float = _PATIENCE, a_word: float = _PATIENCE_A_WORD
    ) -> None:
        self._voice = voice
        self._patience = patience
        self._a_word = a_word
        self._hangs = False

    @property
    def name(self) -> str:
        """Name of the voice, for the record."""
        return self._voice.name

    def speak(self, text: str) -> Clip:
        """Make the sound of a text; VoiceError when the voice fails or takes too long."""
        if self._hangs:
            raise self._too_late("does not answer any more")
        found: list[Clip | Exception] = []

        def work() -> None:
            try:
                found.append(self._voice.speak(text))
            except Exception as error:  # noqa: BLE001 - raised again in the thread that asked
                found.append(error)

        limit = self._patience + self._a_word * len(text.split())
        thread = threading.Thread(target=work, daemon=True)
        thread.start()
        thread.join(limit)
        if not found:
            self._hangs = True
            raise self._too_late(f"gave no sound in {limit:.0f} seconds")
        if isinstance(found[0], VoicecountError):
            raise found[0]
        if isinstance(found[0], Exception):
            raise VoiceError(
                f"the voice {self._voice.name} failed ({found[0]!r}); use another --voice"
            ) from found[0]
        return found[0]

    def _too_late(self, what: str) -> VoiceError:
        return VoiceError(
            f"the voice {self._voice.name} {what}; start again with another --voice after the case"
        )
