"""Events of a whole case: counts, incidents, differences, people, its beginning and its end."""

from enum import StrEnum
from typing import Literal

from pydantic import BaseModel, ConfigDict

from voicecount.count.event_base import BaseEvent
from voicecount.count.roles import Role
from voicecount.sheet.plan import CountKind, PlannedCount


class Incident(StrEnum):
    """What can happen to an item between counts, and what it does to the count."""

    DROPPED = "dropped"
    """It fell. It stays in the room and in the count, off the field."""
    CUT = "cut"
    """It was cut in two: one entry more for each."""
    BROKEN = "broken"
    """One broke into fragments: each is an entry."""
    INCOMPLETE = "incomplete"
    """One of several pieces is not there: a difference."""
    TUCKED = "tucked"
    """Put into the patient, to come out before the end."""
    CAME_OUT = "came_out"
    """A tucked or packed one is out again."""
    PACKED = "packed"
    """Left in the patient on purpose, beyond the end."""
    OLD_PACKING_OUT = "old_packing_out"
    """Packing of an earlier operation is out; it stays out of this count."""
    OTHER_NUMBER = "other_number"
    """A suture pack held another number than is printed on it."""
    HANDED_OVER = "handed_over"
    """It leaves the count, for a reason that is given."""
    COUNTED_OFF = "counted_off"
    """It leaves the field in a counted group; it stays in the room and in the count."""
    ONE_TOO_MANY = "one_too_many"
    """More were found than are expected: a difference."""
    ADDED = "added"
    """Added while another count is open; otherwise additions are counts of their own."""


class Difference(StrEnum):
    """What differs."""

    LINE = "line"
    """An item's count over all places."""
    PLACE = "place"
    """Fewer are counted off the field than were passed off it."""
    PIECE = "piece"
    """An item has fewer pieces than it should."""


class Step(StrEnum):
    """What is done about a difference."""

    PAUSE = "pause"
    TELL = "tell"
    RECOUNT = "recount"
    SEARCH = "search"
    CHARGE = "charge"
    IMAGE = "image"


class Settled(StrEnum):
    """How a difference was closed by both people."""

    FOUND = "found"
    RECOUNTED = "recounted"
    """Counted again by both, and the numbers agree."""
    NOT_FOUND = "not_found"
    """It was not found; what was decided is in the record."""
    EXPLAINED = "explained"
    """The expected number itself was not right, for a reason that both give."""


class CountResult(StrEnum):
    """What a count came to. None of these says that anything is safe."""

    BASELINE = "baseline"
    """An initial count in which both people gave every line its number."""
    AGREES = "agrees"
    """Every line has the number that is expected now."""
    LEFT_ON_PURPOSE = "left_on_purpose"
    """The same, with items that were left in the patient on purpose."""
    RECONCILED = "reconciled"
    """There was a difference, and both people closed it as found, recounted or explained."""
    DIFFERS = "differs"
    """A difference is open, or was closed without the item."""
    INCOMPLETE = "incomplete"
    """A line was not counted, not confirmed, or has no initial count."""
    NOT_DONE = "not_done"
    """Waived, with a reason."""


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


