"""What a room does to a clean clip: noise of many kinds, and the other person's voice.

The tuning part and the test part make each kind of noise in ways of their own, and neither in the
way of the training (training/rooms.py).
"""

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

import numpy as np
from numpy.random import Generator

from training.voices import RATE, Samples

Noise = Callable[[int, Generator], Samples]

CONDITIONS = (
    "quiet",
    "pink 15 dB",
    "pink 10 dB",
    "suction 10 dB",
    "music 15 dB",
    "babble 15 dB",
    "babble 10 dB",
    "leak 20 dB",
)
"""Kind of noise, and how far the voice's loud parts lie above its mean level."""

BOTH = "crosstalk"
"""Kind of condition in which two people wear a microphone each, and are heard in both."""

WIDE = (
    *(
        f"{kind} {level} dB"
        for kind in ("pink", "suction", "music", "babble")
        for level in (25, 20)
    ),
    *("suction 15 dB", "music 10 dB"),
    *(f"{kind} 5 dB" for kind in ("pink", "suction", "music", "babble")),
    f"{BOTH} 20 dB",
)
"""What the standard conditions leave out: from nearly quiet to as loud as it gets."""


def conditions(given: str) -> list[str]:
    """Read a list such as ``quiet,pink 15 dB``; ``all`` and ``wide`` stand for the lists above."""
    lists = {"all": CONDITIONS, "wide": WIDE}
    named: list[str] = []
    for part in (name.strip() for name in given.split(",")):
        named += lists.get(part, (part,))
    for name in named:
        kind, _, level = name.removesuffix(" dB").partition(" ")
        known = kind in {*MAKERS["test"], "babble", "leak", BOTH}
        if name != "quiet" and not (known and name.endswith(" dB") and _is_number(level)):
            raise SystemExit(f"--conditions: {name!r} is none; write 'quiet', 'pink 15 dB', 'all'")
    return list(dict.fromkeys(named))


def _is_number(text: str) -> bool:
    return text.removeprefix("-").replace(".", "", 1).isdigit()


