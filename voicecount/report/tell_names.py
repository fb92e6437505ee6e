"""Names for the lines of ``tell.py``: items, places, people, differences, as a case knows them.

A name comes from outside: whatever stands in it moves nothing of the sentence around it.
"""

from collections.abc import Sequence

from voicecount.count.event_base import BaseEvent
from voicecount.count.roles import Role
from voicecount.count.standing import Ledger
from voicecount.report import words
from voicecount.report.marks import isolated

NOBODY = "nobody known"
"""Who brought something about when no record says: time alone, or a channel for both."""


def item(ledger: Ledger, code: str, place: str | None = None) -> str:
    """Name an item, with the place where it was counted."""
    known = ledger.items.get(code)
    name = known.name if known is not None else code
    return isolated(name) if place is None else f"{isolated(name)}, {words.place(place)}"


def items(ledger: Ledger, codes: Sequence[str]) -> str:
    """Name several items."""
    return ", ".join(item(ledger, code) for code in codes)


def person(ledger: Ledger, code: str | None) -> str:
    """Name someone of the team."""
    team = ledger.opened.team if ledger.opened is not None else ()
    return isolated(
        next((one.name for one in team if one.id == code), code or "somebody not named")
    )


def who(role: Role | None) -> str:
    """Name who spoke."""
    return NOBODY if role is None else f"the {role.value}"


def both(by: Role | None, agreed: Role | None) -> str:
    """Tell by whose words something holds that needs both people."""
    if by is None or agreed is None:
        return "said and said again; who spoke is not known"
    return f"said by {who(by)}, agreed by {who(agreed)}"


def by_whom(event: BaseEvent) -> str:
    """Tell who brought an event about; nothing where no record says."""
    return "" if event.by is None else f", by {who(event.by)}"


def difference(ledger: Ledger, number: int) -> str:
    """Name a difference that is open, with its item."""
    found = ledger.discrepancies.get(number)
    name = "" if found is None else f" ({item(ledger, found.item)})"
    return f"Difference {number}{name}"


def differences(numbers: Sequence[int]) -> str:
    """List numbers of differences."""
    return ", ".join(map(str, numbers))
