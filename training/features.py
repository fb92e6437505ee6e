"""Make the training set: synthetic utterances, the frozen encoder's frames, and their phones.

    python training/features.py --utterances 25000 --out .cache/train

Every utterance has its own seed, so the set does not depend on the number of processes.
"""

import argparse
import random
import re
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from rooms import treat
from texts import make_text
from voices import say

from voicecount.hear.embedded.encoder import Encoder
from voicecount.words.pronounce import PHONES, Lexicon

SEED = 20261125
SHARD = 250
LIMIT_SECONDS = 16.0


@lru_cache(maxsize=1)
def vocabulary() -> list[str]:
    """Give plain dictionary words, from the package that also gives their pronunciations."""
    from hibari.g2p import G2P

    words = G2P().lexicon.golds.d
    return sorted(word for word in words if re.fullmatch("[a-z]{3,11}", word))


@lru_cache(maxsize=1)
def _tools() -> tuple[Encoder, Lexicon]:
    return Encoder.load(threads=1), Lexicon()


def utterance(seed: int, talkers: list[Any]) -> tuple[Any, list[int]] | None:
    """Make one treated utterance and its phones, numbered from 1 (0 is the blank)."""
    rng = random.Random(seed)
    text = make_text(rng, vocabulary())
    lexicon = _tools()[1]
    phones = [p for word in text.words for p in lexicon.pronounce(word)[0]]
    sound = say([" ".join(group) for group in text.groups], rng)
    talkers.append(sound)
    del talkers[:-12]
    treated = treat(sound, np.random.default_rng(seed), talkers[:-1])
    if not 0.3 < len(treated) / 16_000 < LIMIT_SECONDS:
        return None
    return treated, [PHONES.index(phone) + 1 for phone in phones]


def shard(first: int, count: int, out: str) -> float:
    """Make one file of features; gives the seconds of sound in it."""
    path = Path(out) / f"{first:07d}.npz"
    if path.exists():
        return 0.0
    encoder = _tools()[0]
    frames, lengths, targets, sizes = [], [], [], []
    seconds = 0.0
    talkers: list[Any] = []
    for index in range(first, first + count):
        made = utterance(SEED + index, talkers)
        if made is None:
            continue
        encoded = encoder.encode(made[0]).astype(np.float16)
        if 2 * len(encoded) < len(made[1]) + 8:
            continue
        frames.append(encoded)
        lengths.append(len(encoded))
        targets.append(np.array(made[1], np.int16))
        sizes.append(len(made[1]))
        seconds += len(made[0]) / 16_000
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
    parser.add_argument("--utterances", type=int, default=25_000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--out", default=".cache/train")
    given = parser.parse_args()
    Path(given.out).mkdir(parents=True, exist_ok=True)
    starts = range(0, given.utterances, SHARD)
    seconds = 0.0
    with ProcessPoolExecutor(given.processes) as pool:
        jobs = [pool.submit(shard, first, SHARD, given.out) for first in starts]
        for done, job in enumerate(jobs, 1):
            seconds += job.result()
            if done % max(1, len(jobs) // 20) == 0:
                print(f"{done}/{len(jobs)} parts, {seconds / 3600:.1f} hours of speech", flush=True)


if __name__ == "__main__":
    main()
