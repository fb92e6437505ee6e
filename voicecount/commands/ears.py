"""Microphone and loudspeaker of a case, by name; or a recording in the place of the first."""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from voicecount.errors import VoicecountError
from voicecount.keep.clock import StoppableClock
from voicecount.keep.settings import Settings
from voicecount.live import Note, microphone_note
from voicecount.show.console import notice
from voicecount.sound.choose import choose, loudspeakers, microphones
from voicecount.sound.device import DeviceSource, microphone
from voicecount.sound.frame import FrameSource, Utterance
from voicecount.sound.gate import Echo, Noticed
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

    microphone: str | None = None
    loudspeaker: str | None = None
    one_channel: bool = False
    from_file: Path | None = None
    """A recording in the place of the microphone, at the speed of life."""


@dataclass
class Ears:
    """What is listened to, and what is spoken through."""

    source: DeviceSource
    duplex: HalfDuplex | None
    """Microphone and loudspeaker as one; None where a recording is listened to."""
    speaker: Speaker
    microphone: str | None
    loudspeaker: str | None
    room: RoomSound | None = None
    """What was measured of the room, or remembered."""

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
    """Open what is listened to and spoken through. Raises DeviceError and RecordingError.

    A room that was never measured is measured first, by one sentence of the voice.
    """
    if wanted.from_file is not None:
        # A recording has no gaps for the assistant's voice: it stands still meanwhile.
        capture = FileCapture(wanted.from_file, clock)
        source = DeviceSource(lambda: capture, capture.channels, clock)
        source.open()
        return Ears(source, None, StandingSpeaker(SilentSpeaker(), clock), None, None)
    holder: list[DeviceSource] = []

    def changed(change: Change) -> None:
        note = microphone_note(change, holder[0].now())
        notes.append(note)
        notice(note.text)

    device = choose(microphones(), wanted.microphone or settings.input_device)
    channels = 1 if wanted.one_channel else min(2, device.channels)
    source = microphone(device.label, channels, clock, changed=changed)
    holder.append(source)
    loud = choose(loudspeakers(), wanted.loudspeaker or settings.output_device, "loudspeaker")
    speaker = DeviceSpeaker(loud.label)
    source.open()
    room = _room(settings) or _measured(source, speaker, voice)
    duplex = HalfDuplex(source, speaker, room=room, stops=stops)
    return Ears(source, duplex, duplex, device.label, loud.label, room)


def _room(settings: Settings) -> RoomSound | None:
    if settings.room_tail is None:
        return None
    return RoomSound(settings.room_tail, Echo(settings.room_echo))


def _measured(
    source: DeviceSource, speaker: DeviceSpeaker, voice: Voice | None
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
