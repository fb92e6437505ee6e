"""What comes out of the dialogue: a step of events, and a reply to be spoken."""

from dataclasses import dataclass
from enum import StrEnum

from voicecount.count.events import Event
from voicecount.count.roles import Role


class ReplyKind(StrEnum):
    """What a reply is for."""

    READBACK = "readback"
    """A stored line, read from the record; the circulator speaks next."""
    QUESTION = "question"
    """Something has to be said, or said again."""
    ANSWER = "answer"
    """Asked for by a person."""
    ALERT = "alert"
    """Something was not taken, or differs."""
    NOTICE = "notice"
    """Told in passing."""


@dataclass(frozen=True)
class Reply:
    """Words to be spoken and shown."""

    text: str
    kind: ReplyKind
    speak_next: Role | None = None
    """Who is expected to speak next; None when either may, or roles are not told apart."""
    tone: bool = False
    """Whether the one neutral tone comes before the words."""
    listens: bool | None = None
    """True where people are heard again from now on, False where they are not any more; the tone
    before the words rises or falls then."""


@dataclass(frozen=True)
class Step:
    """What came of one utterance, or of time passing.

    With no events, ``reply`` may be spoken at once. With events, it is None: the events are
    synced first, and the reply comes from ``Dialogue.commit``.
    """

    events: tuple[Event, ...] = ()
    reply: Reply | None = None
