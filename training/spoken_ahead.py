"""Speak utterances ahead with the many speakers, whose voice is slow; features.py draws from them.

    python -m training.spoken_ahead --utterances 1200

Each is said by one of the training speakers, or by a blend of two, at a random pace, and kept as
Ogg Vorbis in .cache/ahead with its words in the file's title.
"""

import argparse
import random
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from training import speakers
from training.texts import make_text, vocabulary

SEED = 50_261_126
FOLDER = Path(__file__).parent.parent / ".cache" / "ahead"


def speak(number: int) -> None:
    """Say one utterance and keep it."""
    path = FOLDER / f"{number:05d}.ogg"
    if path.exists():
        return
    rng = random.Random(SEED + number)
    text = make_text(rng, vocabulary())
    one, other = rng.sample(speakers.SPEAKERS["train"], 2)
    share = rng.choice((0.0, rng.uniform(0.2, 0.8)))
    voice = (1 - share) * speakers.style(one) + share * speakers.style(other)
    between = rng.choice((" ", ", ", ", ", ". "))
    said = between.join(" ".join(group) for group in text.groups) + "."
    sound = speakers.say(said, voice.astype(np.float32), rng.uniform(0.8, 1.4))
    part = path.with_suffix(".part")
    with soundfile.SoundFile(
        part, "w", speakers.RATE, 1, format="OGG", subtype="VORBIS", compression_level=0.6
    ) as file:
        file.title = " ".join(text.words)
        file.write(sound)
    part.rename(path)


def read(path: Path) -> tuple[NDArray[np.float32], list[str]]:
    """Read one utterance: sound at speakers.RATE, and its words."""
    with soundfile.SoundFile(path) as file:
        return file.read(dtype="float32"), file.title.split()


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--utterances", type=int, default=1200)
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args()
    FOLDER.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(given.processes) as pool:
        for done, _ in enumerate(pool.map(speak, range(given.utterances)), 1):
            if done % 50 == 0:
                print(f"{done}/{given.utterances} utterances", flush=True)


if __name__ == "__main__":
    main()
