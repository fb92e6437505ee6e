"""What a rehearsal gains: hard names, before and after, in voices that the rehearsal never used.

    python -m benchmarks.rehearsal

The sheet below has names of people from many languages, without any ``sounds``. It is rehearsed
with the voices that ``voicecount rehearse`` finds on this machine; then the benchmark's test voices
say every name, and the same clips are heard without and with what was learned. One limit: the
mbrola voices are read for by espeak-ng, which guesses at names as it does in the rehearsal; the
voices of pico and the many-speaker voice guess for themselves.
"""

import argparse
import itertools
import json
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.clips import utterances
from benchmarks.rooms import in_room
from benchmarks.speakers import VOICES, Voice
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.heard import Outcome
from voicecount.rehearse.course import rehearse
from voicecount.rehearse.ears import EmbeddedEars
from voicecount.rehearse.learned import with_learned
from voicecount.rehearse.voices import find_voices, load_engine
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.sound.frame import Samples
from voicecount.words.grammar import build_grammar, parse
from voicecount.words.graph import Grammar

HARD = (
    *("Kittner", "Yankauer suction", "Weitlaner", "Gelpi", "Langenbeck", "Volkmann", "Farabeuf"),
    *("Satinsky clamp", "Heaney clamp", "Mixter", "Schnidt clamp", "Castroviejo", "Finochietto"),
    *("Hohmann", "Kerrison", "Leksell", "Gigli saw", "Doyen", "Bozeman", "Desmarres", "Cushing"),
    *("Penfield", "Frazier tip", "Deaver", "Kocher clamp", "Pean clamp", "DeBakey forceps"),
    *("Rongeur", "Curette", "Trocar", "Bovie tip", "Raytec", "Hegar", "Tenaculum", "Auvard"),
)
"""Names that few dictionaries have; eponyms and trade words, the choice and the sheet are ours."""
CONDITIONS = ("quiet", "pink 15 dB")
SPEAKING = (
    "pico en-US",
    "pico en-GB",
    "mbrola us1",
    "mbrola us2",
    "af_sky",
    "am_onyx",
    "bm_george",
)
"""Test voices; the others read as one of these does."""


@dataclass(frozen=True)
class Clip:
    """One saying of a name."""

    name: str
    line: str
    words: tuple[str, ...]
    voice: str
    condition: str
    sound: Samples


def sheet_of(names: tuple[str, ...]) -> Sheet:
    """Make a sheet of names."""
    items = [
        {"id": name.lower().replace(" ", "_"), "group": "instruments", "say": [name]}
        for name in names
    ]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hard.yaml"
        path.write_text(json.dumps({"title": "Hard names", "items": items}), encoding="utf-8")
        return load_sheet(path)


def clips(sheet: Sheet, voices: dict[str, Voice], each: int) -> Iterator[Clip]:
    """Say every name ``each`` times in each condition, the voices taking turns."""
    turn = itertools.cycle(voices.items())
    for number, item in enumerate(sheet.items):
        for condition, again in itertools.product(CONDITIONS, range(each)):
            name, voice = next(turn)
            rng = np.random.default_rng(1000 * number + 10 * again + len(condition))
            one, many = item.say[0].one, item.say[0].many
            said = f"{one}, one, two, three." if again % 2 == 0 else f"three {many}."
            words = said.replace(",", "").rstrip(".").lower().split()
            spoken = voice(said, float(rng.uniform(0.9, 1.15)))
            sound = in_room(spoken, condition, "test", rng, [])
            yield Clip(one, item.id, tuple(words), name, condition, sound)


def outcomes(heard: list[Clip], recogniser: EmbeddedRecogniser, grammar: Grammar) -> list[str]:
    """Hear every clip: right, wrong (accepted) or asked (or ignored)."""
    found = []
    for clip in heard:
        answer = recogniser.hear(*utterances(clip.sound), grammar)
        meant = {meaning for meaning, _ in parse(clip.words, grammar)}
        right = answer.meaning in meant
        accepted = answer.outcome is Outcome.ACCEPTED
        found.append(("right" if right else "wrong") if accepted else "asked")
    return found


def row(what: str, before: list[str], after: list[str]) -> str:
    """Give one line of the table."""
    cells = []
    for each in ("right", "wrong", "asked"):
        cells += [str(before.count(each)), str(after.count(each))]
    return f"| {what} | {len(before)} | " + " | ".join(cells) + " |"


def table(heard: list[Clip], before: list[str], after: list[str]) -> Iterator[str]:
    """Give the table: all clips, by condition, by kind of voice, and the names misheard before."""
    yield "| clips | n | right before | after | wrong before | after | asked before | after |"
    yield "|---|---|---|---|---|---|---|---|"
    misheard = {clip.name for clip, was in zip(heard, before, strict=True) if was != "right"}
    parts: dict[str, Callable[[Clip], bool]] = {"all": lambda _: True}
    parts["names misheard before"] = lambda clip: clip.name in misheard
    parts |= {
        condition: lambda clip, c=condition: clip.condition == c  # type: ignore[misc]
        for condition in CONDITIONS
    }
    for voice in sorted({clip.voice for clip in heard}):
        parts[voice] = lambda clip, v=voice: clip.voice == v  # type: ignore[misc]
    for what, belongs in parts.items():
        chosen = [at for at, clip in enumerate(heard) if belongs(clip)]
        yield row(what, [before[at] for at in chosen], [after[at] for at in chosen])


def main() -> None:
    """Rehearse, hear, and print."""
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--each", type=int, default=4, help="sayings per name and condition")
    arguments.add_argument("--threads", type=int, default=2, help="for the recogniser")
    given = arguments.parse_args()
    sheet = sheet_of(HARD)
    recogniser = EmbeddedRecogniser.load(given.threads)
    begun = time.monotonic()
    result = rehearse(sheet, find_voices(load_engine()), EmbeddedEars(recogniser), lambda *_: None)
    print(f"rehearsed {len(result.takes)} sayings in {time.monotonic() - begun:.0f} s")
    for entry in result.learnt:
        print(f"  {entry.name}: {entry.sounds} {entry.spelled}")
    voices = {name: voice for name, voice in VOICES["test"].items() if name in SPEAKING}
    heard = list(clips(sheet, voices, given.each))
    plain = build_grammar(sheet)
    before = outcomes(heard, recogniser, plain)
    after = outcomes(heard, recogniser, with_learned(plain, result.learnt))
    print("\n".join(table(heard, before, after)))
    changed = Counter(zip(before, after, strict=True))
    print(", ".join(f"{a} then {b}: {n}" for (a, b), n in sorted(changed.items())))
    for clip, was, now in zip(heard, before, after, strict=True):
        if was != now or now == "wrong":
            print(f"  {clip.name}, {clip.voice}, {clip.condition}: {was} then {now}")


if __name__ == "__main__":
    main()
