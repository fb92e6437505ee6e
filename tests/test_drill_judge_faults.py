"""Each fault that is planted in a perfect attempt is found where it is, and nothing else is."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from drill_rig import (
    SHEET,
    TABLE,
    Act,
    Answer,
    Cue,
    Line,
    attempt_of,
    drill_of,
    kinds,
    lines,
    perfect,
)
from playing import sheet_of

from voicecount.drill.judge import judge
from voicecount.drill.judgement import Fault, Finding, Judgement, Result
from voicecount.drill.model import Criterion, Drill
from voicecount.sheet.model import Sheet


def judged(acts: list[Act], drill: Drill = TABLE, sheet: Sheet = SHEET) -> Judgement:
    """Play and judge."""
    return judge(attempt_of(acts, sheet), drill, sheet)


def only(found: Judgement) -> Finding:
    """Give the one finding that there is."""
    assert len(found.findings) == 1, found.findings
    return found.findings[0]


def line(acts: list[Act], step: str) -> Line:
    """Give the last call of a step."""
    return [one for one in lines(acts) if one.step.id == step][-1]


def test_a_perfect_attempt_has_no_finding() -> None:
    """Everything right: no finding, and a score of 1."""
    found = judged(perfect(TABLE, SHEET))

    assert found.findings == ()
    assert found.score == 1.0
    assert {one.result for one in found.steps} == {Result.RIGHT}
    assert [one.value for one in found.steps[0].numbers] == [1, 2, 3, 4, 5]
    assert found.measured.numbers_per_minute == pytest.approx(60 / 0.9, rel=0.01)


@pytest.mark.parametrize(
    ("numbers", "fault", "heard"),
    [
        ([1, 2, 3, 5, 6, 7], Fault.SKIPPED, (4,)),
        ([1, 2, 5, 6, 7], Fault.SKIPPED, (3, 4)),
        ([1, 2, 3, 3, 4, 5, 6, 7], Fault.REPEATED, (3,)),
        ([1, 1, 2, 3, 4, 5, 6, 7], Fault.REPEATED, (1,)),
        ([1, 2, 3, 4, 5, 6, 7, 7], Fault.REPEATED, (7,)),
        ([1, 2, 3, 4, 3, 4, 5, 6, 7], Fault.BACKWARDS, (4, 3)),
        ([1, 2, 4, 3, 5, 6, 7], Fault.BACKWARDS, (4, 3)),
        ([1, 2, 3, 4, 5, 2, 6, 7], Fault.BACKWARDS, (5, 2)),
        ([2, 3, 4, 5, 6, 7], Fault.NOT_FROM_ONE, (2,)),
        ([1, 2, 3, 4, 5, 6], Fault.TOO_FEW, (6,)),
        ([1, 2, 3, 4, 5, 6, 7, 8], Fault.TOO_MANY, (8,)),
        ([7], Fault.STATED, (7,)),
        ([1, 2, 3, 1, 2, 3, 4, 5, 6, 7], Fault.FALSE_START, (3,)),
    ],
)
@pytest.mark.parametrize("beat", [0.9, 1.5])
def test_a_fault_of_a_run(
    numbers: list[int], fault: Fault, heard: tuple[int, ...], beat: float
) -> None:
    """A run that goes wrong is one finding, said in one breath or number by number."""
    acts = perfect(TABLE, SHEET)
    for each in lines(acts):
        each.beat = beat
    line(acts, "clamp").numbers = numbers

    found = judged(acts)

    one = only(found)
    assert (one.fault, one.step, one.heard) == (fault, "clamp", heard)
    run = next(step for step in found.steps if step.step == "clamp")
    assert run.result is Result.FAULTY
    assert run.start is not None
    assert 0 <= one.start <= one.end <= attempt_of(acts, SHEET).seconds
    assert found.score is not None
    assert found.score < 1


def without(acts: list[Act], *steps: str) -> list[Act]:
    """Leave out some lines."""
    return [act for act in acts if not isinstance(act, Line) or act.step.id not in steps]


def in_order(*steps: str) -> list[Act]:
    """Call the lines of the table in another order."""
    by_step = {each.step.id: each for each in lines(perfect(TABLE, SHEET))}
    return [by_step[step] for step in steps]


def test_a_missed_item() -> None:
    """A line that is not called is missed, where it was due."""
    found = judged(without(perfect(TABLE, SHEET), "peanut"))

    one = only(found)
    assert (one.fault, one.step) == (Fault.MISSED_ITEM, "peanut")
    by_id = {step.step: step for step in found.steps}
    assert by_id["peanut"].result is Result.MISSING
    assert by_id["lap"].end is not None
    assert by_id["needle"].start is not None
    assert one.start >= by_id["lap"].end - 0.3
    assert one.end <= by_id["needle"].start + 0.3


@pytest.mark.parametrize(
    ("order", "expected"),
    [
        ("lap gauze peanut needle blade loop clamp forceps", [("wrong_order", "lap")]),
        ("gauze peanut lap needle blade loop clamp forceps", [("wrong_order", "peanut")]),
        ("peanut lap gauze needle blade loop clamp forceps", [("wrong_order", "peanut")]),
        ("gauze lap peanut needle loop blade clamp forceps", [("wrong_order", "loop")]),
        ("needle blade gauze lap peanut loop clamp forceps", [("wrong_group", "needle")]),
        ("gauze lap peanut loop needle blade clamp forceps", [("wrong_group", "loop")]),
        ("clamp forceps gauze lap peanut needle blade loop", [("wrong_group", "clamp")]),
        ("gauze lap peanut needle blade loop forceps clamp", [("wrong_order", "forceps")]),
    ],
)
def test_lines_and_groups_at_another_place(order: str, expected: list[tuple[str, str]]) -> None:
    """What moved is one finding: a line, or a whole group."""
    found = judged(in_order(*order.split()))

    assert [(one.fault, one.step) for one in found.findings] == expected


def test_a_line_called_twice() -> None:
    """A line that is called again, whole, is told; its last call counts."""
    acts = perfect(TABLE, SHEET)
    again = replace(line(acts, "lap"))
    again.numbers = [1, 2, 3, 4, 5]
    at = acts.index(line(acts, "lap"))

    found = judged([*acts[: at + 1], again, *acts[at + 1 :]])

    assert sorted(kinds(found)) == [(Fault.CALLED_TWICE, "lap"), (Fault.TOO_FEW, "lap")]


@pytest.mark.parametrize("where", [1, 4, 7])
def test_a_line_called_twice_later(where: int) -> None:
    """A line that is called again between others is told, and is no fault of the order."""
    acts = perfect(TABLE, SHEET)

    found = judged([*acts[: where + 1], replace(line(acts, "gauze")), *acts[where + 1 :]])

    assert kinds(found) == [(Fault.CALLED_TWICE, "gauze")]


def test_a_false_start_with_the_name_again() -> None:
    """A line that is begun again with its name is a false start, and the second call counts."""
    acts = perfect(TABLE, SHEET)
    at = acts.index(line(acts, "lap"))
    begun = replace(line(acts, "lap"), numbers=[1, 2, 4])

    found = judged([*acts[:at], begun, *acts[at:]])

    assert kinds(found) == [(Fault.FALSE_START, "lap")]


def test_start_over_by_command() -> None:
    """A run that is begun again by the command is a false start."""
    acts = perfect(TABLE, SHEET)
    at = acts.index(line(acts, "lap"))
    begun = replace(line(acts, "lap"), numbers=[1, 2, 3])
    bare = replace(line(acts, "lap"), before="")
    over = Answer(begun.step, "start this line over")

    found = judged([*acts[:at], begun, over, bare, *acts[at + 1 :]])

    assert kinds(found) == [(Fault.FALSE_START, "lap")]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"pauses": {3: 2.5}}, Fault.LONG_PAUSE),
        ({"pauses": {0: 2.5}}, Fault.LONG_PAUSE),
        ({"beat": 0.5}, Fault.TOO_FAST),
        ({"beat": 2.2}, Fault.TOO_SLOW),
        ({"beat": 2.6}, Fault.TOO_SLOW),
        ({"beat": 0.4, "pauses": {2: 1.4, 4: 1.4, 6: 1.4}}, Fault.UNEVEN),
        ({"above": 9.0, "loud": -41.0}, Fault.TOO_QUIET),
        ({"loud": 5.0}, Fault.UNEVEN_LOUDNESS),
        ({"before": ""}, Fault.MISSED_ITEM),
    ],
)
def test_how_it_is_said(change: dict[str, Any], fault: Fault) -> None:
    """Pauses, pace, evenness, loudness and a run without its name are each one finding."""
    acts = perfect(TABLE, SHEET)
    at = acts.index(line(acts, "clamp"))
    acts[at] = replace(line(acts, "clamp"), **change)

    found = judged(acts)

    assert kinds(found) == [(fault, "clamp")]


def test_a_name_alone() -> None:
    """A name without a number is told; it is not missed."""
    acts = perfect(TABLE, SHEET)
    line(acts, "blade").numbers = []

    assert kinds(judged(acts)) == [(Fault.NO_NUMBER, "blade")]


def test_another_name_of_the_sheet() -> None:
    """A second name of the sheet is told, and not marked down."""
    acts = perfect(TABLE, SHEET)
    line(acts, "lap").before = "laps"

    found = judged(acts)

    assert kinds(found) == [(Fault.OTHER_NAME, "lap")]
    assert [one.words for one in found.findings] == ["laps"]
    assert found.score == 1.0
    assert found.steps[1].result is Result.RIGHT


def test_what_lies_not_there() -> None:
    """A line of the sheet that does not lie there is told; one said to be none is not."""
    drill = drill_of(("gauze", 5), ("lap", 6))
    more = lines(perfect(TABLE, SHEET))[2]

    found = judged([*perfect(drill, SHEET), more], drill)
    assert [(one.fault, one.item) for one in found.findings] == [(Fault.UNEXPECTED_ITEM, "peanut")]
    assert {mark.criterion for mark in found.marks if mark.share not in {None, 1}} == {
        Criterion.COMPLETE
    }
    none = replace(more, numbers=[0])
    assert judged([*perfect(drill, SHEET), none], drill).findings == ()


def test_a_stated_total_where_it_may_be() -> None:
    """What may be stated is not counted one by one, and a few are seen at a glance."""
    acts = perfect(TABLE, SHEET)
    line(acts, "needle").numbers = [5]
    assert judged(acts).findings == ()
    line(acts, "needle").numbers = [4]
    assert kinds(judged(acts)) == [(Fault.TOO_FEW, "needle")]


def test_none_lies_there() -> None:
    """Nothing there is called as none."""
    drill = drill_of(("gauze", 0), ("lap", 3))
    acts = perfect(drill, SHEET)
    assert judged(acts, drill).score == 1.0
    line(acts, "gauze").numbers = [1]
    assert kinds(judged(acts, drill)) == [(Fault.TOO_MANY, "gauze")]
    line(acts, "gauze").numbers = [0]
    line(acts, "lap").numbers = [0]
    assert kinds(judged(acts, drill)) == [(Fault.TOO_FEW, "lap")]


PACKED = sheet_of({"id": "gauze", "pack": 5}, {"id": "lap", "say": ["lap sponge"], "pack": 5})
PACKS = drill_of(("gauze", 15), ("lap", 10))


def test_packages() -> None:
    """A line of packages is called package by package, its name once, or through in one run."""
    acts = perfect(PACKS, PACKED)
    assert judged(acts, PACKS, PACKED).findings == ()
    through = [line(acts, "gauze"), line(acts, "lap")]
    through[0].numbers, through[1].numbers = list(range(1, 16)), list(range(1, 11))
    assert judged(list(through), PACKS, PACKED).findings == ()


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"gauze.2": [1, 2, 4, 5]}, [(Fault.SKIPPED, "gauze.2")]),
        ({"gauze.2": [1, 2, 3, 4]}, [(Fault.TOO_FEW, "gauze.2")]),
        ({"gauze": [1, 2, 3, 4]}, [(Fault.TOO_FEW, "gauze")]),
        ({"gauze.3": None}, [(Fault.MISSED_ITEM, "gauze.3")]),
        ({"lap": [1, 2, 1, 2, 3, 4, 5]}, [(Fault.FALSE_START, "lap")]),
        ({"lap": None, "lap.2": None}, [(Fault.MISSED_ITEM, "lap")]),
    ],
)
def test_faults_of_packages(
    change: dict[str, list[int] | None], expected: list[tuple[Fault, str]]
) -> None:
    """A fault is told at its own package."""
    acts = perfect(PACKS, PACKED)
    for step, numbers in change.items():
        if numbers is None:
            acts = without(acts, step)
        else:
            line(acts, step).numbers = numbers

    assert kinds(judged(acts, PACKS, PACKED)) == expected


@pytest.mark.parametrize(
    ("left_out", "expected"),
    [
        ({5}, [(Fault.SKIPPED, "gauze")]),
        ({6}, [(Fault.SKIPPED, "gauze.2")]),
        ({5, 6}, [(Fault.SKIPPED, "gauze")]),
        ({8}, [(Fault.SKIPPED, "gauze.2")]),
        ({5, 11}, [(Fault.SKIPPED, "gauze"), (Fault.SKIPPED, "gauze.3")]),
        ({15}, [(Fault.TOO_FEW, "gauze.3")]),
    ],
)
def test_a_number_left_out_between_packages(
    left_out: set[int], expected: list[tuple[Fault, str]]
) -> None:
    """In a run through all packages, a number left out at the end of one is no short package."""
    acts = without(without(perfect(PACKS, PACKED), "gauze.2"), "gauze.3")
    line(acts, "gauze").numbers = [one for one in range(1, 16) if one not in left_out]

    assert kinds(judged(acts, PACKS, PACKED)) == expected


PLACED = drill_of(
    *(("gauze", 3, "field"), ("gauze", 2, "back_table"), ("lap", 4, "field")),
    *(("lap", 0, "back_table"), ("blade", 2, "mayo")),
    task="closing_count",
)


def test_places() -> None:
    """A closing count is called place by place; a name may be left out at the next place."""
    acts = perfect(PLACED, SHEET)
    assert judged(acts, PLACED).score == 1.0
    line(acts, "gauze@back_table").before = "on the back table"
    assert judged(acts, PLACED).score == 1.0


def test_another_place() -> None:
    """A line called at a place where none is due is told once."""
    acts = perfect(PLACED, SHEET)
    line(acts, "blade@mayo").before = "number ten blades on the back table"
    assert kinds(judged(acts, PLACED)) == [(Fault.WRONG_PLACE, "blade@mayo")]


def test_places_that_changed_order() -> None:
    """Two places of one item in the other order are one finding."""
    acts = perfect(PLACED, SHEET)
    acts[0], acts[1] = acts[1], acts[0]
    assert kinds(judged(acts, PLACED)) == [(Fault.WRONG_ORDER, "gauze@back_table")]


# Events


def event(kind: str, item: str, **more: Any) -> dict[str, Any]:
    """Make a planted event."""
    return {"kind": kind, "item": item, "says": "Listen, please.", **more}


EVENTS = drill_of(
    *(("gauze", 5), ("lap", 6), ("peanut", 4), ("blade", 2)),
    partner=True,
    events=[
        event("interruption", "gauze", after=3),
        event("misread", "lap", number=5),
        event("dropped", "peanut"),
    ],
)


def change(acts: list[Act], fit: Callable[[Act], bool], **more: Any) -> list[Act]:
    """Change the acts that fit."""
    return [replace(act, **more) if fit(act) else act for act in acts]


def answers(step: str) -> Callable[[Act], bool]:
    """Fit the answer to a step."""
    return lambda act: isinstance(act, Answer) and act.step.id == step


def test_events_answered_rightly() -> None:
    """All events answered: no finding, and the times of reaction are known."""
    found = judged(perfect(EVENTS, SHEET), EVENTS)

    assert found.findings == ()
    assert found.score == 1.0
    by_id = {step.step: step for step in found.steps}
    assert by_id["lap.misread"].reaction == pytest.approx(1.0, abs=0.05)
    assert by_id["peanut.dropped"].reaction == pytest.approx(1.0, abs=0.05)
    events = next(mark for mark in found.marks if mark.criterion is Criterion.EVENTS)
    assert (events.right, events.of) == (3, 3)


@pytest.mark.parametrize("step", ["lap.misread", "peanut.dropped"])
def test_an_event_not_noticed_late_or_wrong(step: str) -> None:
    """An event that is not answered, answered late or wrongly is one finding each."""
    acts = perfect(EVENTS, SHEET)
    gone = [act for act in acts if not answers(step)(act)]
    assert kinds(judged(gone, EVENTS)) == [(Fault.NOT_NOTICED, step)]

    late = judged(change(acts, answers(step), wait=9.5), EVENTS)
    assert kinds(late) == [(Fault.TOO_LATE, step)]
    assert late.findings[0].value == pytest.approx(9.5, abs=0.05)

    wrong = change(acts, answers(step), text="take that line back")
    assert kinds(judged(wrong, EVENTS)) == [(Fault.WRONG_ANSWER, step)]

    unheard = judged(change(acts, answers(step), heard=False), EVENTS)
    assert unheard.findings == ()
    assert [one.step for one in unheard.not_heard] == [step]


def test_objecting_by_the_number() -> None:
    """A wrong read-back is objected to by the right number too; its own number agrees with it."""
    acts = perfect(EVENTS, SHEET)
    assert judged(change(acts, answers("lap.misread"), text="six"), EVENTS).findings == ()
    agreed = judged(change(acts, answers("lap.misread"), text="five"), EVENTS)
    assert kinds(agreed) == [(Fault.NOT_NOTICED, "lap.misread")]
    yes = judged(change(acts, answers("lap.misread"), text="yes"), EVENTS)
    assert kinds(yes) == [(Fault.NOT_NOTICED, "lap.misread")]
    other = judged(change(acts, answers("lap.misread"), text="seven"), EVENTS)
    assert kinds(other) == [(Fault.WRONG_ANSWER, "lap.misread")]


def test_objecting_by_calling_again() -> None:
    """Calling the line again is an objection, and no line called twice."""
    acts = perfect(EVENTS, SHEET)
    at = next(at for at, act in enumerate(acts) if answers("lap.misread")(act))
    acts[at] = replace(line(acts, "lap"))

    assert judged(acts, EVENTS).findings == ()


def test_an_interruption_that_is_not_begun_again() -> None:
    """A run that goes on after the partner's talk is one finding, not two."""
    acts = perfect(EVENTS, SHEET)
    at = acts.index(line(acts, "gauze"))
    acts[at] = replace(line(acts, "gauze"), before="", numbers=[4, 5])
    found = judged(acts, EVENTS)
    assert kinds(found) == [(Fault.NOT_BEGUN_AGAIN, "gauze")]

    acts[at] = replace(line(acts, "gauze"), before="X-ray gauze", numbers=[4, 5])
    assert kinds(judged(acts, EVENTS)) == [(Fault.NOT_BEGUN_AGAIN, "gauze")]

    del acts[at]
    assert kinds(judged(acts, EVENTS)) == [(Fault.NOT_BEGUN_AGAIN, "gauze")]


