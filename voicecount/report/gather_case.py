"""What happened besides lines: incidents, people, differences, what is in the patient, sound."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from voicecount.count.account import Account
from voicecount.count.events import (
    CarriedOn,
    CountWaived,
    DiscrepancyClosed,
    DiscrepancyOpened,
    Event,
    Incident,
    IncidentTold,
    MicrophoneChanged,
    NoiseChanged,
    PeopleChanged,
    SoundChecked,
    StepTold,
    StoodBy,
    TurnedOpen,
)
from voicecount.count.standing import Ledger
from voicecount.report.facts import (
    DiscrepancyFacts,
    HappeningFacts,
    InsideFacts,
    Moment,
    SoundFacts,
    StepFacts,
)

NOT_SAID = "not_said"
"""The site of what is in the patient when nobody said where, as in the accounts."""


@dataclass
class _Difference:
    """A difference as it came up, and what came of it."""

    when: Moment
    event: DiscrepancyOpened
    count: int
    steps: list[StepFacts] = field(default_factory=list)
    end: tuple[Moment, DiscrepancyClosed] | None = None
    off: int | None = None
    """How many were over or short just before both closed it; None while it is open."""


class Story:
    """Follows the fold of a case, event by event."""

    def __init__(self) -> None:
        self.happenings: list[HappeningFacts] = []
        self.sound: list[SoundFacts] = []
        self._differences: dict[int, _Difference] = {}
        self._told: dict[tuple[str, str, bool], list[tuple[Moment, IncidentTold]]] = {}
        """By item, site, and whether on purpose: what is in the patient, and who said when."""

    def take(self, when: Moment, event: Event, before: Ledger, after: Ledger, text: str) -> None:
        """Take one event; ``text`` is its line for a person."""
        match event:
            case (
                IncidentTold()
                | PeopleChanged()
                | CountWaived()
                | TurnedOpen()
                | StoodBy()
                | CarriedOn()
            ):
                number = before.count.number if before.count and before.counting else None
                self.happenings.append(_happening(when, event, number))
                if isinstance(event, IncidentTold):
                    self._take_inside(when, event, after)
            case DiscrepancyOpened():
                number = after.discrepancies[event.number].count
                self._differences[event.number] = _Difference(when, event, number)
            case StepTold():
                self._differences[event.discrepancy].steps.append(_step(when, event))
            case DiscrepancyClosed():
                closed = self._differences[event.discrepancy]
                closed.end = (when, event)
                closed.off = before.discrepancies[event.discrepancy].off
            case SoundChecked() | NoiseChanged() | MicrophoneChanged():
                self.sound.append(SoundFacts(when=when, what=event.kind, text=text))
            case _:
                pass

    def discrepancies(self, ledger: Ledger) -> tuple[DiscrepancyFacts, ...]:
        """Give all differences in the order of coming up; ``ledger`` is the last one."""
        return tuple(
            _discrepancy(one, ledger.discrepancies[number].off if one.off is None else one.off)
            for number, one in self._differences.items()
        )

    def in_patient(self, ledger: Ledger) -> tuple[InsideFacts, ...]:
        """Give what is in the patient, in the sheet's order, what is to come out first."""
        return tuple(
            one
            for item in ledger.items
            for purpose, sites in _sites(ledger.account(item))
            for site, n in sites
            for one in _inside(item, site, n, purpose, self._told[item, site, purpose])
        )

    def _take_inside(self, when: Moment, event: IncidentTold, after: Ledger) -> None:
        """Keep when something was put in; forget it when all of it is out again."""
        if event.incident in {Incident.TUCKED, Incident.PACKED}:
            purpose = event.incident is Incident.PACKED
            key = (event.item, event.site or NOT_SAID, purpose)
            self._told.setdefault(key, []).append((when, event))
        there = {
            (event.item, site, purpose)
            for purpose, sites in _sites(after.account(event.item))
            for site, _ in sites
        }
        for key in [key for key in self._told if key[0] == event.item and key not in there]:
            del self._told[key]


def _sites(account: Account) -> tuple[tuple[bool, tuple[tuple[str, int], ...]], ...]:
    """Give by whether it was on purpose how many are at which site."""
    return (False, tuple(account.tucked.items())), (True, tuple(account.inside.items()))


def _inside(
    item: str, site: str, n: int, purpose: bool, told: list[tuple[Moment, IncidentTold]]
) -> Iterator[InsideFacts]:
    """Give what was told one by one; as one where some came out again, since nobody said which."""
    all_told = sum(event.n for _, event in told)
    if all_told == n:
        for when, event in told:
            yield InsideFacts(
                item=item,
                site=site,
                n=event.n,
                on_purpose=purpose,
                removal=event.reason,
                when=when,
                by=event.by,
                agreed=event.agreed,
            )
        return
    people = {(event.by, event.agreed) for _, event in told}
    by, agreed = people.pop() if len(people) == 1 else (None, None)
    yield InsideFacts(
        item=item,
        site=site,
        n=n,
        on_purpose=purpose,
        removal="; ".join(dict.fromkeys(event.reason for _, event in told if event.reason)) or None,
        when=told[-1][0],
        by=by,
        agreed=agreed,
        of=all_told,
    )


def _happening(
    when: Moment,
    event: IncidentTold | PeopleChanged | CountWaived | TurnedOpen | StoodBy | CarriedOn,
    count: int | None,
) -> HappeningFacts:
    match event:
        case IncidentTold():
            return HappeningFacts(
                when=when,
                what=f"incident.{event.incident.value}",
                count=count,
                item=event.item,
                n=event.n,
                printed=event.printed,
                site=event.site,
                reason=event.reason,
                by=event.by,
                agreed=event.agreed,
            )
        case PeopleChanged():
            return HappeningFacts(
                when=when,
                what=event.kind,
                count=count,
                by=event.by,
                agreed=event.agreed,
                role=event.role,
                outgoing=event.outgoing,
                incoming=event.incoming,
                permanent=event.permanent,
                back=event.back,
            )
        case CountWaived():
            return HappeningFacts(
                when=when,
                what=event.kind,
                count=count,
                title=event.title,
                reason=event.reason,
                by=event.by,
                agreed=event.agreed,
            )
        case _:
            agreed = event.agreed if isinstance(event, TurnedOpen) else None
            return HappeningFacts(
                when=when, what=event.kind, count=count, by=event.by, agreed=agreed
            )


def _step(when: Moment, event: StepTold) -> StepFacts:
    return StepFacts(
        when=when,
        step=event.step.value,
        answer=event.answer,
        where=event.where,
        n=event.n,
        found=event.found,
        reason=event.reason,
        reader=event.reader,
        by=event.by,
    )


def _discrepancy(one: _Difference, off_now: int) -> DiscrepancyFacts:
    event = one.event
    facts = DiscrepancyFacts(
        number=event.number,
        item=event.item,
        differs=event.differs.value,
        counted=event.counted,
        expected=event.expected,
        off=event.counted - event.expected,
        off_now=off_now,
        place=event.place,
        count=one.count,
        opened=one.when,
        steps=tuple(one.steps),
        closed=None,
        settled=None,
    )
    if one.end is None:
        return facts
    when, end = one.end
    return facts.model_copy(
        update={
            "closed": when,
            "settled": end.settled.value,
            "n": end.n,
            "where": end.where,
            "reason": end.reason,
            "by": end.by,
            "agreed": end.agreed,
        }
    )
