"""Microphone and loudspeaker of a case, by name; or a recording in the place of the first."""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from voicecount.errors import UsageError, VoicecountError
from voicecount.keep.clock import StoppableClock
from voicecount.keep.settings import Settings
from voicecount.live import MicrophoneNotes, Note
from voicecount.show.console import notice
from voicecount.sound.choose import Device, choose, loudspeakers, microphones
from voicecount.sound.device import DeviceSource, microphone
from voicecount.sound.frame import FrameSource, Utterance
from voicecount.sound.gate import Echo, Noticed
from voicecount.sound.pair import PairSource, choose_two
from voicecount.sound.playback import FileCapture
from voicecount.sound.room_sound import RoomSound
from voicecount.sound.watchdog import Change
from voicecount.speak.duplex import HalfDuplex, measure
from voicecount.speak.player import DeviceSpeaker, SilentSpeaker
from voicecount.speak.port import Speaker, Voice
from voicecount.speak.standing import StandingSpeaker
from voicecount.talk import wording_sound


@dataclass(frozen=True)
class Wanted:
    """What a person asked for; None takes what is remembered, or the system's own."""

    microphones: tuple[str, ...] = ()
    """One, or two of which each person has one; none takes what is remembered."""
    loudspeaker: str | None = None
    one_channel: bool = False
    from_file: Path | None = None
    """A recording in the place of the microphone, at the speed of life."""


@dataclass
class Ears:
    """What is listened to, and what is spoken through."""

    source: DeviceSource | PairSource
    duplex: HalfDuplex | None
    """Microphone and loudspeaker as one; None where a recording is listened to."""
    speaker: Speaker
    microphone: str | None
    loudspeaker: str | None
    room: RoomSound | None = None
    """What was measured of the room, or remembered."""
    second_microphone: str | None = None

    @property
    def frames(self) -> FrameSource:
        """The sound, silent where the assistant could be heard."""
        return self.source if self.duplex is None else self.duplex

    def heard_from(self) -> float:
        """Give the stream's time from which people are heard again after the last reply."""
        return 0.0 if self.duplex is None else self.duplex.heard_from

    def take_noticed(self) -> list[Noticed]:
        """Give what people said into the assistant's voice, each once."""
        return [] if self.duplex is None else self.duplex.take_noticed()


def open_ears(
    wanted: Wanted,
    settings: Settings,
    *,
    clock: StoppableClock,
    notes: deque[Note],
    stops: Callable[[Utterance], bool],
    voice: Voice | None,
) -> Ears:
    """Open what is listened to and spoken through. Raises VoicecountError, one line.

    A room that was never measured is measured first, by one sentence of the voice.
    """
    if wanted.from_file is not None:
        # A recording has no gaps for the assistant's voice: it stands still meanwhile.
        capture = FileCapture(wanted.from_file, clock)
        recording = DeviceSource(lambda: capture, capture.channels, clock)
        recording.open()
        return Ears(recording, None, StandingSpeaker(SilentSpeaker(), clock), None, None)
    holder: list[DeviceSource | PairSource] = []
    changes = MicrophoneNotes()

    def changed(change: Change) -> None:
        heard_by = holder[0]
        note = changes.note(change, heard_by.now(), heard_by.health, heard_by.channels)
        notes.append(note)
        notice(note.text)

    device, second = _microphones(wanted, settings)
    source: DeviceSource | PairSource
    if second is not None:
        makers = [partial(microphone, one.label, 1, clock) for one in (device, second)]
        source = PairSource(makers, clock, changed=changed)
    else:
        channels = 1 if wanted.one_channel else min(2, device.channels)
        source = microphone(device.label, channels, clock, changed=changed)
    holder.append(source)
    loud = choose(loudspeakers(), wanted.loudspeaker or settings.output_device, "loudspeaker")
    speaker = DeviceSpeaker(loud.label)
    source.open()
    room = _room(settings, source.channels) or _measured(source, speaker, voice)
    duplex = HalfDuplex(source, speaker, room=room, stops=stops)
    other = second.label if second is not None else None
    return Ears(source, duplex, duplex, device.label, loud.label, room, other)


def _microphones(wanted: Wanted, settings: Settings) -> tuple[Device, Device | None]:
    """Choose the microphone, or the two of which each person has one."""
    names: tuple[str | None, ...] = wanted.microphones
    come = "are named"
    if not names:
        second = settings.second_input_device
        names = (settings.input_device, *(() if second is None else (second,)))
        come = "are remembered"
    if len(names) > 2:
        raise UsageError(
            f"{len(names)} microphones {come}, where two people have one each; give --microphone "
            "once or twice"
        )
    if len(names) == 1:
        return choose(microphones(), names[0]), None
    if wanted.one_channel:
        raise UsageError(
            f"two microphones {come}, and --one-channel hears one; give --microphone once, or "
            "leave --one-channel out"
        )
    return choose_two(microphones(), *names)


def _room(settings: Settings, channels: int) -> RoomSound | None:
    """Give what is remembered of the room; None where it was measured by other channels."""
    if settings.room_tail is None or len(settings.room_echo) not in {0, channels}:
        return None
    return RoomSound(settings.room_tail, Echo(settings.room_echo))


def _measured(
    source: DeviceSource | PairSource, speaker: DeviceSpeaker, voice: Voice | None
) -> RoomSound | None:
    """Measure the room; without success it is told, and a careful guess holds."""
    if voice is None:
        return None
    notice("measuring how the room sounds; please be quiet for some seconds")
    try:
        return measure(source, speaker, voice.speak(wording_sound.for_measuring()))
    except VoicecountError as error:
        notice(f"the room is not measured ({error})")
        return None