def test_an_interruption_begun_again_without_the_name() -> None:
    """The run may begin again without its name."""
    acts = perfect(EVENTS, SHEET)
    line(acts, "gauze").before = ""
    assert judged(acts, EVENTS).findings == ()


@pytest.mark.parametrize("scope", ["group", "count"])
def test_what_is_begun_again_is_the_policy_s(scope: str) -> None:
    """The group or the whole count is called again where the sheet's policy says so."""
    sheet = SHEET.model_copy(
        update={"policy": SHEET.policy.model_copy(update={"interrupted": scope})}
    )
    drill = drill_of(
        *(("gauze", 3), ("lap", 3), ("needle", 4), ("blade", 2)),
        events=[event("interruption", "blade", after=1)],
    )
    acts = perfect(drill, sheet)
    again = ["needle"] if scope == "group" else ["gauze", "lap", "needle"]
    back = [replace(line(acts, step)) for step in again]

    assert kinds(judged(acts, drill, sheet)) == [(Fault.NOT_BEGUN_AGAIN, "blade")]
    assert judged([*acts[:-1], *back, acts[-1]], drill, sheet).findings == ()


def test_an_addition_is_opened_first() -> None:
    """What is brought is answered by opening the addition, before the line is called."""
    drill = drill_of(("gauze", 5), ("lap", 6), task="addition", events=[event("brought", "gauze")])
    acts = perfect(drill, SHEET)
    assert judged(acts, drill).score == 1.0
    gone = [act for act in acts if not isinstance(act, Answer)]
    assert kinds(judged(gone, drill)) == [(Fault.NOT_NOTICED, "gauze.brought")]


