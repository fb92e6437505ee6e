"""A speaker during whose clips a recording stands still."""

from contextlib import AbstractContextManager
from typing import Protocol

from voicecount.speak.port import Clip, Speaker


class Stoppable(Protocol):
    """A clock that can stand still."""

    def stopped(self) -> AbstractContextManager[None]:
        """Stand still as long as the block runs."""
        ...


class StandingSpeaker:
    """Plays through another speaker, and stops the recording's clock while it plays."""

    def __init__(self, speaker: Speaker, clock: Stoppable) -> None:
        self._speaker = speaker
        self._clock = clock

    def play(self, clip: Clip) -> None:
        """Return when the clip has been played. Raises VoiceError as the speaker does."""
        with self._clock.stopped():
            self._speaker.play(clip)
