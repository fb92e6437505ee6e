"""What a journal says, gathered into plain values: its events are folded once, record by record."""

from collections import Counter
from collections.abc import Collection, Iterator, Sequence

from voicecount.cautions import CALLED_CORRECT, MISHEARS, NEVER_SAFE, NOT_REPLACED, SILENCE
from voicecount.count.events import CaseClosed, CaseOpened, Event, UtterancesHeard
from voicecount.count.ledger import apply
from voicecount.count.plan import due
from voicecount.count.standing import Ledger
from voicecount.errors import JournalError
from voicecount.keep import course, witness
from voicecount.keep.reading import OWN, Reading
from voicecount.keep.record import Record
from voicecount.report.facts import (
    CaseFacts,
    Chain,
    EventFacts,
    HeardFacts,
    ItemFacts,
    Moment,
    PlannedFacts,
    Session,
)
from voicecount.report.gather_case import Story
from voicecount.report.gather_counts import Counts
from voicecount.report.gather_people import tenures
from voicecount.report.tell import tell, tell_own
from voicecount.sheet.plan import CountKind, PlannedCount
from voicecount.show.tally import CAUTION
from voicecount.show.verify_out import LIMIT, notes

CAUTIONS = (
    CAUTION,
    f"It does not replace {NOT_REPLACED}.",
    f"{NEVER_SAFE}; {SILENCE}.",
    f"{CALLED_CORRECT} A record that agrees is a record of what was said, nothing more.",
    f"{MISHEARS}: numbers stand here as they were heard.",
    LIMIT,
)
"""What stands on every printed record."""


def gather(
    path_name: str,
    reading: Reading[Event],
    *,
    given: Sequence[tuple[str, str]] = (),
    made: str,
    made_by: str,
    copies: Collection[str] | None = None,
) -> CaseFacts:
    """Give what a journal says, up to its end or to its first damage.

    ``reading`` is one that ``commands/verify.py`` has checked; ``made`` is ISO 8601, UTC;
    ``copies`` are the copies of cut-off lines that lie beside the journal, None if nobody looked.
    Raises JournalError when not even the opening of a case is whole, or the events do not fold.
    """
    opened = reading.events[0] if reading.events else None
    if not isinstance(opened, CaseOpened):
        raise JournalError(
            f"{path_name}: not even the opening of a case is whole in it, so there is nothing to "
            "report; see by the command verify what is wrong"
        )
    counts, story = Counts(), Story()
    ledger, closed, events = Ledger(), None, []
    for when, event, own in _steps(reading):
        if event is None:
            text = tell_own(own)
        else:
            after = apply(ledger, event)
            text = tell(event, ledger)
            counts.take(when, event, ledger, after)
            story.take(when, event, ledger, after, text)
            closed = when if isinstance(event, CaseClosed) else closed
            ledger = after
        events.append(EventFacts(when=when, kind=own.kind, text=text))
    return CaseFacts(
        given=tuple(given),
        journal=path_name,
        made=made,
        made_by=made_by,
        chain=_chain(reading, copies),
        title=opened.title,
        sheet=opened.sheet,
        software=opened.software,
        recogniser=opened.recogniser,
        voice=opened.voice,
        roles_told_apart=opened.roles_told_apart,
        began=events[0].when,
        ended=events[-1].when,
        closed=closed,
        sessions=tuple(
            Session(first=one.first, last=one.last, software=one.software)
            for one in course.sessions(reading.records)
        ),
        team=tuple((person.id, person.name) for person in opened.team),
        items=tuple(_item(ledger, item) for item in ledger.items),
        plan=tuple(_planned(one) for one in opened.plan),
        tenures=tenures(events[0].when, story.happenings),
        counts=counts.facts(ledger),
        due=tuple(count.say for count in due(ledger)),
        happenings=tuple(story.happenings),
        discrepancies=story.discrepancies(ledger),
        in_patient=story.in_patient(ledger),
        sound=tuple(story.sound),
        heard=_heard(reading),
        events=tuple(events),
        cautions=CAUTIONS,
    )


def _steps(reading: Reading[Event]) -> Iterator[tuple[Moment, Event | None, Record]]:
    """Give every record in order, with its event; the journal's own records have none."""
    events = iter(reading.events)
    at = 0.0
    for record in reading.records:
        event = None if record.kind.startswith(OWN) else next(events)
        at = event.at if event is not None else at
        wall = course.wall(record).isoformat()
        yield Moment(record=record.seq, at=at, wall=wall), event, record


def _chain(reading: Reading[Event], copies: Collection[str] | None) -> Chain:
    return Chain(
        whole=reading.damage is None,
        damage=str(reading.damage) if reading.damage is not None else None,
        records=len(reading.records),
        head=reading.head,
        digits=witness.digits(reading.head),
        spoken=witness.spoken(reading.head),
        notes=tuple(notes(reading, copies)),
    )


def _planned(one: PlannedCount) -> PlannedFacts:
    return PlannedFacts(
        id=one.id,
        title=one.say,
        kind=one.kind.value,
        leaves_out=tuple(group.value for group in one.leaves_out),
        unless_open=one.unless_open,
    )


def _item(ledger: Ledger, item: str) -> ItemFacts:
    line, account = ledger.items[item], ledger.account(item)
    # what both gave in an addition that is still open when the record ends was added too
    open_addition = ledger.kind is CountKind.ADDITION
    to_come = ledger.tally(item).confirmed if open_addition else 0
    return ItemFacts(
        id=line.id,
        name=line.name,
        group=line.group,
        sheet=line.expect,
        pack=line.pack,
        pieces=line.pieces,
        initial=account.initial,
        added=account.added + to_come,
        changed=account.changed,
        explained=account.explained,
        handed_over=account.handed_over,
        expected=ledger.expected(item),
        tucked=account.tucked_in,
        inside=account.left_inside,
        passed_off=account.passed_off,
    )


def _heard(reading: Reading[Event]) -> HeardFacts | None:
    """Give how often something was heard: the sum of what was written down at each count's end."""
    told = [event for event in reading.events if isinstance(event, UtterancesHeard)]
    if not told:
        return None
    asked: Counter[str] = Counter()
    for one in told:
        asked.update(dict(one.asked))
    return HeardFacts(
        utterances=sum(one.utterances for one in told),
        accepted=sum(one.accepted for one in told),
        ignored=sum(one.ignored for one in told),
        asked=tuple((why, asked[why]) for why in sorted(asked)),
    )
