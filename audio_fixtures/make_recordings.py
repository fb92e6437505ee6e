"""Make the demo recordings from their scripts: left the scrub person, right the circulator.

    python -m training.fetch_voices
    python -m audio_fixtures.make_recordings                   both
    python -m audio_fixtures.make_recordings caesarean_case    one of them

Two synthetic voices: hibari-tts (Apache-2.0) for the scrub person, and a speaker of Kokoro-82M
(Apache-2.0, see training/fetch_voices.py) for the circulator. Seeds are fixed.
"""

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from voicecount.onnx_session import report_nothing

RATE = 16_000
HERE = Path(__file__).parent
NAMES = ("caesarean", "caesarean_case")
CIRCULATOR = "am_michael"
NOISE_DB = {"caesarean": -35.0, "caesarean_case": -42.0}
"""The quieter the noise, the smaller the file: it is what cannot be packed."""
LEAK_DB, PEAK = -20.0, 0.5
Samples = NDArray[np.float32]


@dataclass(frozen=True)
class Turn:
    """One line of the script."""

    pause: float
    who: str
    said: str
    talk: bool
    """True for talk in the room."""


def read_script(path: Path) -> Iterator[Turn]:
    """Read the turns in order."""
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.strip() and not line.startswith("#"):
            head, said = line.split(": ", 1)
            pause, who = head.split()
            yield Turn(float(pause), who.lstrip("~"), said, who.startswith("~"))


def scrub_voice() -> Callable[[str], Samples]:
    """Give the scrub person's voice."""
    report_nothing()
    from hibari import Hibari

    voice = Hibari()

    def say(text: str) -> Samples:
        sound = np.asarray(voice(text, speed=0.95, seed=0), np.float32)
        return np.asarray(soxr.resample(sound, 24_000, RATE), np.float32)

    return say


def circulator_voice() -> Callable[[str], Samples]:
    """Give the circulator's voice, which has no random part."""
    from training import speakers
    from training.voices import at_16k

    voice = speakers.style(CIRCULATOR)

    def say(text: str) -> Samples:
        return at_16k(speakers.say(text, voice, 1.0), speakers.RATE)

    return say


def pink(samples: int, rng: np.random.Generator) -> Samples:
    """Make pink noise with an RMS of 1."""
    spectrum = np.fft.rfft(rng.normal(0, 1, samples))
    spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(samples, 1 / RATE), 30.0))
    noise = np.fft.irfft(spectrum, samples)
    return np.asarray(noise / np.sqrt((noise**2).mean()), np.float32)


def trimmed(sound: Samples) -> Samples:
    """Cut the silence around a voice, so that pauses are as the script says."""
    loud = np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max())
    return sound[loud[0] : loud[-1] + 1]


def make(name: str) -> None:
    """Make one recording."""
    voices = {"scrub": scrub_voice(), "circulator": circulator_voice()}
    channels: dict[str, list[Samples]] = {"scrub": [], "circulator": []}
    for turn in read_script(HERE / f"{name}.txt"):
        sound = trimmed(voices[turn.who](turn.said))
        sound = sound * np.float32(PEAK / np.abs(sound).max())
        before = np.zeros(round(turn.pause * RATE), np.float32)
        for who, parts in channels.items():
            parts += [before, sound if who == turn.who else np.zeros_like(sound)]
    tail = np.zeros(2 * RATE, np.float32)
    left, right = (np.concatenate([*channels[who], tail]) for who in ("scrub", "circulator"))
    voice_rms = float(np.sqrt((left[np.abs(left) > 0] ** 2).mean()))
    leak, rng = np.float32(10 ** (LEAK_DB / 20)), np.random.default_rng(0)
    noise = voice_rms * 10 ** (NOISE_DB[name] / 20)
    out = np.stack(
        [
            left + leak * right + noise * pink(len(left), rng),
            right + leak * left + noise * pink(len(left), rng),
        ],
        axis=1,
    )
    recording = HERE / f"{name}.flac"
    soundfile.write(recording, out, RATE, format="FLAC", subtype="PCM_16")
    print(f"{recording}: {len(out) / RATE:.0f} s, {recording.stat().st_size / 1e6:.1f} MB")


def main() -> None:
    """Make the recordings that are named; all where none is."""
    for name in sys.argv[1:] or NAMES:
        make(name)


if __name__ == "__main__":
    main()
