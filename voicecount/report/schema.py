"""The JSON Schema of a case's facts, made from their classes; docs/report.schema.json is it."""

import json
import re
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaMode

from voicecount.report.facts import SCHEMA, CaseFacts

ID = "urn:voicecount:report:1"
DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema() -> dict[str, Any]:
    """Give the schema of the JSON that ``CaseFacts.model_dump_json`` writes."""
    made = CaseFacts.model_json_schema(mode="serialization", schema_generator=_AllWritten)
    made["properties"]["form"]["const"] = SCHEMA
    return {
        "$schema": DIALECT,
        "$id": ID,
        **made,
        "title": "Record of a surgical count",
        "description": (
            "What the journal of one case says: what two people said, nothing more. Nothing in it "
            "says that it is safe to close. Times are given twice: at, in seconds on the case's "
            "clock, and wall, the machine's time of day."
        ),
    }


def text() -> str:
    """Give the schema as the text of its file."""
    return json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"


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
