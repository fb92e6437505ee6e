"""The JSON Schemas of a case's facts and of the figures of many, made from their classes.

They are docs/report.schema.json and docs/report.many.schema.json; ``write`` makes both anew.
"""

import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaMode

from voicecount.cautions import NEVER_SAFE
from voicecount.report.facts import SCHEMA, CaseFacts
from voicecount.report.many_form import FORM, ManyFigures

ID = "urn:voicecount:report:2"
MANY_ID = "urn:voicecount:report.many:2"
DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema() -> dict[str, Any]:
    """Give the schema of the JSON that ``CaseFacts.model_dump_json`` writes."""
    return _schema(
        CaseFacts,
        SCHEMA,
        ID,
        "Record of a surgical count",
        f"What the journal of one case says: what two people said, nothing more. {NEVER_SAFE}. "
        "Times are given twice: at, in seconds on the case's clock, and wall, the machine's time "
        "of day.",
    )


def many_schema() -> dict[str, Any]:
    """Give the schema of the JSON that ``many_json.summary_object`` makes."""
    return _schema(
        ManyFigures,
        FORM,
        MANY_ID,
        "Figures of many records of surgical counts",
        "Sums of what was said aloud in many cases. They judge nobody, and do not tell what was "
        f"left in a patient. {NEVER_SAFE}.",
    )


def _schema(kind: type[BaseModel], form: str, id_: str, title: str, text: str) -> dict[str, Any]:
    made = kind.model_json_schema(mode="serialization", schema_generator=_AllWritten)
    made["properties"]["form"]["const"] = form
    return {"$schema": DIALECT, "$id": id_, **made, "title": title, "description": text}


FILES: Mapping[str, Callable[[], dict[str, Any]]] = {
    "report.schema.json": schema,
    "report.many.schema.json": many_schema,
}
"""What is in the docs, by the name of its file."""


def text(made: dict[str, Any]) -> str:
    """Give a schema as the text of its file."""
    return json.dumps(made, indent=2, ensure_ascii=False) + "\n"


def write(folder: Path) -> None:
    """Write all schemas anew into the folder of the docs."""
    for name, make in FILES.items():
        (folder / name).write_text(text(make()), encoding="utf-8")


class _AllWritten(GenerateJsonSchema):
    """Every field is written always, also one that has a default."""

    def field_is_required(self, *_: Any, **__: Any) -> bool:
        return True

    def generate(self, schema: Any, mode: JsonSchemaMode = "serialization") -> dict[str, Any]:
        made = super().generate(schema, mode)
        for part in (made, *made["$defs"].values()):
            for described in (part, *part["properties"].values()):
                if "description" in described:
                    described["description"] = _in_json(described["description"])
            for described in part["properties"].values():
                described.pop("title", None)  # it only says the name again
        return made


def _in_json(docstring: str) -> str:
    """Put a docstring for readers of JSON: ``None`` is null there."""
    return re.sub(r"\bNone\b", "null", " ".join(docstring.replace("``", "").split()))
