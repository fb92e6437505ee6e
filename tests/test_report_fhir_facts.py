"""The bundle says what the facts say: every number, every step, and nothing else."""

import json
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any
from uuid import UUID

from fhir_facts import DAMAGE, HEAD, RIBBON, case, count, item_sum, line
from fhir_reading import (
    CASES,
    GOLDEN,
    Json,
    by_url,
    code_of,
    every_case,
    golden,
    numbers,
    paragraphs,
    resources,
    values,
)

from voicecount.report.facts import CaseFacts
from voicecount.report.fhir import bundle
from voicecount.report.fhir_parts import clean, instant


@every_case
def test_every_number_is_one_of_the_facts(facts: CaseFacts) -> None:
    """No number is computed, rounded or made up: neither a value nor one in a text."""
    made = bundle(facts)
    plain = facts.model_dump(mode="python")
    known = {value for _, value in python_values(plain) if type(value) is int}
    words = " ".join(clean(value) for _, value in python_values(plain) if isinstance(value, str))
    texts = set(re.findall(r"\d+", words)) | {str(abs(n)) for n in known} | {"256"}

    for path, value in values(made):
        assert type(value) is not float
        if type(value) is int:
            assert value in known, path
    for resource in (*resources(made), *resources(made, "Composition")[0]["section"]):
        for text in paragraphs(resource):
            left = re.sub(r"\d{4}-\d\d-\d\dT\S+?\+00:00", "", text)
            assert set(re.findall(r"\d+", left)) <= texts, text


