"""What happened in a case, one frozen model each; a journal is a list of these.

Of the case
    CaseOpened         the first record: the sheet's lines, the plan, what heard and spoke them
    CountOpened        a count begins
    CountFinished      a person said that the count is finished
    CountWaived        a count is not done, and why
    IncidentTold       dropped, cut, broken, tucked in, packed, … by both people
    DiscrepancyOpened  a count and what is expected differ
    StepTold           a step of a difference is done
    DiscrepancyClosed  both people closed a difference
    PeopleChanged      someone takes over
    TurnedOpen         the operation turns open
    StoodBy            nothing is taken from here on
    CarriedOn          listening again
    CaseClosed         both people ended the record
Of the room's sound; they change no line
    SoundChecked       each person was heard in turn, and measured
    NoiseChanged       the noise came to be fine, loud or too loud
    MicrophoneChanged  the microphone is silent, gone, or back
    UtterancesHeard    how much was heard, and how often something was asked again
Of a line
    LineStored         the scrub's line, as counted
    LineConfirmed      the circulator said its number
    LineDisputed       the circulator said another number, or no
    RecountCalled      stored lines no longer stand and are to be counted again
    LineRefused        a call that was not stored, and why
    PackageSetAside    a package that did not hold its number; none of it is counted
    LineTakenBack      stored lines were taken out of the tally, by both people

A stored line is never edited: what takes its place names it in ``replaces``. New kinds and new
fields with a default may be added, so that old journals still load; nothing is ever renamed.
"""

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import Field, TypeAdapter, ValidationError

from voicecount.count.case_events import (
    CarriedOn,
    CaseClosed,
    CaseItem,
    CaseOpened,
    CountFinished,
    CountOpened,
    CountResult,
    CountWaived,
    Difference,
    DiscrepancyClosed,
    DiscrepancyOpened,
    Incident,
    IncidentTold,
    PeopleChanged,
    Person,
    Settled,
    Step,
    StepTold,
    StoodBy,
    TurnedOpen,
)
from voicecount.count.line_events import (
    Entry,
    LineConfirmed,
    LineDisputed,
    LineRefused,
    LineStored,
    LineTakenBack,
    PackageSetAside,
    RecountCalled,
    Refusal,
    Why,
)
from voicecount.count.sound_events import (
    MicrophoneChanged,
    NoiseChanged,
    SoundChecked,
    UtterancesHeard,
)
from voicecount.errors import JournalError

__all__ = ["CarriedOn", "CaseClosed", "CaseItem", "CaseOpened", "CountFinished", "CountOpened"]
__all__ += ["CountResult", "CountWaived", "Difference", "DiscrepancyClosed", "DiscrepancyOpened"]
__all__ += ["Entry", "Event", "Incident", "IncidentTold", "LineConfirmed", "LineDisputed"]
__all__ += ["LineRefused", "LineStored", "LineTakenBack", "MicrophoneChanged", "NoiseChanged"]
__all__ += ["PackageSetAside", "PeopleChanged"]
__all__ += ["Person", "RecountCalled", "Refusal", "Settled", "SoundChecked", "Step", "StepTold"]
__all__ += ["StoodBy"]
__all__ += ["TurnedOpen", "UtterancesHeard", "Why", "event_from_dict", "event_to_dict"]

Event = Annotated[
    CaseOpened
    | CountOpened
    | CountFinished
    | CountWaived
    | IncidentTold
    | DiscrepancyOpened
    | StepTold
    | DiscrepancyClosed
    | PeopleChanged
    | TurnedOpen
    | StoodBy
    | CarriedOn
    | CaseClosed
    | LineStored
    | LineConfirmed
    | LineDisputed
    | RecountCalled
    | LineRefused
    | PackageSetAside
    | LineTakenBack
    | SoundChecked
    | NoiseChanged
    | MicrophoneChanged
    | UtterancesHeard,
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
