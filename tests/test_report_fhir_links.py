"""Links, states and cautions of a bundle that nothing else would show to be wrong."""

from typing import Any

from fhir_facts import RIBBON, case, count, item_sum, planned, told, when
from fhir_reading import Json, by_url, code_of, resources

from voicecount.report.fhir import bundle


def test_an_item_is_derived_from_the_count_just_before() -> None:
    """Who follows the chain back would jump over a count in which a number changed."""
    titles = ("first", "second", "third", "fourth")
    counts = (
        count(number, "closing", title, sums=(item_sum(RIBBON),))
        for number, title in enumerate(titles, start=1)
    )
    made = bundle(case(counts=tuple(counts), discrepancies=()))
    there = by_url(made)
    found = [one for one in resources(made, "Observation") if code_of(one["code"]) == "item-count"]
    before = [
        [there[one["reference"]]["code"]["text"] for one in each.get("derivedFrom", [])]
        for each in found
    ]
    assert before == [[], *([f"Count of ribbon gauze, {title}"] for title in titles[:-1])]


def test_who_was_told_was_told_about_the_difference() -> None:
    """A message about mere numbers leads nobody to the issue that is open or how it ended."""
    made = bundle(case())
    there = by_url(made)
    issues = resources(made, "DetectedIssue")
    about = [
        [there[one["reference"]] for one in each["about"]]
        for each in resources(made, "Communication")
    ]
    assert about == [[issues[0]], [issues[0]], [issues[1]]]


def test_an_image_was_taken_because_of_the_numbers_of_its_difference() -> None:
    """An image that points at another difference's numbers is read for the wrong item."""
    made = bundle(case())
    there = by_url(made)
    evidence = [
        one["evidence"][0]["detail"][0]["reference"] for one in resources(made, "DetectedIssue")
    ]
    reasons = [
        [one["reference"] for one in each["reasonReference"]]
        for each in resources(made, "ImagingStudy")
    ]
    assert reasons == [[evidence[0]], [evidence[1]]]
    assert {there[one]["resourceType"] for one in evidence} == {"Observation"}


def test_the_operation_has_all_cautions_as_notes() -> None:
    """A system that keeps the Procedure alone keeps what the record is not beside it."""
    cautions = ("The two people decide.", "It does not replace their own count.")
    (procedure,) = resources(bundle(case(cautions=cautions)), "Procedure")
    assert procedure["note"] == [{"text": text} for text in cautions]


def test_a_flag_of_what_is_inside_tells_when_it_comes_out() -> None:
    """A flag is what others see first: without it, nobody there knows that it has to come out."""
    made = bundle(case())
    plans = ["Removal:" in one["code"]["text"] for one in resources(made, "Flag")]
    known = ["not in the record" in one["code"]["text"] for one in resources(made, "Flag")]
    assert plans == [True, True, False, True, False]
    assert known == [False, False, True, False, False]


def test_an_account_is_final_only_where_both_ended_the_record() -> None:
    """Of a record that goes on, the numbers of an item would be taken for its last ones."""
    for closed, status in ((case().closed, "final"), (None, "preliminary")):
        made = bundle(case(closed=closed))
        accounts = [
            one["status"]
            for one in resources(made, "Observation")
            if code_of(one["code"]) == "item-account"
        ]
        assert accounts == [status, status]


def activity(**more: Any) -> Json:
    """Give what a plan of one closing count says of it."""
    facts = case(plan=(planned("closing", "closing count", "closing"),), discrepancies=(), **more)
    (plan,) = resources(bundle(facts), "CarePlan")
    (one,) = plan["activity"]
    found: Json = one["detail"]
    return found


def test_a_count_that_was_waived_twice_has_its_last_reason() -> None:
    """Both took the first reason back when they held it after all, and gave another one."""
    reasons = ("life_threatening", "other_reason")
    waived = (
        told(20 + n, "count_waived", title="closing count", reason=reason)
        for n, reason in enumerate(reasons)
    )
    found = activity(counts=(), due=(), happenings=tuple(waived))
    assert (found["status"], found["statusReason"]) == ("cancelled", {"text": "for another reason"})


def test_a_count_with_lines_left_out_is_not_going_on() -> None:
    """Said to be finished, it would look as if somebody were still at it."""
    for finished, result, status in (
        (when(29), "incomplete", "stopped"),
        (None, None, "in-progress"),
    ):
        last = count(2, "closing", "closing count", finished=finished, result=result)
        found = activity(closed=None, counts=(last,), due=(), happenings=())
        assert found["status"] == status
