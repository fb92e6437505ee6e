"""The sheet's plan of counts in a bundle, and what is not held, waived or left out of a count."""

import pytest
from fhir_facts import DAMAGE, case, count, planned, told, when
from fhir_reading import Json, by_url, code_of, paragraphs, resources

from voicecount.report.facts import CaseFacts, Moment
from voicecount.report.fhir import bundle

SKIN = planned("skin", "skin count", "closing", "sharps")


def plan_of(facts: CaseFacts) -> Json:
    (found,) = resources(bundle(facts), "CarePlan")
    return found


def details(facts: CaseFacts) -> dict[str, str]:
    """Give by title what became of each planned count."""
    return {
        part["detail"]["code"]["text"]: part["detail"]["status"]
        for part in plan_of(facts)["activity"]
    }


def test_a_count_that_was_held_after_all_still_tells_that_it_was_waived() -> None:
    """What was said is told, whatever came after it."""
    held = count(1, "closing", "skin count", id="skin", result="agrees")
    happenings = (told(22, "count_waived", title="skin count", reason="life_threatening"),)
    facts = case(plan=(SKIN,), counts=(held,), due=(), happenings=happenings)

    assert plan_of(facts)["activity"][0]["detail"]["description"] == (
        "skin count: held, and said to be finished; leaves out sharps; waived: life is in danger; "
        "who told it is not known."
    )


def test_every_planned_count_is_told_with_what_became_of_it() -> None:
    """Held, left out of the middle, waived, held: status, reason, what it leaves out."""
    plan = plan_of(case())
    found = [part["detail"] for part in plan["activity"]]

    assert [(one["code"]["text"], one["status"]) for one in found] == [
        ("first count", "completed"),
        ("cavity count", "stopped"),
        ("skin count", "cancelled"),
        ("last count", "completed"),
    ]
    assert [code_of(one["code"]) for one in found] == ["initial", "cavity", "closing", "final"]
    assert [one.get("statusReason") for one in found] == [
        *(None, None, {"text": "life is in danger"}, None),
    ]
    assert [one["description"] for one in found] == [
        "first count: held, and said to be finished.",
        (
            "cavity count: begun, and not done to its end; leaves out instruments, sharps, unless "
            "the operation turns open."
        ),
        (
            "skin count: WAIVED, NOT DONE; leaves out sharps; life is in danger; told by "
            "scrub (nobody-listed), agreed by circulator."
        ),
        "last count: held, and said to be finished.",
    ]
    assert paragraphs(plan)[1:] == [one["description"] for one in found]


def test_the_plan_leads_to_what_came_of_it_and_back() -> None:
    """Each outcome is the count's own Observation, and that is based on the plan."""
    made = bundle(case())
    there = by_url(made)
    (plan,) = resources(made, "CarePlan")
    outcomes = [
        [there[one["reference"]] for one in part.get("outcomeReference", [])]
        for part in plan["activity"]
    ]

    assert [[code_of(one["code"]) for one in found] for found in outcomes] == [
        *(["initial"], ["cavity"], ["count-waived", "count-due"], ["final"]),
    ]
    based = [one for one in resources(made, "Observation") if "basedOn" in one]
    assert all(there[one["basedOn"][0]["reference"]] == plan for one in based)
    assert all(one in based for found in outcomes for one in found)
    assert "closing" not in {code_of(one["code"]) for one in based}  # in no plan of this case


def skin(*, due: bool = False, waived: bool = False, closed: bool = True, **held: object) -> str:
    """Give the status of a planned count of that kind."""
    counts = (count(1, "closing", "skin count", **{"id": "skin", **held}),) if held else ()
    happenings = (told(22, "count_waived", title="skin count"),) if waived else ()
    facts = case(
        plan=(SKIN,),
        counts=counts,
        due=("skin count",) if due else (),
        happenings=happenings,
        closed=when(96) if closed else None,
    )
    return details(facts)["skin count"]


def test_the_status_of_a_planned_count_is_never_more_than_was_said() -> None:
    """Completed is one that somebody said to be finished, with a result, and with no line left."""
    assert skin(result="agrees") == "completed"
    assert skin(result="differs") == "completed"
    assert skin(result="incomplete") == "stopped"
    assert skin(result="not_done") == "stopped"
    assert skin(result=None) == "stopped"  # changed after it was finished
    assert skin(result=None, finished=None) == "stopped"
    assert skin(result=None, finished=None, closed=False) == "in-progress"
    assert skin(result="not_done", waived=True) == "cancelled"
    assert skin(result="agrees", waived=True) == "completed"  # held after all
    assert skin(waived=True) == "cancelled"
    assert skin(due=True) == skin(due=True, closed=False) == "not-started"
    assert skin() == "unknown"


