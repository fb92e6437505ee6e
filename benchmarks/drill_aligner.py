"""Times of words beside those of a forced aligner that shares nothing with the recogniser.

    python -m benchmarks.drill_aligner --runs 4

The aligner is PocketSphinx (``pip install pocketsphinx``) with the English model of its own wheel:
it is given what was said, and tells when. Both get the same sound:

* numbers that people said in one breath, from Debian's pocketsphinx-testdata (the string of
  TIDIGITS and others; ``python tests/recordings.py`` brings them),
* runs that the voices of the test part speak as they do by themselves, with pauses and without,
* a person's numbers joined at known times, where the error of each is known.

An aligner is no truth: where times are known, its own errors stand beside ours.
"""

import argparse
import random
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from pocketsphinx import Decoder

from benchmarks.drill_heard import heard_as_attempt
from benchmarks.drill_timing import any_drill, in_room, join, told
from benchmarks.speakers import VOICES
from tests.recordings import DIGITS, MISSING, SPHINX, Samples, folder, read
from voicecount.drill.load import Loaded
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.port import Recogniser
from voicecount.sound.frame import RATE
from voicecount.words.grammar import Grammar, build_grammar
from voicecount.words.numbers import NUMBER_WORDS, in_words

PEOPLE = {
    "tidigits/dhd.2934z.raw": "two nine three four zero",
    "numbers.raw": "thirty three four or six ninety two",
    "cards/001.wav": "ten of clubs",
    "cards/002.wav": "four queen of clubs",
    "cards/003.wav": "seven of clubs",
    "cards/004.wav": "five five",
    "cards/005.wav": "eight of spades four of clubs seven of hearts",
}
"""What people say in the files. Transcriptions are the package's; numbers.raw has none there, its
words are those that PocketSphinx hears without being told."""
_HOP = 0.01
"""Seconds of one frame of the aligner."""
Times = list[tuple[str, float]]
"""Numbers with the seconds at which they begin."""


@dataclass(frozen=True)
class Ears:
    """What hears an attempt."""

    recogniser: Recogniser
    loaded: Loaded
    grammar: Grammar

    def times(self, sound: Samples) -> Times:
        """Hear a sound as an attempt is heard; gives its numbers, also of what was unsure."""
        attempt = heard_as_attempt(sound, self.loaded, self.recogniser, self.grammar)
        return [
            (word.text, word.start)
            for saying in attempt.sayings
            for word in saying.heard.words or ()
            if word.text in NUMBER_WORDS
        ]


