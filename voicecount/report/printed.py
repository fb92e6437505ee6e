"""A case's facts as they are printed: names from outside move nothing of what stands beside them.

JSON, CSV and FHIR are made of the facts as they are; in them a name is the name alone.
"""

from collections.abc import Mapping
from typing import Any

from voicecount.report.facts import CaseFacts
from voicecount.report.marks import isolated, unisolated

_NAMES = frozenset({"name", "group", "title", "due", "software", "recogniser", "voice", "journal"})
"""Fields that hold names, which stand in sentences too."""
_TOLD = frozenset({"events", "sound"})
"""Sentences of ``tell.py``, whose names are isolated already."""


def printed(facts: CaseFacts) -> CaseFacts:
    """Give the facts for ``pages.py``.

    The title and what the user gave stand alone: like all other texts they only lose what could be
    taken for ours.
    """
    values = facts.model_dump(exclude=set(_TOLD))
    shown = {name: _shown(value, name) for name, value in values.items()}
    shown["title"] = unisolated(facts.title)
    shown["team"] = [(who, isolated(name)) for who, name in facts.team]
    told = {name: getattr(facts, name) for name in _TOLD}
    return CaseFacts.model_validate({**shown, **told})


def _shown(value: Any, field: str) -> Any:
    if isinstance(value, str):
        return isolated(value) if field in _NAMES else unisolated(value)
    if isinstance(value, Mapping):
        return {name: _shown(one, name) for name, one in value.items()}
    if isinstance(value, tuple | list):
        return [_shown(one, field) for one in value]
    return value
