"""The bundle is FHIR R4, says what the facts say and nothing else, and stands hostile names.

Checked from outside by the models of fhir.resources 8.3.0. Its R4B package is of 4.3.0: since 6.5.0
R4B stands in the place of R4, and 6.4.0, the last with models of 4.0.1, needs pydantic 1. By hand
the bundles of CASES were given to 6.4.0 as well, which took all of them. R4B was compared with
HL7's own definitions of 4.0.1 (profiles-resources.json, profiles-types.json), element by element,
for the 15 resources and 9 data types that are used here: names of elements, least and largest
number, and targets of references are the same, but for two differences that do not matter here:
Observation.subject may point at more kinds in R4B (here it is always a Patient), and an Extension
may hold other types (here it holds a code). The models do not check codes, references, formats of
ids and times or invariants: those checks are below, with rules of 4.0.1 that were read in the same
definitions ("read") or are from memory ("from memory").
"""

import json
import re
from collections.abc import Iterator
from typing import Any
from uuid import UUID
from xml.etree.ElementTree import fromstring

import pytest
from fhir.resources.R4B.bundle import Bundle
from fhir_facts import HOOK, case
from fhir_reading import (
    CASES,
    HOSTILE,
    Json,
    by_url,
    every_case,
    resources,
    values,
)

from voicecount.report.facts import CaseFacts
from voicecount.report.fhir import bundle
from voicecount.report.fhir_parts import clean, coded, instant, isolated, period


@every_case
def test_the_models_of_the_library_take_it(facts: CaseFacts) -> None:
    """Source: fhir.resources R4B (4.3.0); see above for what that says of 4.0.1."""
    made = bundle(facts)
    model = Bundle.model_validate(made)

    assert json.loads(model.model_dump_json()).keys() == made.keys()
    assert len(model.entry) == len(made["entry"])


@pytest.mark.parametrize("name", ["status", "subject"])
def test_the_models_refuse_what_is_not_fhir(name: str) -> None:
    """The check above can fail: a Procedure without what R4 demands is refused."""
    made = bundle(case())
    del resources(made, "Procedure")[0][name]

    with pytest.raises(ValueError, match=name):
        Bundle.model_validate(made)


@every_case
def test_it_is_a_document(facts: CaseFacts) -> None:
    """Source: R4 4.0.1, Bundle: bdl-1, 2, 3, 4, 5, 7, 8, 9, 10 and 11 (read)."""
    made = bundle(facts)

    assert made["type"] == "document"
    assert made["identifier"]["system"] == "urn:ietf:rfc:3986"
    assert UUID(made["identifier"]["value"].removeprefix("urn:uuid:"))
    assert made["timestamp"]
    assert made["entry"][0]["resource"]["resourceType"] == "Composition"
    assert made.keys().isdisjoint({"total", "link"})
    assert len(by_url(made)) == len(made["entry"])
    for entry in made["entry"]:
        assert entry.keys() == {"fullUrl", "resource"}
        # "fullUrl ... SHALL be consistent with Resource.id" (R4 4.0.1, Bundle.entry.fullUrl: read)
        assert entry["fullUrl"] == f"urn:uuid:{entry['resource']['id']}"
        assert "/_history/" not in entry["fullUrl"]


@every_case
def test_every_reference_resolves_to_a_kind_that_may_stand_there(facts: CaseFacts) -> None:
    """Source: R4 4.0.1, the targets of each element that is used here (read)."""
    made = bundle(facts)
    there = by_url(made)
    for resource in resources(made):
        for path, value in values(resource):
            if path[-1] == "reference":
                target = there[value]["resourceType"]
                allowed = TARGETS.get((resource["resourceType"], path[-2]))
                assert allowed is None or target in allowed, (resource["resourceType"], path)
                assert allowed or path[-2] in ANYTHING


