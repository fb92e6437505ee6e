"""Attempts at a drill in typed words with times: what is said, cut into utterances at silences."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

from playing import sheet_of

from voicecount.drill.attempt import Attempt, Said, Saying
from voicecount.drill.judgement import Fault, Judgement, Result
from voicecount.drill.model import Drill
from voicecount.drill.steps import Step, StepKind, When, steps
from voicecount.hear.heard import Heard, Outcome, Word
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet
from voicecount.words.commands import BY_ID as COMMAND
from voicecount.words.commands import CASE_COMMANDS, COMMANDS
from voicecount.words.grammar import build_grammar, parse
from voicecount.words.graph import Grammar
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import in_words, words_of
from voicecount.words.places import BY_ID as PLACE
from voicecount.words.places import PLACES
from voicecount.words.soundalike import twins
from voicecount.words.vocabulary import Vocabulary

SILENCE = 0.8
"""Seconds of silence that end an utterance."""
BEAT = 0.9
"""Seconds from number to number; 67 a minute."""


def drill_of(*table: tuple[str, int] | tuple[str, int, str], **more: Any) -> Drill:
    """Make a drill of a table of items with their numbers, and places."""
    rows = [
        {"item": row[0], "number": row[1], **({"place": row[2]} if len(row) > 2 else {})}
        for row in table
    ]
    fields = {"title": "A drill", "level": 1, "task": "first_count", "sheet": "sheet.yaml"}
    fields |= {"about": "A table.", "goal": "To count.", "partner": False, **more}
    return Drill.model_validate({**fields, "table": rows})


@lru_cache(maxsize=8)
def grammar_of(sheet: Sheet) -> Grammar:
    """Build the grammar in which everything can be said."""
    return build_grammar(sheet, Vocabulary((*COMMANDS, *CASE_COMMANDS), PLACES))


@dataclass
class Line:
    """A line as it is called: words before the numbers, and the numbers."""

    step: Step
    before: str
    numbers: list[int]
    beat: float = BEAT
    pauses: dict[int, float] = field(default_factory=dict)
    """Seconds more before the number with this index."""
    loud: float = -20.0
    above: float = 30.0
    heard: bool = True
    cut: tuple[int, ...] = ()
    """Before the numbers with these indexes the partner's ``cue`` is said."""


@dataclass
class Cue:
    """Something that the partner says."""

    id: str
    words: str
    missing: bool = False


@dataclass
class Answer:
    """A command or a number, said some seconds after what came before."""

    step: Step
    text: str
    wait: float = 1.0
    heard: bool = True


Act = Line | Cue | Answer


def name_of(step: Step, sheet: Sheet, number: int | None = None) -> str:
    """Give the words before the numbers of a line."""
    place = "" if step.place is None else f" {PLACE[step.place].phrases[0]}"
    return f"{sheet.item(step.item).name(2 if number is None else number)}{place}"


def perfect(drill: Drill, sheet: Sheet) -> list[Act]:
    """Give what a student without a fault and the partner say, one after another."""
    acts: list[Act] = []
    for step in steps(drill, sheet):
        begins = [cue for cue in step.cues if cue.when is When.STEP_BEGINS]
        acts += [Cue(cue.id, cue.words) for cue in begins]
        if step.kind is StepKind.CALL:
            run = list(range(1, step.number + 1)) or [0]
            name = "" if (step.package or 1) > 1 else name_of(step, sheet)
            for cue in step.cues:
                if cue.when is When.NUMBER_SAID:
                    acts += [Line(step, name, run[: cue.number]), Cue(cue.id, cue.words)]
            acts.append(Line(step, name, run))
            done = [cue for cue in step.cues if cue.when is When.STEP_DONE]
            acts += [Cue(cue.id, cue.words) for cue in done]
        elif step.kind is StepKind.CONFIRM:
            acts.append(Answer(step, in_words(step.number) if step.number else "none"))
        else:
            acts.append(Answer(step, COMMAND[step.expect[0]].phrases[0]))
    return acts


def lines(acts: Iterable[Act]) -> list[Line]:
    """Give the calls among some acts."""
    return [act for act in acts if isinstance(act, Line)]


