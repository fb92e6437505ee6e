"""What happens to a voice on its way: throat size, room, headset, level and noise."""

import numpy as np
import soxr
from numpy.random import Generator
from numpy.typing import NDArray

RATE = 16_000
Samples = NDArray[np.float32]


def warp(sound: Samples, factor: float) -> Samples:
    """Change speed, pitch and formants together."""
    return np.asarray(soxr.resample(sound, RATE * factor, RATE), np.float32)


def shape(sound: Samples, gains_db: NDArray[np.float64], edges_hz: NDArray[np.float64]) -> Samples:
    """Filter by gains given at some frequencies."""
    spectrum = np.fft.rfft(sound)
    at = np.fft.rfftfreq(len(sound), 1 / RATE)
    gain = 10 ** (np.interp(at, edges_hz, gains_db) / 20)
    return np.fft.irfft(spectrum * gain, len(sound)).astype(np.float32)


def headset(sound: Samples, rng: Generator) -> Samples:
    """Colour by a random headset: a bumpy response with its own low and high end."""
    edges = np.array([0.0, 100, 300, 800, 2000, 3500, 5000, 7000, 8000])
    gains = rng.normal(0, 3.0, len(edges))
    gains[0] -= rng.uniform(0, 25)
    gains[-2:] -= rng.uniform(0, 18)
    return shape(sound, gains, edges)


