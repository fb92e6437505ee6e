"""The steps of a drill: what has to happen, and what the partner says when."""

from pathlib import Path

import pytest

from voicecount.drill.load import Loaded, load_drill, shipped
from voicecount.drill.model import EXPECT, Drill, EventKind, Planted, Task, There
from voicecount.drill.steps import (
    Step,
    StepKind,
    When,
    called,
    cues,
    packages,
    read_back,
    step_id,
    steps,
)
from voicecount.drill.vocabulary import vocabulary
from voicecount.sheet.load import load_sheet
from voicecount.words.commands import BY_ID
from voicecount.words.grammar import build_grammar

GRAMMARS = Path(__file__).parent.parent / "grammars"
SHEET = load_sheet(GRAMMARS / "caesarean.yaml")
DRILLS = [load_drill(path) for path in shipped()]
EACH = pytest.mark.parametrize("loaded", DRILLS, ids=lambda loaded: loaded.name)


def drill(
    *table: There,
    task: Task = Task.FIRST_COUNT,
    partner: bool = True,
    events: tuple[Planted, ...] = (),
) -> Drill:
    """Make a drill of the caesarean's sheet."""
    return Drill(
        title="Made up",
        level=1,
        task=task,
        sheet="caesarean.yaml",
        about="Something.",
        goal="Something.",
        table=table,
        partner=partner,
        events=events,
    )


def spoken(plan: tuple[Step, ...]) -> list[tuple[str, str]]:
    """Give everything that the partner says, with its moment."""
    return [(cue.when.value, cue.words) for cue in cues(plan)]


def test_a_line_is_called_and_read_back() -> None:
    """Each line is a call, and the partner reads its number back when it is done."""
    plan = steps(drill(There(item="kelly", number=6), There(item="tip", number=1)), SHEET)

    assert [(step.id, step.kind, step.number) for step in plan] == [
        ("kelly", StepKind.CALL, 6),
        ("tip", StepKind.CALL, 1),
    ]
    assert spoken(plan) == [("step_done", "Six Kelly clamps."), ("step_done", "One cautery tip.")]


def test_alone_nothing_is_read_back() -> None:
    """A student who is alone with the table hears nothing."""
    assert cues(steps(drill(There(item="kelly", number=6), partner=False), SHEET)) == ()


def test_packages_are_called_one_by_one() -> None:
    """A line of packages is a call for each package (AORN FAQ 2015), read back after the last."""
    plan = steps(drill(There(item="gauze", number=20)), SHEET)

    assert [(step.id, step.number, step.package) for step in plan] == [
        ("gauze", 10, 1),
        ("gauze.2", 10, 2),
    ]
    assert spoken(plan) == [("step_done", "Twenty X-ray gauze.")]


@pytest.mark.parametrize(
    ("number", "holds"),
    [
        (9, (9,)),
        (10, (10,)),
        (11, (11,)),
        (15, (10, 5)),
        (19, (10, 9)),
        (20, (10, 10)),
        (21, (10, 11)),
        (29, (10, 10, 9)),
    ],
)
def test_a_wrong_package_comes_last(number: int, holds: tuple[int, ...]) -> None:
    """What is missing or too many is missing or too many in the last package."""
    wrong = Planted(kind=EventKind.WRONG_PACKAGE, item="gauze", says="It says ten.")
    there = There(item="gauze", number=number)

    assert packages(drill(there, events=(wrong,)), there, SHEET) == holds
    assert sum(holds) == number


def test_at_a_place_nothing_is_packaged() -> None:
    """In a closing count things lie loose, each line at its place."""
    there = There(item="gauze", number=20, place="field")
    plan = steps(drill(there, task=Task.CLOSING_COUNT), SHEET)

    assert [(step.id, step.number, step.package) for step in plan] == [("gauze@field", 20, None)]
    assert spoken(plan) == [("step_done", "On the field, twenty X-ray gauze.")]


def test_the_partner_talks_into_a_run() -> None:
    """An interruption stands at the call itself, with the number after which it comes."""
    talk = Planted(kind=EventKind.INTERRUPTION, item="gauze", after=4, says="Is it warm in here?")
    first, second = steps(drill(There(item="gauze", number=20), events=(talk,)), SHEET)

    assert (first.interrupted_after, second.interrupted_after) == (4, None)
    assert (first.cues[0].when, first.cues[0].number) == (When.NUMBER_SAID, 4)
    assert first.planted is talk


def test_a_misread_number_takes_the_place_of_the_read_back() -> None:
    """The student hears one number, the wrong one, and has to object."""
    wrong = Planted(kind=EventKind.MISREAD, item="kelly", number=5, says="It was read wrongly.")
    call, reply = steps(drill(There(item="kelly", number=6), events=(wrong,)), SHEET)

    assert [cue.words for cue in call.cues] == ["Five Kelly clamps."]
    assert (reply.kind, reply.id, reply.expect) == (StepKind.OBJECT, "kelly.misread", ("no",))
    assert reply.within == 8.0
    assert call.interrupted_after is None


def test_what_falls_is_told_after_its_line() -> None:
    """The partner tells of it when the line is over; the student answers."""
    fell = Planted(kind=EventKind.DROPPED, item="kelly", says="One fell.", within=5)
    call, reply = steps(drill(There(item="kelly", number=6), events=(fell,)), SHEET)

    assert (call.kind, reply.kind) == (StepKind.CALL, StepKind.ANSWER)
    assert (reply.expect, reply.within) == (("dropped",), 5)
    assert [(cue.id, cue.when) for cue in reply.cues] == [("kelly.dropped", When.STEP_BEGINS)]


