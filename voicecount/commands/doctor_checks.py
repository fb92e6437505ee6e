"""Everything that the doctor checks, in order."""

from collections.abc import Sequence

from voicecount.commands.doctor_devices import (
    loudspeaker_opens,
    loudspeakers,
    microphone_opens,
    microphones,
)
from voicecount.commands.doctor_disk import clock, disk, private, space
from voicecount.commands.doctor_lines import Check, Line, ok
from voicecount.commands.doctor_machine import Machine
from voicecount.commands.doctor_software import hearing, packages, python, settings, voice, vosk


def network(_: Machine) -> Line:
    """Say that there is nothing to check."""
    return ok("none is needed; nothing to check")


CHECKS: Sequence[tuple[str, float, Check]] = (
    ("python", 5.0, python),
    ("packages", 10.0, packages),
    ("settings", 5.0, settings),
    ("disk", 10.0, disk),
    ("space", 5.0, space),
    ("private", 5.0, private),
    ("clock", 5.0, clock),
    ("microphones", 10.0, microphones),
    ("microphone opens", 5.0, microphone_opens),
    ("loudspeakers", 5.0, loudspeakers),
    ("loudspeaker opens", 5.0, loudspeaker_opens),
    ("hearing", 30.0, hearing),
    ("vosk", 10.0, vosk),
    ("embedded voice", 15.0, voice("embedded")),
    ("system voice", 6.0, voice("system")),
    ("network", 5.0, network),
)
"""Name, the seconds after which it is given up, and the check."""
