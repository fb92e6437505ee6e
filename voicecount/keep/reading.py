"""Reading a journal: every line walked, every link of the chain checked."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from voicecount.errors import JournalError
from voicecount.keep.record import FIRST_PREV, Record, follows, parse

E = TypeVar("E")

RESUMED = "journal.resumed"
RECOVERED = "journal.recovered"
_OWN = "journal."


@dataclass(frozen=True)
class Codec(Generic[E]):
    """How events become plain JSON and back. The journal does not know what they mean."""

    encode: Callable[[E], Mapping[str, Any]]
    """A dict whose ``kind`` names the event; no kind begins with ``journal.``."""
    decode: Callable[[Mapping[str, Any]], E]
    """The inverse of ``encode``; JournalError, ValueError, KeyError or TypeError otherwise."""


@dataclass(frozen=True)
class Reading(Generic[E]):
    """What a journal's file holds."""

    records: tuple[Record, ...]
    events: tuple[E, ...]
    torn: bytes
    """Bytes of an unfinished last line; normally none."""

    @property
    def head(self) -> str:
        """Hash of the last record; people who wrote down its first digits witness the file."""
        return self.records[-1].hash


def read(data: bytes, path: Path, codec: Codec[E]) -> Reading[E]:
    """Walk all records of a journal's bytes. JournalError names the first line that is wrong."""
    *lines, torn = data.split(b"\n")
    records: list[Record] = []
    events: list[E] = []
    prev = FIRST_PREV
    for number, line in enumerate(lines, start=1):
        try:
            record = parse(line + b"\n")
            wrong = follows(record, number, prev)
            if wrong is not None:
                raise ValueError(wrong)  # noqa: TRY301 - one way out for all that is wrong
            if not record.kind.startswith(_OWN):
                events.append(codec.decode({**record.payload, "kind": record.kind}))
        except (ValueError, KeyError, TypeError, JournalError) as error:
            raise JournalError(
                f"{path}, line {number}: {_few_words(error)}; the journal was damaged or changed "
                "there and is not written to; keep the file and start a new one"
            ) from error
        records.append(record)
        prev = record.hash
    if not records:
        raise JournalError(
            f"{path}: it holds no whole record, so nothing was ever kept in it; start a new journal"
        )
    return Reading(tuple(records), tuple(events), torn)


def _few_words(error: Exception) -> str:
    text = str(error.args[0]) if error.args else type(error).__name__
    return f"unknown or missing field {text}" if isinstance(error, KeyError) else text
