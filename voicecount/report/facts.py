"""What a record says, as plain values: every page, table and export of the report is made of these.

They are made by ``gather.py`` from a journal, never typed in. Times are given twice: ``at`` in
seconds on the case's clock, ``wall`` as the machine's time of day (ISO 8601, UTC). The JSON Schema
in docs is made from these classes.
"""

from pydantic import BaseModel, ConfigDict, Field

SCHEMA = "voicecount.report/2"


class Fact(BaseModel):
    """What every value here is: fixed, and with nothing more in it than is described."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class Moment(Fact):
    """When something was recorded."""

    record: int
    """Number of the journal's record, from 1."""
    at: float
    """Seconds on the case's clock; of the journal's own records that of the event before them."""
    wall: str
    """Time of day, ISO 8601, UTC."""


class Chain(Fact):
    """Whether the journal is whole, and how it can be checked."""

    whole: bool
    """Whether every record follows the one before and means something."""
    damage: str | None = None
    """The first place that is wrong; nothing after it is in this report."""
    records: int
    head: str
    """Hash of the last record, 64 hexadecimal digits."""
    digits: str
    """Its first eight, as people wrote them down."""
    spoken: str
    """The same in words."""
    notes: tuple[str, ...] = ()
    """Clock set back, a line cut off after a crash, an unfinished last line."""


class Session(Fact):
    """One run of the program."""

    first: int
    """Numbers of its records, from 1."""
    last: int
    software: str | None


class ItemFacts(Fact):
    """One line of the sheet, and what is known of it at the end."""

    id: str
    name: str
    group: str
    sheet: int | None
    """The sheet's number."""
    pack: int | None
    pieces: int
    initial: int | None
    """What both people gave in the initial count, with what was in the patient then."""
    added: int
    changed: int
    """By cutting, breaking, or a pack that held another number."""
    explained: int
    """What both people gave as the mistake in the expected number itself."""
    handed_over: int
    expected: int | None
    """initial + added + changed + explained - handed over."""
    tucked: int
    """In the patient and still to come out."""
    inside: int
    """Left in the patient on purpose."""
    passed_off: int


class DroppedFacts(Fact):
    """Why a line is counted again, or stands no longer: the first thing that came of it."""

    when: Moment
    how: str
    """``disputed`` by the other person, ``recount`` called, ``taken_back`` by both, ``replaced`` by
    a line that went on from it, ``set_aside`` with a package that did not hold its number."""
    by: str | None = None
    agreed: str | None = None
    number: int | None = None
    """What the other person said in its place; None after a plain no."""
    why: str | None = None
    """Why it is counted again."""


class LineFacts(Fact):
    """One stored line of a count, whether it stands or not."""

    line: int
    """1, 2, 3 … in the order of storing over the whole case."""
    item: str
    place: str | None
    numbers: tuple[int, ...]
    """As heard."""
    pieces: int | None
    counted: int
    form: str
    """``run`` for one by one, ``total`` for a stated total."""
    entry: str
    stands: bool
    """Whether it was in the tally when its count ended."""
    confirmed: bool
    """Whether its item's number was said by the other person, and it stood at the count's end."""
    stored: Moment
    by: str | None
    """Role of who called it."""
    answered: Moment | None = None
    """When it was confirmed."""
    answered_by: str | None = None
    dropped: DroppedFacts | None = None


class SumFacts(Fact):
    """One item of a count when that count ended, line by line and place by place."""

    item: str
    places: tuple[tuple[str, int | None], ...]
    """What was counted at each place; empty for a count without places, None where nothing was."""
    counted: int | None
    """The standing lines, over all places; None where nothing is stored."""
    inside: int
    tucked: int
    """What is known to be in the patient and belongs to the sum."""
    expected: int | None
    """What there should have been; in an initial count the sheet's number."""
    off: int | None
    """counted + inside + tucked - expected; None where one of them is not known, and by places
    until both people gave every place."""
    confirmed: bool
    """Whether both people gave a number for every place of it."""
    flags: tuple[str, ...]


class CountFacts(Fact):
    """One count."""

    number: int
    id: str
    kind: str
    title: str
    places: tuple[str, ...]
    opened: Moment
    finished: Moment | None
    """The last time that somebody said that it is finished; None where nobody did."""
    result: str | None
    """What it came to, as recorded: baseline, agrees, left_on_purpose, reconciled, differs,
    incomplete or not_done; no code says safe. None where it was not finished, was changed after
    that and not finished again, or where the record's version named none."""
    lines: tuple[LineFacts, ...]
    sums: tuple[SumFacts, ...]
    unconfirmed: tuple[str, ...]
    differing: tuple[str, ...]
    left: tuple[str, ...]
    not_in_it: tuple[str, ...] = ()
    """Items of the sheet that are not in it: the plan leaves them out, or nobody asked for them."""
    refused: int
    """Calls that were not stored."""
    disputed: int
    """How often the other person said another number, or no."""
    recounted: int
    """Lines that were stored as counted again."""
    interruptions: int
    """Stand-bys and calls cut off inside the count; a stand-by that cut a call off is one."""


