"""A small journal for the tests of the journal: plain dicts as events, a clock that stands."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from voicecount.keep.journal import Journal
from voicecount.keep.reading import Codec
from voicecount.testing.clock import FakeClock

Event = Mapping[str, Any]
CODEC: Codec[Event] = Codec(encode=dict, decode=dict)
CASE: Event = {"kind": "opened", "title": "small"}


def event(number: int) -> Event:
    return {"kind": "line", "item": "gauze", "number": number}


def create(path: Path) -> Journal[Event]:
    return Journal.create(path, CASE, CODEC, clock=FakeClock(), session="s1")


def reopen(path: Path) -> Journal[Event]:
    return Journal.open(path, CODEC, clock=FakeClock(), session="s2")


def twelve_records(path: Path) -> bytes:
    with create(path) as journal:
        for number in range(1, 12):
            journal.append(event(number))
    return path.read_bytes()
