"""The small parts of an HL7 FHIR R4 bundle: texts, codes, times, and a book of its resources.

FHIR R4 (4.0.1), from memory: a string has no characters below U+0020 but tab, line feed and
carriage return (Datatypes, Primitive Types); JSON has no nulls and no empty arrays (JSON).
"""

import re
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from html import escape
from typing import Any, TypeAlias
from unicodedata import bidirectional
from uuid import NAMESPACE_URL, uuid5

from voicecount.report.facts import CaseFacts
from voicecount.report.marks import visible
from voicecount.report.words import plain

Json: TypeAlias = dict[str, Any]

OURS = "urn:voicecount:"
"""What every code system and identifier system of our own begins with."""
TERMINOLOGY = "http://terminology.hl7.org/CodeSystem/"
_ABSENT = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
_NAMESPACE = uuid5(NAMESPACE_URL, f"{OURS}fhir")
_CODE = re.compile(r"[^\s]+(\s[^\s]+)*")
"""The standard's own pattern of a code (Datatypes, Primitive Types)."""
_ISOLATE = re.compile("\u2068([^\u2066-\u2069]*)\u2069")
"""A stretch that keeps its reading direction to itself (Unicode Standard Annex 9)."""


def clean(text: str) -> str:
    """Give the text as a FHIR string: what cannot be seen as marks, nothing at all as "-"."""
    if text.isascii() and text.isprintable():  # most texts: nothing in them can hide
        return text.strip() or "-"
    parts = enumerate(_ISOLATE.split(text))
    seen = (f"\u2068{visible(one)}\u2069" if n % 2 else visible(one) for n, one in parts)
    return "".join(seen).strip() or "-"


def isolated(text: str) -> str:
    """Give a name as it stands in a sentence: right-to-left letters do not move what follows."""
    kept = clean(text)
    if any(bidirectional(character) in {"R", "AL", "AN"} for character in kept):
        return f"\u2068{kept}\u2069"
    return kept


def words(code: str) -> str:
    """Give a code of ours as words."""
    return clean(plain(code).replace(".", ": "))


def instant(wall: str) -> str:
    """Give a time of day as R4 writes it: to the second or finer, with its zone."""
    moment = datetime.fromisoformat(wall)
    aware = moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)
    return aware.astimezone(UTC).isoformat()


def period(start: str, end: str | None) -> Json:
    """Give a period. An end before its start (a clock set back) is left out (per-1)."""
    first = instant(start)
    last = instant(end) if end is not None else None
    if last is None or datetime.fromisoformat(last) < datetime.fromisoformat(first):
        return {"start": first}
    return {"start": first, "end": last}


def concept(text: str) -> Json:
    """Give a CodeableConcept of text alone, where no standard code is known to exist."""
    return {"text": clean(text)}


def coded(system: str, code: str, text: str | None = None) -> Json:
    """Give a CodeableConcept with a code of our own system; text alone where it cannot be one."""
    shown = clean(text if text is not None else words(code))
    if clean(code) != code or not _CODE.fullmatch(code):
        return {"text": shown}
    coding = {"system": f"{OURS}{system}", "code": code, "display": words(code)}
    return {"coding": [coding], "text": shown}


def standard(system: str, code: str, display: str) -> Json:
    """Give a CodeableConcept from HL7's own terminology."""
    coding = {"system": f"{TERMINOLOGY}{system}", "code": code, "display": display}
    return {"coding": [coding]}


def absent(code: str, display: str) -> Json:
    """Give a reason why a value is not there."""
    return standard("data-absent-reason", code, display)


NOT_PERFORMED = absent("not-performed", "Not Performed")
NOT_APPLICABLE = absent("not-applicable", "Not Applicable")
UNKNOWN = absent("unknown", "Unknown")


def unknown() -> Json:
    """Give an element that has no value because it is not known."""
    return {"extension": [{"url": _ABSENT, "valueCode": "unknown"}]}


def component(code: str, n: int | None, why: Json = UNKNOWN, text: str | None = None) -> Json:
    """Give one number of an Observation, or why there is none."""
    value: Json = {"dataAbsentReason": why} if n is None else {"valueInteger": n}
    return {"code": coded("part", code, text), **value}


def notes(*texts: str | None) -> list[Json]:
    """Give annotations of the texts that are there."""
    return [{"text": clean(text)} for text in texts if text is not None]


def narrative(lines: Iterable[str]) -> Json:
    """Give a Narrative: one paragraph a line, nothing in it but escaped text."""
    paragraphs = "".join(f"<p>{escape(clean(line), quote=False)}</p>" for line in lines)
    return {
        "status": "generated",
        "div": f'<div xmlns="http://www.w3.org/1999/xhtml">{paragraphs}</div>',
    }


class Book:
    """All resources of one bundle, in order; ids come from the journal's head and a key."""

    def __init__(self, facts: CaseFacts) -> None:
        self.facts = facts
        self._names = {item.id: item.name for item in facts.items}
        self._resources: dict[str, Json] = {}
        self._sections: dict[str, list[str]] = {}
        self._lines: dict[str, Sequence[str]] = {}

    def name(self, item: str) -> str:
        """Give an item's name, its id where the record does not name it."""
        return clean(self._names.get(item, item))

    def id_of(self, key: str) -> str:
        """Give the id of a resource, the same for every report of the same records."""
        return str(uuid5(_NAMESPACE, f"{self.facts.chain.head} {_encodable(key)}"))

    def add(
        self, key: str, kind: str, lines: Sequence[str], body: Json, *, section: str = ""
    ) -> Json:
        """Take a resource in and give a reference to it. ``lines`` are its text for people."""
        head = {"resourceType": kind, "id": self.id_of(key), "text": narrative(lines)}
        self._resources[key] = {**head, **_pruned(body)}
        self._sections.setdefault(section, []).append(key)
        self._lines[key] = lines
        return self.to(key)

    def has(self, key: str) -> bool:
        """Tell whether a resource is there."""
        return key in self._resources

    def to(self, key: str) -> Json:
        """Give a reference to a resource."""
        return {"reference": f"urn:uuid:{self.id_of(key)}"}

    def found(self, *keys: str) -> list[Json]:
        """Give references to those of the resources that are there."""
        return [self.to(key) for key in keys if self.has(key)]

    def of_section(self, section: str) -> list[Json]:
        """Give references to all resources of a section."""
        return [self.to(key) for key in self._sections.get(section, ())]

    def lines_of(self, section: str) -> list[str]:
        """Give the texts of all resources of a section."""
        return [line for key in self._sections.get(section, ()) for line in self._lines[key]]

    def entries(self, first: str) -> list[Json]:
        """Give the bundle's entries, the named resource before all others."""
        order = [first, *(key for key in self._resources if key != first)]
        return [
            {"fullUrl": f"urn:uuid:{self.id_of(key)}", "resource": self._resources[key]}
            for key in order
        ]


def _encodable(key: str) -> str:
    return key.encode("utf-8", "backslashreplace").decode("ascii", "backslashreplace")


def _pruned(value: Any) -> Any:
    """Leave out what is not there: FHIR's JSON has neither nulls nor empty lists or objects."""
    if isinstance(value, dict):
        parts = {name: _pruned(part) for name, part in value.items()}
        return {name: part for name, part in parts.items() if part is not None and part != []}
    if isinstance(value, (list, tuple)):
        return [_pruned(part) for part in value]
    return value
