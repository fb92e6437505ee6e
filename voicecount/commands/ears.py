"""Microphone and loudspeaker of a case, by name; or a recording in the place of the first."""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from voicecount.keep.clock import StoppableClock
from voicecount.keep.settings import Settings
from voicecount.live import Note, microphone_note
from voicecount.show.console import notice
from voicecount.sound.capture import Capture, MicrophoneCapture
from voicecount.sound.choose import choose, loudspeakers, microphones
from voicecount.sound.device import DeviceSource
from voicecount.sound.frame import Utterance
from voicecount.sound.gate import Echo
from voicecount.sound.playback import FileCapture
from voicecount.sound.room_sound import RoomSound
from voicecount.sound.watchdog import Change
from voicecount.speak.duplex import HalfDuplex
from voicecount.speak.player import DeviceSpeaker, SilentSpeaker
from voicecount.speak.port import Clip


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
    """The microphone and the loudspeaker."""

    source: DeviceSource
    duplex: HalfDuplex
    microphone: str | None
    loudspeaker: str | None


def open_ears(
    wanted: Wanted,
    settings: Settings,
    clock: StoppableClock,
    notes: deque[Note],
    stops: Callable[[Utterance], bool],
) -> Ears:
    """Open what is listened to and spoken through. Raises DeviceError and RecordingError."""
    holder: list[DeviceSource] = []

    def changed(change: Change) -> None:
        at = holder[0].now() if holder else 0.0
        note = microphone_note(change, at)
        notes.append(note)
        notice(note.text)

    opener, channels, microphone = _opener(wanted, settings, clock)
    source = DeviceSource(opener, channels, clock, changed=changed)
    holder.append(source)
    speaker: DeviceSpeaker | _Standing
    name = None
    if wanted.from_file is not None:
        # A recording has no gaps for the assistant's voice: it stands still meanwhile.
        speaker = _Standing(SilentSpeaker(), clock)
    else:
        name = wanted.loudspeaker or settings.output_device
        device = choose(loudspeakers(), name, "loudspeaker")
        name = device.name
        speaker = DeviceSpeaker(device.name)
    tail = settings.room_tail
    room = None if tail is None else RoomSound(tail, Echo())
    source.open()
    return Ears(source, HalfDuplex(source, speaker, room=room, stops=stops), microphone, name)


def _opener(
    wanted: Wanted, settings: Settings, clock: StoppableClock
) -> tuple[Callable[[], Capture], int, str | None]:
    file = wanted.from_file
    if file is not None:
        capture = FileCapture(file, clock)
        return lambda: capture, capture.channels, None
    device = choose(microphones(), wanted.microphone or settings.input_device)
    channels = 1 if wanted.one_channel else min(2, device.channels)

    def again() -> Capture:
        return MicrophoneCapture(choose(microphones(), device.name), channels, clock)

    return again, channels, device.name


class _Standing:
    """A speaker that stops a recording's clock while it plays."""

    def __init__(self, speaker: SilentSpeaker, clock: StoppableClock) -> None:
        self._speaker = speaker
        self._clock = clock

    @property
    def cut(self) -> bool:
        return False

    def stop(self) -> None:
        """Do nothing: nothing plays for long."""

    def play(self, clip: Clip) -> None:
        with self._clock.stopped():
            self._speaker.play(clip)
