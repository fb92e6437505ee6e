"""A drill's file, and how it is spoken of where something in it is wrong."""

import yaml

from voicecount.errors import VoicecountError
from voicecount.sheet.yaml_file import FileKind, scalar


class DrillError(VoicecountError):
    """A drill cannot be used, found or made as it is."""


def _name_entry(field: str, at: int, node: yaml.Node | None) -> str:
    """Name an entry of a list by what it is about, and by its place from 1."""
    kind = "event" if field == "events" else field
    known = scalar(node, "item" if field == "table" else "kind")
    return f"{kind} {at + 1}" + (f" {known!r}" if known else "")


DRILL = FileKind(
    "drill",
    "'title:'",
    "a title, a level, a task and a table",
    DrillError,
    "see docs/drills.md",
    _name_entry,
)