def in_room(
    voice: Samples, condition: str, part: str, rng: Generator, talkers: list[Samples]
) -> Samples:
    """Put half a second of silence around a voice, and the condition's noise over it.

    ``talkers`` are what other people say, for babble (several at once) and leak (one person, all
    the time, mixed into the one channel there is; ``both_channels`` has two channels).
    """
    edge = np.zeros(RATE // 2, np.float32)
    sound = np.concatenate([edge, voice, edge])
    sound *= 0.25 / max(float(np.abs(sound).max()), 1e-6)
    steps = (voice[: len(voice) // 320 * 320].reshape(-1, 320) ** 2).mean(1)
    level = float(np.sqrt(np.percentile(steps, 75)))
    level *= 0.25 / max(float(np.abs(voice).max()), 1e-6)
    kind, _, snr = condition.removesuffix(" dB").partition(" ")
    noise = _noise(kind, part, len(sound), rng, talkers) if snr else pink(len(sound), rng)
    noise /= float(np.sqrt((noise**2).mean())) + 1e-9
    return np.asarray(sound + noise * level * 10 ** (-float(snr or 45) / 20), np.float32)


def both_channels(
    voice: Samples, condition: str, rng: Generator, talkers: list[Samples]
) -> Samples:
    """Two people, each with a microphone: shape (n, 2), the scrub's voice on the first channel.

    The circulator begins to speak somewhere between one second before the scrub's words and their
    end. Each is heard in the other's microphone as much weaker as the condition says.
    """
    leak = 10 ** (-float(condition.removesuffix(" dB").partition(" ")[2]) / 20)
    other = talkers[int(rng.integers(len(talkers)))]
    starts = (RATE, max(0, RATE + int(rng.integers(-RATE, len(voice)))))
    n = max(starts[0] + len(voice), starts[1] + len(other)) + RATE
    people = np.zeros((n, 2), np.float32)
    for channel, (start, spoken) in enumerate(zip(starts, (voice, other), strict=True)):
        people[start : start + len(spoken), channel] = spoken * 0.25 / np.abs(spoken).max()
    room = np.stack([pink(n, rng), pink(n, rng)], axis=1)
    room *= 0.05 * 10 ** (-45 / 20) / room.std(0)
    return np.asarray(people + leak * people[:, ::-1] + room, np.float32)


def _noise(kind: str, part: str, n: int, rng: Generator, talkers: list[Samples]) -> Samples:
    if kind == "babble":
        return babble(n, rng, talkers, {"tune": 5, "test": 6}[part])
    if kind == "leak":
        return babble(n, rng, talkers, 1)
    return MAKERS[part][kind](n, rng)


def babble(n: int, rng: Generator, talkers: list[Samples], at_once: int) -> Samples:
    """Several talkers at once, each from a place of their own."""
    out = np.zeros(n, np.float32)
    for _ in range(at_once):
        talk = talkers[int(rng.integers(len(talkers)))]
        out += np.resize(np.roll(talk, int(rng.integers(len(talk)))), n)
    return out


def _filtered(n: int, rng: Generator, gain: Callable[[Any], Any]) -> Samples:
    """White noise whose spectrum is multiplied by a gain that depends on the frequency in Hz."""
    spectrum = np.fft.rfft(rng.normal(0, 1, n))
    return np.fft.irfft(spectrum * gain(np.fft.rfftfreq(n, 1 / RATE)), n).astype(np.float32)


def pink(n: int, rng: Generator) -> Samples:
    """Noise whose power falls by half each octave, shaped in frequency."""
    return _filtered(n, rng, lambda at: 1 / np.sqrt(np.maximum(at, 30.0)))


def pink_by_octaves(n: int, rng: Generator) -> Samples:
    """Noise of the same kind, as a sum of random steps, each half as often as the one before."""
    rows = [np.repeat(rng.normal(0, 1, n // 2**k + 1), 2**k)[:n] for k in range(13)]
    return np.asarray(np.sum(rows, axis=0), np.float32)


def suction(n: int, rng: Generator) -> Samples:
    """Hiss from 800 to 4000 Hz that pulses."""
    hiss = _filtered(n, rng, lambda at: ((at > 800) & (at < 4000)) + 0.05)
    time = np.arange(n) / RATE
    return np.asarray(hiss * (1 + 0.6 * np.sin(2 * np.pi * 7 * time)), np.float32)


def suction_with_gurgles(n: int, rng: Generator) -> Samples:
    """Hiss around a resonance of the tube, with slow swells and short low gurgles."""
    peak = float(rng.uniform(1200, 2600))
    hiss = _filtered(n, rng, lambda at: 0.08 + 1 / (1 + ((at - peak) / 700) ** 2))
    swell = np.interp(np.arange(n), np.linspace(0, n, 12), rng.uniform(0.4, 1.6, 12))
    gurgle = _filtered(n, rng, lambda at: np.exp(-(((at - 350) / 150) ** 2)))
    bursts = np.zeros(n)
    for _ in range(max(1, int(6 * n / RATE))):
        first, size = int(rng.integers(n)), int(rng.uniform(0.03, 0.09) * RATE)
        bursts[first : first + size] = 1.0
    hiss /= hiss.std() + 1e-9
    gurgle /= gurgle.std() + 1e-9
    return np.asarray(hiss * swell + 1.5 * gurgle * bursts, np.float32)


def _notes(n: int, rng: Generator, scale: tuple[int, ...], base: float, *, odd: bool) -> Samples:
    """Chords of three notes that change every third of a second or so, over a beat of noise."""
    time = np.arange(n) / RATE
    step = float(rng.uniform(0.25, 0.5))
    out = np.zeros(n)
    for k in range(int(n / RATE / step) + 1):
        part = slice(int(k * step * RATE), int((k + 1) * step * RATE))
        local = time[part] - k * step
        for pitch in rng.choice(scale, 3, replace=False):
            f0 = base * 2 ** (pitch / 12)
            for h in range(1, 8, 2 if odd else 1):
                out[part] += np.sin(2 * np.pi * f0 * h * local) / h
        out[part] *= np.exp(-1.5 * local)
        out[part] += rng.normal(0, 1, len(local)) * np.exp(-40 * local)
    return out.astype(np.float32)


MAKERS: Mapping[str, Mapping[str, Noise]] = {
    "tune": {
        "pink": pink,
        "suction": suction,
        "music": partial(_notes, scale=(0, 4, 7, 9, 12), base=196.0, odd=False),
    },
    "test": {
        "pink": pink_by_octaves,
        "suction": suction_with_gurgles,
        "music": partial(_notes, scale=(0, 3, 5, 8, 10, 15), base=262.0, odd=True),
    },
}
"""By part and kind: (samples, random numbers) to noise of any level."""
