"""Are the times of words right? Recorded numbers of a person, joined at known times.

    python -m benchmarks.drill_timing --runs 60

Source: Debian's asterisk-core-sounds-en-g722, numbers said one by one by a professional speaker (CC
BY-SA 3.0); ``python tests/recordings.py`` brings it. Each file holds one number; it begins where it
first comes within 30 dB of its loudest 10 ms. Numbers are joined to runs from one, at 35 to 110 a
minute, and heard as an attempt is. Told are the errors of the onsets, of the pace of each run, and
of the time from number to number; a positive error is late.
"""

import argparse
import random
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.drill_heard import heard_as_attempt
from tests.recordings import DIGITS, MISSING, Samples, folder, read
from voicecount.drill.load import Loaded
from voicecount.drill.model import Drill, Task, There
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.heard import Outcome
from voicecount.hear.port import Recogniser
from voicecount.sheet.load import load_sheet
from voicecount.sound.frame import RATE
from voicecount.words.grammar import build_grammar
from voicecount.words.numbers import NUMBER_WORDS

SHEET = Path(__file__).parent.parent / "grammars" / "first_try.yaml"
_STEP = RATE // 100
_NEAR_LOUD_DB = 30.0
_EDGE = 1.0
_ROOM_DB = -65.0
"""The room that the runs are laid into: no recording is digitally silent."""


@dataclass(frozen=True)
class Joined:
    """A run as it was joined."""

    sound: Samples
    onsets: tuple[float, ...]
    """Seconds at which the numbers 1, 2, 3 … begin."""


@dataclass(frozen=True)
class Timed:
    """A run as it was heard."""

    right: bool
    """Whether the numbers are those that were said."""
    errors: tuple[float, ...] = ()
    """Seconds by which each onset was heard late."""
    steps: tuple[float, ...] = ()
    """Seconds by which each time from a number to the next was heard long."""
    pace: float = 0.0
    """Share by which the pace was heard too fast."""


def number(place: Path, value: int) -> Samples:
    """Give a recorded number from its onset on, to its end."""
    sound = read(place / f"{value}.g722")
    steps = len(sound) // _STEP
    power = np.square(sound[: steps * _STEP].reshape(steps, _STEP)).mean(axis=1)
    loud = np.flatnonzero(power >= power.max() * 10 ** (-_NEAR_LOUD_DB / 10))
    return sound[int(loud[0]) * _STEP : min(len(sound), (int(loud[-1]) + 4) * _STEP)]


def join(place: Path, count: int, pace: float, rng: random.Random) -> Joined:
    """Join the numbers 1 to ``count`` at ``pace`` numbers a minute, each a tenth off at most."""
    at, onsets, spots = _EDGE, [], []
    for value in range(1, count + 1):
        sound = number(place, value)
        onsets.append(at)
        spots.append((round(at * RATE), sound))
        at += max(60 / pace * rng.uniform(0.9, 1.1), len(sound) / RATE + 0.05)
    whole = np.zeros(round((at + _EDGE) * RATE), np.float32)
    for first, sound in spots:
        whole[first : first + len(sound)] += sound
    return Joined(_with_room(whole, np.random.default_rng(rng.randrange(2**32))), tuple(onsets))


def in_room(sound: Samples, rng: np.random.Generator) -> Samples:
    """Lay a recording into a quiet room, a second longer at both ends."""
    quiet = np.zeros(round(_EDGE * RATE), np.float32)
    return _with_room(np.concatenate([quiet, sound, quiet]), rng)


def _with_room(sound: Samples, rng: np.random.Generator) -> Samples:
    return np.asarray(sound + rng.normal(0, 10 ** (_ROOM_DB / 20), len(sound)), np.float32)


def time_run(run: Joined, recogniser: Recogniser, loaded: Loaded) -> Timed:
    """Hear a run as an attempt and compare its times."""
    attempt = heard_as_attempt(run.sound, loaded, recogniser, build_grammar(loaded.sheet))
    words = [
        word
        for saying in attempt.sayings
        if saying.heard.outcome is Outcome.ACCEPTED
        for word in saying.heard.words or ()
    ]
    values = [NUMBER_WORDS.get(word.text) for word in words]
    if values != list(range(1, len(run.onsets) + 1)):
        return Timed(right=False)
    starts = np.array([word.start for word in words])
    true = np.array(run.onsets)
    errors = starts - true
    pace = (true[-1] - true[0]) / (starts[-1] - starts[0]) - 1
    return Timed(True, tuple(errors.tolist()), tuple(np.diff(errors).tolist()), float(pace))


def any_drill() -> Loaded:
    """Give a drill to hear with; only its sheet and its least pace matter here."""
    drill = Drill(
        title="Measuring",
        level=1,
        task=Task.FIRST_COUNT,
        sheet=SHEET.name,
        about="Nothing; it serves measuring only.",
        goal="Measuring.",
        table=(There(item="gauze", number=10),),
        partner=False,
    )
    return Loaded(drill, load_sheet(SHEET), Path("measuring.yaml"), SHEET)


def run(place: Path, count: int, seed: int, recogniser: Recogniser) -> list[Timed]:
    """Join and hear so many runs of four to twelve numbers."""
    rng = random.Random(seed)
    loaded = any_drill()
    return [
        time_run(join(place, rng.randint(4, 12), rng.uniform(35, 110), rng), recogniser, loaded)
        for _ in range(count)
    ]


def told(what: str, values: Sequence[float], unit: float, name: str) -> str:
    """Give the figures of errors: the middle, and how large they are."""
    scaled = unit * np.array(values)
    size = np.abs(scaled)
    return (
        f"{what}: median {np.median(scaled):+.1f} {name}, size: median {np.median(size):.1f}, "
        f"95th percentile {np.percentile(size, 95):.1f}, most {size.max():.1f} {name} "
        f"(n = {len(values)})"
    )


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--runs", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    place = folder(DIGITS)
    if place is None:
        raise SystemExit(MISSING)
    timed = run(place, given.runs, given.seed, EmbeddedRecogniser.load(1))
    right = [one for one in timed if one.right]
    print(f"runs heard right and taken: {len(right)} of {len(timed)}")
    errors = [error for one in right for error in one.errors]
    print(told("onset", errors, 1000, "ms"))
    centred = [error - float(np.median(errors)) for error in errors]
    print(told("onset beside its usual offset", centred, 1000, "ms"))
    print(told("from number to number", [e for one in right for e in one.steps], 1000, "ms"))
    print(told("pace", [one.pace for one in right], 100, "%"))
    close = sum(abs(one.pace) <= 0.05 for one in right)
    print(f"pace within 5 %: {close} of {len(right)}")


if __name__ == "__main__":
    main()
