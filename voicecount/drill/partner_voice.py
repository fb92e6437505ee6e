"""The partner's voice: the sound that lies beside the drill, and a voice for everything else.

The files may be an instructor's own recordings, as long as they say the words.
"""

from collections.abc import Mapping
from pathlib import Path

import soundfile

from voicecount.drill.load import Loaded
from voicecount.drill.partner_sound import partner_sounds, partner_words
from voicecount.speak.port import Clip, Voice


class PartnerVoice:
    """Implements the voice port."""

    def __init__(self, voice: Voice, sounds: Mapping[str, Path]) -> None:
        self._voice = voice
        self._sounds = sounds
        """By the words that they say."""

    @classmethod
    def of(cls, loaded: Loaded, voice: Voice) -> "PartnerVoice":
        """Take the sound beside a drill, as far as it still says the drill's words."""
        words = partner_words(loaded.drill, loaded.sheet)
        return cls(voice, {words[cue]: path for cue, path in partner_sounds(loaded).items()})

    @property
    def name(self) -> str:
        """Name of the voice that says the rest."""
        return self._voice.name

    def speak(self, text: str) -> Clip:
        """Give the file of a text, or else the voice's sound. Raises VoiceError as the voice."""
        path = self._sounds.get(text)
        clip = None if path is None else _read(path)
        return self._voice.speak(text) if clip is None else clip


def _read(path: Path) -> Clip | None:
    """Read a file; None where it cannot be, or is empty: the words matter more than whose voice."""
    try:
        sound, rate = soundfile.read(path, dtype="float32", always_2d=True)
    except (OSError, soundfile.SoundFileError):
        return None
    return Clip(sound.mean(axis=1), int(rate)) if len(sound) else None
