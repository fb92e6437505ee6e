"""Whether a voice may be relied on: it says a sentence into memory, and the sound is looked at."""

import numpy as np

from voicecount.errors import VoiceError
from voicecount.sound.level import clipped_share, measure
from voicecount.speak.manner import SILENT_DB
from voicecount.speak.port import Voice

SENTENCE = "Gauze, ten. Say the number, please."
_CLIPPED = 0.01
_FASTEST, _SLOWEST = 0.1, 1.5
"""Seconds a word between which a voice can be followed; usual ones need 0.3 to 0.6 with pauses."""


def check_voice(voice: Voice) -> float:
    """Let a voice say a sentence; gives the seconds that it lasts.

    Raises VoiceError, one line, when it gives no sound, silence, sound that is cut off at full
    scale, or far too few or too many seconds for the words.
    """
    clip = voice.speak(SENTENCE)
    a_word = clip.seconds / len(SENTENCE.split())
    if not np.isfinite(clip.samples).all():
        raise _fails(voice, "gives damaged sound")
    if measure(clip.samples).loud < SILENT_DB:
        raise _fails(voice, "gives silence")
    if clipped_share(clip.samples) > _CLIPPED:
        raise _fails(voice, "is so loud that its sound is cut off")
    if not _FASTEST <= a_word <= _SLOWEST:
        raise _fails(voice, f"takes {a_word:.2f} seconds a word")
    return clip.seconds


def _fails(voice: Voice, what: str) -> VoiceError:
    return VoiceError(f"the voice {voice.name} {what}; use --voice with another kind")