def test_an_addition_is_opened_before_its_line() -> None:
    """What is brought is told first; the student opens the addition, then calls."""
    brought = Planted(kind=EventKind.BROUGHT, item="gauze", says="More gauze.")
    plan = steps(
        drill(There(item="gauze", number=10), task=Task.ADDITION, events=(brought,)), SHEET
    )

    assert [(step.kind, step.expect) for step in plan] == [
        (StepKind.ANSWER, ("add",)),
        (StepKind.CALL, ()),
    ]


def test_the_circulator_confirms() -> None:
    """The partner calls each line, by packages; a wrong run comes first, then the right one."""
    wrong = Planted(
        kind=EventKind.MISCOUNT, item="allis", run=(1, 2, 4), says="Three was left out."
    )
    fell = Planted(kind=EventKind.DROPPED, item="allis", says="One fell.", expect=("broken",))
    plan = steps(
        drill(
            There(item="lap_sponge", number=10),
            There(item="allis", number=3),
            task=Task.CONFIRM,
            events=(fell, wrong),
        ),
        SHEET,
    )

    assert [(step.id, step.kind, step.expect) for step in plan] == [
        ("lap_sponge", StepKind.CONFIRM, ()),
        ("allis.miscount", StepKind.OBJECT, ("no", "start_over")),
        ("allis", StepKind.CONFIRM, ()),
        ("allis.dropped", StepKind.ANSWER, ("broken",)),
    ]
    assert [words for _, words in spoken(plan)] == [
        "Lap sponges, one, two, three, four, five. One, two, three, four, five.",
        "Allis clamps, one, two, four.",
        "Allis clamps, one, two, three.",
        "One fell.",
    ]


def test_none_is_said_as_none() -> None:
    """Where nothing lies there, the partner says none, calling and reading back."""
    there = There(item="kelly", number=0, place="mayo")

    assert called(there, ((),), SHEET) == "On the mayo stand, Kelly clamps, none."
    assert read_back(there, 0, SHEET) == "On the mayo stand, Kelly clamps, none."
    assert called(There(item="kelly", number=1), ((1,),), SHEET) == "Kelly clamp, one."


def test_every_kind_knows_its_answers() -> None:
    """Each kind of event that is answered by a command has known ones."""
    assert EXPECT.keys() == set(EventKind)
    for kind, answers in EXPECT.items():
        assert bool(answers) == (kind is not EventKind.INTERRUPTION)
        assert all(answer in BY_ID for answer in answers)


@EACH
def test_every_event_is_reached(loaded: Loaded) -> None:
    """Every event of a shipped drill has its step, a cue of its own, and a number that comes."""
    plan = steps(loaded.drill, loaded.sheet)
    said = {cue.id for cue in cues(plan)}

    for event in loaded.drill.events:
        (at,) = [step for step in plan if step.planted is event]
        there = There(item=event.item, place=event.place, number=1)
        assert f"{step_id(there)}.{event.kind}" in said
        if event.kind is EventKind.INTERRUPTION:
            assert event.after is not None
            assert event.after < at.number


@EACH
def test_ids_are_unique_and_every_answer_has_its_cue(loaded: Loaded) -> None:
    """No two steps and no two cues share an id; an answer waits for the cue of its own id."""
    plan = steps(loaded.drill, loaded.sheet)
    ids, said = [step.id for step in plan], [cue.id for cue in cues(plan)]

    assert len(set(ids)) == len(ids)
    assert len(set(said)) == len(said)
    for step in plan:
        if step.kind in {StepKind.OBJECT, StepKind.ANSWER}:
            assert step.id in said


@EACH
def test_all_that_lies_there_is_called(loaded: Loaded) -> None:
    """The calls of a drill come, line by line, to what its table says."""
    wanted = StepKind.CONFIRM if loaded.drill.task is Task.CONFIRM else StepKind.CALL
    found: dict[tuple[str, str | None], int] = {}
    for step in steps(loaded.drill, loaded.sheet):
        if step.kind is wanted:
            here = (step.item, step.place)
            found[here] = found.get(here, 0) + step.number

    assert found == {(there.item, there.place): there.number for there in loaded.drill.table}


@EACH
def test_the_grammar_knows_nothing_of_the_numbers(loaded: Loaded) -> None:
    """With other numbers on the table, and nothing planted, the very same grammar is used."""
    other = loaded.drill.model_copy(
        update={
            "table": tuple(
                there.model_copy(update={"number": there.number + 7})
                for there in loaded.drill.table
            ),
            "events": (),
        }
    )
    words, others = vocabulary(loaded.drill, loaded.sheet), vocabulary(other, loaded.sheet)

    assert words == others
    assert build_grammar(loaded.sheet, words) == build_grammar(loaded.sheet, others)


def test_a_bare_no_is_not_heard_where_none_is_a_count() -> None:
    """By places "no" alone is left out: one weak sound parts it from "none"."""
    at = drill(There(item="kelly", number=6, place="field"), task=Task.CLOSING_COUNT)
    (no,) = [one for one in vocabulary(at, SHEET).commands if one.id == "no"]

    assert no.phrases == ("no that is not right",)
    assert [place.id for place in vocabulary(at, SHEET).places] == list(SHEET.policy.places)
    (no,) = [
        one
        for one in vocabulary(drill(There(item="kelly", number=6)), SHEET).commands
        if one.id == "no"
    ]
    assert "no" in no.phrases
