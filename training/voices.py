"""Synthetic voices from packages: text to mono sound at 16 kHz. The test voices are not here.

Voices: the package hibari-tts; Debian's flite (slt, kal16, awb) and espeak-ng with several timbres.
A third source, of many speakers, is slow and is spoken ahead (see spoken_ahead.py). Kept for tuning
and testing and never trained on: other speakers of it, flite's rms, and more.
"""

import io
import random
import subprocess
from functools import lru_cache
from typing import Any

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from voicecount.onnx_session import report_nothing

RATE = 16_000
Samples = NDArray[np.float32]

SHARES = (0.38, 0.14, 0.09, 0.11, 0.28)
"""How often each voice speaks, in the order of ``say``."""
ESPEAK_VOICES = ("en-us", "en-gb", "en-gb-scotland", "en-us-nyc", "en-gb-x-rp", "en-029")
ESPEAK_TIMBRES = ("m1", "m2", "m3", "m4", "m5", "m6", "f1", "f2", "f3", "f4", "klatt", "klatt2")


def at_16k(samples: Samples, rate: int) -> Samples:
    """Resample to RATE."""
    if rate == RATE:
        return samples.astype(np.float32)
    return np.asarray(soxr.resample(samples, rate, RATE), np.float32)


@lru_cache(maxsize=1)
def _hibari() -> Any:
    report_nothing()
    from hibari import Hibari

    return Hibari()


def hibari(text: str, rng: random.Random) -> Samples:
    """Say it in the natural voice, at a random pace."""
    sound = _hibari()(text, speed=rng.uniform(0.75, 1.45), seed=rng.randrange(1 << 30))
    return at_16k(np.asarray(sound, np.float32), 24_000)


def read(output: bytes) -> Samples:
    """Read a program's sound file at RATE."""
    sound, rate = soundfile.read(io.BytesIO(output), dtype="float32")
    return at_16k(sound, rate)


def flite(text: str, rng: random.Random, voice: str) -> Samples:
    """Say it in a voice of flite, at a random pace and pitch."""
    command = [
        "flite",
        "-voice",
        voice,
        "--setf",
        f"duration_stretch={rng.uniform(0.75, 1.35):.2f}",
    ]
    base = {"slt": 170, "awb": 130}.get(voice, 105)
    command += ["--setf", f"int_f0_target_mean={base * rng.uniform(0.85, 1.2):.0f}"]
    run = subprocess.run(
        [*command, "-t", text, "-o", "/dev/stdout"], capture_output=True, check=True
    )
    return read(run.stdout)


def espeak(text: str, rng: random.Random) -> Samples:
    """Say it in a formant voice with a random accent, timbre, pace and pitch."""
    voice = f"{rng.choice(ESPEAK_VOICES)}+{rng.choice(ESPEAK_TIMBRES)}"
    command = [
        "espeak-ng",
        "-v",
        voice,
        "-s",
        str(rng.randint(120, 215)),
        "-p",
        str(rng.randint(20, 75)),
    ]
    run = subprocess.run([*command, "--stdout", text], capture_output=True, check=True)
    return read(run.stdout)


def say(groups: list[str], rng: random.Random) -> Samples:
    """Say groups of words with one voice; half of the time with breaths of random length."""
    name = rng.choices(("hibari", "slt", "kal16", "awb", "espeak"), SHARES)[0]
    voice = {"hibari": hibari, "espeak": espeak}.get(name, lambda text, r: flite(text, r, name))
    together = rng.random()
    if together < 0.4:
        return voice(", ".join(groups) + ".", rng)
    if together < 0.6:
        return voice(" ".join(groups) + ".", rng)
    state = rng.getstate()
    parts = []
    for group in groups:
        rng.setstate(state)  # the same pace, pitch and timbre in every part
        part = _trim(voice(group + ".", rng))
        parts += [part]
    rng.random()
    pause = rng.choice((0.03, 0.1, 0.25, 0.6))
    out: list[Samples] = []
    for part in parts:
        out += [part, np.zeros(int(RATE * pause * rng.uniform(0.5, 1.6)), np.float32)]
    return np.concatenate(out)


def _trim(sound: Samples, floor: float = 0.01) -> Samples:
    loud = np.flatnonzero(np.abs(sound) > floor * float(np.abs(sound).max() + 1e-9))
    return sound[loud[0] : loud[-1] + 1] if len(loud) else sound
