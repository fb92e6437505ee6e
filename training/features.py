"""Make the training set: synthetic utterances, the frozen encoder's frames, and their phones.

    python -m training.features --utterances 40000 --out .cache/train

Every utterance has its own seed, and each part its own talkers, so the set does not depend on the
number of processes. An utterance is heard in two rooms and noises, by the ears of the first
encoder or of the second.
"""

import argparse
import random
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from training import speakers, spoken_ahead
from training.rooms import treat
from training.texts import make_text, vocabulary
from training.voices import at_16k, say
from voicecount.hear.embedded.encoder import Encoder
from voicecount.hear.embedded.head import INDEX
from voicecount.hear.embedded.second_encoder import SecondEncoder
from voicecount.words.pronounce import Lexicon

SEED = 20261126
SHARD = 100
AHEAD = 0.25
"""The share of utterances drawn from those spoken ahead."""
TREATMENTS = 2
LIMIT_SECONDS = 16.0


@lru_cache(maxsize=1)
def _lexicon() -> Lexicon:
    return Lexicon()


@lru_cache(maxsize=1)
def _encoder(ears: str) -> Encoder | SecondEncoder:
    return SecondEncoder.load(threads=1) if ears == "second" else Encoder.load(threads=1)


@lru_cache(maxsize=1)
def _ahead() -> list[Path]:
    return sorted(spoken_ahead.FOLDER.glob("*.ogg"))


def spoken(rng: random.Random) -> tuple[Any, list[str]]:
    """Make one utterance, or draw one that was spoken ahead: its sound and its words."""
    if _ahead() and rng.random() < AHEAD:
        sound, words = spoken_ahead.read(rng.choice(_ahead()))
        return at_16k(sound, speakers.RATE), words
    text = make_text(rng, vocabulary())
    return say([" ".join(group) for group in text.groups], rng), list(text.words)


def utterance(seed: int, talkers: list[Any]) -> tuple[list[Any], list[int]]:
    """Make one utterance in several treatments, and its phones from 1 on (0 is the blank)."""
    sound, words = spoken(random.Random(seed))
    lexicon = _lexicon()
    phones = [p for word in words for p in lexicon.pronounce(word)[0]]
    noises = np.random.default_rng(seed)
    treated = [treat(sound, noises, talkers) for _ in range(TREATMENTS)]
    talkers.append(sound)
    del talkers[:-12]
    fitting = [one for one in treated if 0.3 < len(one) / 16_000 < LIMIT_SECONDS]
    return fitting, [INDEX[phone] for phone in phones]


def shard(first: int, count: int, out: str, ears: str) -> float:
    """Make one file of features; gives the seconds of sound in it."""
    path = Path(out) / f"{first:07d}.npz"
    if path.exists():
        return 0.0
    encoder = _encoder(ears)
    frames, lengths, targets, sizes = [], [], [], []
    seconds = 0.0
    talkers: list[Any] = []
    for index in range(first, first + count):
        treated, phones = utterance(SEED + index, talkers)
        for sound in treated:
            encoded = encoder.encode(sound).astype(np.float16)
            if 2 * len(encoded) < len(phones) + 8:
                continue
            frames.append(encoded)
            lengths.append(len(encoded))
            targets.append(np.array(phones, np.int16))
            sizes.append(len(phones))
            seconds += len(sound) / 16_000
    temporary = path.with_suffix(".tmp.npz")
    np.savez(
        temporary,
        frames=np.concatenate(frames),
        lengths=lengths,
        targets=np.concatenate(targets),
        sizes=sizes,
    )
    temporary.rename(path)
    return seconds


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=0, help="the number of the first utterance")
    parser.add_argument("--utterances", type=int, default=40_000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--ears", choices=("first", "second"), default="first")
    parser.add_argument("--out", default=".cache/train")
    given = parser.parse_args()
    Path(given.out).mkdir(parents=True, exist_ok=True)
    starts = range(given.first, given.first + given.utterances, SHARD)
    seconds = 0.0
    with ProcessPoolExecutor(given.processes) as pool:
        jobs = [pool.submit(shard, first, SHARD, given.out, given.ears) for first in starts]
        for done, job in enumerate(jobs, 1):
            seconds += job.result()
            if done % max(1, len(jobs) // 20) == 0:
                print(f"{done}/{len(jobs)} parts, {seconds / 3600:.1f} hours of speech", flush=True)


if __name__ == "__main__":
    main()