WHO = {"Practitioner", "PractitionerRole", "Device", "Patient"}
TARGETS = {
    ("Composition", "subject"): {"Patient"},
    ("Composition", "author"): WHO,
    ("Procedure", "subject"): {"Patient"},
    ("Procedure", "actor"): WHO,
    ("PractitionerRole", "practitioner"): {"Practitioner"},
    ("CarePlan", "subject"): {"Patient"},
    ("CarePlan", "outcomeReference"): {"Observation"},
    ("CarePlan", "supportingInfo"): {"Procedure"},
    ("Observation", "basedOn"): {"CarePlan", "ServiceRequest"},
    ("Observation", "partOf"): {"Procedure", "ImagingStudy"},
    ("Observation", "subject"): {"Patient", "Device"},
    ("Observation", "performer"): {"Practitioner", "PractitionerRole", "Patient"},
    ("Observation", "device"): {"Device"},
    ("Observation", "hasMember"): {"Observation"},
    ("Observation", "derivedFrom"): {"Observation", "ImagingStudy"},
    ("Provenance", "who"): WHO,
    ("DetectedIssue", "patient"): {"Patient"},
    ("DetectedIssue", "author"): {"Practitioner", "PractitionerRole", "Device"},
    ("Communication", "subject"): {"Patient"},
    ("Communication", "recipient"): WHO,
    ("ImagingStudy", "subject"): {"Patient", "Device"},
    ("ImagingStudy", "interpreter"): {"Practitioner", "PractitionerRole"},
    ("ImagingStudy", "reasonReference"): {"Observation"},
    ("Device", "patient"): {"Patient"},
    ("DeviceUseStatement", "subject"): {"Patient"},
    ("DeviceUseStatement", "derivedFrom"): {"Procedure", "Observation"},
    ("DeviceUseStatement", "source"): {"Practitioner", "PractitionerRole", "Patient"},
    ("DeviceUseStatement", "device"): {"Device"},
    ("Flag", "subject"): {"Patient"},
    ("Flag", "author"): {"Device", "Practitioner", "PractitionerRole", "Patient"},
    ("Task", "for"): {"Patient"},
}
ANYTHING = {"entry", "detail", "target", "implicated", "about", "partOf", "focus"}
"""Elements that may point at any kind."""


@every_case
def test_every_resource_hangs_on_the_composition(facts: CaseFacts) -> None:
    """Source: R4 4.0.1, Documents: it holds what its Composition refers to (from memory)."""
    made = bundle(facts)
    there = by_url(made)
    seen: set[str] = set()
    waiting = [made["entry"][0]["fullUrl"]]
    while waiting:
        url = waiting.pop()
        if url not in seen:
            seen.add(url)
            waiting += [v for path, v in values(there[url]) if path[-1] == "reference"]

    assert seen == there.keys()


YEAR = "([0-9]([0-9]([0-9][1-9]|[1-9]0)|[1-9]00)|[1-9]000)"
DAY = f"{YEAR}-(0[1-9]|1[0-2])-(0[1-9]|[1-2][0-9]|3[0-1])"
CLOCK = r"([01][0-9]|2[0-3]):[0-5][0-9]:([0-5][0-9]|60)(\.[0-9]+)?"
INSTANT = rf"{DAY}T{CLOCK}(Z|(\+|-)((0[0-9]|1[0-3]):[0-5][0-9]|14:00))"
FORMATS = {
    **dict.fromkeys(("id",), r"[A-Za-z0-9\-\.]{1,64}"),
    **dict.fromkeys(("timestamp", "recorded", "date", "effectiveDateTime", "sent"), INSTANT),
    **dict.fromkeys(("occurredDateTime", "identifiedDateTime", "recordedOn", "time"), INSTANT),
    **dict.fromkeys(("authoredOn", "start", "end"), INSTANT),
    **dict.fromkeys(("code", "valueCode", "status", "intent", "role"), r"[^\s]+(\s[^\s]+)*"),
    **dict.fromkeys(("system", "url", "fullUrl", "reference"), r"\S+"),
}
"""Source: R4 4.0.1, Datatypes, primitive types: the regular expressions (read)."""


@every_case
def test_ids_times_codes_and_texts_have_the_formats(facts: CaseFacts) -> None:
    """Source: R4 4.0.1, Datatypes: formats (read); what a string must not hold (from memory)."""
    made = bundle(facts)
    for path, value in values(made):
        if path[-1] in FORMATS:
            assert re.fullmatch(FORMATS[path[-1]], value), (path, value)
        if isinstance(value, str):
            assert value.strip(), path
            assert len(value.encode()) < 1024 * 1024
            assert not re.search("[\x00-\x08\x0b\x0c\x0e-\x1f]", value), path
    assert json.loads(json.dumps(made, allow_nan=False)) == made