# Confirming

CONFIRM = drill_of(
    *(("gauze", 5), ("lap", 6), ("blade", 0), ("clamp", 15)),
    task="confirm",
    partner=True,
    events=[event("miscount", "lap", run=[1, 2, 3, 5, 6])],
)


def test_confirmations_with_their_numbers() -> None:
    """Numbers alone, with a name, with a yes and by their digits all confirm."""
    acts = perfect(CONFIRM, SHEET)
    assert judged(acts, CONFIRM).score == 1.0
    for text in ("five gauze", "yes five", "X-ray gauze five"):
        assert judged(change(acts, answers("gauze"), text=text), CONFIRM).findings == ()
    assert judged(change(acts, answers("clamp"), text="one five"), CONFIRM).findings == ()


@pytest.mark.parametrize(
    ("text", "fault", "heard"),
    [
        ("yes", Fault.CONFIRMED_WITHOUT_NUMBER, ()),
        ("four", Fault.CONFIRMED_WRONG, (4,)),
        ("five laps", Fault.CONFIRMED_WRONG, (5,)),
        ("one two three four five", Fault.NOT_CONFIRMED, ()),
        (None, Fault.NOT_CONFIRMED, ()),
    ],
)
def test_faults_of_confirmations(text: str | None, fault: Fault, heard: tuple[int, ...]) -> None:
    """A yes alone, another number, or nothing is one finding each."""
    acts = perfect(CONFIRM, SHEET)
    if text is None:
        acts = [act for act in acts if not answers("gauze")(act)]
    else:
        acts = change(acts, answers("gauze"), text=text)

    one = only(judged(acts, CONFIRM))

    assert (one.fault, one.step, one.heard, one.expected) == (fault, "gauze", heard, 5)