class HappeningFacts(Fact):
    """Anything told between or inside counts: an incident, a hand-over of people, a waiver."""

    when: Moment
    what: str
    """The event's kind, and for incidents the incident: ``incident.dropped``."""
    count: int | None
    """Number of the count in which it was told; None between counts."""
    title: str | None = None
    """Of a count that is not done: its title."""
    item: str | None = None
    n: int | None = None
    printed: int | None = None
    site: str | None = None
    reason: str | None = None
    by: str | None = None
    agreed: str | None = None
    role: str | None = None
    outgoing: str | None = None
    incoming: str | None = None
    permanent: bool | None = None
    back: bool | None = None


class StepFacts(Fact):
    """One step of a difference."""

    when: Moment
    step: str
    answer: str
    where: str | None = None
    n: int | None = None
    found: int = 0
    reason: str | None = None
    reader: str | None = None
    by: str | None = None


class DiscrepancyFacts(Fact):
    """One difference, from its coming up to its end."""

    number: int
    item: str
    differs: str
    counted: int
    expected: int
    off: int
    """Counted less expected when it came up."""
    off_now: int
    """How many were over, below zero missing, when both closed it; while it is open, when the
    record ends. After recounts, and without what was found in steps; the same as ``off`` where
    nothing came of it."""
    place: str | None
    count: int
    """Number of the count in which it came up; 0 outside of one."""
    opened: Moment
    steps: tuple[StepFacts, ...]
    closed: Moment | None
    settled: str | None
    """How both people closed it; None while it is open."""
    n: int = 0
    where: str | None = None
    reason: str | None = None
    by: str | None = None
    agreed: str | None = None


class InsideFacts(Fact):
    """Items left in the patient on purpose, or tucked in and never told to be out.

    One for each time that some were told, with its own plan; one for a site where some of several
    came out again, since nobody said which.
    """

    item: str
    site: str
    n: int
    on_purpose: bool
    removal: str | None
    """What was said of when it is to come out; several plans joined by ``; ``."""
    when: Moment
    """When it was told; the last time where they were told in several."""
    by: str | None = None
    agreed: str | None = None
    """Who told it and who agreed; None where that is not known, or not the same each time."""
    of: int | None = None
    """How many were told in all, where some of them came out again; else None."""


class TenureFacts(Fact):
    """Somebody's time in one of the two roles, as far as people told it."""

    role: str
    person: str | None
    """Id in ``team``; None where no name was given."""
    began: Moment
    ended: Moment | None
    """None until the record ends."""
    stands_in: bool = False
    """Whether it was for somebody's break."""


class PlannedFacts(Fact):
    """One count of the sheet's plan."""

    id: str
    title: str
    kind: str
    leaves_out: tuple[str, ...]
    """Groups that are not counted in it."""
    unless_open: bool
    """Whether they are counted after all when the operation has turned open."""


class SoundFacts(Fact):
    """What was recorded of the room's sound: a check, a change of noise, a microphone."""

    when: Moment
    what: str
    text: str
    """One line for a person."""


class HeardFacts(Fact):
    """How often something was heard and asked about.

    It reaches to the last time that a count was finished or the record ended, and leaves out what
    was heard just before a crash.
    """

    utterances: int
    """All that was heard, talk in the room among it."""
    accepted: int
    ignored: int
    asked: tuple[tuple[str, int], ...]
    """How often something was asked to be said again, by reason (docs/reasons.md)."""


class EventFacts(Fact):
    """One record as one line for a person, in the journal's order."""

    when: Moment
    kind: str
    text: str


class CaseFacts(Fact):
    """One case."""

    form: str = Field(default=SCHEMA)
    given: tuple[tuple[str, str], ...] = ()
    """What the user gave to tell the case by: label and text."""
    journal: str
    """Name of the journal's file."""
    made: str
    """When this report was made, ISO 8601, UTC."""
    made_by: str
    """Name and version of the program that made this report."""
    chain: Chain
    title: str
    sheet: str
    """SHA-256 of the sheet."""
    software: str
    recogniser: str
    voice: str
    roles_told_apart: bool
    began: Moment
    ended: Moment
    """The last record."""
    closed: Moment | None
    """When both people ended the record."""
    sessions: tuple[Session, ...]
    team: tuple[tuple[str, str], ...]
    """Id and name of those whom the sheet names."""
    items: tuple[ItemFacts, ...]
    plan: tuple[PlannedFacts, ...] = ()
    """Empty in records of the first version, which hold none."""
    tenures: tuple[TenureFacts, ...] = ()
    """In the order in which they began."""
    counts: tuple[CountFacts, ...]
    due: tuple[str, ...]
    """Titles of planned counts that were not held."""
    happenings: tuple[HappeningFacts, ...]
    discrepancies: tuple[DiscrepancyFacts, ...]
    in_patient: tuple[InsideFacts, ...]
    sound: tuple[SoundFacts, ...]
    heard: HeardFacts | None
    """None in records that do not tell."""
    events: tuple[EventFacts, ...]
    cautions: tuple[str, ...]

    def told(self, what: str) -> tuple[HappeningFacts, ...]:
        """Give the happenings of one kind, in their order."""
        return tuple(one for one in self.happenings if one.what == what)
