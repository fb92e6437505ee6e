"""What is in the patient, in a bundle: each telling with its own plan, people and time."""

from typing import Any

import pytest
from fhir_facts import HOOK, RIBBON, case, inside, told, when
from fhir_reading import Json, by_url, code_of, numbers, paragraphs, resources

from voicecount.report.facts import CaseFacts
from voicecount.report.fhir import bundle

BOTH = {"by": "scrub", "agreed": "circulator"}


def packed(record: int, n: int, **more: Any) -> Any:
    values = {"item": RIBBON, "n": n, "site": "pelvis", **BOTH, **more}
    return told(record, "incident.packed", **values)


def some_came_out(*reasons: str | None, **more: Any) -> CaseFacts:
    """Give a case in which ten were told each time, and some of all came out again."""
    tellings = [packed(50 + n, 10, reason=reason) for n, reason in enumerate(reasons)]
    values: dict[str, Any] = {"removal": next((r for r in reasons if r), None), **BOTH, **more}
    of = 10 * len(reasons)
    there = inside(RIBBON, 7, of=of, when=when(49 + len(reasons)), **values)
    return case(happenings=(packed(40, 3, reason=None), *tellings), in_patient=(there,))


def test_what_is_left_on_purpose_has_a_use_a_flag_and_a_task() -> None:
    """The plan is asked for only where one was said; what is tucked in is flagged, not planned."""
    made = bundle(case())
    there = by_url(made)
    tasks, flags = resources(made, "Task"), resources(made, "Flag")
    uses = resources(made, "DeviceUseStatement")
    held = [there[use["derivedFrom"][1]["reference"]] for use in uses]

    assert [task["status"] for task in tasks] == ["requested", "draft", "draft", "draft"]
    assert "Removal: comes out on the ward." in tasks[0]["description"]
    assert "no plan for it yet" in tasks[1]["description"]
    assert "not in the record" in tasks[2]["description"]
    assert [there[task["focus"]["reference"]] for task in tasks] == uses
    assert [there[use["device"]["reference"]]["deviceName"][0]["name"] for use in uses] == [
        *("ribbon gauze", "ribbon gauze", "hook", "hook"),
    ]
    assert [use["bodySite"]["text"] for use in uses] == [
        *("in the pelvis", "in the pelvis", "not said", "chest"),
    ]
    assert [numbers(one) for one in held] == [
        *({"n": 37}, {"n": 38}, {"n": 39}, {"n": 233, "of": 268}),
    ]
    assert [code_of(flag["code"]) for flag in flags] == [
        *["left_on_purpose"] * 4,
        "tucked_in",
    ]
    assert "nobody told that it is out" in flags[4]["code"]["text"]


def test_a_plan_is_not_lost_by_another_one_without() -> None:
    """Four tellings at one site: the task of each that has a plan is ready, the others are not."""
    plans = ("in_theatre", None, "on_ward", "not_planned")
    tellings = [inside(RIBBON, 2 + n, removal=plan) for n, plan in enumerate(plans)]
    made = bundle(case(in_patient=tellings))
    tasks = resources(made, "Task")

    assert [task["status"] for task in tasks] == ["requested", "draft", "requested", "draft"]
    assert ["Removal: comes out in theatre." in task["description"] for task in tasks] == [
        *(True, False, False, False),
    ]


