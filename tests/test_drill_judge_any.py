"""Any plan, any fault: a perfect attempt has no finding, one planted fault is found and only it."""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import pytest
from drill_rig import SHEET, Act, Answer, Line, attempt_of, drill_of, kinds, lines, perfect
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from playing import sheet_of

from voicecount.drill.attempt import Attempt, Said, Saying
from voicecount.drill.judge import judge
from voicecount.drill.judgement import Fault, Judgement, Result
from voicecount.drill.model import Drill
from voicecount.drill.steps import steps
from voicecount.drill.summary import summary
from voicecount.drill.wording import told
from voicecount.hear.heard import Heard, Outcome, Rival, Word
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet
from voicecount.words.meaning import Form, Meaning
from voicecount.words.soundalike import twins

QUICK = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.filter_too_much]
)
PACKED = sheet_of(
    {"id": "gauze", "pack": 5},
    {"id": "lap", "say": ["lap sponge", "lap"], "pack": 4},
    {"id": "peanut"},
    {"id": "needle", "say": ["suture needle"], "group": "sharps", "stated": True},
    {"id": "blade", "say": ["number ten blade"], "group": "sharps"},
    {"id": "loop", "say": ["vessel loop"], "group": "miscellaneous"},
    {"id": "clamp", "say": ["curved clamp"], "group": "instruments"},
)
SHEETS = (SHEET, PACKED)


@dataclass(frozen=True)
class Case:
    """A drill, its sheet, and the pace of the student."""

    drill: Drill
    sheet: Sheet
    beat: float

    def acts(self) -> list[Act]:
        """Give a perfect attempt."""
        acts = perfect(self.drill, self.sheet)
        for line in lines(acts):
            line.beat = self.beat
        return acts

    def judged(self, acts: list[Act]) -> Judgement:
        """Play and judge."""
        return judge(attempt_of(acts, self.sheet), self.drill, self.sheet)


def events_for(draw: st.DrawFn, item: str, number: int) -> list[dict[str, Any]]:
    """Draw what is planted at a line."""
    kind = draw(st.sampled_from(["none"] * 4 + ["interruption", "misread", "dropped"]))
    event: dict[str, Any] = {"kind": kind, "item": item, "says": "Please listen."}
    if kind == "interruption" and number > 2:
        return [{**event, "after": draw(st.integers(1, min(number, 4) - 1))}]
    if kind == "misread":
        return [{**event, "number": number + 1}]
    return [event] if kind == "dropped" else []


@st.composite
def cases(draw: st.DrawFn, task: str = "first_count", events: bool = True) -> Case:
    """Draw a drill of a sheet, with two lines or more in the order of the sheet."""
    sheet = draw(st.sampled_from(SHEETS))
    items = [item.id for item in sheet.items]
    chosen = draw(st.sets(st.sampled_from(items), min_size=2).map(sorted))
    table = [
        (item, draw(st.integers(0 if task == "confirm" else 1, 12)))
        for item in items
        if item in chosen
    ]
    planted = []
    if events and task == "first_count":
        planted = [event for row in table for event in events_for(draw, *row)]
    partner = draw(st.booleans()) or task == "confirm"
    drill = drill_of(*table, events=planted, partner=partner, task=task)
    return Case(drill, sheet, draw(st.sampled_from([0.7, 0.9, 1.3])))


def target(case: Case, data: st.DataObject, least: int = 2) -> tuple[list[Act], Line]:
    """Give a perfect attempt and one of its whole lines with enough numbers."""
    acts = case.acts()
    own = [line for line in lines(acts) if len(line.numbers) >= least]
    own = [line for line in own if line.numbers[-1] == line.step.number]
    own = [line for line in own if line.step.planted is None]
    assume(own)
    return acts, data.draw(st.sampled_from(own))


@pytest.mark.parametrize("task", ["first_count", "confirm"])
@QUICK
@given(st.data())
def test_a_perfect_attempt_of_any_plan(task: str, data: st.DataObject) -> None:
    """A perfect attempt has no finding, a score of 1, and every step right."""
    case = data.draw(cases(task))

    found = case.judged(case.acts())

    assert kinds(found) == []
    assert found.score == 1.0
    assert {one.result for one in found.steps} == {Result.RIGHT}
    assert "Well done" in summary(found, case.drill, case.sheet)


FAULTS = ("skip", "repeat", "back", "not_from_one", "few", "many", "pause", "quiet", "slow", "fast")


