"""Nothing that the facts say is missing in a bundle: whatever is changed in them shows in it."""

import json
import re
from collections.abc import Iterator
from typing import Any, get_args

from fhir_facts import case

from voicecount.report.facts import CaseFacts, Fact
from voicecount.report.fhir import bundle

ELSEWHERE = {
    "form": "the JSON's own",
    "sound.what": "the line for a person has it",
}
"""What does not show in a bundle, and why not. docs/fhir.md, Limits, tells of times and records."""

PARTLY = {
    "items.id": "items stand by name, and lead to their lines and sums by id",
    "plan.id": "counts stand by title, and are found by id",
    "plan.unless_open": "tells something only where something is left out",
    "counts.id": "counts stand by title, and are found in the plan by id",
    "counts.lines.confirmed": "tells something only of a line that stands",
    "in_patient.by": "where some came out, those who told each time stand there",
    "in_patient.agreed": "the same",
}
"""What shows in some places only, and why."""

NOT_IN_IT = {"events", "at", "record"}
"""Fields without a place of their own: seconds of the case's clock, numbers of records."""


def told(facts: CaseFacts) -> str:
    """Give a bundle as text, with its ids by the order in which they come."""
    text = json.dumps(bundle(facts))
    ids: dict[str, str] = {}
    return re.sub(
        r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}",
        lambda found: ids.setdefault(found[0], f"id {len(ids)}"),
        text,
    )


def changed(value: Any) -> Any:
    """Give another value in the place of one."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, (int, float)):
        return value + 100_003
    if value == "":
        return "x"
    return re.sub(r"\+00:00$|Z$", "", value)[:-1] + "9" if value[:2] == "20" else f"{value}x"


def variants(part: Any, way: str = "") -> Iterator[tuple[str, Any]]:
    """Give the same with one plain value changed, for each that is there, and the way to it."""
    if isinstance(part, Fact):
        for name in type(part).model_fields.keys() - NOT_IN_IT:
            inner = f"{way}.{name}" if way else name
            for found, other in variants(getattr(part, name), inner):
                yield found, part.model_copy(update={name: other})
    elif isinstance(part, tuple):
        for n, one in enumerate(part):
            for found, other in variants(one, way):
                yield found, (*part[:n], other, *part[n + 1 :])
    elif part is not None:
        yield way, changed(part)


def test_whatever_is_changed_in_the_facts_shows() -> None:
    """Of all that the made-up case says, only what is listed above does not show, and all that."""
    before = told(case())
    found: dict[str, list[bool]] = {}
    for way, other in variants(case()):
        found.setdefault(way, []).append(told(other) != before)

    assert {way for way, shows in found.items() if not any(shows)} == ELSEWHERE.keys()
    assert {way for way, shows in found.items() if len({*shows}) > 1} == PARTLY.keys()


def test_the_made_up_case_says_everything_that_facts_can_say() -> None:
    """There is a value for every field of every kind of fact, or it would not have been tried."""
    tried = {way for way, _ in variants(case())}
    missing = {way for way in fields(CaseFacts) if way not in tried}

    assert missing == {"chain.damage"}  # of a journal that does not verify; in a test of its own


def fields(kind: type[Fact], way: str = "") -> Iterator[str]:
    """Give the way to every plain field of a kind of fact."""
    for name in kind.model_fields.keys() - NOT_IN_IT:
        inner = f"{way}.{name}" if way else name
        kinds = [one for one in parts(kind.model_fields[name].annotation) if is_fact(one)]
        for one in kinds:
            yield from fields(one, inner)
        if not kinds:
            yield inner


def parts(annotation: Any) -> Iterator[Any]:
    """Give every type that an annotation is made of."""
    yield annotation
    for one in get_args(annotation):
        yield from parts(one)


def is_fact(one: Any) -> bool:
    return isinstance(one, type) and issubclass(one, Fact)
