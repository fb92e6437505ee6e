"""The state of a case: a pure fold of its events, the same whenever and wherever it is done."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import reduce
from typing import Any

from voicecount.count import fold_case, fold_lines
from voicecount.count.events import (
    CarriedOn,
    CaseClosed,
    CaseOpened,
    CountFinished,
    CountOpened,
    CountWaived,
    DiscrepancyClosed,
    DiscrepancyOpened,
    Event,
    IncidentTold,
    LineConfirmed,
    LineDisputed,
    LineRefused,
    LineStored,
    LineTakenBack,
    MicrophoneChanged,
    NoiseChanged,
    PackageSetAside,
    PeopleChanged,
    RecountCalled,
    SoundChecked,
    StepTold,
    StoodBy,
    TurnedOpen,
    UtterancesHeard,
)
from voicecount.count.follow import wrong
from voicecount.count.standing import Count, Ledger

__all__ = ["Count", "Ledger", "apply", "fold"]


def fold(events: Iterable[Event]) -> Ledger:
    """Give the ledger that a list of events makes. Raises JournalError as ``apply`` does."""
    return reduce(apply, events, Ledger())


def apply(ledger: Ledger, event: Event) -> Ledger:
    """Give the ledger after one more event.

    Raises JournalError when the event cannot follow: a case not opened, opened twice or closed, an
    item that is not on the sheet, a line that does not stand, a sum that does not add up, a
    confirmation that is not the circulator's or has another number, words of one person where both
    are needed, a result that its lines do not have.
    """
    if (ledger.opened is None) != isinstance(event, CaseOpened):
        raise wrong(event, "a case is opened once, by its first record")
    if ledger.closed:
        raise wrong(event, "the case was closed before")
    item = getattr(event, "item", None)
    if item is not None and item not in ledger.items:
        raise wrong(event, f"item {item!r} is not on the sheet of the case")
    return _STEPS[type(event)](ledger, event)


def _stood_by(ledger: Ledger, _: StoodBy) -> Ledger:
    return replace(ledger, standing_by=True)


def _of_the_sound(
    ledger: Ledger, _: SoundChecked | NoiseChanged | MicrophoneChanged | UtterancesHeard
) -> Ledger:
    return ledger


def _carried_on(ledger: Ledger, _: CarriedOn) -> Ledger:
    return replace(ledger, standing_by=False)


_STEPS: dict[type[Any], Callable[[Ledger, Any], Ledger]] = {
    CaseOpened: fold_case.opened,
    CountOpened: fold_case.count_opened,
    CountFinished: fold_case.count_finished,
    CountWaived: fold_case.count_waived,
    IncidentTold: fold_case.incident_told,
    DiscrepancyOpened: fold_case.discrepancy_opened,
    StepTold: fold_case.step_told,
    DiscrepancyClosed: fold_case.discrepancy_closed,
    PeopleChanged: fold_case.people_changed,
    TurnedOpen: fold_case.turned_open,
    CaseClosed: fold_case.case_closed,
    StoodBy: _stood_by,
    SoundChecked: _of_the_sound,
    NoiseChanged: _of_the_sound,
    MicrophoneChanged: _of_the_sound,
    UtterancesHeard: _of_the_sound,
    CarriedOn: _carried_on,
    LineStored: fold_lines.stored,
    LineConfirmed: fold_lines.confirmed,
    LineDisputed: fold_lines.disputed,
    RecountCalled: fold_lines.recount,
    LineRefused: fold_lines.refused,
    PackageSetAside: fold_lines.set_aside,
    LineTakenBack: fold_lines.taken_back,
}