@pytest.mark.parametrize(
    ("changes", "status"),
    [
        ({}, "revoked"),
        ({"closed": None}, "active"),
        ({"plan": (planned("initial", "first count", "initial"),)}, "completed"),
        ({"plan": (planned("initial", "first count", "initial"), SKIN)}, "revoked"),
        ({"plan": (planned("other", "other count", "final"),), "due": ("other count",)}, "revoked"),
        ({"plan": (planned("other", "other count", "final"),)}, "unknown"),
    ],
)
def test_the_plan_is_completed_only_where_all_of_it_was_held(
    changes: dict[str, object], status: str
) -> None:
    """And only in a whole record that both ended."""
    facts = case(**changes)
    damaged = facts.chain.model_copy(update={"whole": False, "damage": DAMAGE})

    assert plan_of(facts)["status"] == status
    assert plan_of(facts.model_copy(update={"chain": damaged}))["status"] == "unknown"


def test_a_record_without_a_plan_says_so() -> None:
    """Records of the first version hold none; silence would look like a plan that was kept."""
    made = bundle(case(plan=()))
    sections = resources(made, "Composition")[0]["section"]
    (text,) = (paragraphs(one) for one in sections if code_of(one["code"]) == "counts")

    assert not resources(made, "CarePlan")
    assert not any("basedOn" in one for one in resources(made, "Observation"))
    assert text[0].startswith("The record holds no plan of counts: it cannot tell")
    assert "holds no plan" not in str(bundle(case()))


@pytest.mark.parametrize(
    ("closed", "begun", "said"),
    [
        (when(96), False, "NOT HELD"),
        (when(96), True, "begun, and NOT FINISHED"),
        (None, False, "NOT HELD so far"),
        (None, True, "begun, and NOT FINISHED so far"),
    ],
)
def test_a_count_that_is_due_is_not_told_as_more_than_it_is(
    closed: Moment | None, *, begun: bool, said: str
) -> None:
    """While the record is open it may still be held; the plan and the count say the same."""
    held = count(1, "closing", "skin count", id="skin", result=None, finished=None)
    counts = (held,) if begun else ()
    facts = case(plan=(SKIN,), counts=counts, due=("skin count",), happenings=(), closed=closed)
    (one,) = (
        o for o in resources(bundle(facts), "Observation") if code_of(o["code"]) == "count-due"
    )
    told_ = plan_of(facts)["activity"][0]["detail"]["description"]

    assert paragraphs(one) == [f"skin count: planned; {said}."]
    if not (begun and closed):
        assert told_ == f"skin count: {said}; leaves out sharps."
    else:
        assert told_.startswith("skin count: begun, and not done to its end")


def test_what_a_count_leaves_out_stands_in_it() -> None:
    """In words, and as components by name."""
    held = count(1, "cavity", "cavity count", not_in_it=("hook", "unlisted"))
    made = bundle(case(counts=(held,)))
    (one,) = (o for o in resources(made, "Observation") if code_of(o["code"]) == "cavity")
    parts = [p["valueString"] for p in one["component"] if code_of(p["code"]) == "not_in_it"]

    assert parts == ["hook", "unlisted"]
    assert "On the sheet, and not in this count: unlisted." in paragraphs(one)


def test_a_count_that_was_changed_after_its_finish_is_not_final() -> None:
    """It has no result then. Records without a plan named none, and are not doubted for it."""
    counts = (count(1, "final", "last count", result=None),)
    for facts, status, operation in (
        (case(counts=counts), "preliminary", "unknown"),
        (case(counts=counts, plan=()), "final", "completed"),
    ):
        made = bundle(facts)
        (one,) = (o for o in resources(made, "Observation") if code_of(o["code"]) == "final")

        assert one["status"] == status
        assert resources(made, "Procedure")[0]["status"] == operation


def test_a_waived_count_tells_who_waived_it() -> None:
    """Two people decide; both are told, and are its performers."""
    made = bundle(case())
    first, second = (
        one for one in resources(made, "Observation") if code_of(one["code"]) == "count-waived"
    )

    assert paragraphs(first)[0] == "skin count: WAIVED, NOT DONE; life is in danger."
    assert "told by scrub (nobody-listed), agreed by circulator." in paragraphs(first)[1]
    assert len(first["performer"]) == 2
    assert "who told it is not known." in paragraphs(second)[1]
