"""A voice and a loudspeaker without sound."""

from collections.abc import Callable, Collection

import numpy as np

from voicecount.errors import VoiceError
from voicecount.speak.port import Clip


class FakeVoice:
    """Gives 250 ms of sound a word and keeps the texts; fails at the texts in ``failing``."""

    def __init__(self, failing: Collection[str] = ()) -> None:
        self._failing = failing
        self.said: list[str] = []

    @property
    def name(self) -> str:
        """Name for the record."""
        return "fake voice"

    def speak(self, text: str) -> Clip:
        """Keep the text and give a clip, or fail."""
        if text in self._failing:
            raise VoiceError("the fake voice was told to fail; tell it otherwise")
        self.said.append(text)
        return Clip(np.full(250 * len(text.split()), 0.1, np.float32), 1000)


class FakeSpeaker:
    """Keeps the clips; calls ``before`` first, where a test looks at what is already kept."""

    def __init__(self, before: Callable[[], None] | None = None, *, failing: bool = False) -> None:
        self._before = before
        self._failing = failing
        self.played: list[Clip] = []

    def play(self, clip: Clip) -> None:
        """Keep the clip, or fail."""
        if self._before is not None:
            self._before()
        if self._failing:
            raise VoiceError("the fake speaker was told to fail; tell it otherwise")
        self.played.append(clip)