def python_values(part: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    if isinstance(part, dict):
        for name, inner in part.items():
            yield from python_values(inner, (*path, name))
    elif isinstance(part, (list, tuple)):
        for inner in part:
            yield from python_values(inner, path)
    else:
        yield path, part


def item_observations(made: Json, item: str, title: str) -> list[Json]:
    text = f"Count of {item}, {title}"
    return [one for one in resources(made, "Observation") if one["code"]["text"] == text]


@every_case
def test_each_item_of_each_count_has_its_numbers(facts: CaseFacts) -> None:
    """Item by item and place by place: every sum of the facts is one Observation."""
    made = bundle(facts)
    items = {"item-count", "item-addition"}
    found = [one for one in resources(made, "Observation") if code_of(one["code"]) in items]
    sums = [one for held in facts.counts for one in held.sums]

    assert len(found) == len(sums)
    for observation, one in zip(found, sums, strict=True):
        assert numbers(observation) == {
            "counted": one.counted,
            "inside": one.inside,
            "tucked": one.tucked,
            "expected": one.expected,
            "difference": one.off,
            **dict(one.places),
        }
        assert ("dataAbsentReason" in observation) == (one.counted is None)
        marks = [
            code_of(part["valueCodeableConcept"])
            for part in observation["component"]
            if code_of(part["code"]) == "mark"
        ]
        assert marks == list(one.flags)


def test_a_count_tells_its_result_and_its_items() -> None:
    """The result of a count is its value, its items are its members, in the sheet's order."""
    made = bundle(case())
    there = by_url(made)
    first, closing, asked, cavity, last = (
        one
        for one in resources(made, "Observation")
        if one["code"].get("coding", [{}])[0].get("system") == "urn:voicecount:count-kind"
    )

    assert code_of(closing["valueCodeableConcept"]) == "differs"
    assert [there[member["reference"]]["code"]["text"] for member in closing["hasMember"]] == [
        "Count of ribbon gauze, closing count",
        "Count of hook, closing count",
    ]
    assert numbers(closing) == {
        "number": 2,
        "refused": 73,
        "disputed": 0,
        "recounted": 0,
        "interruptions": 79,
    }
    named = [(code_of(p["code"]), p.get("valueString")) for p in closing["component"]]
    assert {("not_confirmed", "hook"), ("differing", "ribbon gauze"), ("left", "hook")} <= set(
        named
    )
    assert [one["status"] for one in (first, closing, asked, cavity, last)] == [
        *("final", "final", "preliminary", "cancelled", "final"),
    ]
    assert code_of(cavity["dataAbsentReason"]) == "not-performed"
    assert code_of(asked["dataAbsentReason"]) == "unknown"
    assert asked["effectivePeriod"] == {"start": "2031-05-06T07:00:30.500000+00:00"}
    assert closing["effectivePeriod"] == {
        "start": "2031-05-06T07:00:20.500000+00:00",
        "end": "2031-05-06T07:00:29.500000+00:00",
    }
    assert {"effectiveDateTime"}.isdisjoint(closing)


def test_an_item_is_derived_from_its_count_before() -> None:
    """The later count of an item points at the earlier one; people and time come from its lines."""
    made = bundle(case())
    (first,) = item_observations(made, "ribbon gauze", "first count")
    (closing,) = item_observations(made, "ribbon gauze", "closing count")
    (hook,) = item_observations(made, "hook", "closing count")
    (unknown,) = item_observations(made, "hook", "first count")
    there = by_url(made)

    assert "derivedFrom" not in first
    assert closing["derivedFrom"] == [{"reference": f"urn:uuid:{first['id']}"}]
    assert closing["effectiveDateTime"] == "2031-05-06T07:00:22.500000+00:00"
    assert hook["effectiveDateTime"] == "2031-05-06T07:00:25.500000+00:00"
    for title, at, status in (("asked for", 30, "preliminary"), ("last count", 59, "final")):
        (lineless,) = item_observations(made, "ribbon gauze", title)
        assert lineless["effectiveDateTime"] == f"2031-05-06T07:00:{at}.500000+00:00"
        assert lineless["status"] == status
    assert (closing["status"], hook["status"]) == ("final", "preliminary")
    assert [code_of(there[p["reference"]]["code"][0]) for p in closing["performer"]] == [
        *("scrub", "circulator"),
    ]
    assert "performer" not in unknown
    assert any("heard 1, 2, 4" in text and "did not stand" in text for text in paragraphs(first))


def test_who_confirmed_is_a_provenance_with_two_agents() -> None:
    """The one who called is its author, the one who said the number its verifier."""
    made = bundle(case())
    there = by_url(made)
    confirmed = [one for one in resources(made, "Provenance") if len(one["agent"]) == 2]
    known = [
        [
            (code_of(part["type"]), code_of(part["role"][0]) if "role" in part else None)
            for part in one["agent"]
        ]
        for one in confirmed
    ]
    targets = [[there[t["reference"]]["code"]["text"] for t in one["target"]] for one in confirmed]

    assert known == [
        [("author", "scrub"), ("verifier", "circulator")],
        [("author", None), ("verifier", None)],
        [("author", "scrub"), ("verifier", "circulator")],
    ]
    assert targets == [
        ["Count of ribbon gauze, first count"],
        ["Count of hook, first count"],
        ["Count of ribbon gauze, closing count"],
    ]
    assert "display" in confirmed[1]["agent"][0]["who"]
    assert "not a signature" in paragraphs(confirmed[0])[0]


def test_a_line_that_nobody_confirmed_has_no_verifier() -> None:
    """Silence is no consent."""
    unanswered = line(12, RIBBON, confirmed=False, answered=None, answered_by=None)
    disputed = line(13, RIBBON, confirmed=False)
    made = bundle(case(counts=(count(1, "initial", "first", lines=(unanswered, disputed)),)))

    assert [len(one["agent"]) for one in resources(made, "Provenance")] == [1]


def test_an_addition_is_no_count_of_all_that_is_there() -> None:
    """It has a code of its own, no expected number, and what follows is derived from both."""
    added = item_sum(RIBBON, counted=5, expected=None, off=None)
    facts = case(
        counts=(
            count(1, "initial", "first count", sums=(item_sum(RIBBON),)),
            count(2, "addition", "addition", sums=(added,)),
            count(3, "addition", "addition", sums=(added,)),
            count(4, "closing", "closing count", sums=(item_sum(RIBBON),)),
            count(5, "final", "last count", sums=(item_sum(RIBBON),)),
        )
    )
    made = bundle(facts)
    there = by_url(made)
    codes = {"item-count", "item-addition"}
    found = [one for one in resources(made, "Observation") if code_of(one["code"]) in codes]
    before = [[there[one["reference"]] for one in part.get("derivedFrom", [])] for part in found]

    assert [code_of(one["code"]) for one in found] == [
        *("item-count", "item-addition", "item-addition", "item-count", "item-count"),
    ]
    assert found[1]["code"]["text"] == "Addition of ribbon gauze, addition"
    assert before == [[], [], [], found[:3], found[3:4]]
    for one, why in ((found[1], "not-applicable"), (found[3], None)):
        parts = {code_of(part["code"]): part for part in one["component"]}
        for name in ("expected", "difference"):
            assert code_of(parts[name].get("dataAbsentReason", {})) == why


@every_case
def test_every_stored_line_stands_in_a_text(facts: CaseFacts) -> None:
    """Nothing that was stored is lost, whether it stands or not."""
    made = bundle(facts)
    texts = [text for one in resources(made, "Observation") for text in paragraphs(one)]
    for held in facts.counts:
        for one in held.lines:
            (text,) = (found for found in texts if re.search(rf"\bLine {one.line}[,:]", found))
            by = re.escape(one.by or "not known")
            assert re.search(rf"; counted {one.counted}; called by {by}( \(.*\))?, 20", text)
            assert instant(one.stored.wall) in text
            lost = one.answered is not None and one.stands and not one.confirmed
            assert ("no longer confirmed" in text) == lost
            assert ("not confirmed" in text) == (one.answered is None)
            assert ("did not stand" in text) == (not one.stands)


def test_a_line_of_an_item_without_a_sum_is_kept_with_its_count() -> None:
    """Its Provenance points at the count as a whole."""
    stray = line(12, "stray", counted=113, pieces=127)
    made = bundle(case(counts=(count(1, "initial", "first", lines=(stray,)),)))
    (held,) = (one for one in resources(made, "Observation") if one["code"]["text"] == "first")
    (confirmed,) = (one for one in resources(made, "Provenance") if len(one["agent"]) == 2)

    assert paragraphs(held)[-1].startswith("stray. Line 12: heard 1–3, pieces of each 127, one by")
    assert confirmed["target"] == [{"reference": f"urn:uuid:{held['id']}"}]


def test_counts_that_were_not_held_are_not_performed() -> None:
    """A waived count has its reason; a planned one that is due is not called off before the end."""
    for closed, status in ((case().closed, "cancelled"), (None, "registered")):
        made = bundle(case(closed=closed))
        found = {
            (code_of(one["code"]), one["code"]["text"]): one
            for one in resources(made, "Observation")
            if code_of(one["code"]) in {"count-waived", "count-due"}
        }
        due, waived = (found[f"count-{what}", "skin count"] for what in ("due", "waived"))

        assert due["status"] == status
        assert waived["status"] == "cancelled"
        assert waived["note"] == [{"text": "life is in danger"}]
        assert found["count-waived", "a planned count"]["note"] == [
            {"text": "no reason is recorded"}
        ]
        for one in found.values():
            assert code_of(one["dataAbsentReason"]) == "not-performed"


def test_accounts_tell_how_the_expected_number_came_about() -> None:
    """All parts of the account of every item, by name."""
    facts = case()
    found = [
        one
        for one in resources(bundle(facts), "Observation")
        if code_of(one["code"]) == "item-account"
    ]

    for one, item in zip(found, facts.items, strict=True):
        assert numbers(one) == {
            name: value
            for name, value in item.model_dump().items()
            if name not in {"id", "name", "group"}
        }


def test_what_was_told_keeps_its_numbers_and_people() -> None:
    """An incident keeps item, numbers, site and reason; who told it is who had the role then."""
    made = bundle(case())
    other, packed, opened, *_ = (
        one
        for one in resources(made, "Observation")
        if one["code"].get("coding", [{}])[0].get("system") == "urn:voicecount:happening"
    )

    assert numbers(other) == {"count": 1, "n": 8, "printed": 10}
    assert other["component"][0]["valueString"] == "ribbon gauze"
    assert packed["bodySite"] == {"text": "in the pelvis"}
    assert packed["note"] == [{"text": "comes out on the ward"}]
    assert len(packed["performer"]) == 2
    assert "Who: told by scrub (Ab), agreed by circulator." in paragraphs(packed)
    assert "component" not in opened
    assert "Who: who told it is not known." in paragraphs(opened)


def issue(made: Json, number: int) -> Json:
    return resources(made, "DetectedIssue")[number - 1]


def author(made: Json, one: Json) -> str | None:
    """Give the role of whoever told something."""
    if "author" not in one:
        return None
    return code_of(by_url(made)[one["author"]["reference"]]["code"][0])


def test_a_difference_is_an_issue_with_its_steps() -> None:
    """What was done is a mitigation with its time; what was not done is told, and is none."""
    made = bundle(case())
    there = by_url(made)
    first, second = issue(made, 1), issue(made, 2)
    evidence = [there[one["reference"]] for one in first["evidence"][0]["detail"]]

    assert [code_of(one["action"]) for one in first["mitigation"]] == [
        *("pause", "tell", "recount", "search", "search", "image", "found"),
    ]
    assert [one["action"]["text"] for one in first["mitigation"]][2:4] == [
        "Both count again: done; counted 53.",
        "Search: floor, found; 83 found.",
    ]
    assert [author(made, one) for one in first["mitigation"]] == [
        *(None, "circulator", None, "scrub", None, "circulator", "circulator"),
    ]
    assert (
        "The person in charge is told: not done. Told by scrub (nobody-listed)." in first["detail"]
    )
    inside = "Counted, with what was known to be in the patient, when it came up"
    assert [one["code"]["text"] for one in evidence[0]["component"]][1] == inside
    assert f"{inside}: 52. Expected: 55." in first["detail"]
    assert "Counted, when it came up: 52. Expected: 55" not in first["detail"]
    assert "Counted, when it came up: " in second["detail"]
    assert first["code"]["text"] == "Difference in the count: the item over all places"
    assert numbers(evidence[0]) == {"counted": 52, "expected": 55, "difference": -3}
    assert [one["resourceType"] for one in evidence] == ["Observation", "ImagingStudy"]
    assert there[first["implicated"][0]["reference"]]["code"]["text"] == (
        "Count of ribbon gauze, closing count"
    )
    assert "mitigation" not in second
    assert "implicated" not in second
    assert "too many, not explained" in second["detail"]
    assert "the surgeon will go on" in second["detail"]
    assert "off the field: 2 too many" in second["detail"]


def test_a_difference_ends_as_it_stood_when_both_closed_it() -> None:
    """It came up 2 too many, and one is missing when it is given up: it is not found."""
    first, second, third, _ = case().discrepancies
    gone = second.model_copy(update={"off_now": -1})
    found = case(discrepancies=(first, gone, third))
    made = bundle(found)

    assert "too many, not explained" not in issue(made, 2)["detail"]
    assert "off the field: 2 too many" in issue(made, 2)["detail"]
    assert "When both closed it: 1 short." in issue(made, 2)["detail"]
    assert "Closed by both without the item: not found" in issue(made, 2)["detail"]
    assert "When the record ends: 3 short." in issue(made, 3)["detail"]


def test_what_initial_and_heard_mean_is_said_where_they_stand() -> None:
    """An initial number holds what was in the patient; what was heard has its end."""
    text = json.dumps(bundle(case()))

    assert "Initial count, with what was in the patient then: " in text
    assert "All this up to the last time a count was finished or the record ended" in text


def test_an_open_difference_stays_open() -> None:
    """Only what both closed is final."""
    made = bundle(case())

    assert [one["status"] for one in resources(made, "DetectedIssue")] == [
        *("final", "final", "preliminary", "final"),
    ]
    assert "nobody closed it" in issue(made, 3)["detail"]
    assert paragraphs(issue(made, 3))[0].startswith("Difference 3, unlisted: 3 short")
    assert "It came up in count number 2, closing count, 20" in issue(made, 3)["detail"]
    assert "It came up outside of a count, 20" in issue(made, 2)["detail"]
    assert "author" not in issue(made, 4)["mitigation"][0]


def test_who_was_told_is_a_communication() -> None:
    """Told or not told, and why not; the words themselves are in no record."""
    made = bundle(case())
    there = by_url(made)
    told, charge, untold = resources(made, "Communication")

    assert (told["status"], charge["status"], untold["status"]) == (
        *("completed", "not-done", "not-done"),
    )
    assert "statusReason" not in told
    assert charge["statusReason"] == {"text": "no reason recorded"}
    assert untold["statusReason"] == {"text": "for another reason"}
    assert code_of(there[told["recipient"][0]["reference"]]["code"][0]) == "surgeon"
    assert told["recipient"][1] == {"display": "The team in the room"}
    assert code_of(there[charge["recipient"][0]["reference"]]["code"][0]) == "person_in_charge"
    assert told["sent"] == "2031-05-06T07:00:32.500000+00:00"
    assert "sent" not in untold
    assert "payload" not in told


def test_an_image_is_a_study_only_where_one_was_told_of() -> None:
    """Its reader is known by role; one that was not taken is cancelled, with the reason."""
    made = bundle(case())
    there = by_url(made)
    taken, not_taken = resources(made, "ImagingStudy")
    assert ["NOT TAKEN" in one["description"] for one in (taken, not_taken)] == [False, True]

    assert (taken["status"], not_taken["status"]) == ("unknown", "cancelled")
    assert there[taken["interpreter"][0]["reference"]]["code"][0]["text"] == "radiologist"
    assert "nothing seen on the image" in taken["note"][0]["text"]
    assert "too ill" in not_taken["note"][0]["text"]
    assert not resources(bundle(case(discrepancies=())), "ImagingStudy")


def test_nobody_is_made_up() -> None:
    """The patient has no name, number, birth date or sex; the operation has no time of its own."""
    made = bundle(case())
    (patient,) = resources(made, "Patient")
    (procedure,) = resources(made, "Procedure")
    absent = {
        "extension": [
            {
                "url": "http://hl7.org/fhir/StructureDefinition/data-absent-reason",
                "valueCode": "unknown",
            }
        ]
    }  # R4 4.0.1, extension data-absent-reason (from memory)

    assert patient.keys() == {"resourceType", "id", "text", "name"}
    assert patient["name"] == [absent]
    assert procedure["_performedDateTime"] == absent
    assert procedure["identifier"] == [{"type": {"text": "Case"}, "value": "R 4711"}]
    assert procedure["code"] == {"text": "Made-up operation"}
    assert not any("identifier" in one for one in resources(made, "Practitioner"))


def test_the_operation_is_completed_only_where_the_facts_allow_it() -> None:
    """Both ended a whole record that holds a finished last count; anything less is unknown."""
    whole, broken = case(), CASES["damaged"]
    unfinished = case(counts=(count(1, "final", "last", finished=None),))
    found = {
        status["status"]
        for facts in (broken, case(closed=None), case(counts=()), unfinished)
        for status in resources(bundle(facts), "Procedure")
    }

    assert resources(bundle(whole), "Procedure")[0]["status"] == "completed"
    assert found == {"unknown"}


def test_a_journal_that_does_not_verify_says_so() -> None:
    """The bundle is still made; its status and its first text say that the record is not whole."""
    made = bundle(CASES["damaged"])
    (composition,) = resources(made, "Composition")
    origin = resources(made, "Provenance")[-1]

    assert composition["status"] == "preliminary"
    assert f"DOES NOT VERIFY: {DAMAGE}" in composition["text"]["div"]
    assert f"DOES NOT VERIFY: {DAMAGE}" in composition["section"][0]["text"]["div"]
    assert code_of(origin["activity"]) == "not_whole"
    nameless = case(chain=case().chain.model_copy(update={"whole": False}))
    assert "DOES NOT VERIFY: the place is not known" in json.dumps(bundle(nameless))


def test_a_whole_journal_is_named_by_its_head() -> None:
    """The head's hash stands as identifier of the document's origin, and in its text."""
    made = bundle(case())
    (composition,) = resources(made, "Composition")
    origin = resources(made, "Provenance")[-1]
    head = {"system": "urn:voicecount:journal-head", "value": HEAD}

    assert composition["status"] == "final"
    assert composition["identifier"] == head
    assert origin["entity"][0]["what"]["identifier"] == head
    assert code_of(origin["activity"]) == "whole"
    assert origin["target"] == [{"reference": f"urn:uuid:{composition['id']}"}]
    assert f"Head: {HEAD}." in "".join(paragraphs(origin))
    assert resources(bundle(CASES["open"]), "Composition")[0]["status"] == "preliminary"


def test_the_document_can_be_read_as_text_alone() -> None:
    """Every line of every entry stands in its section. Source: R4 4.0.1, Documents: the human-
    readable content is that of the Composition and its sections (from memory)."""
    made = bundle(case())
    there = by_url(made)
    for section in resources(made, "Composition")[0]["section"]:
        lines = paragraphs(section)
        for entry in section.get("entry", []):
            assert set(paragraphs(there[entry["reference"]])) <= set(lines)


def test_an_empty_section_says_so() -> None:
    """Nothing is left out in silence."""
    sections = resources(bundle(CASES["empty"]), "Composition")[0]["section"]
    told = {code_of(section["code"]): paragraphs(section) for section in sections}

    assert told["differences"] == ["The record holds none."]
    assert told["people"][0].startswith("One channel for both people")
    assert told["sound"] == ["How often something was heard is not in the record."]
    assert "Heard: 319. Taken: 103. Passed over: 107." in json.dumps(bundle(case()))


def test_no_text_says_that_it_is_safe() -> None:
    """ "Safe" stands only in sentences that say that nothing here says so."""
    for facts in (case(), *(golden(path) for path in GOLDEN)):
        for path, value in values(bundle(facts)):
            if isinstance(value, str):
                for found in re.finditer(r"[^.>]*\bsafe\b[^.<]*", value):
                    assert re.search("does not say|Nothing here says", found[0]), path


def test_ids_come_from_the_head_alone() -> None:
    """The same records give the same ids; another head gives others; each report is its own."""
    one, again = bundle(case()), bundle(case(made="2031-05-07T00:00:00Z"))
    other = bundle(case(chain=case().chain.model_copy(update={"head": "c3" * 32})))

    assert bundle(case()) == one
    assert by_url(one).keys() == by_url(again).keys()
    assert by_url(one).keys().isdisjoint(by_url(other))
    assert one["identifier"] != again["identifier"]
    assert Counter(UUID(one["id"]).version for one in resources(one)) == {5: len(one["entry"])}