def aligned(sound: Samples, text: str) -> Times:
    """Give when each number of a text begins, as the aligner has it; nothing if it finds none."""
    decoder = Decoder(samprate=RATE, loglevel="FATAL")
    decoder.set_align_text(text)
    decoder.start_utt()
    decoder.process_raw((np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes(), full_utt=True)
    decoder.end_utt()
    if decoder.hyp() is None:
        return []
    words = ((part.word.split("(")[0], part.start_frame * _HOP) for part in decoder.seg())
    return [(word, start) for word, start in words if word in NUMBER_WORDS]


@dataclass(frozen=True)
class Beside:
    """One sound, by both."""

    ours: Times
    theirs: Times

    @property
    def same(self) -> bool:
        """Whether both have the same numbers."""
        return bool(self.ours) and [word for word, _ in self.ours] == [w for w, _ in self.theirs]

    @property
    def apart(self) -> list[float]:
        """Seconds by which we have each number later."""
        return [a - b for (_, a), (_, b) in zip(self.ours, self.theirs, strict=True)]

    @property
    def pace(self) -> float:
        """Share by which our pace is faster."""
        return (self.theirs[-1][1] - self.theirs[0][1]) / (self.ours[-1][1] - self.ours[0][1]) - 1


def people(ears: Ears) -> Iterator[Beside]:
    """Hear the numbers that people said in one breath."""
    place = folder(SPHINX)
    if place is None:
        raise SystemExit(MISSING)
    for name, text in PEOPLE.items():
        sound = in_room(read(place / name), np.random.default_rng(1))
        found = Beside(ears.times(sound), aligned(sound, text))
        print(f"  {name}: ours {_short(found.ours)}; aligner {_short(found.theirs)}")
        yield found


def voices(ears: Ears, runs: int, rng: random.Random) -> dict[str, list[tuple[bool, Beside]]]:
    """Hear so many runs of each voice, every other one in one breath, which is told of each."""
    by_voice: dict[str, list[tuple[bool, Beside]]] = {}
    for name, voice in VOICES["test"].items():
        found = by_voice.setdefault(name, [])
        for turn in range(runs):
            words = [in_words(value) for value in range(1, rng.randint(5, 12) + 1)]
            breath = turn % 2 == 1
            said = (" " if breath else ", ").join(words) + "."
            sound = in_room(voice(said, rng.uniform(0.85, 1.15)), np.random.default_rng(turn))
            found.append((breath, Beside(ears.times(sound), aligned(sound, " ".join(words)))))
        alike = sum(one.same for _, one in found)
        print(f"  {name}: {alike} of {runs} heard alike", flush=True)
    return by_voice


def known(ears: Ears, runs: int, rng: random.Random) -> Iterator[tuple[list[float], list[float]]]:
    """Give our errors and the aligner's where the times are known, of runs that both have right."""
    place = folder(DIGITS)
    if place is None:
        raise SystemExit(MISSING)
    for _ in range(runs):
        run = join(place, rng.randint(4, 12), rng.uniform(35, 110), rng)
        words = [in_words(value) for value in range(1, len(run.onsets) + 1)]
        found = Beside(ears.times(run.sound), aligned(run.sound, " ".join(words)))
        if found.same and len(found.ours) == len(words):
            yield (
                [at - true for (_, at), true in zip(found.ours, run.onsets, strict=True)],
                [at - true for (_, at), true in zip(found.theirs, run.onsets, strict=True)],
            )


def _short(times: Times) -> str:
    return " ".join(f"{word} {at:.2f}" for word, at in times)


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--runs", type=int, default=4, help="of each voice")
    parser.add_argument("--known", type=int, default=30, help="runs whose times are known")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    rng = random.Random(given.seed)
    loaded = any_drill()
    ears = Ears(EmbeddedRecogniser.load(1), loaded, build_grammar(loaded.sheet))
    said = [one for one in people(ears) if one.same]
    print(f"people, heard alike: {len(said)} of {len(PEOPLE)}")
    print(told("ours after the aligner's", [e for one in said for e in one.apart], 1000, "ms"))
    by_voice = voices(ears, given.runs, rng)
    paces_by_voice = {
        name: [one.pace for _, one in found if one.same] for name, found in by_voice.items()
    }
    runs = [one for found in by_voice.values() for one in found]
    for breath in (False, True):
        name = "voices, in one breath" if breath else "voices, with pauses"
        all_runs = [one for kind, one in runs if kind is breath]
        alike = [one for one in all_runs if one.same]
        if not alike:
            continue
        print(f"{name}, heard alike: {len(alike)} of {len(all_runs)}")
        print(told("ours after the aligner's", [e for one in alike for e in one.apart], 1000, "ms"))
        paces = [one.pace for one in alike]
        print(told("pace of one run", paces, 100, "%"))
        print(f"within 5 %: {sum(abs(pace) <= 0.05 for pace in paces)} of {len(paces)}")
    middles = [float(np.median(paces)) for paces in paces_by_voice.values() if paces]
    print(told("pace, the median of a voice's runs", middles, 100, "%"))
    errors = list(known(ears, given.known, rng))
    print(f"known times, heard alike: {len(errors)} of {given.known}")
    print(told("ours", [e for ours, _ in errors for e in ours], 1000, "ms"))
    print(told("aligner", [e for _, theirs in errors for e in theirs], 1000, "ms"))


if __name__ == "__main__":
    main()