def test_each_has_its_own_start_and_people() -> None:
    """Who told it is who had the role then: Ab first, and another one after the change."""
    ab, later = (inside(RIBBON, 5, when=when(at), **BOTH) for at in (15, 60))
    made = bundle(case(in_patient=(ab, later, inside(HOOK, 9, by=None))))
    there = by_url(made)
    uses, flags = resources(made, "DeviceUseStatement"), resources(made, "Flag")
    held = [there[use["derivedFrom"][1]["reference"]] for use in uses]
    people = [[there[who["reference"]] for who in one.get("performer", [])] for one in held]

    starts = [when(at).wall.replace(".5+", ".500000+") for at in (15, 60, 60)]
    assert [use["timingPeriod"] for use in uses] == [{"start": start} for start in starts]
    assert [flag["period"] for flag in flags] == [{"start": start} for start in starts]
    assert [task["authoredOn"] for task in resources(made, "Task")] == starts
    assert [there[use["source"]["reference"]] for use in uses[:2]] == [people[0][0], people[1][0]]
    assert there[people[0][0]["practitioner"]["reference"]]["name"] == [{"text": "Ab"}]
    assert people[1][0]["practitioner"] == {"display": "nobody-listed"}
    assert [len(one) for one in people] == [2, 2, 0]
    assert "source" not in uses[2]
    assert "told by scrub (Ab), agreed by circulator, " in paragraphs(uses[0])[0]
    assert "told by scrub (nobody-listed), agreed by circulator, " in flags[1]["code"]["text"]
    assert "who told it is not known, " in paragraphs(uses[2])[0]


@pytest.mark.parametrize(
    ("reasons", "status"),
    [
        (("on_ward", "on_ward"), "requested"),
        (("on_ward", "in_theatre"), "requested"),
        (("on_ward", None), "draft"),
        ((None, "on_ward"), "draft"),
        (("on_ward", "not_planned"), "draft"),
        ((None, None), "draft"),
    ],
)
def test_of_several_of_which_some_came_out_every_one_needs_a_plan(
    reasons: tuple[str | None, ...], status: str
) -> None:
    """Nobody said which came out: a plan of one may be the plan of one that is out."""
    made = bundle(some_came_out(*reasons))
    (task,) = resources(made, "Task")

    assert task["status"] == status
    assert ("Not every one that was told has a plan." in task["description"]) == (status == "draft")
    assert "7 of 20 left in the patient on purpose" in task["description"]
    assert "some came out again. Nobody said which." in task["description"]


def test_of_several_all_that_was_told_is_told() -> None:
    """Each telling with its number, plan, people and time; those before are not among them."""
    made = bundle(some_came_out("on_ward", None))
    for kind in ("DeviceUseStatement", "Flag", "Task"):
        (one,) = resources(made, kind)
        told_ = [text for text in paragraphs(one) if text.startswith("Told: ")]

        assert [text.split("; ")[:2] for text in told_] == [
            ["Told: 10", "removal: comes out on the ward"],
            ["Told: 10", "nothing said of when it comes out"],
        ]
        assert all("told by scrub, agreed by circulator, " in one for one in told_)


def test_since_when_some_of_several_are_there_is_told_only_where_it_is_known() -> None:
    """Of one telling it is its time; of two it may be either."""
    one, two = (bundle(some_came_out(*["on_ward"] * n)) for n in (1, 2))

    assert resources(one, "DeviceUseStatement")[0]["timingPeriod"]["start"].startswith("2031")
    assert resources(one, "Flag")[0]["period"]["start"].startswith("2031")
    assert "timingPeriod" not in resources(two, "DeviceUseStatement")[0]
    assert "period" not in resources(two, "Flag")[0]


def test_several_told_by_two_people_have_no_one_source() -> None:
    """R4 has one source; performers are all of them."""
    tellings = (packed(15, 10, reason="on_ward"), packed(59, 10, reason="on_ward"))
    changes = tuple(one for one in case().happenings if one.what == "people_changed")
    there = inside(RIBBON, 7, of=20, **BOTH)
    made = bundle(case(happenings=(*tellings, *changes), in_patient=(there,)))
    (use,) = resources(made, "DeviceUseStatement")
    held: Json = by_url(made)[use["derivedFrom"][1]["reference"]]

    assert "source" not in use
    assert len(held["performer"]) == 4


def test_tellings_that_cannot_be_found_leave_a_draft() -> None:
    """Then nobody can tell that every plan was said."""
    there = inside(RIBBON, 7, of=21, removal="on_ward")
    (task,) = resources(bundle(case(in_patient=(there,))), "Task")

    assert task["status"] == "draft"
