"""Where the dialogue stands: the ledger, the call in hand, the question that is open.

Everything here is a frozen value. A handler takes a scene and gives a Turn: the scene after it, the
events to be synced, and words to be spoken. If the events cannot be synced, the scene before stays.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Self

from voicecount.count.events import (
    CaseClosed,
    CountFinished,
    CountOpened,
    Event,
    LineConfirmed,
    LineDisputed,
    LineRefused,
    LineStored,
    LineTakenBack,
    PackageSetAside,
    RecountCalled,
)
from voicecount.count.ledger import Ledger, apply
from voicecount.count.package import is_whole
from voicecount.count.roles import Role
from voicecount.count.tally import Key, State, Tally
from voicecount.hear.heard import Heard
from voicecount.sheet.model import Item, Sheet
from voicecount.talk.reply import Reply, ReplyKind
from voicecount.words.meaning import Form, Meaning


@dataclass(frozen=True)
class Call:
    """What the scrub has called and what is not stored yet."""

    item: str
    numbers: tuple[int, ...]
    """Empty after a name alone."""
    pieces: int | None
    form: Form
    start: float
    end: float
    extends: int | None = None
    """The unconfirmed line that this call goes on with; its numbers are included."""
    doubt: bool = False
    """Something said after it was not understood and has to come again."""
    place: str | None = None
    """Where it is counted; None in a count without places."""

    @property
    def key(self) -> Key:
        """The line that it belongs to."""
        return Key(self.item, self.place)

    @property
    def counted(self) -> int:
        """What it counts: its last number."""
        return self.numbers[-1] if self.numbers else 0


@dataclass(frozen=True)
class Early:
    """The circulator's number for a call that was not stored yet."""

    key: Key
    number: int
    pieces: int | None
    start: float
    end: float


class Asks(StrEnum):
    """Questions that wait for an answer."""

    ADDITION_OR_RECOUNT = "addition_or_recount"
    PIECES = "pieces"
    TAKE_BACK = "take_back"
    PLACE = "place"


@dataclass(frozen=True)
class Question:
    """A question that is open. No answer is never taken for one."""

    asks: Asks
    item: str
    call: Call | None = None
    """The call that waits for the answer."""
    lines: tuple[int, ...] = ()
    """Lines to be taken back."""
    by: Role | None = None
    """Who brought it about."""
    place: str | None = None

    @property
    def key(self) -> Key:
        """The line that it is about."""
        return Key(self.item, self.place)


@dataclass(frozen=True)
class Filling:
    """A form that is being filled in by voice, slot by slot, and then agreed to by both."""

    form: str
    """Its id in the table of forms."""
    by: Role | None
    """Who began it."""
    values: tuple[tuple[str, str | int], ...] = ()
    """What is known, by slot."""
    ready: bool = False
    """Whether it was read back and waits for the other person."""

    def get(self, slot: str) -> str | int | None:
        """Give the value of a slot; None when it is not known."""
        return dict(self.values).get(slot)

    def text(self, slot: str) -> str | None:
        """Give the id that was said for a slot."""
        value = self.get(slot)
        return value if isinstance(value, str) else None

    def n(self, slot: str = "number") -> int:
        """Give the number that was said for a slot, or 0."""
        value = self.get(slot)
        return value if isinstance(value, int) else 0

    def holding(self, slot: str, value: str | int) -> Self:
        """Give the same form with one slot filled in."""
        return replace(
            self, values=(*(one for one in self.values if one[0] != slot), (slot, value))
        )


