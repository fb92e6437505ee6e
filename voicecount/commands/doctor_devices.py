"""What the doctor checks of microphones and loudspeakers; nothing is played or kept."""

from voicecount.commands.doctor_lines import Line, fail, note, ok
from voicecount.commands.doctor_machine import Machine
from voicecount.sound.choose import Device, choose
from voicecount.sound.frame import RATE


def microphones(machine: Machine) -> Line:
    """Check that there is a microphone, that the chosen one is there, and what it gives."""
    found = machine.microphones()
    if not found:
        return fail("none found", "connect one")
    chosen = choose(found, machine.settings().input_device)
    told = f"{len(found)} found, used is {_told(chosen)}"
    if chosen.channels < 2:
        return note(f"{told}: the two people are not told apart", "connect one with two channels")
    if chosen.rate < RATE:
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
    chosen = choose(found, machine.settings().input_device)
    if machine.record(chosen) <= 0.0:
        return note(
            f'"{chosen.name}" gives silence',
            "switch it on, and allow this program to use the microphone",
        )
    return ok(f'"{chosen.name}" can be opened')


def loudspeaker_opens(machine: Machine) -> Line | None:
    """Check that the program may use the loudspeaker; nothing is played."""
    found = machine.loudspeakers()
    if not found:
        return None
    chosen = choose(found, machine.settings().output_device, "loudspeaker")
    machine.open_output(chosen)
    return ok(f'"{chosen.name}" can be opened')


def _told(device: Device) -> str:
    channels = "1 channel" if device.channels == 1 else f"{device.channels} channels"
    return f'"{device.name}" ({channels}, {device.rate} Hz)'
