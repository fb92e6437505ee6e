"""What the doctor checks of microphones and loudspeakers; nothing is played or kept."""

from collections.abc import Sequence

from voicecount.commands.doctor_lines import Line, fail, note, ok
from voicecount.commands.doctor_machine import Machine
from voicecount.sound.choose import Device, choose
from voicecount.sound.frame import RATE
from voicecount.sound.pair import choose_two


def microphones(machine: Machine) -> Line:
    """Check that there is a microphone, that the chosen one is there, and what it gives."""
    found = machine.microphones()
    if not found:
        return fail("none found", "connect one")
    used = _used(machine, found)
    told = f"{len(found)} found, used is {' and '.join(map(_told, used))}"
    if sum(device.channels for device in used) < 2:
        return note(f"{told}: the two people are not told apart", "connect one with two channels")
    if min(device.rate for device in used) < RATE:
        return note(f"{told}: part of the voice is lost", f"set it to {RATE} Hz or more")
    return ok(told)


def loudspeakers(machine: Machine) -> Line:
    """Check that there is a loudspeaker, and that the chosen one is there."""
    found = machine.loudspeakers()
    if not found:
        return fail("none found", "connect one, or use --voice none and read the screen")
    chosen = choose(found, machine.settings().output_device, "loudspeaker")
    return ok(f"{len(found)} found, used is {_told(chosen)}")


def microphone_opens(machine: Machine) -> Line | None:
    """Check that the program may use the microphone, and that sound comes out of it."""
    found = machine.microphones()
    if not found:
        return None
    used = _used(machine, found)
    silent = [device for device in used if machine.record(device) <= 0.0]
    if silent:
        return note(
            f"{_names(silent)} gives silence",
            "switch it on, and allow this program to use the microphone",
        )
    return ok(f"{_names(used)} can be opened")


def loudspeaker_opens(machine: Machine) -> Line | None:
    """Check that the program may use the loudspeaker; nothing is played."""
    found = machine.loudspeakers()
    if not found:
        return None
    chosen = choose(found, machine.settings().output_device, "loudspeaker")
    machine.open_output(chosen)
    return ok(f'"{chosen.name}" can be opened')


def _used(machine: Machine, found: Sequence[Device]) -> Sequence[Device]:
    """Give the remembered microphone, or both where each person has one."""
    settings = machine.settings()
    if settings.second_input_device is None:
        return (choose(found, settings.input_device),)
    return choose_two(found, settings.input_device, settings.second_input_device)


def _names(devices: Sequence[Device]) -> str:
    return " and ".join(f'"{device.name}"' for device in devices)


def _told(device: Device) -> str:
    channels = "1 channel" if device.channels == 1 else f"{device.channels} channels"
    return f'"{device.name}" ({channels}, {device.rate} Hz)'
