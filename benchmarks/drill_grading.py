"""How long a class takes: one process, two, and a local Dask cluster of two workers.

    python -m benchmarks.drill_grading --recordings 200 --seconds 180 --only local1,local2,dask2

The recordings are made of the shipped voice: each line of a drill is spoken once, then the lines
are joined with pauses of their own, shifted, and put into noise of their own. Each result is kept
at once, with the time at which it came: a run that was stopped goes on with the same command, and
its time is the sum of its parts, each from the start of its first process. Nothing else should run.
The part ``killed2`` is the cluster again, one of whose workers is killed after the first result.
"""

import argparse
import contextlib
import hashlib
import json
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import soundfile
import soxr

from voicecount.commands.inputs import load_drill_grammar
from voicecount.drill.cluster import DaskEngine
from voicecount.drill.engines import Engine, Failure, LocalEngine
from voicecount.drill.grade import Job, embedded, graded, program, with_sound
from voicecount.drill.graded_store import GradedStore
from voicecount.drill.load import Loaded, load_drill
from voicecount.sound.frame import RATE, Samples
from voicecount.speak.embedded import EmbeddedVoice
from voicecount.words.numbers import in_words

PARTS = ("local1", "local2", "dask2", "killed2")
DRILL = "skin_groups"
_NOISE = (0.0003, 0.003)
"""Least and greatest amplitude of the noise, of full scale."""


def calls(loaded: Loaded, folder: Path) -> list[Samples]:
    """Speak each line of a drill once, at RATE; kept for the next run."""
    folder.mkdir(parents=True, exist_ok=True)
    voice = None
    found = []
    for there in loaded.drill.table:
        path = folder / f"{DRILL}.{there.item}.wav"
        if not path.is_file():
            voice = voice or EmbeddedVoice.load()
            numbers = ", ".join(in_words(number) for number in range(1, there.number + 1))
            clip = voice.speak(f"{loaded.sheet.item(there.item).name(2)}, {numbers}.")
            soundfile.write(path, soxr.resample(clip.samples, clip.rate, RATE), RATE)
        found.append(soundfile.read(path, dtype="float32")[0])
    return found


def record(path: Path, lines: Sequence[Samples], seconds: float, seed: int) -> None:
    """Join lines with pauses until so many seconds are full, in a room of its own."""
    if path.is_file():
        return
    chance = np.random.default_rng(seed)
    sound = np.zeros(int(seconds * RATE), np.float32)
    at = int(chance.uniform(0.5, 2.0) * RATE)
    turn = int(chance.integers(len(lines)))
    while at + len(lines[turn % len(lines)]) < len(sound):
        line = lines[turn % len(lines)]
        sound[at : at + len(line)] += line * float(chance.uniform(0.5, 1.0))
        at += len(line) + int(chance.uniform(0.9, 2.0) * RATE)
        turn += 1
    sound += chance.normal(0.0, chance.uniform(*_NOISE), len(sound)).astype(np.float32)
    half = path.with_suffix(".part")
    soundfile.write(half, sound, RATE, format="FLAC")
    half.replace(path)


def recordings(folder: Path, loaded: Loaded, number: int, seconds: float) -> list[Job]:
    """Make the recordings that are not there yet, and give the work on each."""
    folder.mkdir(parents=True, exist_ok=True)
    lines = calls(loaded, folder.parent / "calls")
    grammar = load_drill_grammar(loaded)
    jobs = []
    for place in range(number):
        path = folder / f"s{place:03d}.{DRILL}.flac"
        record(path, lines, seconds, place)
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        jobs.append(Job(path, digest, loaded, grammar, (), cues_known=True, ear=embedded))
    return jobs


