"""One record of the journal: a canonical JSON line that names the record before it.

A record is one line of ASCII JSON with sorted keys and no spaces, so that its bytes follow from its
content alone. ``hash`` is the SHA-256 of the same line without its ``hash`` field; ``prev`` is the
hash of the record before. docs/journal.md describes every field.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

SCHEMA = 1
"""Version of the record's form; raised whenever a field changes its meaning."""

FIRST_PREV = "0" * 64
"""What the first record names as the one before it."""

START = b'{"hash":"'
"""What every line begins with: its keys are sorted."""

_TYPES: dict[str, tuple[type, ...]] = {
    "schema": (int,),
    "seq": (int,),
    "wall": (str,),
    "monotonic": (float, int),
    "session": (str,),
    "kind": (str,),
    "payload": (dict,),
    "prev": (str,),
    "hash": (str,),
}


@dataclass(frozen=True)
class Record:
    """One record as it stands in the file."""

    schema: int
    seq: int
    """From 1, without gaps."""
    wall: str
    """Time of day of the append, ISO 8601, UTC."""
    monotonic: float
    """Seconds of the machine's steady clock; comparable within one session only."""
    session: str
    """Names one run of the program; a resumed case has several."""
    kind: str
    """``journal.…`` for the journal's own records, otherwise the event's kind."""
    payload: Mapping[str, Any]
    prev: str
    """Hash of the record before; FIRST_PREV in the first."""
    hash: str
    """SHA-256 over everything above, 64 hexadecimal digits."""

    def line(self) -> bytes:
        """Give the bytes that stand in the file, with the line's end."""
        return _canonical({**self._body(), "hash": self.hash}) + b"\n"

    def _body(self) -> dict[str, Any]:
        return {
            "schema": self.schema,
            "seq": self.seq,
            "wall": self.wall,
            "monotonic": self.monotonic,
            "session": self.session,
            "kind": self.kind,
            "payload": dict(self.payload),
            "prev": self.prev,
        }

    def digest(self) -> str:
        """Compute what ``hash`` has to be."""
        return hashlib.sha256(_canonical(self._body())).hexdigest()


def make(
    *,
    seq: int,
    wall: datetime,
    monotonic: float,
    session: str,
    kind: str,
    payload: Mapping[str, Any],
    prev: str,
) -> Record:
    """Make the next record. ``payload`` must be plain JSON; ValueError or TypeError otherwise."""
    open_record = Record(
        schema=SCHEMA,
        seq=seq,
        wall=wall.isoformat(timespec="microseconds"),
        monotonic=round(monotonic, 6),
        session=session,
        kind=kind,
        payload=payload,
        prev=prev,
        hash="",
    )
    return Record(**{**open_record.__dict__, "hash": open_record.digest()})


def parse(line: bytes) -> Record:
    """Read one line with its end. ValueError says what is wrong with it, in a few words."""
    try:
        fields = json.loads(line)
    except (ValueError, RecursionError):
        msg = "it is not JSON"
        raise ValueError(msg) from None
    if not isinstance(fields, dict) or fields.keys() != _TYPES.keys():
        msg = "it does not have a record's fields"
        raise ValueError(msg)
    if any(type(fields[name]) not in types for name, types in _TYPES.items()):
        msg = "a field has the wrong type"
        raise ValueError(msg)
    if fields["schema"] > SCHEMA:
        msg = f"it was written by a later version (schema {fields['schema']}); update voicecount"
        raise ValueError(msg)
    record = Record(**fields)
    try:
        fits = record.digest() == record.hash and record.line() == line
    except (ValueError, RecursionError):  # not a number, or nested deeper than is ever written
        fits = False
    if not fits:
        msg = "its content does not fit its hash"
        raise ValueError(msg)
    return record


def follows(record: Record, seq: int, prev: str) -> str | None:
    """Say what keeps ``record`` from being number ``seq`` after ``prev``; None when it fits."""
    if record.seq != seq:
        return f"it is number {record.seq} where number {seq} belongs"
    if record.prev != prev:
        return "it does not name the record before it"
    return None


def _canonical(fields: Mapping[str, Any]) -> bytes:
    return json.dumps(
        fields, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False
    ).encode("ascii")
