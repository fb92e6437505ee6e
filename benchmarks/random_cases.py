"""Plays thousands of random cases against an independent listener, and prints what came of them.

    python -m benchmarks.random_cases --cases 5000 --jobs 2 --seed 1

Each case has a seed of its own; ``--one SEED`` plays a single one and prints every word of it.
"""

import argparse
import sys
import tempfile
import time
from collections import Counter
from multiprocessing import Pool
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from case_play import random_case


def play_case(seed: int) -> tuple[int, Counter[str], str | None, list[str]]:
    """Play one case; give its seed, its figures, what went wrong, if anything did, its words."""
    with tempfile.TemporaryDirectory(prefix="case-") as folder:
        try:
            play = random_case(seed, Path(folder))
        except Exception as error:  # noqa: BLE001 - whatever it is, its seed is told
            play = getattr(error, "play", None)
            wrong = f"{type(error).__name__}: {error}"
            return seed, play.tally if play else Counter(), wrong, play.words if play else []
    return seed, play.tally, None, play.words


def main() -> None:
    """Play and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1, help="seed of the first case")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--one", type=int, help="play the case of this seed only, and print it")
    parser.add_argument("--seconds", type=float, default=3600.0, help="stop after so long")
    args = parser.parse_args()
    if args.one is not None:
        _, tally, wrong, words = play_case(args.one)
        print("\n".join(words), wrong or "no violation", dict(tally), sep="\n")
        return
    began = time.perf_counter()
    total: Counter[str] = Counter()
    wrong_ones: list[tuple[int, str]] = []
    last = args.seed
    with Pool(args.jobs) as pool:
        seeds = range(args.seed, args.seed + args.cases)
        for seed, tally, wrong, _ in pool.imap_unordered(play_case, seeds, chunksize=8):
            total += tally
            if wrong is not None:
                wrong_ones.append((seed, wrong))
            last = max(last, seed)
            if time.perf_counter() - began > args.seconds:
                pool.terminate()
                break
    seconds = time.perf_counter() - began
    print(f"seeds {args.seed} to {last}, {seconds:.0f} s")
    for name in sorted(total, key=lambda one: (" " in one, one)):
        print(f"{name:32} {total[name]:9,}")
    print(f"{'violations':32} {len(wrong_ones):9,}")
    for seed, wrong in sorted(wrong_ones)[:40]:
        print(f"  seed {seed}: {wrong}")
    sys.exit(bool(wrong_ones))


if __name__ == "__main__":
    main()