@contextlib.contextmanager
def engine_of(part: str, folder: Path) -> Iterator[tuple[Engine, subprocess.Popen[bytes] | None]]:
    """Give the engine of a part, and the worker to kill; a cluster is started and ended."""
    if part.startswith("local"):
        yield LocalEngine(int(part.removeprefix("local"))), None
        return
    told = folder / "scheduler.json"
    told.unlink(missing_ok=True)
    running: list[subprocess.Popen[bytes]] = []
    try:
        with (folder / "dask.out").open("ab") as out:

            def start(*arguments: str) -> None:
                command = [sys.executable, "-m", *arguments]
                running.append(subprocess.Popen(command, stdout=out, stderr=out))

            scheduler = "distributed.cli.dask_scheduler"
            here = ("--host", "127.0.0.1", "--port", "0")
            start(scheduler, *here, "--no-dashboard", "--scheduler-file", str(told))
            while not (told.is_file() and told.read_text().strip()):
                time.sleep(0.1)
            for _ in range(2):
                worker = ("distributed.cli.dask_worker", "--scheduler-file", str(told))
                start(*worker, "--nthreads", "1", "--no-nanny", "--no-dashboard")
        engine = DaskEngine(json.loads(told.read_text())["address"], program)
        yield engine, running[-1] if part == "killed2" else None
    finally:
        for process in running:
            process.terminate()
            process.wait()


def measure(part: str, folder: Path, jobs: Sequence[Job]) -> None:
    """Grade what this part has not graded yet, and note when each result came."""
    store = GradedStore(folder / part)
    store.begin()
    notes = folder / f"{part}.times"
    todo = [(at, job) for at, job in enumerate(jobs) if store.take(_student(at), job) is None]
    if not todo:
        return
    with engine_of(part, folder) as (engine, doomed), notes.open("a") as file:
        begun = time.monotonic()
        run = time.time_ns()
        found = engine.map(graded, [job for _, job in todo], with_sound)
        for done, (place, answer) in enumerate(found, start=1):
            if isinstance(answer, Failure):
                raise SystemExit(f"{part}: recording {todo[place][0]}: {answer.why}")
            store.keep(_student(todo[place][0]), todo[place][1], answer)
            seconds = time.monotonic() - begun
            print(json.dumps({"run": run, "seconds": round(seconds, 3)}), file=file, flush=True)
            if doomed is not None and doomed.poll() is None:
                doomed.kill()
                print(f"{part}: a worker was killed after {seconds:.0f} s", flush=True)
            if done % 10 == 0 or done == len(todo):
                print(f"{part}: {done} of {len(todo)} in {seconds:.0f} s", flush=True)


def taken(part: str, folder: Path) -> tuple[int, float]:
    """Give how many recordings a part has graded, and in how many seconds altogether."""
    notes = folder / f"{part}.times"
    if not notes.is_file():
        return 0, 0.0
    lines = [json.loads(line) for line in notes.read_text().splitlines()]
    last = {line["run"]: line["seconds"] for line in lines}
    return len(lines), sum(last.values())


def results(part: str, folder: Path) -> dict[str, bytes]:
    """Give what a part found, byte by byte."""
    return {path.name: path.read_bytes() for path in sorted((folder / part).glob("*.json"))}


def _student(place: int) -> str:
    return f"s{place:03d}"


def main() -> None:
    """Measure the parts that are asked for, and print what stands."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--recordings", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=180.0)
    parser.add_argument("--only", default=",".join(PARTS), help=f"of {', '.join(PARTS)}")
    parser.add_argument("--to", type=Path, default=Path(".cache/drill_grading"))
    given = parser.parse_args()
    parts = given.only.split(",")
    if not set(parts) <= set(PARTS):
        raise SystemExit(f"--only {given.only}: the parts are {', '.join(PARTS)}")
    loaded = load_drill(DRILL)
    folder = given.to / f"{given.recordings}x{given.seconds:g}"
    jobs = recordings(folder / "recordings", loaded, given.recordings, given.seconds)
    for part in parts:
        measure(part, folder, jobs)
    each: dict[str, float] = {}
    for part in PARTS:
        number, seconds = taken(part, folder)
        if number:
            each[part] = seconds / number
            print(f"{part}: n = {number}, {seconds:.0f} s, {each[part]:.2f} s a recording")
    for part in PARTS[1:]:
        if part in each and PARTS[0] in each:
            ratio = each[PARTS[0]] / each[part]
            same = results(part, folder) == results(PARTS[0], folder)
            print(f"{part}: {ratio:.2f} times as fast as {PARTS[0]}; same results: {same}")


if __name__ == "__main__":
    main()
