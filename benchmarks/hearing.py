"""How well the embedded recogniser hears: accepted right, accepted wrong, asked again, ignored.

    python -m benchmarks.hearing --part test --conditions all
    python -m benchmarks.hearing --part tune --count 400 --evidence .cache/tune.jsonl --jobs 2

``benchmarks/report.py`` makes a page and pictures of the evidence. Clips whose times are to be
reported are heard by one job: several share the machine.
"""

import argparse
import resource
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.clips import Task, clip, need_talkers, others, plan, utterances
from benchmarks.figures import Row, by_kind, table
from benchmarks.phrases import Phrase, grammar_for
from benchmarks.rooms import conditions
from benchmarks.work import Work, rows_of
from voicecount.errors import VoicecountError
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.embedded.signs import signs
from voicecount.hear.port import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.sound.frame import RATE
from voicecount.words.meaning import Meaning

NOTHING = Heard(0, 0.0, 0.0, Outcome.IGNORED, None, "", reason=Reason.NO_SPEECH)
"""The answer to a clip in which no utterance was found."""


def judged(phrase: Phrase, heard: Heard) -> str:
    """Tell what became of a phrase."""
    if heard.outcome is Outcome.ACCEPTED:
        return "right" if heard.meaning == phrase.meaning else "wrong"
    return "asked" if heard.outcome is Outcome.UNSURE else "ignored"


def telling(phrase: Phrase, answers: Sequence[Heard]) -> int:
    """Give the place of the answer that counts, where a clip was cut into several utterances.

    A wrong acceptance counts before a right one, and that before a question.
    """
    order = ("wrong", "right", "asked", "ignored")
    return min(range(len(answers)), key=lambda at: order.index(judged(phrase, answers[at])))


def row_of(task: Task, heard: Heard, sound: Any) -> Row:
    """Write down what any recogniser made of a clip."""
    meaning = task.phrase.meaning
    return {
        "condition": task.condition,
        "voice": task.voice,
        "kind": task.phrase.kind,
        "said": task.phrase.text,
        "meant": shape(meaning) if meaning else None,
        "heard": heard.text,
        "result": judged(task.phrase, heard),
        "exact": meaning is not None and heard.meaning == meaning,
        "form": str(heard.meaning.form) if heard.meaning else None,
        "margin": heard.margin,
        "ratio": heard.ratio,
        "reason": heard.reason,
        "seconds": len(sound) / RATE,
        "ms": heard.latency_ms,
    }


def load(part: str, seed: int, talking: bool, whole_case: bool, threads: int) -> Work:
    """Load the recogniser; give what hears one clip."""
    recogniser = EmbeddedRecogniser.load(threads)
    grammar = grammar_for(part, whole_case=whole_case)
    talkers = others(part) if talking else []

    def hear(task: Task) -> list[Row]:
        sound = clip(part, task.phrase, task.voice, 1000 * seed + task.at, task.condition, talkers)
        answers = [recogniser.explain(heard, grammar) for heard in utterances(sound)]
        answers = answers or [(NOTHING, None)]
        heard, verdict = answers[telling(task.phrase, [answer for answer, _ in answers])]
        scores = verdict.scores if verdict else ()
        meaning = task.phrase.meaning
        return [
            row_of(task, heard, sound)
            | {
                "strain": verdict.strain if verdict else None,
                "stray": verdict.stray if verdict else None,
                "strays": verdict.strays if verdict else None,
                "scores": [
                    (s.meaning == meaning, shape(s.meaning), s.decoder, s.head) for s in scores
                ],
                "own": [shape(own) for own in (verdict.own if verdict else ())],
                "written": verdict.written.text if verdict else None,
                "p_wrong": heard.wrong,
                "signs": signs(verdict) if verdict else None,
            }
        ]

    return hear


def run(
    part: str,
    count: int,
    seed: int,
    names: list[str],
    *,
    jobs: int = 1,
    most_talk: int | None = None,
    evidence: Path | None = None,
    whole_case: bool = False,
) -> list[Row]:
    """Hear every phrase in every condition."""
    tasks = plan(part, count, seed, names, most_talk)
    return rows_of(load, (part, seed, need_talkers(names), whole_case), tasks, jobs, evidence)


def shape(meaning: Meaning) -> list[Any]:
    """Give what the decision looks at in a reading."""
    return [str(meaning.form), meaning.item or meaning.command, list(meaning.numbers)]


def speed(rows: list[Row]) -> str:
    """Give latency, real-time factor and memory in words."""
    short = [row["ms"] for row in rows if row["seconds"] <= 7.0] or [0.0]
    total = sum(row["ms"] for row in rows) / 1000 / sum(row["seconds"] for row in rows)
    whose = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    memory = max(resource.getrusage(who).ru_maxrss for who in whose) / 1024
    return (
        f"latency of utterances up to 6 s (7 s with the silence around): median "
        f"{np.median(short):.0f} ms, 95th percentile {np.percentile(short, 95):.0f} ms "
        f"(n = {len(short)}); real-time factor {total:.3f}; peak memory {memory:.0f} MB"
    )


def arguments(about: str | None) -> argparse.ArgumentParser:
    """Give the command line that every run over clips has."""
    parser = argparse.ArgumentParser(
        description=about, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--part", choices=("tune", "test"), default="test")
    parser.add_argument("--count", type=int, default=400, help="counts and commands (and a fifth)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--conditions", default="quiet", help="'all', 'wide', or such as 'quiet,pink 15 dB'"
    )
    parser.add_argument("--talk", type=int, help="sentences of each kind of talk; default: all")
    parser.add_argument("--jobs", type=int, default=1, help="processes, one thread each if several")
    parser.add_argument("--evidence", type=Path, help="where to write one line per clip")
    return parser


def main() -> None:
    """Run the command line."""
    parser = arguments(__doc__)
    parser.add_argument(
        "--whole-case", action="store_true", help="with the commands of a whole case as well"
    )
    given = parser.parse_args()
    names = conditions(given.conditions)
    rows = run(
        given.part,
        given.count,
        given.seed,
        names,
        jobs=given.jobs,
        most_talk=given.talk,
        evidence=given.evidence,
        whole_case=given.whole_case,
    )
    print(table(rows), by_kind(rows), sep="\n\n", end="\n\n")
    print(speed(rows))
    for row in rows:
        if row["result"] == "wrong":
            print(
                f"wrong: {row['voice']}, {row['condition']}: said {row['said']!r}, "
                f"heard {row['heard']!r}, margin {row['margin']}, ratio {row['ratio']}"
            )


if __name__ == "__main__":
    try:
        main()
    except VoicecountError as error:
        raise SystemExit(str(error)) from error
