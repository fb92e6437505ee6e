"""The JSON Schemas of reports: current, schemas themselves, and neither too wide nor too narrow.

Source: JSON Schema, draft 2020-12, by the ``jsonschema`` library.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import report_facts
from hypothesis import given
from jsonschema import Draft202012Validator
from many_facts import cases

from voicecount.cautions import NEVER_SAFE
from voicecount.commands.journals import CODEC
from voicecount.commands.verify import check
from voicecount.keep.reading import load_whole_part
from voicecount.report import schema
from voicecount.report.facts import CaseFacts
from voicecount.report.gather import gather
from voicecount.report.many import Summary
from voicecount.report.many_json import summary_object

GOLDEN = Path(__file__).parent / "golden"
DOCS = Path(__file__).parents[1] / "docs"
WHOLE = "whole_case_2026_11_26"
VALIDATOR = Draft202012Validator(schema.schema())


MANY = Draft202012Validator(schema.many_schema())


def figures(cases: list[CaseFacts]) -> dict[str, Any]:
    """Give the JSON of the figures of cases, read again."""
    made = summary_object(
        Summary.of(cases), title="Cases", made="", made_by="test 1", given=[("Site", "North")]
    )
    found: dict[str, Any] = json.loads(json.dumps(made))
    return found


def written(name: str = WHOLE) -> dict[str, Any]:
    """Give the JSON of a journal's report, read again."""
    path = GOLDEN / f"{name}.vcj"
    reading = check(load_whole_part(path, CODEC)).reading
    facts = gather(path.name, reading, given=[("Theatre", "4")], made="", made_by="test 1")
    found: dict[str, Any] = json.loads(facts.model_dump_json())
    return found


@pytest.mark.parametrize("name", schema.FILES)
def test_the_files_in_docs_are_current(name: str, tmp_path: Path) -> None:
    """They are what the code gives now; write them anew with ``schema.write``."""
    schema.write(tmp_path)

    assert (DOCS / name).read_bytes() == (tmp_path / name).read_bytes()
    assert {path.name for path in tmp_path.iterdir()} == {*schema.FILES}
    assert {path.name for path in DOCS.glob("*.schema.json")} == {*schema.FILES}


@pytest.mark.parametrize(
    ("made", "id_"),
    [
        (schema.schema(), "urn:voicecount:report:2"),
        (schema.many_schema(), "urn:voicecount:report.many:2"),
    ],
)
def test_they_are_schemas_of_their_dialect(made: dict[str, Any], id_: str) -> None:
    """Each names itself, fits the schema of all schemas, and says what the JSON is not."""
    Draft202012Validator.check_schema(made)

    assert made["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    assert made["$id"] == id_
    assert NEVER_SAFE in made["description"]


@given(cases())
def test_the_figures_of_any_cases_fit(found: list[CaseFacts]) -> None:
    """None at all, few and many, damaged ones among them."""
    assert list(MANY.iter_errors(figures(found))) == []


def test_the_figures_of_old_journals_fit() -> None:
    """Those of the cases in tests/golden."""
    found = [report_facts.golden(path.name) for path in GOLDEN.glob("*.vcj")]

    assert list(MANY.iter_errors(figures(found))) == []


@pytest.mark.parametrize("name", sorted(path.stem for path in GOLDEN.glob("*.vcj")))
def test_the_report_of_an_old_journal_fits(name: str) -> None:
    """Nothing in it is undescribed, nothing described is missing."""
    assert list(VALIDATOR.iter_errors(written(name))) == []


def _without(name: str) -> Callable[[dict[str, Any]], None]:
    def change(found: dict[str, Any]) -> None:
        del found[name]

    return change


CHANGES: dict[str, Callable[[dict[str, Any]], None]] = {
    "a word for a number": lambda found: found["items"][0].update(added="five"),
    "a field that is not described": lambda found: found.update(safe=True),
    "the same further in": lambda found: found["counts"][0]["sums"][0].update(verdict="agrees"),
    "another form": lambda found: found.update(form="voicecount.report/1"),
    "half a number": lambda found: found["counts"][0]["lines"][0].update(counted=4.5),
    "a label without its text": lambda found: found.update(given=[["Theatre"]]),
    "a moment without its record": lambda found: found["began"].pop("record"),
    "no cautions": _without("cautions"),
    "no heard, though it may be null": _without("heard"),
    "no default either": lambda found: found["chain"].pop("notes"),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_changed_report_does_not_fit(change: Callable[[dict[str, Any]], None]) -> None:
    """One thing is changed in a report that fits."""
    found = written()
    change(found)

    assert list(VALIDATOR.iter_errors(found))


MANY_CHANGES: dict[str, Callable[[dict[str, Any]], None]] = {
    "a share without its n": lambda found: found["closed"].pop("n"),
    "a rate without its base": lambda found: found["heard"]["rate"].pop("base"),
    "a word for a number": lambda found: found["counts"].update(lines="many"),
    "a name of somebody": lambda found: found["people"].update(names=["Robin"]),
    "half an interval": lambda found: found["closed"].update(interval=[0.5]),
    "half a case": lambda found: found["software"].update(x=0.5),
    "a verdict on a kind": lambda found: found["kinds"]["initial"].update(verdict="fine"),
    "another form": lambda found: found.update(form="voicecount.report/1"),
    "no cautions": _without("cautions"),
}


@pytest.mark.parametrize("change", MANY_CHANGES.values(), ids=MANY_CHANGES)
def test_changed_figures_do_not_fit(change: Callable[[dict[str, Any]], None]) -> None:
    """One thing is changed in figures that fit."""
    found = figures([report_facts.golden()])
    assert list(MANY.iter_errors(found)) == []
    change(found)

    assert list(MANY.iter_errors(found))


@pytest.mark.parametrize("made", [schema.schema(), schema.many_schema()])
def test_descriptions_speak_of_json(made: dict[str, Any]) -> None:
    """There is no ``None`` in JSON, and no markup in a description."""
    text = schema.text(made)

    assert "null" in text
    assert "None" not in text
    assert "``" not in text