def test_no_time_is_left_out_of_the_formats() -> None:
    """Whatever looks like a time stands in an element whose format is checked."""
    looks = re.compile(r"\d{4}-\d\d-\d\dT\S+")
    timed = {path[-1] for path, v in values(bundle(case())) if looks.fullmatch(str(v))}

    assert timed <= FORMATS.keys()
    assert {"timestamp", "effectiveDateTime", "recorded", "start", "end", "sent"} <= timed


def test_there_is_nothing_empty() -> None:
    """Source: R4 4.0.1, JSON: no nulls, no empty lists, no empty objects (from memory)."""

    def look(part: Any) -> None:
        assert part is not None
        assert part not in ([], {}, "")
        for inner in part.values() if isinstance(part, dict) else part:
            if isinstance(inner, (dict, list)):
                look(inner)
            assert inner is not None

    for facts in CASES.values():
        look(bundle(facts))


CODES = {
    "CarePlan": {"active", "completed", "revoked", "unknown"},
    "Composition": {"preliminary", "final"},
    "Procedure": {"completed", "unknown"},
    "Observation": {"registered", "preliminary", "final", "cancelled"},
    "DetectedIssue": {"preliminary", "final"},
    "Communication": {"completed", "not-done"},
    "ImagingStudy": {"cancelled", "unknown"},
    "DeviceUseStatement": {"active"},
    "Flag": {"active"},
    "Task": {"draft", "requested"},
}
"""Source: R4 4.0.1, request-status, composition-status, event-status,
observation-status, imagingstudy-status, device-statement-status, flag-status, task-status: these
codes are in them (read)."""
PLANNED = {"not-started", "in-progress", "completed", "cancelled", "stopped", "unknown"}
"""Source: R4 4.0.1, care-plan-activity-status: these codes are in it (read)."""
HL7 = {
    "observation-category": {"procedure": "Procedure"},
    "data-absent-reason": {
        "not-performed": "Not Performed",
        "not-applicable": "Not Applicable",
        "unknown": "Unknown",
    },
    "provenance-participant-type": {
        "author": "Author",
        "verifier": "Verifier",
        "assembler": "Assembler",
    },
}
"""Source: R4 4.0.1, code systems of HL7, code and display (read)."""


@every_case
def test_codes_are_hl7s_or_our_own(facts: CaseFacts) -> None:
    """No code of LOINC, SNOMED CT or any other: none is known to exist for such a count."""
    made = bundle(facts)
    for resource in resources(made):
        kind = resource["resourceType"]
        if kind in CODES:
            assert resource["status"] in CODES[kind]
        assert ("status" in resource) == (kind in CODES)
    for concept in concepts(made):
        assert concept["text"] if not concept.get("coding") else True
        for coding in concept.get("coding", []):
            system = coding["system"]
            known = HL7.get(system.removeprefix("http://terminology.hl7.org/CodeSystem/"))
            assert system.startswith("urn:voicecount:") or known is not None
            assert known is None or known[coding["code"]] == coding["display"]
    assert {one["intent"] for one in resources(made, "Task")} <= {"plan"}  # request-intent (read)
    plans = resources(made, "CarePlan")
    assert {one["intent"] for one in plans} <= {"plan"}  # care-plan-intent (read)
    assert {part["detail"]["status"] for one in plans for part in one["activity"]} <= PLANNED
    roles = {
        part["role"] for one in resources(made, "Provenance") for part in one.get("entity", [])
    }
    assert roles == {"source"}  # provenance-entity-role (read)


def concepts(part: Any) -> Iterator[Json]:
    """Give every CodeableConcept."""
    if isinstance(part, dict):
        if "coding" in part or part.keys() == {"text"}:
            yield part
        for inner in part.values():
            yield from concepts(inner)
    elif isinstance(part, list):
        for inner in part:
            yield from concepts(inner)


@every_case
def test_observations_keep_their_invariants(facts: CaseFacts) -> None:
    """Source: R4 4.0.1, Observation: obs-6 and obs-7 (read)."""
    for one in resources(bundle(facts), "Observation"):
        valued = [name for name in one if name.startswith("value")]
        codes = [part["code"] for part in one.get("component", [])]

        assert not (valued and "dataAbsentReason" in one)
        assert not (valued and one["code"] in codes)
        assert len(valued) <= 1
        for part in one.get("component", []):
            assert ("dataAbsentReason" in part) + any(n.startswith("value") for n in part) == 1


