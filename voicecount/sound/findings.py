"""What is found out about the sound of a room: codes and numbers, without the sound itself.

Words for the codes are in ``talk/wording_sound.py``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Finding(StrEnum):
    """What a sound check found, the most urgent first."""

    NO_SOUND = "no_sound"
    """A channel gives silence while somebody speaks."""
    NOT_HEARD = "not_heard"
    """A person does not stand out from the noise on any channel."""
    SWAPPED = "swapped"
    """The people are heard, each on the other one's channel."""
    NOT_TOLD_APART = "not_told_apart"
    """Which channel is whose cannot be seen: both are about as loud on each."""
    CLIPPED = "clipped"
    """A voice is cut at full scale."""
    TOO_QUIET = "too_quiet"
    """A voice is so weak that its soft parts are taken for silence."""
    HUM = "hum"
    """Mains hum makes up most of the noise."""
    TOO_NOISY = "too_noisy"
    """There is more noise than hearing was measured with."""
    NOISY = "noisy"
    """With this much noise more has to be asked again."""
    LEAKS = "leaks"
    """A voice is nearly as loud in the other person's channel, and may be taken for theirs."""
    LEAKS_SOMEWHAT = "leaks_somewhat"
    """A voice is louder in the other person's channel than hearing was measured with."""


class Noise(StrEnum):
    """How loud the room is during a case, measured against the voices."""

    FINE = "fine"
    LOUD = "loud"
    """More will have to be asked again."""
    TOO_LOUD = "too_loud"
    """More noise than hearing was measured with."""


@dataclass(frozen=True)
class Problem:
    """One finding, where and whose."""

    code: Finding
    channel: int | None = None
    """From 0; None where it is about no single channel."""
    who: str | None = None
    """The person it is about, or whose microphone it is; None where that is not known."""
    stops: bool = True
    """Whether it has to be put right; otherwise the case can begin, and more will be asked."""


@dataclass(frozen=True)
class ChannelSound:
    """What was measured of one person on their channel. Levels in dB under full scale."""

    channel: int
    who: str | None
    """None for a channel that is nobody's."""
    speech: float | None
    """The voice without the pauses and the noise; None where nobody is heard."""
    floor: float
    """The mean noise between the words."""
    clipped: float
    """Share of the voice's samples at full scale, 0 to 1."""
    leak: float | None
    """The same voice in the loudest other channel, in dB against this one; None where there is
    no other channel or no voice."""
    leak_hidden: bool = False
    """Whether noise hides the leak, which is then no more than ``leak``."""
    loud: float | None = None
    """The level of the voice's loud parts; None where it was not measured."""

    @property
    def above_noise(self) -> float | None:
        """How many dB the voice stands above the noise; None where nobody is heard."""
        return None if self.speech is None else self.speech - self.floor


@dataclass(frozen=True)
class SoundCheck:
    """The result of a sound check."""

    channels: tuple[ChannelSound, ...]
    """One for each person, in the order of their turns, then the channels that are nobody's."""
    problems: tuple[Problem, ...]
    """The most urgent first."""
    channel_of: Mapping[str, int]
    """On which channel each person was heard; without those who were not."""

    @property
    def go(self) -> bool:
        """Whether nothing has to be put right before the case. It promises nothing."""
        return not any(problem.stops for problem in self.problems)


@dataclass(frozen=True)
class NoiseState:
    """The noise as it was measured at one moment, on the channel that suffers most."""

    state: Noise
    floor: float
    """The noise in dB under full scale."""
    above: float
    """How many dB that channel's voice stands above it."""
    channel: int
