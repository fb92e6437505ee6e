"""What happened in a count, one frozen model each; a journal is a list of these.

    CaseOpened        the first record: the sheet's lines and what heard and spoke them
    LineStored        the scrub's line, as counted
    LineConfirmed     the circulator said its number
    LineDisputed      the circulator said another number, or no
    RecountCalled     stored lines no longer stand and are to be counted again
    LineRefused       a call that was not stored, and why
    PackageSetAside   a package that did not hold its number; none of it is counted
    LineTakenBack     stored lines were taken out of the tally, by both people
    StoodBy           nothing is taken from here on
    CarriedOn         listening again
    CountFinished     a person said that the count is finished

A stored line is never edited: what takes its place names it in ``replaces``. New kinds and new
fields with a default may be added, so that old journals still load; nothing is ever renamed.
"""

from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from voicecount.count.roles import Role
from voicecount.errors import JournalError
from voicecount.words.meaning import Form


class Entry(StrEnum):
    """How a stored line came into its item's count."""

    FIRST = "first"
    """The item's first line."""
    EXTENDED = "extended"
    """The run of the line that it replaces went on before anyone confirmed it."""
    PACKAGE = "package"
    """A further package: on top of the item's other lines."""
    ADDITION = "addition"
    """Called an addition: on top of the item's other lines."""
    RECOUNT = "recount"
    """Counted again: in place of the lines that it replaces."""


class Refusal(StrEnum):
    """Why a call was not stored."""

    NOT_FROM_ONE = "not_from_one"
    SKIPPED = "skipped"
    REPEATED = "repeated"
    BACKWARDS = "backwards"
    RESTARTED = "restarted"
    NOT_ONE_BY_ONE = "not_one_by_one"
    """A total was stated for a line that is counted one by one."""
    PIECES_MISSING = "pieces_missing"
    PIECES_WRONG = "pieces_wrong"
    INTERRUPTED = "interrupted"
    """Cut off by another line or by a stand-by."""
    STARTED_OVER = "started_over"
    """The caller began the line again."""
    UNANSWERED = "unanswered"
    """Nobody said whether it was an addition or a recount."""
    TOO_MANY = "too_many"
    """More than can be said, and so more than can be confirmed."""
    UNCLEAR = "unclear"
    """Part of the line was not understood, and was not said again."""


class Why(StrEnum):
    """Why stored lines are to be counted again."""

    ASKED = "asked"
    """One of the two said so."""
    INTERRUPTED = "interrupted"
    """An interruption restarts the whole group, by policy."""
    NOT_GONE_ON = "not_gone_on"
    """What was called to go on with it was refused, so its run is not whole."""


class _Event(BaseModel):
    """What every event has."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    at: float
    """Seconds on the clock of the sound stream."""
    by: Role | None = None
    """Who brought it about; None when not known, or when time alone did."""


class _OfItem(_Event):
    """An event of one line of the tally."""

    item: str
    """The item's id."""
    place: str | None = None
    """Where it was counted; None as long as counts have no places."""


class _Call(_OfItem):
    """An event that holds what the scrub called."""

    numbers: tuple[int, ...]
    """The numbers as heard, in order; (0,) for none."""
    pieces: int | None = None
    """How many pieces each one was said to have."""
    start: float
    """Seconds to the start of the words."""
    end: float
    """Seconds to the end of the words."""


class CaseItem(BaseModel):
    """One line of the sheet, as far as a record needs it to be read years later."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    name: str
    """The first spoken name, singular."""
    group: str
    expect: int | None = None
    pack: int | None = None
    """How many one package holds."""
    pieces: int = 1


class CaseOpened(_Event):
    """The first record of a journal; ``items`` stand in the sheet's order."""

    kind: Literal["case_opened"] = "case_opened"
    title: str
    sheet: str
    """SHA-256 of the sheet, hexadecimal."""
    items: tuple[CaseItem, ...]
    count: str = "initial"
    """Which count is opened."""
    software: str
    recogniser: str
    voice: str
    roles_told_apart: bool