class Person(BaseModel):
    """Someone of the team, as the sheet or the case names them."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    name: str


class CaseOpened(BaseEvent):
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
    plan: tuple[PlannedCount, ...] = ()
    """The counts that are due; empty in records of the first version."""
    team: tuple[Person, ...] = ()


class CountOpened(BaseEvent):
    """A count begins; what was open before it ends with it."""

    kind: Literal["count_opened"] = "count_opened"
    number: int
    """1 is the initial count."""
    count: str
    """The id in the plan, or the kind of a count that is in no plan."""
    count_kind: CountKind
    title: str
    items: tuple[str, ...]
    """Ids, in the order of counting."""
    places: tuple[str, ...] = ()
    """In the order of counting; empty where an item is counted as one line."""
    tucked_counts: bool = True
    """Whether what is tucked in may still be in the patient; if not, it is missing."""


class CountFinished(BaseEvent):
    """A person said that the count is finished; what was open then is told, not judged."""

    kind: Literal["count_finished"] = "count_finished"
    count: str = "initial"
    unconfirmed: tuple[str, ...] = ()
    """Ids of items stored but not confirmed, or to be counted again."""
    differing: tuple[str, ...] = ()
    """Ids of items whose count is not what the sheet says, or not what is expected."""
    left: tuple[str, ...] = ()
    """Ids of items with no count, or with a place that has none."""
    number: int = 1
    result: CountResult | None = None
    """None in records of the first version."""
    open: tuple[int, ...] = ()
    """Numbers of the differences that are open."""
    tucked: tuple[str, ...] = ()
    """Ids of items that are tucked in and not out."""
    takes_in: bool = False
    """Whether an initial count that is corrected takes in once what was told before, and what is in
    the patient. False in records of before, which are read as they were made."""


class CountWaived(BaseEvent):
    """A planned count is not done, for a reason; its result is never anything else."""

    kind: Literal["count_waived"] = "count_waived"
    count: str
    title: str
    reason: str
    agreed: Role | None = None


class IncidentTold(BaseEvent):
    """Something happened to an item: ``by`` told it, ``agreed`` said the same."""

    kind: Literal["incident_told"] = "incident_told"
    incident: Incident
    item: str
    n: int
    """How many; of BROKEN how many fragments one has, of INCOMPLETE how many pieces are there."""
    printed: int | None = None
    """OTHER_NUMBER: what is printed on the pack; ``n`` is what it held."""
    site: str | None = None
    """TUCKED, PACKED, CAME_OUT: where in the patient."""
    reason: str | None = None
    """HANDED_OVER: why. PACKED: when it is to come out."""
    agreed: Role | None = None


class DiscrepancyOpened(BaseEvent):
    """A count and what is expected differ. It stays open until both people close it."""

    kind: Literal["discrepancy_opened"] = "discrepancy_opened"
    number: int
    item: str
    differs: Difference
    counted: int
    expected: int
    """At PLACE what was passed off the field; at PIECE how many pieces there should be."""
    place: str | None = None
    right_at: float | None = None
    """Seconds when both last gave the expected number; None if they never did."""
    right_in: str | None = None
    """Title of the count in which that was."""
    right_places: tuple[tuple[str, int], ...] = ()
    """Where the items were then."""


class StepTold(BaseEvent):
    """A step of a difference is done, or is not done for a reason."""

    kind: Literal["step_told"] = "step_told"
    discrepancy: int
    step: Step
    answer: str = "done"
    """"done", "nothing", "found", "not_done", or what the image shows."""
    where: str | None = None
    """SEARCH: the place."""
    n: int | None = None
    """RECOUNT: what was counted again."""
    found: int = 0
    """How many of those that are missing were found in this step."""
    reason: str | None = None
    reader: str | None = None
    """IMAGE: who read it."""


class DiscrepancyClosed(BaseEvent):
    """Both people closed a difference: ``by`` said how, ``agreed`` said the same."""

    kind: Literal["discrepancy_closed"] = "discrepancy_closed"
    discrepancy: int
    settled: Settled
    n: int = 0
    """FOUND: how many."""
    where: str | None = None
    reason: str | None = None
    """NOT_FOUND: what was decided. EXPLAINED: why."""
    agreed: Role | None = None


class PeopleChanged(BaseEvent):
    """Someone takes over, for good or for a break."""

    kind: Literal["people_changed"] = "people_changed"
    role: Role
    permanent: bool
    outgoing: str | None = None
    """Id in the team; None where no names were given."""
    incoming: str | None = None
    back: bool = False
    """Whether this is the return from a break."""
    agreed: Role | None = None


class TurnedOpen(BaseEvent):
    """The operation turns open; what the plan leaves out is counted from now on."""

    kind: Literal["turned_open"] = "turned_open"
    agreed: Role | None = None


class CaseClosed(BaseEvent):
    """Both people end the record; what is open then is told and stays in it."""

    kind: Literal["case_closed"] = "case_closed"
    open: tuple[int, ...] = ()
    """Numbers of the differences that are open."""
    not_found: tuple[int, ...] = ()
    """Numbers of those that were closed without the item."""
    due: tuple[str, ...] = ()
    """Ids of planned counts that were not held."""
    inside: tuple[str, ...] = ()
    """Ids of items left in the patient on purpose."""
    tucked: tuple[str, ...] = ()
    """Ids of items tucked in and not out."""
    agreed: Role | None = None


class StoodBy(BaseEvent):
    """Nothing is taken until someone says to carry on."""

    kind: Literal["stood_by"] = "stood_by"


class CarriedOn(BaseEvent):
    """Listening again."""

    kind: Literal["carried_on"] = "carried_on"
