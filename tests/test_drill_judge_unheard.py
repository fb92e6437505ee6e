"""Words not understood beside further packages and planted events: cases that random ones found."""

from dataclasses import dataclass, field, replace
from typing import Any

import pytest
from drill_rig import SHEET, attempt_of, drill_of, lines, perfect
from playing import sheet_of

from voicecount.drill.judge import judge
from voicecount.drill.judgement import Judgement, Result
from voicecount.hear.heard import Outcome
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet

PACKED = sheet_of(
    {"id": "gauze", "pack": 5},
    {"id": "lap", "say": ["lap sponge"], "pack": 4},
    {"id": "peanut"},
    {"id": "needle", "group": "sharps"},
)
CUT = {"kind": "interruption", "item": "lap", "after": 1, "says": "Please listen."}
MISREAD = {"kind": "misread", "item": "gauze", "number": 7, "says": "Please listen."}


@dataclass(frozen=True)
class Case:
    """A perfect attempt of which some utterances, by index, were not understood."""

    table: tuple[tuple[str, int], ...]
    unheard: tuple[int, ...]
    results: dict[str, Result]
    """Of the steps that are not simply right."""
    beat: float = 1.3
    """Above 1 s every number is an utterance of its own."""
    events: list[dict[str, Any]] = field(default_factory=list)
    sheet: Sheet = PACKED

    def judged(self) -> Judgement:
        """Play and judge."""
        drill = drill_of(*self.table, events=self.events)
        acts = perfect(drill, self.sheet)
        for line in lines(acts):
            line.beat = self.beat
        attempt = attempt_of(acts, self.sheet)
        sayings = list(attempt.sayings)
        for at in self.unheard:
            heard = replace(sayings[at].heard, outcome=Outcome.UNSURE, reason=Reason.WEAK_MATCH)
            sayings[at] = replace(sayings[at], heard=replace(heard, wrong=0.5))
        return judge(replace(attempt, sayings=tuple(sayings)), drill, self.sheet)


REST = (("peanut", 1), ("needle", 1))
CASES = {
    "the last number of a package": Case(
        (("gauze", 1), ("lap", 6)), (4,), {"lap": Result.NOT_HEARD}
    ),
    "a number inside a further package": Case(
        (("gauze", 1), ("lap", 7), *REST), (6,), {"lap.2": Result.NOT_HEARD}
    ),
    "a further package of an interrupted line": Case(
        (("lap", 6), *REST), (2,), {"lap.2": Result.NOT_HEARD}, 0.7, [CUT]
    ),
    "the line after a further package of an interrupted line": Case(
        (("lap", 6), *REST), (3,), {"peanut": Result.NOT_HEARD}, 0.7, [CUT]
    ),
    "an answer that a number of the next line only looks like": Case(
        (("gauze", 6), ("lap", 6), *REST),
        (1, 6, 7),
        {
            "gauze": Result.NOT_HEARD,
            "gauze.misread": Result.NOT_HEARD,
            "lap": Result.NOT_HEARD,
        },
        events=[MISREAD],
        sheet=SHEET,
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_it_is_held_against_nobody(name: str) -> None:
    """No finding; what became of each step is told."""
    case = CASES[name]
    found = case.judged()

    assert found.findings == ()
    told = {one.step: one.result for one in found.steps if one.result is not Result.RIGHT}
    assert told == case.results
