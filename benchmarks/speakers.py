"""The benchmark's voices.

Heard by neither training nor tuning: every voice of the test part, that is six speakers of the
many-speaker voice (training/speakers.py), pico in American and British English, and the diphone
voices us1, us2 and en1 of mbrola. Two limits to that: training heard other speakers of the same
many-speaker voice; and espeak-ng, which reads for mbrola, was heard in training with timbres of
its own and in tuning with the diphone voice us3. The tuning part's voices are not trained on.

Needs Debian's flite, festival with festvox-kdlpc16k, espeak-ng, mbrola with mbrola-us1, mbrola-us2,
mbrola-us3 and mbrola-en1, libttspico-utils, hibari-tts and training/fetch_voices.py. The mbrola
voices and pico are in Debian's non-free part: they serve measuring only, and nothing is made of
them that is given away. Clean clips are kept in .cache/clips.
"""

import hashlib
import io
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import soundfile

from training import speakers
from training.voices import RATE, Samples, at_16k, read

CLIPS = Path(__file__).parent.parent / ".cache" / "clips"
Voice = Callable[[str, float], Samples]

PACKAGES = {
    "flite": "flite",
    "text2wave": "festival and festvox-kdlpc16k",
    "espeak-ng": "espeak-ng",
    "pico2wave": "libttspico-utils",
}
"""Programs and the Debian packages that hold them."""


def _call(command: list[str], text: str = "", package: str = "") -> bytes:
    """Run a program; give what it writes. ``package`` holds its voice, where that is another."""
    program = command[0]
    if shutil.which(program) is None:
        raise SystemExit(f"{program}: not found; install Debian's {PACKAGES[program]}")
    done = subprocess.run(command, input=text.encode(), capture_output=True, check=False)
    if done.returncode:
        why = " ".join(done.stderr.decode(errors="replace").split())[:200]
        needed = package or PACKAGES[program]
        raise SystemExit(f"{program}: failed ({why}); install Debian's {needed}")
    return done.stdout


def _call_for_file(command: list[str], text: str = "") -> Samples:
    """Run a program that writes the file whose name stands at "FILE"."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        _call([str(path) if word == "FILE" else word for word in command], text)
        if not path.exists():
            raise SystemExit(f"{command[0]}: no sound; install Debian's {PACKAGES[command[0]]}")
        return read(path.read_bytes())


def _kept(name: str, voice: Voice) -> Voice:
    """Keep a voice's clips on disk; a first and a later call give the same samples."""

    def say(text: str, pace: float) -> Samples:
        key = hashlib.sha256(f"{name}\n{text}\n{pace:.4f}".encode()).hexdigest()[:32]
        path = CLIPS / f"{key}.flac"
        if not path.exists():
            sound = voice(text, round(pace, 4))
            sound *= 0.9 / max(float(np.abs(sound).max(initial=0.0)), 1e-6)
            CLIPS.mkdir(parents=True, exist_ok=True)
            half = path.with_name(f"{key}.{os.getpid()}")
            soundfile.write(half, sound, RATE, format="FLAC", subtype="PCM_16")
            half.replace(path)
        return np.asarray(soundfile.read(path, dtype="float32")[0], np.float32)

    return say


def _many(speaker: str) -> Voice:
    def say(text: str, pace: float) -> Samples:
        try:
            return at_16k(speakers.say(text, speakers.style(speaker), pace), speakers.RATE)
        except ModuleNotFoundError as error:
            raise SystemExit(f"{error.name}: not found; pip install hibari-tts") from error
        except FileNotFoundError as error:
            raise SystemExit(
                f"{speaker}: not found; run python -m training.fetch_voices"
            ) from error

    return say


@lru_cache(maxsize=1)
def _flite_voices() -> list[str]:
    return _call(["flite", "-lv"]).decode().split()


def _flite(voice: str) -> Voice:
    def say(text: str, pace: float) -> Samples:
        if voice not in _flite_voices():  # it would speak in another voice and say nothing
            raise SystemExit(f"flite: no voice {voice}; install Debian's flite")
        stretch = f"duration_stretch={1 / pace:.2f}"
        command = ["flite", "-voice", voice, "--setf", stretch, "-t", text, "-o", "FILE"]
        return _call_for_file(command)

    return say


def _festival(voice: str) -> Voice:
    def say(text: str, pace: float) -> Samples:
        setting = f"(begin ({voice}) (Parameter.set 'Duration_Stretch {1 / pace:.2f}))"
        return _call_for_file(["text2wave", "-eval", setting, "-o", "FILE"], text)

    return say


def _mbrola(data: str, voice: str) -> Voice:
    def say(text: str, pace: float) -> Samples:
        command = ["espeak-ng", "-v", voice, "-s", str(round(165 * pace)), "--stdout", text]
        output = _call(command, package=f"mbrola and mbrola-{data}")
        sound, rate = soundfile.read(io.BytesIO(output), dtype="float32")
        # The program speaks on in a voice of its own, at another rate, if it lacks the one wanted.
        if rate != RATE or not len(sound):
            raise SystemExit(f"{voice}: not found; install Debian's mbrola and mbrola-{data}")
        return np.asarray(sound, np.float32)

    return say


def _pico(language: str) -> Voice:
    def say(text: str, pace: float) -> Samples:
        marked = f'<speed level="{round(100 * pace)}">{escape(text)}</speed>'
        return _call_for_file(["pico2wave", "-l", language, "-w", "FILE", marked])

    return say


_MADE: Mapping[str, Mapping[str, Voice]] = {
    "tune": {
        **{name: _many(name) for name in speakers.SPEAKERS["tune"]},
        "flite rms": _flite("rms"),
        "festival ked": _festival("voice_ked_diphone"),
        "mbrola us3": _mbrola("us3", "us-mbrola-3"),
    },
    "test": {
        **{name: _many(name) for name in speakers.SPEAKERS["test"]},
        "pico en-US": _pico("en-US"),
        "pico en-GB": _pico("en-GB"),
        "mbrola us1": _mbrola("us1", "us-mbrola-1"),
        "mbrola us2": _mbrola("us2", "us-mbrola-2"),
        "mbrola en1": _mbrola("en1", "mb-en1"),
    },
}

VOICES: Mapping[str, Mapping[str, Voice]] = {
    part: {name: _kept(name, voice) for name, voice in voices.items()}
    for part, voices in _MADE.items()
}
"""By part and name: (text, pace) to mono sound at RATE, peak 0.9; pace 1.0 is the voice's own."""
