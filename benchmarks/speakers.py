"""The benchmark's voices and rooms; none of the test part was used in training or tuning.

Needs Debian's flite, espeak-ng, festival with festvox-kallpc16k, festvox-kdlpc16k and
festvox-us-slt-hts.
"""

import io
import subprocess
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.random import Generator
from numpy.typing import NDArray

RATE = 16_000
Samples = NDArray[np.float32]


def _read(output: bytes) -> Samples:
    sound, rate = soundfile.read(io.BytesIO(output), dtype="float32")
    return np.asarray(soxr.resample(sound, rate, RATE), np.float32)


def _call(command: list[str]) -> Samples:
    return _read(subprocess.run(command, capture_output=True, check=True).stdout)


def _flite(voice: str) -> Callable[[str, float], Samples]:
    return lambda text, pace: _call(
        [
            "flite",
            "-voice",
            voice,
            "--setf",
            f"duration_stretch={1 / pace:.2f}",
            "-t",
            text,
            "-o",
            "/dev/stdout",
        ]
    )


def _festival(voice: str) -> Callable[[str, float], Samples]:
    def say(text: str, pace: float) -> Samples:
        setting = f"(begin ({voice}) (Parameter.set 'Duration_Stretch {1 / pace:.2f}))"
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "said.wav"
            command = ["text2wave", "-eval", setting, "-o", str(path)]
            subprocess.run(command, input=text.encode(), capture_output=True, check=True)
            return _read(path.read_bytes())

    return say


def _espeak(voice: str) -> Callable[[str, float], Samples]:
    return lambda text, pace: _call(
        ["espeak-ng", "-v", voice, "-s", str(round(165 * pace)), "--stdout", text]
    )


VOICES: Mapping[str, Mapping[str, Callable[[str, float], Samples]]] = {
    "tune": {
        "flite rms": _flite("rms"),
        "festival kal": _festival("voice_kal_diphone"),
        "espeak m8": _espeak("en-us+m8"),
        "flite slt": _flite("slt"),
    },
    "test": {
        "flite awb": _flite("awb"),
        "festival ked": _festival("voice_ked_diphone"),
        "festival slt hts": _festival("voice_cmu_us_slt_arctic_hts"),
        "espeak m7": _espeak("en-us+m7"),
        "espeak f5": _espeak("en-us+f5"),
    },
}


def pink(n: int, rng: Generator) -> Samples:
    """Noise whose power falls by half each octave."""
    spectrum = np.fft.rfft(rng.normal(0, 1, n))
    at = np.maximum(np.fft.rfftfreq(n, 1 / RATE), 30.0)
    return np.fft.irfft(spectrum / np.sqrt(at), n).astype(np.float32)


def suction(n: int, rng: Generator) -> Samples:
    """Hiss from 800 to 4000 Hz that pulses."""
    spectrum = np.fft.rfft(rng.normal(0, 1, n))
    at = np.fft.rfftfreq(n, 1 / RATE)
    band = ((at > 800) & (at < 4000)) + 0.05
    wave = np.fft.irfft(spectrum * band, n)
    return (wave * (1 + 0.6 * np.sin(2 * np.pi * 7 * np.arange(n) / RATE))).astype(np.float32)


def babble(n: int, rng: Generator, talkers: list[Samples]) -> Samples:
    """Five talkers at once."""
    out = np.zeros(n, np.float32)
    for _ in range(5):
        talk = talkers[int(rng.integers(len(talkers)))]
        out += np.resize(np.roll(talk, int(rng.integers(len(talk)))), n)
    return out


CONDITIONS = ("quiet", "pink 15 dB", "suction 10 dB", "babble 15 dB")


def in_room(voice: Samples, condition: str, rng: Generator, talkers: list[Samples]) -> Samples:
    """Put half a second of silence around a voice, and the condition's noise over it."""
    edge = np.zeros(RATE // 2, np.float32)
    sound = np.concatenate([edge, voice, edge])
    sound *= 0.25 / max(float(np.abs(sound).max()), 1e-6)
    level = float(
        np.sqrt(np.percentile((voice[: len(voice) // 320 * 320].reshape(-1, 320) ** 2).mean(1), 75))
    )
    level *= 0.25 / max(float(np.abs(voice).max()), 1e-6)
    kind, snr = (
        (condition.split(maxsplit=1)[0], float(condition.split()[1]))
        if " " in condition
        else ("pink", 45.0)
    )
    makers = {"pink": pink, "suction": suction}
    noise = makers[kind](len(sound), rng) if kind in makers else babble(len(sound), rng, talkers)
    noise /= float(np.sqrt((noise**2).mean())) + 1e-9
    return np.asarray(sound + noise * level * 10 ** (-snr / 20), np.float32)