@pytest.mark.parametrize("fault", FAULTS)
@QUICK
@given(st.data())
def test_any_fault_of_a_run(fault: str, data: st.DataObject) -> None:
    """Any number left out, said twice or out of order is found, exactly and alone."""
    case = data.draw(cases(events=data.draw(st.booleans())))
    acts, line = target(case, data, 4)
    many = line.step.number
    stated = line.step.may_be_stated
    expected: Fault
    if fault == "skip":
        line.numbers.remove(data.draw(st.integers(2, many - 1)))
        expected = Fault.SKIPPED
    elif fault == "repeat":
        twice = data.draw(st.integers(1, many - 1))
        line.numbers.insert(twice, twice)
        expected = Fault.REPEATED
    elif fault == "back":
        at = data.draw(st.integers(3, many - 1))
        assume(case.beat < 1.0 or not twins(at - 1))  # "five" alone after six: it may be "nine"
        line.numbers[at:at] = list(range(at - 1, at + 1))
        expected = Fault.BACKWARDS
    elif fault == "not_from_one":
        del line.numbers[0]
        expected = Fault.NOT_FROM_ONE
    elif fault == "few":
        line.numbers.pop()
        expected = Fault.TOO_FEW
    elif fault == "many":
        line.numbers.append(many + 1)
        expected = Fault.TOO_MANY
    elif fault == "pause":
        line.pauses = {data.draw(st.integers(1, many - 1)): 2.5}
        expected = Fault.LONG_PAUSE
    elif fault == "quiet":
        line.loud, line.above = -45.0, 5.0
        expected = Fault.TOO_QUIET
    else:
        line.beat = 2.3 if fault == "slow" else 0.45
        expected = Fault.TOO_SLOW if fault == "slow" else Fault.TOO_FAST
    assert not stated or many > 1

    found = case.judged(acts)

    assert kinds(found) == [(expected, line.step.id)]
    assert found.score is not None
    assert found.score < 1
    assert told(found.findings[0], case.drill, case.sheet)


@QUICK
@given(st.data())
def test_any_missed_line(data: st.DataObject) -> None:
    """Any line left out is found, exactly and alone; not heard, it is not held against anybody."""
    case = data.draw(cases(events=False))
    acts = case.acts()
    gone = data.draw(st.sampled_from(sorted({line.step.item for line in lines(acts)})))
    rest = [act for act in acts if isinstance(act, Answer) or _item(act) != gone]
    if not lines(rest):
        return

    assert kinds(case.judged(rest)) == [(Fault.MISSED_ITEM, gone)]

    for line in lines(acts):
        if line.step.item == gone:
            line.heard = False
            if line.step.package not in {None, 1}:
                line.before = case.sheet.item(gone).name(2)
    found = case.judged(acts)
    assert kinds(found) == []
    assert Result.NOT_HEARD in {one.result for one in found.steps}
    assert found.not_heard


def _item(act: Act) -> str:
    return act.step.item if isinstance(act, Line) else act.id.split(".")[0]  # type: ignore[union-attr]


@QUICK
@given(st.data())
def test_any_two_neighbours_that_changed_places(data: st.DataObject) -> None:
    """Two neighbouring lines of a group, or two groups, that changed places are one finding."""
    case = data.draw(cases(events=False))
    rows = [(row.item, case.sheet.item(row.item).group) for row in case.drill.table]
    groups = list(dict.fromkeys(group for _, group in rows))
    by_item = {item: [one for one in case.acts() if _item(one) == item] for item, _ in rows}
    pairs = [(a, b) for (a, one), (b, two) in pairwise(rows) if one is two]
    if pairs:
        first, second = data.draw(st.sampled_from(pairs))
        order = [{first: second, second: first}.get(item, item) for item, _ in rows]
        found = case.judged([act for item in order for act in by_item[item]])
        assert kinds(found) == [(Fault.WRONG_ORDER, second)]
    if len(groups) > 1:
        at = data.draw(st.integers(0, len(groups) - 2))
        swapped = [*groups[:at], groups[at + 1], groups[at], *groups[at + 2 :]]
        order = [item for group in swapped for item, own in rows if own is group]
        found = case.judged([act for item in order for act in by_item[item]])
        assert [one.fault for one in found.findings] == [Fault.WRONG_GROUP]


@QUICK
@given(st.data())
def test_anything_not_heard_is_held_against_nobody(data: st.DataObject) -> None:
    """However many utterances were not understood, a perfect attempt has no fault but missing."""
    case = data.draw(cases(data.draw(st.sampled_from(["first_count", "confirm"]))))
    attempt = attempt_of(case.acts(), case.sheet)
    sayings = list(attempt.sayings)
    for at in data.draw(st.sets(st.integers(0, len(sayings) - 1), max_size=3)):
        heard = replace(sayings[at].heard, outcome=Outcome.UNSURE, reason=Reason.WEAK_MATCH)
        sayings[at] = replace(sayings[at], heard=replace(heard, wrong=0.5))

    found = judge(replace(attempt, sayings=tuple(sayings)), case.drill, case.sheet)

    assert kinds(found) == []