@dataclass(frozen=True)
class Scene:
    """Where we are."""

    sheet: Sheet
    ledger: Ledger
    told_apart: bool
    open: Call | None = None
    question: Question | None = None
    early: Early | None = None
    read: Key | None = None
    """The line read back last, as long as it waits: a bare number belongs to it."""
    again: Key | None = None
    """The line that was asked to be called (again): a bare run from one belongs to it."""
    answer: str | None = None
    """"addition" or "recount", said before the call that it belongs to."""
    unclear: bool = False
    """Something not understood may have named another item: the next run needs its name."""
    alike: Meaning | None = None
    """What was asked for by its digits, because its number sounds like another."""
    filling: Filling | None = None
    """The form in hand."""
    second: Call | None = None
    """What the circulator counts at the same time, where both count in unison."""
    heard: tuple[Heard, ...] = ()
    """The last utterances taken, newest first."""
    said: Reply | None = None
    """The last reply, for saying it again."""

    def item(self, item: str) -> Item:
        """Give a line of the sheet."""
        return self.sheet.item(item)

    def tally(self, key: Key) -> Tally:
        """Give what stands of a line."""
        return self.ledger.tally(*key)

    def pack(self, item: str) -> int | None:
        """Give how many a package of an item holds; None where packages do not matter."""
        return None if self.ledger.places else self.item(item).pack

    @property
    def current(self) -> Tally | None:
        """The tally called last; None where no count is open."""
        nothing = self.ledger.last is None or not self.ledger.takes_lines
        return None if nothing or self.ledger.last is None else self.ledger.tally(*self.ledger.last)

    @property
    def waiting(self) -> Tally | None:
        """The tally that a bare number would confirm."""
        if self.read is None or not self.ledger.takes_lines:
            return None
        tally = self.ledger.tally(*self.read)
        return tally if tally.state is State.WAITING else None

    @property
    def awaits_more(self) -> bool:
        """Whether a call or a question is in hand."""
        in_hand = (self.open, self.second, self.filling, self.question, self.alike)
        return any(one is not None for one in in_hand)

    @property
    def awaits_words(self) -> bool:
        """Whether a count is open, or anything is in hand, waits or differs."""
        ledger = self.ledger
        waits = self.awaits_more or self.waiting is not None
        return waits or ledger.counting or bool(ledger.discrepancies)

    def deadline(self) -> float | None:
        """When the call in hand is over if nothing is added; None when time does not end it."""
        call = self.open
        if call is None:
            return None
        policy = self.sheet.policy
        short = call.doubt or not is_whole(call.counted, self.pack(call.item))
        return call.end + (policy.pack_settle_seconds if short else policy.settle_seconds)

    def is_called_again(self, event: LineRefused | PackageSetAside) -> bool:
        """Whether a call has to come again; not that of a package which came beside the count."""
        return isinstance(event, LineRefused) or event.place in (self.ledger.places or {None})

    def but(self, **changes: object) -> Self:
        """Give the same scene with some changes."""
        return replace(self, **changes)  # type: ignore[arg-type]

    def after(self, event: Event) -> Self:
        """Give the scene after an event: the ledger folded, and what bare numbers now refer to."""
        scene = replace(self, ledger=apply(self.ledger, event))
        match event:
            case LineStored():
                key = Key(event.item, event.place)
                return replace(scene, read=key, again=None, answer=None)
            case LineConfirmed():
                earlier = scene.ledger.waiting()
                again = next_key(scene.ledger) if scene.ledger.places else scene.again
                return replace(scene, read=earlier[-1] if earlier else None, again=again)
            case LineDisputed() | RecountCalled() | LineTakenBack():
                key = Key(event.item, event.place)
                return replace(scene, read=_unless(scene.read, key), again=key)
            case LineRefused() | PackageSetAside() if scene.is_called_again(event):
                return replace(scene, again=Key(event.item, event.place), answer=None)
            case CountOpened() | CountFinished() | CaseClosed():
                again = next_key(scene.ledger) if scene.ledger.places else None
                fresh = {"open": None, "second": None, "early": None, "read": None, "answer": None}
                return scene.but(**fresh, again=again, unclear=False, alike=None)
            case _:
                return scene


@dataclass(frozen=True)
class Turn:
    """What came of something: the scene after it, events to be synced, words to be said."""

    scene: Scene
    events: tuple[Event, ...] = ()
    reply: Reply | None = None
    """Said after what the events themselves say."""

    def record(self, event: Event) -> Self:
        """Add an event."""
        return replace(self, scene=self.scene.after(event), events=(*self.events, event))

    def but(self, **changes: object) -> Self:
        """Change the scene."""
        return replace(self, scene=self.scene.but(**changes))

    def say(self, text: str, kind: ReplyKind, speak_next: Role | None = None) -> Self:
        """Add words; questions and alerts come after the tone."""
        tone = kind in {ReplyKind.QUESTION, ReplyKind.ALERT}
        return replace(self, reply=join((self.reply, Reply(text, kind, speak_next, tone))))

    def ask(self, text: str, speak_next: Role | None = None) -> Self:
        """Add a question."""
        return self.say(text, ReplyKind.QUESTION, speak_next)


_WEIGHT = (
    *(ReplyKind.NOTICE, ReplyKind.ANSWER, ReplyKind.READBACK),
    *(ReplyKind.QUESTION, ReplyKind.ALERT),
)


def join(replies: Sequence[Reply | None]) -> Reply | None:
    """Make one reply of several: the texts in order, the weightiest kind, the last next speaker."""
    given = [reply for reply in replies if reply is not None and reply.text]
    if not given:
        return None
    return Reply(
        " ".join(reply.text for reply in given),
        max((reply.kind for reply in given), key=_WEIGHT.index),
        given[-1].speak_next,
        tone=any(reply.tone for reply in given),
        listens=next((one.listens for one in given[::-1] if one.listens is not None), None),
    )


def next_key(ledger: Ledger) -> Key | None:
    """Give the line of a count with places that is due: the next one left or to be counted again.

    The item called last is brought to its end first.
    """
    due = ledger.keys(State.LEFT, State.RECOUNT)
    if ledger.last is not None:
        same = [key for key in due if key.item == ledger.last.item]
        items = list(ledger.count.items) if ledger.count is not None else []
        after = [key for key in due if items.index(key.item) > items.index(ledger.last.item)]
        due = (*same, *after, *due)
    return due[0] if due else None


def _unless(read: Key | None, key: Key) -> Key | None:
    return None if read == key else read
