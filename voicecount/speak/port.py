"""The voice port: text to sound, and sound played to its end."""

from dataclasses import dataclass
from typing import Protocol

from voicecount.sound.frame import Samples


@dataclass(frozen=True, eq=False)
class Clip:
    """Sound ready to be played."""

    samples: Samples
    """Mono, full scale ±1."""
    rate: int
    """Samples a second."""

    @property
    def seconds(self) -> float:
        """How long it plays."""
        return len(self.samples) / self.rate


class Voice(Protocol):
    """Text to sound. Raises VoiceError when it gives no usable sound in time."""

    @property
    def name(self) -> str:
        """Name and version, for the record."""
        ...

    def speak(self, text: str) -> Clip:
        """Make the sound of a text."""
        ...


class Speaker(Protocol):
    """Where clips go: a sound device, a file, or nowhere (a fake that keeps them)."""

    def play(self, clip: Clip) -> None:
        """Return only when the last sample has been played. Raises VoiceError when it cannot."""
        ...