@every_case
def test_sections_and_periods_keep_their_invariants(facts: CaseFacts) -> None:
    """Source: R4 4.0.1, Composition: cmp-1, cmp-2 (read); Period: per-1 (from memory)."""
    made = bundle(facts)
    for section in resources(made, "Composition")[0]["section"]:
        assert section["text"]["div"]
        assert "emptyReason" not in section
    for span in periods(made):
        assert span.keys() <= {"start", "end"}
        assert span.get("end", "9") >= span.get("start", "0")


def periods(part: Any) -> Iterator[Json]:
    """Give every Period."""
    if isinstance(part, dict):
        if {"start", "end"} & part.keys():
            yield part
        for inner in part.values():
            yield from periods(inner)
    elif isinstance(part, list):
        for inner in part:
            yield from periods(inner)


TAGS = {"{http://www.w3.org/1999/xhtml}div", "{http://www.w3.org/1999/xhtml}p"}


@every_case
def test_narratives_are_plain(facts: CaseFacts) -> None:
    """Source: R4 4.0.1, Narrative: txt-1, txt-2 (from memory); DomainResource: dom-6 (read)."""
    made = bundle(facts)
    sections = resources(made, "Composition")[0]["section"]
    for part in (*resources(made), *sections):
        text = part["text"]
        root = fromstring(text["div"])  # noqa: S314 - our own text, checked for what it holds

        assert text["status"] == "generated"
        assert root.tag.endswith("}div")
        assert {one.tag for one in root.iter()} <= TAGS
        assert not any(one.attrib for one in root.iter())
        assert "".join(root.itertext()).strip()
        assert "<!" not in text["div"]
        assert "<?" not in text["div"]


@every_case
def test_no_text_can_turn_numbers_around(facts: CaseFacts) -> None:
    """Source: Unicode Standard Annex 9: no override, and every isolate is closed again."""
    for path, value in values(bundle(facts)):
        depth = 0
        for character in value if isinstance(value, str) else "":
            assert character not in "\u202a\u202b\u202c\u202d\u202e\u2066\u2067", path
            depth += (character == "\u2068") - (character == "\u2069")
            assert depth in {0, 1}, path
        assert depth == 0


@pytest.mark.parametrize(
    ("wall", "expected"),
    [
        ("2031-05-06T07:08:09Z", "2031-05-06T07:08:09+00:00"),
        ("2031-05-06T07:08:09", "2031-05-06T07:08:09+00:00"),
        ("2031-05-06T07:08", "2031-05-06T07:08:00+00:00"),
        ("2031-05-06T07:08:09.25+02:00", "2031-05-06T05:08:09.250000+00:00"),
    ],
)
def test_times_get_seconds_and_a_zone(wall: str, expected: str) -> None:
    """Source: R4 4.0.1, Datatypes: an instant is known at least to the second, with its zone."""
    assert instant(wall) == expected


def test_a_period_never_ends_before_it_starts() -> None:
    """A clock that was set back leaves no end. Source: R4 4.0.1, Period: per-1 (from memory)."""
    early, late = "2031-05-06T07:00:00Z", "2031-05-06T07:00:00.5Z"

    assert period(early, late)["end"] == instant(late)
    assert period(early, early)["end"] == instant(early)
    assert period(late, early) == {"start": instant(late)}
    assert period(late, None) == {"start": instant(late)}


@pytest.mark.parametrize("code", ["two  spaces", " edge", "", "tab\tin", "bell\x07"])
def test_what_cannot_be_a_code_stays_text(code: str) -> None:
    """Source: R4 4.0.1, Datatypes: the pattern of a code (read)."""
    assert coded("part", code).keys() == {"text"}
    assert coded("part", "one_word")["coding"][0]["code"] == "one_word"


def test_texts_keep_their_words_and_show_what_hides() -> None:
    """Emoji and other scripts stay as they are; steering characters become marks."""
    emoji = HOSTILE["emoji"]

    assert clean(emoji) == emoji
    assert clean("abc\u202e31") == "abc[U+202E]31"
    assert clean(" \n") == "-"
    assert isolated("plain") == "plain"
    assert isolated("\u05d0 5") == "\u2068\u05d0 5\u2069"
    assert clean(isolated("\u05d0") + ": 5") == "\u2068\u05d0\u2069: 5"
    assert bundle(case(emoji))["entry"]
    assert HOOK in json.dumps(bundle(case(emoji)))