def test_a_yes_confirms_where_the_policy_says_so() -> None:
    """A sheet may let a yes confirm."""
    sheet = SHEET.model_copy(
        update={"policy": SHEET.policy.model_copy(update={"yes_confirms": True})}
    )
    acts = change(perfect(CONFIRM, sheet), answers("gauze"), text="yes")
    assert judged(acts, CONFIRM, sheet).findings == ()


def test_a_confirmation_not_heard() -> None:
    """A confirmation that was not understood is not held against anybody."""
    found = judged(change(perfect(CONFIRM, SHEET), answers("gauze"), heard=False), CONFIRM)
    assert found.findings == ()
    assert found.steps[0].result is Result.NOT_HEARD


def test_a_miscount() -> None:
    """The partner's run that leaves out a number has to be objected to; its number agrees."""
    acts = perfect(CONFIRM, SHEET)
    assert (
        judged(change(acts, answers("lap.miscount"), text="start this line over"), CONFIRM).findings
        == ()
    )
    for text in ("six", "yes"):
        agreed = judged(change(acts, answers("lap.miscount"), text=text), CONFIRM)
        assert kinds(agreed) == [(Fault.NOT_NOTICED, "lap.miscount")]


# What was not understood, and what is not in the recording


@pytest.mark.parametrize("step", ["gauze", "lap", "blade", "forceps"])
def test_a_line_not_heard(step: str) -> None:
    """A line of which nothing was understood is not heard, and not missed."""
    acts = perfect(TABLE, SHEET)
    line(acts, step).heard = False

    found = judged(acts)

    assert found.findings == ()
    assert {one.step for one in found.steps if one.result is Result.NOT_HEARD} == {step}
    assert {one.step for one in found.not_heard} == {step}
    assert found.score == 1.0


