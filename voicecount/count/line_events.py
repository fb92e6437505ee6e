"""Events of single lines: stored, confirmed, disputed, refused, set aside, taken back."""

from enum import StrEnum
from typing import Literal

from voicecount.count.event_base import CallEvent, OfItem
from voicecount.count.roles import Role
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
    NOT_IN_UNISON = "not_in_unison"
    """The two people counted different numbers, or only one of them counted."""
    NO_PLACE = "no_place"
    """Nobody said where it was counted."""


class Why(StrEnum):
    """Why stored lines are to be counted again."""

    ASKED = "asked"
    """One of the two said so."""
    INTERRUPTED = "interrupted"
    """An interruption restarts the whole group or count, by policy."""
    NOT_GONE_ON = "not_gone_on"
    """What was called to go on with it was refused, so its run is not whole."""
    DIFFERS = "differs"
    """The item's count differs from what is expected; both count it again."""
    CHANGED = "changed"
    """Something happened to the item after it was counted."""
    RELIEF = "relief"
    """Somebody took over in the middle of the initial count."""


class LineStored(CallEvent):
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


class LineConfirmed(OfItem):
    """The circulator said the item's total; every standing line of the item is confirmed."""

    kind: Literal["line_confirmed"] = "line_confirmed"
    line: int
    """The item's newest line."""
    number: int | None
    """The number said; None where the sheet's policy lets a yes confirm."""
    unison: bool = False
    """Whether both counted the line at the same time; then ``number`` is the item's total."""


class LineDisputed(OfItem):
    """The circulator did not agree; all standing lines of the item are to be counted again."""

    kind: Literal["line_disputed"] = "line_disputed"
    line: int
    total: int
    """What was stored."""
    number: int | None
    """The number said; None after a plain no."""
    pieces: int | None = None
    """The pieces said, if any."""


class RecountCalled(OfItem):
    """Stored lines no longer stand; they stay in the record and are to be counted again."""

    kind: Literal["recount_called"] = "recount_called"
    lines: tuple[int, ...]
    why: Why


class LineRefused(CallEvent):
    """A call was not stored."""

    kind: Literal["line_refused"] = "line_refused"
    refusal: Refusal
    after: int | None = None
    """The last number before the fault."""
    heard: int | None = None
    """The number at the fault."""
    missing: tuple[int, ...] = ()
    """The numbers that were skipped."""


class PackageSetAside(CallEvent):
    """A package did not hold its number: none of it is counted."""

    kind: Literal["package_set_aside"] = "package_set_aside"
    held: int
    pack: int
    """What it should have held."""
    replaces: tuple[int, ...] = ()
    """An unconfirmed line whose run went on past a whole package."""


class LineTakenBack(OfItem):
    """Lines were taken out of the tally: ``by`` asked for it, ``agreed`` said yes."""

    kind: Literal["line_taken_back"] = "line_taken_back"
    lines: tuple[int, ...]
    agreed: Role | None = None