@QUICK
@given(st.data())
def test_the_order_of_equal_things_does_not_matter(data: st.DataObject) -> None:
    """Sayings and cues in any order in the attempt are judged the same."""
    case = data.draw(cases())
    attempt = attempt_of(case.acts(), case.sheet)
    mixed = replace(
        attempt,
        sayings=tuple(data.draw(st.permutations(attempt.sayings))),
        said=tuple(data.draw(st.permutations(attempt.said))),
    )

    assert judge(mixed, case.drill, case.sheet) == judge(attempt, case.drill, case.sheet)


ITEMS = st.sampled_from([None, "gauze", "lap", "needle", "loop", "clamp"])
MEANINGS = st.one_of(
    st.none(),
    st.builds(
        Meaning,
        st.sampled_from([Form.RUN, Form.NUMBER_FIRST, Form.TOTAL]),
        ITEMS,
        st.lists(st.integers(0, 199), min_size=1, max_size=6).map(tuple),
        st.sampled_from([None, 2]),
        place=st.sampled_from([None, "field", "mayo"]),
    ),
    st.builds(Meaning, st.just(Form.NAME), st.sampled_from(["gauze", "lap", "clamp"])),
    st.builds(Meaning, st.just(Form.NONE), ITEMS, st.just((0,))),
    st.builds(Meaning, st.just(Form.PLACE), place=st.sampled_from(["field", "mayo"])),
    st.builds(
        Meaning,
        st.just(Form.COMMAND),
        command=st.sampled_from(["yes", "no", "start_over", "dropped", "finish"]),
    ),
)


RIVALS = st.lists(
    st.builds(
        Rival, MEANINGS.filter(lambda one: one is not None), st.sampled_from([0.1, 4.0, 8.0])
    ),
    max_size=2,
).map(lambda found: tuple(sorted(found, key=lambda one: one.behind)))


@st.composite
def anything(draw: st.DrawFn, cues: list[str]) -> Attempt:
    """Draw an attempt in which anything is said at any time."""
    sayings = []
    for _ in range(draw(st.integers(0, 12))):
        start = draw(st.floats(0, 80))
        end = start + draw(st.floats(0, 6))
        meaning = draw(MEANINGS)
        outcome = draw(st.sampled_from(Outcome)) if meaning else Outcome.UNSURE
        text = draw(st.sampled_from(["", "gauze one two", "one hundred and five", "lap none"]))
        words = tuple(Word(word, start, end) for word in text.split())
        reason = None if outcome is Outcome.ACCEPTED else draw(st.sampled_from(Reason))
        heard = Heard(
            *(0, start, end, outcome, meaning, text),
            words=draw(st.sampled_from([None, words])),
            wrong=draw(st.sampled_from([None, 0.0, 0.01, 0.5])),
            reason=reason,
            rivals=draw(RIVALS) if meaning else (),
        )
        level = draw(st.sampled_from([-20.0, -60.0, float("-inf")]))
        sayings.append(Saying(heard, level, level + 60))
    said = [
        Said(draw(st.sampled_from([*cues, "else"])), "words", start, start + 2)
        for start in draw(st.lists(st.floats(0, 80), max_size=6))
    ]
    return Attempt(
        draw(st.floats(0, 90)), tuple(sayings), tuple(said), draw(st.booleans()), None, ""
    )


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_anything_can_be_judged(data: st.DataObject) -> None:
    """Whatever was said, the judge answers; moments lie in the recording, marks are sound."""
    case = data.draw(cases(data.draw(st.sampled_from(["first_count", "confirm"]))))
    plan = steps(case.drill, case.sheet)
    attempt = data.draw(anything([cue.id for step in plan for cue in step.cues]))

    found = judge(attempt, case.drill, case.sheet)

    assert [one.step for one in found.steps] == [step.id for step in plan]
    for one in found.findings:
        assert 0 <= one.start <= one.end <= attempt.seconds
        assert told(one, case.drill, case.sheet).endswith(".")
    for step in found.steps:
        if step.start is not None and step.end is not None:
            assert 0 <= step.start <= step.end <= attempt.seconds
    assert list(found.findings) == sorted(found.findings, key=lambda one: one.start)
    assert all(0 <= mark.right <= mark.of for mark in found.marks)
    assert found.score is None or 0 <= found.score <= 1
    assert summary(found, case.drill, case.sheet).endswith(".")
