"""What is told of a drill: exact, kind, and never more than was judged."""

import re

import pytest
from drill_rig import SHEET, TABLE, attempt_of, drill_of, lines, perfect
from playing import sheet_of

from voicecount.drill.judge import judge
from voicecount.drill.judgement import ROW, Fault, Finding, Result, StepJudged
from voicecount.drill.model import Criterion
from voicecount.drill.summary import RANK, summary
from voicecount.drill.wording import told, told_step

NEEDLES = drill_of(("needle", 5))


@pytest.mark.parametrize(
    ("finding", "text"),
    [
        (
            Finding(Fault.SKIPPED, 0, 1, "needle", "needle", heard=(3,)),
            "Suture needles: three was left out after two.",
        ),
        (
            Finding(Fault.SKIPPED, 0, 1, "needle", "needle", heard=(3, 4)),
            "Suture needles: three and four were left out after two.",
        ),
        (
            Finding(Fault.SKIPPED, 0, 1, "needle", "needle", heard=(3, 4, 5)),
            "Suture needles: three to five were left out after two.",
        ),
        (
            Finding(Fault.REPEATED, 0, 1, "lap", "lap", heard=(2,)),
            "Lap sponges: two was said twice.",
        ),
        (
            Finding(Fault.BACKWARDS, 0, 1, "lap", "lap", heard=(4, 3)),
            "Lap sponges: three was said after four.",
        ),
        (
            Finding(Fault.TOO_FEW, 0, 1, "lap", "lap", heard=(5,), expected=6),
            "Lap sponges: called as five; six lie there.",
        ),
        (
            Finding(Fault.TOO_MANY, 0, 1, "lap", "lap", heard=(1,), expected=0),
            "Lap sponges: called as one; none lie there.",
        ),
        (
            Finding(Fault.WRONG_ORDER, 0, 1, "peanut", "peanut"),
            "Peanuts: called out of order; it comes after lap sponges.",
        ),
        (
            Finding(Fault.WRONG_ORDER, 0, 1, "gauze", "gauze"),
            "X-ray gauze: called out of order; it comes first.",
        ),
        (
            Finding(Fault.WRONG_GROUP, 0, 1, "loop", "loop"),
            (
                "Vessel loops: the whole group, miscellaneous, was called out of order;"
                " it comes after number ten blades."
            ),
        ),
        (
            Finding(Fault.MISSED_ITEM, 0, 1, "lap", "lap", expected=6),
            "Lap sponges: this line was not called.",
        ),
        (
            Finding(Fault.MISSED_ITEM, 0, 1, "lap", "lap", heard=(6,), expected=6),
            "Lap sponges: a run to six was heard here, without the name.",
        ),
        (
            Finding(Fault.MISSED_ITEM, 0, 1, "lap.2", "lap", expected=6),
            "Lap sponges: package two was not called.",
        ),
        (
            Finding(Fault.LONG_PAUSE, 0, 1, "lap", "lap", "field", value=2.54),
            "Lap sponges on the field: a pause of 2.5 seconds inside the line.",
        ),
        (
            Finding(Fault.CONFIRMED_WRONG, 0, 1, "lap", "lap", heard=(15,), expected=14),
            "Lap sponges: confirmed with fifteen; fourteen was called.",
        ),
        (
            Finding(Fault.CONFIRMED_WRONG, 0, 1, "lap", "lap", heard=(6,), expected=6),
            "Lap sponges: confirmed with the name of another line.",
        ),
        (
            Finding(Fault.OTHER_NAME, 0, 1, "lap", "lap", words="laps"),
            "Lap sponges: “laps” was said; the sheet's first name is lap sponges.",
        ),
    ],
)
def test_a_finding_is_told(finding: Finding, text: str) -> None:
    """A finding is one plain sentence with the words of the sheet."""
    assert told(finding, TABLE, SHEET) == text


@pytest.mark.parametrize("fault", Fault)
@pytest.mark.parametrize("item", [None, "lap", "gone"])
def test_every_fault_has_a_sentence(fault: Fault, item: str | None) -> None:
    """Whatever a finding lacks, it is told in one sentence, and never that a count is safe."""
    text = told(Finding(fault, 0, 1, item, item), TABLE, SHEET)

    assert re.fullmatch(r"[A-Z][^.]*(\.\d[^.]*)?\.", text), text
    assert not re.search(r"\b(safe|correct|complete|close|patient)\b", text)


@pytest.mark.parametrize("result", Result)
def test_every_step_has_a_sentence(result: Result) -> None:
    """What became of a step is told for every kind of step."""
    packs = sheet_of({"id": "gauze", "pack": 5})
    drill = drill_of(("gauze", 10), partner=True)
    text = told_step(StepJudged("gauze.2", result), drill, packs)
    assert text.startswith("Gauze, package two: the call ")
    assert told_step(StepJudged("gone", result), drill, packs) == ("Gone: not part of this drill.")


def test_every_row_has_a_rank() -> None:
    """Every row of the rubric has its place in what to do next."""
    assert sorted(RANK) == sorted(Criterion)
    assert set(ROW) == set(Fault)


def test_a_perfect_attempt_is_praised() -> None:
    """Without a finding the summary only praises."""
    found = judge(attempt_of(perfect(TABLE, SHEET), SHEET), TABLE, SHEET)
    assert summary(found, TABLE, SHEET) == "Well done: every line was called. Try the next drill."


def test_the_gravest_is_next() -> None:
    """What went well, then the one thing that matters most, then what to do."""
    acts = perfect(TABLE, SHEET)
    called = lines(acts)
    called[0].beat = 0.4
    called[6].numbers.remove(3)
    found = judge(attempt_of(acts, SHEET), TABLE, SHEET)
    assert len(found.findings) == 2

    assert summary(found, TABLE, SHEET) == (
        "Good: every line was called. Curved clamps: three was left out after two."
        " Next time, count one by one, from one, each number once."
    )


def test_too_much_was_not_heard() -> None:
    """Where too much was not heard nobody is judged: the microphone is to be nearer."""
    acts = perfect(TABLE, SHEET)
    for line in lines(acts)[:4]:
        line.heard = False
    found = judge(attempt_of(acts, SHEET), TABLE, SHEET)

    assert [one.result for one in found.steps].count(Result.NOT_HEARD) == 4
    assert "move closer" in summary(found, TABLE, SHEET)


def test_a_little_was_not_heard() -> None:
    """Where a little was not heard this is told."""
    acts = perfect(TABLE, SHEET)
    lines(acts)[2].heard = False
    found = judge(attempt_of(acts, SHEET), TABLE, SHEET)
    assert summary(found, TABLE, SHEET).endswith("A part was not heard: speak up.")


def test_nothing_was_said() -> None:
    """Silence is no praise; neither is talk."""
    silent = judge(attempt_of([], SHEET), TABLE, SHEET)
    assert summary(silent, TABLE, SHEET) == (
        "Nothing of this drill was heard. Next time, begin with the first line."
    )
