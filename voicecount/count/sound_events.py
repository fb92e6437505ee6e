"""Events about the sound of the room. They change no line of the tally."""

from typing import Literal

from pydantic import BaseModel, ConfigDict

from voicecount.count.event_base import BaseEvent
from voicecount.count.roles import Role
from voicecount.sound.findings import Finding, Noise, NoiseState, SoundCheck


class CheckedChannel(BaseModel):
    """What was measured of one person on their channel. Levels in dB under full scale."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    channel: int
    """From 0."""
    who: Role | None = None
    """None for a channel that is nobody's."""
    speech: float | None = None
    """The voice without the pauses and the noise; None where nobody was heard."""
    floor: float
    """The mean noise between the words."""
    above_noise: float | None = None
    """How many dB the voice stands above the noise."""
    clipped: float = 0.0
    """Share of the voice's samples at full scale, 0 to 1."""
    leak: float | None = None
    """The same voice in the loudest other channel, in dB against this one."""
    leak_hidden: bool = False
    """Whether noise hides the leak, which is then no more than ``leak``."""


class FoundProblem(BaseModel):
    """One finding of a sound check."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    code: Finding
    channel: int | None = None
    who: Role | None = None
    stops: bool
    """Whether it has to be put right before the case."""


class SoundChecked(BaseEvent):
    """Each person spoke in turn, and what was heard of it was measured."""

    kind: Literal["sound_checked"] = "sound_checked"
    channels: tuple[CheckedChannel, ...]
    problems: tuple[FoundProblem, ...] = ()
    """The most urgent first; none is the go."""

    @classmethod
    def of(cls, check: SoundCheck, at: float) -> "SoundChecked":
        """Make the event of a result whose people are roles; levels to a tenth of a dB."""
        return cls(
            at=at,
            channels=tuple(
                CheckedChannel(
                    channel=row.channel,
                    who=_role(row.who),
                    speech=_tenth(row.speech),
                    floor=round(row.floor, 1),
                    above_noise=_tenth(row.above_noise),
                    clipped=round(row.clipped, 5),
                    leak=_tenth(row.leak),
                    leak_hidden=row.leak_hidden,
                )
                for row in check.channels
            ),
            problems=tuple(
                FoundProblem(
                    code=found.code,
                    channel=found.channel,
                    who=_role(found.who),
                    stops=found.stops,
                )
                for found in check.problems
            ),
        )


class NoiseChanged(BaseEvent):
    """The noise of the room came to be fine, loud or too loud; nobody brought it about."""

    kind: Literal["noise_changed"] = "noise_changed"
    state: Noise
    channel: int
    """The channel that suffers most, from 0."""
    floor: float
    """Its noise in dB under full scale."""
    above_noise: float
    """How many dB its voice, as in the sound check, stands above that noise."""

    @classmethod
    def of(cls, found: NoiseState, at: float) -> "NoiseChanged":
        """Make the event of a change; levels to a tenth of a dB."""
        return cls(
            at=at,
            state=found.state,
            channel=found.channel,
            floor=round(found.floor, 1),
            above_noise=round(found.above, 1),
        )


class MicrophoneChanged(BaseEvent):
    """The microphone gave no sound, was gone, or came back; nobody brought it about."""

    kind: Literal["microphone_changed"] = "microphone_changed"
    state: Literal["silent", "heard", "gone", "back"]
    channel: int | None = None
    """The channel that it concerns, from 0; None for the whole device."""
    seconds: float
    """How long it had been so, or had lasted."""


class UtterancesHeard(BaseEvent):
    """How much was heard and asked about since the last such record; kept before a count ends."""

    kind: Literal["utterances_heard"] = "utterances_heard"
    utterances: int
    """All of them, talk in the room among them."""
    accepted: int
    ignored: int
    asked: tuple[tuple[str, int], ...] = ()
    """How often something was asked to be said again, by reason (docs/reasons.md)."""


def _role(who: str | None) -> Role | None:
    return None if who is None else Role(who)


def _tenth(level: float | None) -> float | None:
    return None if level is None else round(level, 1)
