"""Where journals are kept, and which events they may be resumed with."""

from datetime import datetime
from itertools import count
from pathlib import Path

import platformdirs

from voicecount.count.events import CaseOpened, Event, event_from_dict, event_to_dict
from voicecount.count.ledger import Ledger, fold
from voicecount.errors import JournalError, UsageError
from voicecount.keep.clock import Clock
from voicecount.keep.journal import SUFFIX
from voicecount.keep.reading import Codec
from voicecount.room import TOLD_APART
from voicecount.sheet.model import Sheet

CODEC: Codec[Event] = Codec(encode=event_to_dict, decode=event_from_dict)


def new_path(sheet: Path, clock: Clock) -> Path:
    """Give a name that no file has yet, in the user's data folder, which is made if need be."""
    folder = platformdirs.user_data_path("voicecount", appauthor=False) / "journals"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise JournalError(
            f"{folder}: the folder for journals cannot be made ({error.strerror}); name a file "
            "with --journal"
        ) from None
    return _unused(folder, f"{_stamp(clock.wall())}-{sheet.stem}")


def check_resumable(path: Path, events: tuple[Event, ...], sheet: Sheet) -> Ledger:
    """Give the ledger of a journal's events; JournalError unless the sheet is the journal's own."""
    first = events[0] if events else None
    if not isinstance(first, CaseOpened):
        raise JournalError(f"{path}: it does not begin with the opening of a case; use another one")
    if first.sheet not in {sheet.digest, sheet.first_digest}:
        raise JournalError(
            f'{path}: it was kept with another count sheet ("{first.title}"), or another version '
            "of this one; resume it with that sheet"
        )
    try:
        return fold(events)
    except JournalError as error:
        raise JournalError(f"{path}: {error}") from error


def check_channels(ledger: Ledger, channels: int, where: Path, what: str) -> None:
    """Refuse to go on with another kind of channels than before. Raises UsageError.

    ``what`` tells what has how many channels, with a place for their number, and what to do.
    """
    if ledger.told_apart != (channels == len(TOLD_APART)):
        kept = "two channels" if ledger.told_apart else "one channel"
        raise UsageError(f"{where}: the journal was kept with {kept}, this {what.format(channels)}")


def _unused(folder: Path, stem: str) -> Path:
    names = (stem if number == 1 else f"{stem}-{number}" for number in count(1))
    return next(path for name in names if not (path := folder / f"{name}{SUFFIX}").exists())


def _stamp(moment: datetime) -> str:
    return moment.strftime("%Y%m%dT%H%M%SZ")
