"""Devices by name: a list, and one of them by a part of its name.

Numbers of devices change when something is plugged in; names stay, so a choice is kept by name.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from voicecount.sound import portaudio
from voicecount.sound.portaudio import DeviceError


@dataclass(frozen=True)
class Device:
    """A microphone or a loudspeaker as the system names it."""

    index: int
    """The system's number of it; changes when devices come and go."""
    name: str
    host: str
    """The sound system that offers it, such as ALSA or Core Audio."""
    channels: int
    """The most channels that it takes or gives."""
    rate: int
    """Samples a second at which it works by itself."""
    default: bool = False
    """Whether the system uses it where none is named."""

    @property
    def label(self) -> str:
        """Name and sound system, enough to tell two of the same name apart."""
        return f"{self.name} ({self.host})"


def microphones() -> tuple[Device, ...]:
    """List what can record; DeviceError where the sound library cannot be loaded."""
    return _devices("input")


def loudspeakers() -> tuple[Device, ...]:
    """List what can play; DeviceError where the sound library cannot be loaded."""
    return _devices("output")


def choose(devices: Iterable[Device], part: str | None, kind: str = "microphone") -> Device:
    """Give the one device whose label holds ``part``, whatever its case; the default for None.

    A label, or a name, that is exactly ``part`` is chosen even where longer ones hold it, too.
    DeviceError, one line that names the candidates, where none or several fit.
    """
    devices = tuple(devices)
    if not devices:
        raise DeviceError(f"this machine has no {kind}; connect one")
    if part is None:
        found = tuple(device for device in devices if device.default)
        if not found:
            raise DeviceError(f"the system names no {kind} of its own; choose {_or(devices)}")
        return found[0]
    wanted = part.strip().casefold()
    for rule in (
        lambda device: device.label.casefold() == wanted,
        lambda device: device.name.casefold() == wanted,
        lambda device: wanted in device.label.casefold(),
    ):
        found = tuple(device for device in devices if rule(device))
        if len({device.name for device in found}) == 1:
            # One device that several sound systems offer: the system's own one is meant.
            own = {device.host for device in devices if device.default}
            found = tuple(device for device in found if device.host in own) or found
        if len(found) == 1:
            return found[0]
        if found:
            raise DeviceError(
                f'"{part}" fits {len(found)} devices, {_and(found)}; give more of the name'
            )
    raise DeviceError(f'no {kind} is named "{part}"; choose {_or(devices)}')


def _devices(kind: str) -> tuple[Device, ...]:
    sounddevice = portaudio.load()
    try:
        found = tuple(sounddevice.query_devices())
        hosts = tuple(sounddevice.query_hostapis())
        first = hosts[sounddevice.default.hostapi][f"default_{kind}_device"] if hosts else -1
    except sounddevice.PortAudioError as error:
        raise DeviceError(
            f"the devices cannot be listed ({portaudio.one_line(error)}); start the sound system"
        ) from error
    return tuple(
        Device(
            index=device["index"],
            name=device["name"],
            host=hosts[device["hostapi"]]["name"],
            channels=device[f"max_{kind}_channels"],
            rate=round(device["default_samplerate"]),
            default=device["index"] == first,
        )
        for device in found
        if device[f"max_{kind}_channels"] > 0
    )


def _or(devices: Iterable[Device]) -> str:
    return " or ".join(f'"{device.label}"' for device in devices)


def _and(devices: Iterable[Device]) -> str:
    return " and ".join(f'"{device.label}"' for device in devices)
