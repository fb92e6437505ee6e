"""The shapes of HL7's published R4 examples: where a bundle says the same, it says it the same way.

Read in the examples that are published with FHIR R4 (4.0.1): document-example-dischargesummary,
observation-example-bloodpressure and task-example1, with the Provenance inside of the last one.
Facts about their form alone stand here: the way to each plain value, ``[]`` for a list.
"""

from collections.abc import Iterator
from typing import Any

import pytest
from fhir_facts import case
from fhir_reading import every_case, resources

from voicecount.report.facts import CaseFacts
from voicecount.report.fhir import bundle

BUNDLE = """
    resourceType id identifier.system identifier.value type timestamp
    entry[].fullUrl entry[].resource.resourceType entry[].resource.id
    entry[].resource.text.status entry[].resource.text.div
"""
"""Of the document itself."""

COMPOSITION = """
    resourceType id text.status text.div status type.coding[].system type.coding[].code type.text
    subject.reference date author[].reference title section[].title section[].code.coding[].system
    section[].code.coding[].code section[].text.status section[].text.div
    section[].entry[].reference
"""
OBSERVATION = """
    resourceType id text.status text.div status category[].coding[].system category[].coding[].code
    category[].coding[].display code.coding[].system code.coding[].code code.text
    subject.reference effectiveDateTime performer[].reference component[].code.coding[].system
    component[].code.coding[].code
"""
TASK = """
    resourceType id text.status text.div status intent code.text description focus.reference
    for.reference authoredOn
"""
PROVENANCE = "resourceType id target[].reference recorded agent[].who.reference"
SHAPES = {
    "Composition": COMPOSITION,
    "Observation": OBSERVATION,
    "Task": TASK,
    "Provenance": PROVENANCE,
    "Practitioner": "resourceType id text.status text.div",
    "Patient": "resourceType id text.status text.div",
}


def ways(part: Any, way: str = "") -> Iterator[str]:
    """Give the way to each plain value."""
    if isinstance(part, dict):
        for name, inner in part.items():
            yield from ways(inner, f"{way}.{name}" if way else name)
    elif isinstance(part, list):
        for inner in part:
            yield from ways(inner, f"{way}[]")
    else:
        yield way


def told(ways_: set[str], shape: set[str]) -> set[str]:
    """Give those ways that an example has too, whether or not as a list there."""
    known = {way.replace("[]", "") for way in shape}
    return {way for way in ways_ if way.replace("[]", "") in known}


def test_the_document_has_every_part_of_the_published_one() -> None:
    """What a reader of the example looks for in it is there, in the same place."""
    assert {*BUNDLE.split()} <= {*ways(bundle(case()))}


@pytest.mark.parametrize("kind", SHAPES)
def test_a_resource_has_the_parts_of_the_published_one(kind: str) -> None:
    """Of each kind there is one that has all of them."""
    found = [{*ways(one)} for one in resources(bundle(case()), kind)]
    assert any({*SHAPES[kind].split()} <= one for one in found)


@every_case
def test_no_part_has_another_shape(facts: CaseFacts) -> None:
    """A list is a list, and a single value is one, in every bundle."""
    made = bundle(facts)
    assert told({*ways(made)}, {*BUNDLE.split()}) == {*BUNDLE.split()}
    for kind, shape in SHAPES.items():
        for one in resources(made, kind):
            assert told({*ways(one)}, {*shape.split()}) <= {*shape.split()}


def test_another_shape_is_seen() -> None:
    """The check above can fail."""
    assert told({"section.text.div"}, {"section[].text.div"}) == {"section.text.div"}
