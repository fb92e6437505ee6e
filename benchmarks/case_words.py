"""How well the words of a whole case are heard: commands, places, answers to questions, "none".

    python -m benchmarks.case_words --part test --conditions "quiet,pink 15 dB"

Each phrase is said by two voices and heard with the grammar of a moment at which it can be said.
"""

import argparse
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from benchmarks.clips import Task, clip, utterances
from benchmarks.figures import RESULTS, rate
from benchmarks.hearing import NOTHING, judged, telling
from benchmarks.phrases import Phrase
from benchmarks.speakers import VOICES
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.sheet.vocabularies import begin_commands
from voicecount.talk.blanks import BLANKS, answers
from voicecount.words.commands import CASE_COMMANDS, COMMANDS
from voicecount.words.grammar import build_grammar, parse
from voicecount.words.numbers import words_of
from voicecount.words.places import BY_ID
from voicecount.words.vocabulary import Vocabulary

SHEET = Path(__file__).parent.parent / "grammars" / "caesarean_case.yaml"
_RUNS = ("one", "one, two", "one, two, three, four", "none")


def moments(sheet: Sheet) -> Iterator[tuple[str, str, Vocabulary]]:
    """Give a kind, the words, and the vocabulary of a moment in which they can be said."""
    begins = begin_commands(sheet.plan)
    commands = (*(one for one in COMMANDS if one.id != "no"), *CASE_COMMANDS, *begins)
    places = tuple(BY_ID[place] for place in sheet.policy.places)
    in_count = Vocabulary(commands, places)
    for command in (*CASE_COMMANDS, *begins):
        for phrase in command.phrases:
            yield "command", phrase, in_count
    for place in places:
        for phrase in place.phrases:
            for run in _RUNS:
                yield "place", f"{phrase}, {run}", in_count
                yield "name and place", f"{sheet.items[0].name(2)} {phrase}, {run}", in_count
    yield "place", "none", in_count
    seen: set[str] = set()
    for form, blank in BLANKS.items():
        for slot in blank.slots:
            allowed = answers(sheet, form, slot)
            for phrase in (phrase for choice in allowed for phrase in choice.phrases):
                if phrase not in seen:
                    seen.add(phrase)
                    yield "answer", phrase, Vocabulary(commands, (), allowed)


def main() -> None:
    """Say, hear, and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--part", choices=("tune", "test"), default="tune")
    parser.add_argument("--conditions", default="quiet,pink 15 dB")
    parser.add_argument("--voices", type=int, default=2, help="voices a phrase")
    parser.add_argument("--speakers", help="only these voices, with commas between them")
    parser.add_argument("--seed", type=int, default=3)
    given = parser.parse_args()
    sheet = load_sheet(SHEET)
    recogniser = EmbeddedRecogniser.load()
    voices = list(VOICES[given.part]) if given.speakers is None else given.speakers.split(",")
    results: Counter[tuple[str, str, str]] = Counter()
    for condition in given.conditions.split(","):
        for at, (kind, text, vocabulary) in enumerate(moments(sheet)):
            grammar = build_grammar(sheet, vocabulary)
            ((meaning, _),) = parse(words_of(text), grammar)
            for turn in range(given.voices):
                voice = voices[(given.voices * at + turn) % len(voices)]
                task = Task(condition, at, Phrase(text, meaning, kind), voice)
                seed = 1000 * given.seed + at
                sound = clip(given.part, task.phrase, voice, seed, condition, [])
                heard = [recogniser.hear(one, grammar) for one in utterances(sound)] or [NOTHING]
                one = heard[telling(task.phrase, heard)]
                result = judged(task.phrase, one)
                results[condition, kind, result] += 1
                if result != "right":
                    reason = "" if one.reason is None else one.reason.value
                    print(f"{condition}: {text!r} by {voice}: {result} {one.text!r} {reason}")
    print("\n| condition | kind | said | right | wrong | asked | ignored |")
    print("|---|---|--:|--:|--:|--:|--:|")
    for condition in given.conditions.split(","):
        for kind in ("command", "place", "name and place", "answer"):
            row = {what: results[condition, kind, what] for what in RESULTS}
            n = sum(row.values())
            cells = " | ".join(str(row[what]) for what in RESULTS[1:])
            print(f"| {condition} | {kind} | {n} | {rate(row['right'], n)} | {cells} |")


if __name__ == "__main__":
    main()
