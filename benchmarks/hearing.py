"""How well the embedded recogniser hears: accepted right, accepted wrong, asked again, ignored.

    python -m benchmarks.hearing --part test --count 400
    python -m benchmarks.hearing --part tune --count 400 --evidence .cache/tune.jsonl

``benchmarks/report.py`` makes a page and a picture of the evidence.
"""

import argparse
import json
import resource
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.phrases import Phrase, foreign, grammar_for, phrases, talk
from benchmarks.report import Row, by_kind, table
from benchmarks.rooms import CONDITIONS, in_room
from benchmarks.speakers import RATE, VOICES
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.port import Heard, Outcome
from voicecount.sound.frame import Utterance
from voicecount.words.meaning import Meaning


def clip(  # noqa: PLR0917  (all of them say what sound it is)
    part: str, phrase: Phrase, voice: str, seed: int, condition: str, talkers: list[Any]
) -> Any:
    """Make the sound of one phrase in one condition; the same seed gives the same sound."""
    rng = np.random.default_rng(seed)
    pace = float(rng.uniform(0.85, 1.25))
    spoken = VOICES[part][voice](phrase.text + ".", pace)
    return in_room(spoken, condition, part, rng, talkers)


def judged(phrase: Phrase, heard: Heard) -> str:
    """Tell what became of a phrase."""
    if heard.outcome is Outcome.ACCEPTED:
        return "right" if heard.meaning == phrase.meaning else "wrong"
    return "asked" if heard.outcome is Outcome.UNSURE else "ignored"


def turns(said: list[Phrase], voices: list[str]) -> list[str]:
    """Let the voices take turns within each kind of phrase, so that every voice says every kind."""
    kinds = list(dict.fromkeys(phrase.kind for phrase in said))
    following = {kind: at for at, kind in enumerate(kinds)}
    speaking = []
    for phrase in said:
        speaking.append(voices[following[phrase.kind] % len(voices)])
        following[phrase.kind] += 1
    return speaking


OTHERS = ("babble", "leak")
"""Conditions in which other people speak."""


def others(part: str) -> list[Any]:
    """Give what other people in the room say: talk, and numbers too."""
    voices = list(VOICES[part].values())
    said = [phrase.text for phrase in talk(part)[:12]]
    said += [phrase.text for phrase in phrases(part, 12, 0) if phrase.kind != "command"]
    return [voices[at % len(voices)](text, 1.0) for at, text in enumerate(said)]


def run(part: str, count: int, seed: int, conditions: list[str]) -> list[Row]:
    """Hear every phrase in every condition."""
    recogniser = EmbeddedRecogniser.load()
    grammar = grammar_for(part)
    voices = list(VOICES[part])
    said = [*phrases(part, count, seed)]
    said += talk(part) * (2 if part == "tune" else 1) + foreign(part) * 2
    speaking = turns(said, voices)
    talkers = others(part) if any(name.startswith(OTHERS) for name in conditions) else []
    rows: list[Row] = []
    begun = time.monotonic()
    for condition in conditions:
        for at, phrase in enumerate(said):
            voice = speaking[at]
            sound = clip(part, phrase, voice, 1000 * seed + at, condition, talkers)
            heard, verdict = recogniser.explain(
                Utterance(0, 0.5, len(sound) / RATE - 0.5, sound, 0.0), grammar
            )
            rows.append(
                {
                    "condition": condition,
                    "voice": voice,
                    "kind": phrase.kind,
                    "said": phrase.text,
                    "heard": heard.text,
                    "result": judged(phrase, heard),
                    "exact": phrase.meaning is not None and heard.meaning == phrase.meaning,
                    "form": str(heard.meaning.form) if heard.meaning else None,
                    "margin": heard.margin,
                    "ratio": heard.ratio,
                    "reason": heard.reason,
                    "strain": verdict.strain if verdict else None,
                    "stray": verdict.stray if verdict else None,
                    "strays": verdict.strays if verdict else None,
                    "scores": [
                        (s.meaning == phrase.meaning, _shape(s.meaning), s.decoder, s.head)
                        for s in (verdict.scores if verdict else ())
                    ],
                    "own": [_shape(meaning) for meaning in (verdict.own if verdict else ())],
                    "written": verdict.written.text if verdict else None,
                    "seconds": len(sound) / RATE,
                    "ms": heard.latency_ms,
                }
            )
            if sys.stderr.isatty() or at % 100 == 99:
                print(
                    f"{condition}: {at + 1}/{len(said)}, {time.monotonic() - begun:.0f} s",
                    file=sys.stderr,
                    flush=True,
                )
    return rows


def _shape(meaning: Meaning) -> list[Any]:
    """Give what the decision looks at in a reading."""
    return [str(meaning.form), meaning.item or meaning.command, list(meaning.numbers)]


def speed(rows: list[Row]) -> str:
    """Give latency, real-time factor and memory in words."""
    short = [row["ms"] for row in rows if row["seconds"] <= 7.0]
    total = sum(row["ms"] for row in rows) / 1000 / sum(row["seconds"] for row in rows)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return (
        f"latency of utterances up to 6 s (7 s with the silence around): median "
        f"{np.median(short):.0f} ms, 95th percentile {np.percentile(short, 95):.0f} ms "
        f"(n = {len(short)}); real-time factor {total:.3f}; peak memory {memory:.0f} MB"
    )


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--part", choices=("tune", "test"), default="test")
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--conditions", default="quiet", help=f"'all' or some of {CONDITIONS}")
    parser.add_argument("--evidence", type=Path, help="where to write one line per clip")
    given = parser.parse_args()
    conditions = list(CONDITIONS) if given.conditions == "all" else given.conditions.split(",")
    rows = run(given.part, given.count, given.seed, conditions)
    if given.evidence:
        given.evidence.parent.mkdir(parents=True, exist_ok=True)
        given.evidence.write_text("".join(json.dumps(row) + "\n" for row in rows))
    print(table(rows), by_kind(rows), sep="\n\n", end="\n\n")
    print(speed(rows))
    for row in rows:
        if row["result"] == "wrong":
            print(
                f"wrong: {row['voice']}, {row['condition']}: said {row['said']!r}, "
                f"heard {row['heard']!r}, margin {row['margin']}, ratio {row['ratio']}"
            )


if __name__ == "__main__":
    main()
