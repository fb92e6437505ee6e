"""Rules of what may follow what: an event that breaks one is no event of a real case."""

from voicecount.count.event_base import BaseEvent
from voicecount.count.roles import Role
from voicecount.count.standing import Ledger
from voicecount.errors import JournalError


def wrong(event: BaseEvent, what: str) -> JournalError:
    """Give the error of an event that cannot follow."""
    kind = getattr(event, "kind", "?")
    return JournalError(
        f"record {kind!r} at {event.at:.1f} s: {what}; the journal cannot be trusted"
    )


def both_said(ledger: Ledger, event: BaseEvent, agreed: Role | None) -> None:
    """Refuse an event that needs both people and does not have them. Raises JournalError.

    Where one channel holds both voices, who said what is not known; the dialogue asked twice.
    """
    if ledger.told_apart and (event.by is None or agreed in {None, event.by}):
        raise wrong(event, "it takes both people")
