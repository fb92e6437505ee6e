"""How true the sound check and the noise watch measure, on voices and noises of known levels.

    python -m benchmarks.sound_check

Turns are spoken by the voices of this machine; noise and its level are those of docs/hearing.md,
where the level is that of the voice's loud parts over the noise. Prints, with numbers of turns, how
far the check is off; how far it is off for leaks through a room, and how often it knows whose
channel is whose; and how far the watch is off, and after how many seconds it tells.
"""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from benchmarks.rooms import MAKERS, babble, in_room, pink
from voicecount.rehearse.voices import find_voices, load_engine
from voicecount.sound.check import Turn, check
from voicecount.sound.findings import Noise, NoiseState
from voicecount.sound.frame import RATE, Samples
from voicecount.sound.noise_watch import NoiseWatch

SENTENCES = (
    "This is a check of the sound before the count. One, two, three, four, five.",
    "The table is set and the room is ready for us. One. Two. Three. Four. Five.",
    "Needles and sponges are called aloud, one by one. One two three four five.",
)
TALK = (
    "did you see the game last night, it went on for much too long",
    "the weather will be better at the weekend, or so they say",
    "we went to the lake with the children, and the water was cold",
    "somebody left the lights of a car on, down in the garage",
)
CONDITIONS = tuple(
    f"{kind} {level} dB"
    for kind in ("pink", "suction", "music", "babble")
    for level in (25, 15, 10, 5)
)
LEAKS = (-25.0, -15.0, -8.0)
VOICE_DB = -25.0
_ECHO = 0.4
"""Seconds in which the room's echo falls by 60 dB."""


def main() -> None:
    """Print all tables."""
    rng = np.random.default_rng(2026)
    voices = find_voices(load_engine())
    turns = [say(text) for say in voices.values() for text in SENTENCES]
    talk = [say(text) for say in voices.values() for text in TALK]
    print(f"{len(voices)} voices, {len(turns)} turns: {', '.join(voices)}\n")
    noise_table(turns, talk, rng)
    leak_table(turns, rng)
    watch_table(talk, rng)


def noise_table(turns: Sequence[Samples], talk: list[Samples], rng: Generator) -> None:
    """Print how far the voice above the noise is off, by condition."""
    print("| voice above noise | n | mean error | standard deviation | least | most |")
    print("|---|---|---|---|---|---|")
    for condition in CONDITIONS:
        truth = float(condition.split()[1])
        errors = []
        for spoken in turns:
            sound = in_room(spoken, condition, "test", rng, talk)
            above = check([Turn("one", sound[:, np.newaxis])]).channels[0].above_noise
            errors.append(np.nan if above is None else above - truth)
        found = np.array(errors)
        lost = int(np.isnan(found).sum())
        print(
            f"| {condition} | {len(found)}{f', {lost} not heard' if lost else ''} "
            f"| {np.nanmean(found):+.1f} dB | {np.nanstd(found):.1f} dB "
            f"| {np.nanmin(found):+.1f} dB | {np.nanmax(found):+.1f} dB |"
        )
    print()


def leak_table(turns: Sequence[Samples], rng: Generator) -> None:
    """Print how far leaks are off, and how often each person is found on their channel."""
    print("| leak through a room | n | mean error | least | most | channels right |")
    print("|---|---|---|---|---|---|")
    for leak in LEAKS:
        errors, right = [], 0
        for place, spoken in enumerate(turns):
            other = turns[(place + 7) % len(turns)]
            swapped = bool(place % 2)
            gain = float(rng.uniform(-8, 8))
            given = [
                Turn(who, _both(voice, channel ^ swapped, leak, gain, rng))
                for who, voice, channel in (("one", spoken, 0), ("two", other, 1))
            ]
            result = check(given)
            right += result.channel_of == {"one": int(swapped), "two": int(not swapped)}
            errors += [
                row.leak - leak - (gain if row.channel == 0 else -gain)
                for row in result.channels
                if row.leak is not None
            ]
        print(
            f"| {leak:.0f} dB | {len(errors)} | {np.mean(errors):+.1f} dB | {min(errors):+.1f} dB "
            f"| {max(errors):+.1f} dB | {right} of {len(turns)} |"
        )
    print()


def watch_table(talk: list[Samples], rng: Generator) -> None:
    """Print how far the watch's noise is off, and when it tells of it."""
    print("| noise 12 or 7 dB under the voice, from silence on | n | mean error | told after |")
    print("|---|---|---|---|")
    for kind in ("pink", "suction", "music", "babble"):
        errors, waits, states = [], [], []
        for above, state in ((12.0, Noise.LOUD), (7.0, Noise.TOO_LOUD)):
            for _ in range(5):
                noise = _noise(kind, 20 * RATE, talk, rng)
                noise *= 10 ** ((VOICE_DB - above) / 20) / np.sqrt(np.square(noise).mean())
                watch = NoiseWatch([VOICE_DB])
                for _ in _frames(pink(10 * RATE, rng) * 1e-4, watch):
                    pass
                told = [(at, found.state) for at, found in _frames(noise, watch) if found]
                errors.append(watch.current.floor - VOICE_DB + above if watch.current else np.nan)
                waits.append(next((at for at, found in told if found is state), np.nan))
                states.append(watch.state is state)
        print(
            f"| {kind} | {len(errors)} | {np.mean(errors):+.1f} dB | {np.nanmin(waits):.1f} to "
            f"{np.nanmax(waits):.1f} s; in the state meant at the end {sum(states)} |"
        )


def _both(
    voice: Samples, channel: int, leak: float, gain: float, rng: Generator
) -> NDArray[np.float32]:
    """Give a turn on two channels, the second ``gain`` dB stronger, the leak through a room."""
    edge = np.zeros(RATE // 2, np.float32)
    own = np.concatenate([edge, voice, edge]).astype(np.float64)
    own *= 10 ** (VOICE_DB / 20) / np.sqrt(np.percentile(np.square(own), 75) + 1e-12)
    own *= 0.25 / np.abs(own).max()
    time = np.arange(round(_ECHO * RATE)) / RATE
    echo = rng.normal(size=len(time)) * 10 ** (-3 * time / _ECHO)
    length = len(own) + len(echo)
    other = np.fft.irfft(np.fft.rfft(own, length) * np.fft.rfft(echo, length), length)[: len(own)]
    other *= 10 ** (leak / 20) * np.sqrt(np.square(own).sum() / np.square(other).sum())
    both = np.stack([own, other] if channel == 0 else [other, own], axis=1)
    room = np.stack([pink(len(own), rng) for _ in range(2)], axis=1)
    both += room / room.std(0) * 10 ** (-65 / 20)
    return (both * [1.0, 10 ** (gain / 20)]).astype(np.float32)


def _noise(kind: str, n: int, talk: list[Samples], rng: Generator) -> Samples:
    return babble(n, rng, talk, 6) if kind == "babble" else MAKERS["test"][kind](n, rng)


def _frames(sound: Samples, watch: NoiseWatch) -> Iterator[tuple[float, NoiseState | None]]:
    """Feed sound to a watch; give the time and what it told after every frame."""
    for first in range(0, len(sound), 512):
        frame = np.asarray(sound[first : first + 512, np.newaxis], np.float32)
        yield (first + 512) / RATE, watch.feed(frame, speech=False)


if __name__ == "__main__":
    main()