class Player:
    """Says acts in time."""

    def __init__(self, sheet: Sheet) -> None:
        self.grammar = grammar_of(sheet)
        self.now = 1.0
        self.sayings: list[Saying] = []
        self.said: list[Said] = []

    def play(self, acts: Iterable[Act]) -> None:
        """Say all."""
        for act in acts:
            if isinstance(act, Cue):
                if not act.missing:
                    self.cue(act)
            elif isinstance(act, Answer):
                self.now += act.wait
                self.utter(self.words(act.text), heard=act.heard)
            else:
                self.line(act)

    def cue(self, cue: Cue) -> None:
        """Say the partner's words, a quarter of a second after what came before."""
        start = self.now + 0.25
        end = start + 0.3 * len(cue.words.split())
        self.said.append(Said(cue.id, cue.words, round(start, 3), round(end, 3)))
        self.now = end

    def words(self, text: str) -> list[Word]:
        """Say words one after another."""
        found = []
        for word in words_of(text):
            found.append(Word(word, round(self.now, 3), round(self.now + 0.25, 3)))
            self.now += 0.3
        return found

    def line(self, line: Line) -> None:
        """Say a line, cut where it is silent for long."""
        self.now += 1.0
        said = self.words(line.before)
        onset = self.now + 0.2
        for at, number in enumerate(line.numbers):
            onset += line.pauses.get(at, 0.0)
            parts = words_of("none" if number == 0 else in_words(number))
            share = min(0.3, 0.8 * line.beat / len(parts))
            for each, word in enumerate(parts):
                start = onset + each * share
                said.append(Word(word, round(start, 3), round(start + 0.9 * share, 3)))
            onset += line.beat
        part: list[Word] = []
        for one, two in pairwise([*said, None]):
            part.append(one)  # type: ignore[arg-type]
            if two is None or two.start - one.end >= SILENCE:  # type: ignore[union-attr]
                self.utter(part, line)
                part = []
        self.now = said[-1].end + 0.1

    def utter(self, words: Sequence[Word], line: Line | None = None, *, heard: bool = True) -> None:
        """Say one utterance, as a careful recogniser hears it."""
        text = " ".join(word.text for word in words)
        readings = parse(words_of(text), self.grammar)
        assert readings, text
        meaning = readings[0][0]
        reason = _asked(meaning)
        outcome, wrong = (Outcome.ACCEPTED if reason is None else Outcome.UNSURE), 0.001
        if not (heard if line is None else line.heard):
            outcome, reason, wrong = Outcome.UNSURE, Reason.CLOSE_CALL, 0.3
        one = Heard(
            0,
            words[0].start,
            words[-1].end,
            outcome,
            meaning,
            text,
            tuple(words),
            wrong=wrong,
            reason=reason,
        )
        loud, above = (-20.0, 30.0) if line is None else (line.loud, line.above)
        self.sayings.append(Saying(one, loud, above))


def _asked(meaning: Meaning) -> Reason | None:
    """Tell why a reading is asked about however sure it is."""
    numbers = meaning.numbers
    if meaning.form is Form.NAME:
        return Reason.NO_NUMBER
    bare = meaning.item is None and meaning.form is Form.RUN
    if bare and any(two not in {one, one + 1, one + 2} for one, two in pairwise(numbers)):
        return Reason.UNCLEAR_NAME
    if bare and len(numbers) == 1 and twins(numbers[0]):
        return Reason.SOUND_ALIKE
    return None


def attempt_of(acts: Iterable[Act], sheet: Sheet, *, cues_known: bool = True) -> Attempt:
    """Play acts to an attempt, with ten seconds of silence after them."""
    player = Player(sheet)
    player.play(acts)
    said = tuple(player.said) if cues_known else ()
    return Attempt(
        round(player.now + 10, 3), tuple(player.sayings), said, cues_known, -60.0, "typed"
    )


SHEET = sheet_of(
    {"id": "gauze", "say": ["X-ray gauze", "gauze"]},
    {"id": "lap", "say": ["lap sponge", "lap"]},
    {"id": "peanut", "say": ["peanut"]},
    {"id": "needle", "say": ["suture needle"], "group": "sharps", "stated": True},
    {"id": "blade", "say": ["number ten blade"], "group": "sharps"},
    {"id": "loop", "say": ["vessel loop"], "group": "miscellaneous"},
    {"id": "clamp", "say": ["curved clamp"], "group": "instruments"},
    {"id": "forceps", "say": ["tissue forceps"], "group": "instruments"},
)
"""Eight lines in four groups; invented."""

TABLE = drill_of(
    *(("gauze", 5), ("lap", 6), ("peanut", 4), ("needle", 5), ("blade", 2)),
    *(("loop", 3), ("clamp", 7), ("forceps", 2)),
)


def changed(attempt: Attempt, at: int, change: Callable[[Heard], Heard]) -> Attempt:
    """Change what was heard in one saying."""
    sayings = list(attempt.sayings)
    sayings[at] = replace(sayings[at], heard=change(sayings[at].heard))
    return replace(attempt, sayings=tuple(sayings))


def kinds(found: Judgement) -> list[tuple[Fault, str | None]]:
    """Give kinds and steps of the findings."""
    return [(one.fault, one.step) for one in found.findings]


def results(found: Judgement) -> dict[str, Result]:
    """Give what became of each step."""
    return {one.step: one.result for one in found.steps}
