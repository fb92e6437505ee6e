"""The voices of a rehearsal: the embedded one in several disguises, and the system's if there are.

A voice that is played slower or faster sounds like a larger or a smaller person; its pace is set
against that, so that only pitch and timbre change. espeak-ng and flite are used where they are
found; nothing is missing without them but variety.
"""

import io
import shutil
import subprocess
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import soundfile
import soxr

from voicecount.errors import VoiceError
from voicecount.sound.frame import RATE, Samples
from voicecount.speak.embedded import EmbeddedVoice

Say = Callable[[str], Samples]
"""Text to mono sound at RATE."""

_EMBEDDED_RATE = 24_000
_SILENT = 0.01
_LIMIT = 20.0
"""Seconds that a program may take for one saying."""


def load_engine() -> Any:
    """Check and load the embedded voice. Raises ModelError."""
    EmbeddedVoice.load()
    from hibari import Hibari  # noqa: PLC0415 - half a second that only speaking needs

    return Hibari()


def find_voices(engine: Any, find: Callable[[str], str | None] = shutil.which) -> dict[str, Say]:
    """Give the voices of this machine, in the order in which they are used."""
    own: dict[str, Say] = {
        "embedded": disguised(engine, pace=1.0, size=1.0),
        "embedded, deeper": disguised(engine, pace=1.0, size=1.13),
        "embedded, higher": disguised(engine, pace=0.95, size=0.88),
        "embedded, slow": disguised(engine, pace=0.82, size=1.05),
        "embedded, quick": disguised(engine, pace=1.25, size=0.95),
        "embedded, deep and quick": disguised(engine, pace=1.15, size=1.2),
    }
    system = [
        (name, program(path, rest))
        for name, rest in _PROGRAMS.items()
        if (path := find(name.partition(" ")[0])) is not None and _speaks(program(path, rest))
    ]
    if not system:
        return own
    first, *others = system
    mixed: dict[str, Say] = {"embedded": own["embedded"], first[0]: first[1]}
    disguises = [entry for entry in own.items() if entry[0] != "embedded"]
    while others or disguises:
        if others:
            mixed |= [others.pop(0)]
        if disguises:
            mixed |= [disguises.pop(0)]
    return mixed


_PROGRAMS: Mapping[str, Sequence[str]] = {
    "espeak-ng (American)": ("-v", "en-us+m3", "-s", "150", "--stdout", "TEXT"),
    "flite (slt)": ("-voice", "slt", "-t", "TEXT", "-o", "/dev/stdout"),
    "espeak-ng (British)": ("-v", "en-gb+f2", "-s", "160", "--stdout", "TEXT"),
}
"""Programs that speak, with their arguments."""


def disguised(engine: Any, *, pace: float, size: float) -> Say:
    """Give the embedded voice as a person ``size`` times as large, at ``pace`` times its pace."""

    def say(text: str) -> Samples:
        sound = np.asarray(engine(text, speed=pace * size, seed=0), np.float32)
        return resampled(sound, round(_EMBEDDED_RATE / size))

    return say


def program(path: str, arguments: Sequence[str]) -> Say:
    """Give the voice of a program that writes a sound file to its output."""

    def say(text: str) -> Samples:
        command = [path, *(text if word == "TEXT" else word for word in arguments)]
        try:
            run = subprocess.run(  # noqa: S603 - fixed programs, no shell
                command, capture_output=True, check=True, timeout=_LIMIT
            )
            sound, rate = soundfile.read(io.BytesIO(run.stdout), dtype="float32")
        except (OSError, subprocess.SubprocessError, soundfile.SoundFileError) as error:
            raise VoiceError(
                f"{path}: said nothing of {text!r} ({type(error).__name__}); mend the program, or "
                "take it away: the rehearsal does not need it"
            ) from error
        return resampled(sound, int(rate))

    return say


def _speaks(say: Say) -> bool:
    """Tell whether a program works at all; one that does not is as good as none."""
    try:
        return bool(np.abs(say("one")).max(initial=0.0) > _SILENT)
    except VoiceError:
        return False


def resampled(sound: Samples, rate: int) -> Samples:
    """Bring mono sound from a rate to RATE."""
    mono = sound if sound.ndim == 1 else sound.mean(axis=1)
    return np.asarray(soxr.resample(mono, rate, RATE), np.float32)
