"""What was told, in words: incidents, sites and people by their ids."""

from voicecount.count.events import Incident, IncidentTold
from voicecount.sheet.model import Sheet
from voicecount.talk import wording_forms
from voicecount.talk.blanks import BLANKS, phrase


def incident_words(sheet: Sheet, event: IncidentTold) -> str:
    """Tell an incident, from its event."""
    form = next(name for name, blank in BLANKS.items() if blank.incident is event.incident)
    slot = "plan" if event.incident is Incident.PACKED else "reason"
    return wording_forms.incident(
        event.incident,
        wording_forms.Told(
            sheet.item(event.item),
            event.n,
            event.printed or 0,
            phrase(sheet, form, "site", event.site),
            phrase(sheet, form, slot, event.reason),
        ),
    )


def site_words(sheet: Sheet, site: str) -> str:
    """Give a site in the patient in words."""
    return phrase(sheet, "tucked", "site", site)


def person(sheet: Sheet, who: str | None) -> str | None:
    """Give a person's name; None for nobody."""
    return None if who is None else phrase(sheet, "change_scrub", "incoming", who)