def room(sound: Samples, rng: Generator) -> Samples:
    """Put the voice into a small to middling room: the direct sound, then a decaying tail."""
    decay = rng.uniform(0.15, 0.7)
    n = int(RATE * decay)
    tail = rng.normal(0, 1, n) * 10 ** (-3 * np.arange(n) / n)
    tail[: int(RATE * 0.003)] = 0
    tail *= 10 ** (-rng.uniform(8, 26) / 20) / (np.sqrt((tail**2).sum()) + 1e-9)
    tail[0] = 1.0
    size = 1 << (len(sound) + n - 1).bit_length()
    out = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)
    return out[: len(sound) + n // 2].astype(np.float32)


def _spectral(n: int, rng: Generator, power: float) -> Samples:
    spectrum = np.fft.rfft(rng.normal(0, 1, n))
    at = np.maximum(np.fft.rfftfreq(n, 1 / RATE), 40.0)
    return np.fft.irfft(spectrum * at**power, n).astype(np.float32)


def suction(n: int, rng: Generator) -> Samples:
    """Make band-limited hiss that pulses and gurgles."""
    low, high = rng.uniform(500, 1200), rng.uniform(2500, 5000)
    hiss = shape(
        rng.normal(0, 1, n).astype(np.float32),
        np.array([-30.0, -6, 0, 0, -8, -25]),
        np.array([0, low * 0.7, low, high, high * 1.2, 8000.0]),
    )
    time = np.arange(n) / RATE
    pulse = 1 + rng.uniform(0.1, 0.8) * np.sin(2 * np.pi * rng.uniform(1.5, 12) * time)
    return (hiss * pulse).astype(np.float32)


def music(n: int, rng: Generator) -> Samples:
    """Play notes with harmonics and a beat."""
    time = np.arange(n) / RATE
    out = np.zeros(n)
    step = rng.uniform(0.15, 0.5)
    for voice in range(rng.integers(1, 4)):
        base = 110 * 2**voice
        for k in range(int(n / RATE / step) + 1):
            f0 = base * 2 ** (rng.choice((0, 2, 4, 5, 7, 9, 11)) / 12)
            part = (time >= k * step) & (time < (k + 1) * step)
            local = time[part] - k * step
            for harmonic in range(1, 7):
                out[part] += (
                    np.sin(2 * np.pi * f0 * harmonic * local) * np.exp(-3 * local) / harmonic
                )
    return out.astype(np.float32)


def hum(n: int, rng: Generator) -> Samples:
    """Hum like a motor or a mains hum with harmonics, over soft hiss."""
    time = np.arange(n) / RATE
    f0 = rng.uniform(45, 240)
    out = sum(
        np.sin(2 * np.pi * f0 * k * time + rng.uniform(0, 6)) * rng.uniform(0.1, 1) / k
        for k in range(1, 14)
    )
    return (out + 0.2 * _spectral(n, rng, -0.3)).astype(np.float32)


def beeps(n: int, rng: Generator) -> Samples:
    """Beep like a monitor, over soft pink noise."""
    time = np.arange(n) / RATE
    gate = (time * rng.uniform(0.8, 2.0) + rng.uniform()) % 1.0 < rng.uniform(0.06, 0.2)
    tone = np.sin(2 * np.pi * rng.uniform(500, 1500) * time) * gate
    return (tone + 0.3 * _spectral(n, rng, -0.5)).astype(np.float32)


def coloured(n: int, rng: Generator) -> Samples:
    """Hiss of a random colour that swells at random, fast or slowly."""
    edges = np.geomspace(80, 8000, int(rng.integers(4, 11)))
    hiss = shape(rng.normal(0, 1, n).astype(np.float32), rng.normal(0, 9, len(edges)), edges)
    knots = max(2, int(n / RATE * rng.uniform(0.5, 20)))
    swell = np.interp(np.arange(n), np.linspace(0, n, knots), rng.normal(0, 6, knots))
    return (hiss * 10 ** (swell / 20)).astype(np.float32)


def noise(n: int, rng: Generator, talkers: list[Samples]) -> Samples:
    """Make noise of a random kind; ``talkers`` are voices to make babble of."""
    kind = rng.choice(
        ("white", "pink", "brown", "suction", "coloured", "music", "hum", "beeps", "babble"),
        p=(0.05, 0.12, 0.05, 0.16, 0.16, 0.08, 0.05, 0.03, 0.30),
    )
    if kind == "babble" and talkers:
        out = np.zeros(n, np.float32)
        for _ in range(int(rng.integers(1, 7))):
            talk = talkers[int(rng.integers(len(talkers)))]
            start = int(rng.integers(max(1, len(talk))))
            out += np.resize(np.roll(talk, -start), n) * float(rng.uniform(0.4, 1))
        return out
    makers = {"suction": suction, "coloured": coloured, "music": music, "hum": hum, "beeps": beeps}
    if kind in makers:
        return makers[str(kind)](n, rng)
    return _spectral(n, rng, {"white": 0.0, "pink": -0.5, "brown": -1.0}.get(str(kind), -0.5))


def loud_level(sound: Samples) -> float:
    """Give the RMS of the loud frames, as a factor."""
    frames = sound[: len(sound) // 400 * 400].reshape(-1, 400)
    rms = np.sqrt((frames**2).mean(1)) if len(frames) else np.array([1e-4])
    return float(np.percentile(rms, 90)) + 1e-6


def treat(sound: Samples, rng: Generator, talkers: list[Samples]) -> Samples:
    """Send a clean voice through a random throat, room, headset, silence, noise and level."""
    if rng.random() < 0.6:
        sound = warp(sound, float(rng.uniform(0.86, 1.16)))
    if rng.random() < 0.35:
        sound = room(sound, rng)
    if rng.random() < 0.5:
        sound = headset(sound, rng)
    before, after = rng.uniform(0.05, 0.7, 2)
    sound = np.concatenate([np.zeros(int(before * RATE)), sound, np.zeros(int(after * RATE))])
    sound = (sound / loud_level(sound)).astype(np.float32)
    if rng.random() < 0.75:
        hiss = noise(len(sound), rng, talkers)
        snr = float(rng.uniform(0, 28))
        sound = sound + hiss / (float(np.sqrt((hiss**2).mean())) + 1e-6) * 10 ** (-snr / 20)
    else:
        sound = sound + rng.normal(0, 10 ** (-rng.uniform(35, 60) / 20), len(sound))
    return (sound * 0.07 * 10 ** (rng.uniform(-8, 6) / 20)).astype(np.float32)
