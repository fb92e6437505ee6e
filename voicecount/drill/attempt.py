"""An attempt: what the student said, word by word in time, and what the partner said. No sound."""

from dataclasses import dataclass

from voicecount.hear.heard import Heard

A_LINE = 1.0
"""Seconds of speech from which something not understood may have been a line."""
LIKELY = 0.5
"""Words that are likelier to be wrong than this are not understood, whatever they come to."""


@dataclass(frozen=True)
class Saying:
    """One utterance of the student, understood, with how loud it was."""

    heard: Heard
    loud_db: float
    """dB under full scale of its loud parts."""
    above_room: float
    """dB of these over the noise of the room."""
    levels: tuple[float, ...] = ()
    """dB under full scale of each of ``heard.words``; empty where there are none."""
    doubt: bool = False
    """Whether its name was understood, and its numbers may have been others."""


@dataclass(frozen=True)
class Said:
    """What the partner said."""

    cue: str
    """The id of the cue, see ``steps.py``."""
    words: str
    start: float
    """Seconds from the start of the recording."""
    end: float


@dataclass(frozen=True)
class Attempt:
    """Everything that is judged."""

    seconds: float
    """Length of the recording."""
    sayings: tuple[Saying, ...]
    """By their starts."""
    said: tuple[Said, ...] = ()
    cues_known: bool = True
    """False where a recording came without the times of the partner's words."""
    room_db: float | None = None
    """dB under full scale of the room between the words."""
    recogniser: str = ""