def test_one_utterance_speaks_for_one_step() -> None:
    """One utterance that was not understood does not hide two missing lines."""
    acts = without(perfect(TABLE, SHEET), "peanut")
    line(acts, "lap").heard = False

    assert kinds(judged(acts)) == [(Fault.MISSED_ITEM, "peanut")]


def test_events_without_their_times() -> None:
    """Without the partner's times answers are judged by words alone, and the rest is not judged."""
    acts = perfect(EVENTS, SHEET)
    found = judge(attempt_of(acts, SHEET, cues_known=False), EVENTS, SHEET)
    assert found.findings == ()
    assert {one.result for one in found.steps} == {Result.RIGHT}
    gone = [act for act in acts if not isinstance(act, Answer)]
    found = judge(attempt_of(gone, SHEET, cues_known=False), EVENTS, SHEET)
    assert found.findings == ()
    assert [one.step for one in found.steps if one.result is Result.NOT_JUDGED] == [
        *("lap.misread", "peanut.dropped")
    ]


def test_confirmations_without_the_partner_s_times() -> None:
    """A wrong confirmation between right ones is found by the words alone."""
    acts = change(perfect(CONFIRM, SHEET), answers("gauze"), text="four")
    found = judge(attempt_of(acts, SHEET, cues_known=False), CONFIRM, SHEET)
    assert kinds(found) == [(Fault.CONFIRMED_WRONG, "gauze")]


def test_a_cue_that_was_never_said() -> None:
    """A step whose cue is not in the recording is not judged."""
    acts = perfect(CONFIRM, SHEET)[:4]
    found = judged(acts, CONFIRM)
    assert found.findings == ()
    assert [one.result for one in found.steps][3:] == [Result.NOT_JUDGED] * 2
    assert isinstance(acts[0], Cue)
