"""The JSON Schema of a report: current, a schema itself, and neither too wide nor too narrow.

Source: JSON Schema, draft 2020-12, by the ``jsonschema`` library.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from voicecount.commands.journals import CODEC
from voicecount.commands.verify import check
from voicecount.keep.reading import load_whole_part
from voicecount.report import schema
from voicecount.report.gather import gather

GOLDEN = Path(__file__).parent / "golden"
DOC = Path(__file__).parents[1] / "docs" / "report.schema.json"
WHOLE = "whole_case_2026_11_26"
VALIDATOR = Draft202012Validator(schema.schema())


def written(name: str = WHOLE) -> dict[str, Any]:
    """Give the JSON of a journal's report, read again."""
    path = GOLDEN / f"{name}.vcj"
    reading = check(load_whole_part(path, CODEC)).reading
    facts = gather(path.name, reading, given=[("Theatre", "4")], made="", made_by="test 1")
    found: dict[str, Any] = json.loads(facts.model_dump_json())
    return found


def test_the_file_in_docs_is_current() -> None:
    """It is what the code gives now; write it anew with ``schema.text()``."""
    assert DOC.read_text(encoding="utf-8") == schema.text()


def test_it_is_a_schema_of_its_dialect() -> None:
    """It names itself, and fits the schema of all schemas."""
    Draft202012Validator.check_schema(schema.schema())

    assert schema.schema()["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    assert schema.schema()["$id"] == "urn:voicecount:report:1"
    assert "never" in schema.schema()["description"] or "Nothing" in schema.schema()["description"]


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
    "another form": lambda found: found.update(form="voicecount.report/2"),
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


def test_descriptions_speak_of_json() -> None:
    """There is no ``None`` in JSON, and no markup in a description."""
    text = schema.text()

    assert '"description": "Whether the journal is whole' in text
    assert "None" not in text
    assert "``" not in text