class LineStored(_Call):
    """A line is stored as counted, whatever the sheet says."""

    kind: Literal["line_stored"] = "line_stored"
    line: int
    """1, 2, 3 … in the order of storing."""
    counted: int
    """What this line counts."""
    total: int
    """What all standing lines of the item count together with this one."""
    expected: int | None
    """What the sheet says for the item; looked up only after the line was heard."""
    form: Form
    entry: Entry = Entry.FIRST
    replaces: tuple[int, ...] = ()
    """Lines that stand no longer."""


class LineConfirmed(_OfItem):
    """The circulator said the item's total; every standing line of the item is confirmed."""

    kind: Literal["line_confirmed"] = "line_confirmed"
    line: int
    """The item's newest line."""
    number: int | None
    """The number said; None where the sheet's policy lets a yes confirm."""


class LineDisputed(_OfItem):
    """The circulator did not agree; all standing lines of the item are to be counted again."""

    kind: Literal["line_disputed"] = "line_disputed"
    line: int
    total: int
    """What was stored."""
    number: int | None
    """The number said; None after a plain no."""
    pieces: int | None = None
    """The pieces said, if any."""


class RecountCalled(_OfItem):
    """Stored lines no longer stand; they stay in the record and are to be counted again."""

    kind: Literal["recount_called"] = "recount_called"
    lines: tuple[int, ...]
    why: Why


class LineRefused(_Call):
    """A call was not stored."""

    kind: Literal["line_refused"] = "line_refused"
    refusal: Refusal
    after: int | None = None
    """The last number before the fault."""
    heard: int | None = None
    """The number at the fault."""
    missing: tuple[int, ...] = ()
    """The numbers that were skipped."""


class PackageSetAside(_Call):
    """A package did not hold its number: none of it is counted."""

    kind: Literal["package_set_aside"] = "package_set_aside"
    held: int
    pack: int
    """What it should have held."""
    replaces: tuple[int, ...] = ()
    """An unconfirmed line whose run went on past a whole package."""


class LineTakenBack(_OfItem):
    """Lines were taken out of the tally: ``by`` asked for it, ``agreed`` said yes."""

    kind: Literal["line_taken_back"] = "line_taken_back"
    lines: tuple[int, ...]
    agreed: Role | None = None


class StoodBy(_Event):
    """Nothing is taken until someone says to carry on."""

    kind: Literal["stood_by"] = "stood_by"


class CarriedOn(_Event):
    """Listening again."""

    kind: Literal["carried_on"] = "carried_on"


class CountFinished(_Event):
    """A person said that the count is finished; what was open then is told, not judged."""

    kind: Literal["count_finished"] = "count_finished"
    count: str = "initial"
    unconfirmed: tuple[str, ...] = ()
    """Ids of items stored but not confirmed, or to be counted again."""
    differing: tuple[str, ...] = ()
    """Ids of items whose count is not what the sheet says."""
    left: tuple[str, ...] = ()
    """Ids of items with no count."""


Event = Annotated[
    CaseOpened
    | LineStored
    | LineConfirmed
    | LineDisputed
    | RecountCalled
    | LineRefused
    | PackageSetAside
    | LineTakenBack
    | StoodBy
    | CarriedOn
    | CountFinished,
    Field(discriminator="kind"),
]
"""Any event; told apart by ``kind``."""

_ANY: TypeAdapter[Event] = TypeAdapter(Event)


def event_to_dict(event: Event) -> dict[str, Any]:
    """Give an event as plain JSON values, with its ``kind``."""
    return event.model_dump(mode="json")


def event_from_dict(values: Mapping[str, Any]) -> Event:
    """Read an event from plain JSON values.

    Raises JournalError for a kind that this version does not know and for fields that do not fit.
    """
    try:
        return _ANY.validate_python(dict(values))
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "kind"
        raise JournalError(
            f"record of kind {values.get('kind')!r}: {where}: {first['msg']}; "
            "it needs the version of voicecount that wrote it, or a newer one"
        ) from None
