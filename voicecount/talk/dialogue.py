"""The dialogue: what was heard, to events to be synced and replies to be spoken. Pure.

Wire it so. Sync the events of every Step, then speak what ``commit(step.events)`` gives; with no
events, speak ``step.reply``. If they cannot be synced, do not commit: nothing has changed then.
"""

from collections.abc import Sequence
from copy import copy
from dataclasses import replace

from voicecount.count.events import Event
from voicecount.count.ledger import Ledger
from voicecount.count.roles import Role
from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet
from voicecount.talk import points, readback, turns, unison, wording, wording_case
from voicecount.talk.commands import obey
from voicecount.talk.confirm import circulator_said
from voicecount.talk.fill import fill
from voicecount.talk.lines import scrub_said
from voicecount.talk.reply import Reply, ReplyKind, Step
from voicecount.talk.resuming import resumed
from voicecount.talk.scene import Asks, Call, Scene, Turn, join
from voicecount.talk.store import close, put
from voicecount.talk.vocabulary import vocabulary_of
from voicecount.words.meaning import Form, Meaning
from voicecount.words.vocabulary import Vocabulary


class Dialogue:
    """One count, spoken with two people.

    The first thing committed has to be CaseOpened (``count.opening.open_case`` makes it); its
    reply is the opening words. With a ledger, the case goes on: speak ``opening()`` first.
    """

    def __init__(self, sheet: Sheet, *, told_apart: bool, ledger: Ledger | None = None) -> None:
        self._scene = Scene(sheet, ledger or Ledger(), told_apart)
        self._pending: Turn | None = None

    @property
    def ledger(self) -> Ledger:
        """The fold of all events that were committed."""
        return self._scene.ledger

    @property
    def call(self) -> Call | None:
        """The call in hand, for a board to show; nothing of it is stored."""
        return self._scene.open

    @property
    def vocabulary(self) -> Vocabulary:
        """What may be said now, beside the sheet's names; it knows nothing of what is expected."""
        return vocabulary_of(self._scene)

    @property
    def awaits_more(self) -> bool:
        """Whether a call or a question is in hand: whatever comes may belong to it."""
        return self._scene.awaits_more

    @property
    def awaits_words(self) -> bool:
        """Whether somebody may be about to say anything but a command."""
        return self._scene.awaits_words

    @property
    def next_deadline(self) -> float | None:
        """When ``settle`` has to be called, in seconds of the stream; None for not at all."""
        return self._scene.deadline()

    def opening(self) -> Reply:
        """Say where a case goes on: what was passed over, what waits, and which line is next."""
        self._scene = resumed(self._scene)
        return self._scene.said or Reply("", ReplyKind.NOTICE)

    def hear(self, heard: Heard, role: Role | None) -> Step:
        """Take one utterance. ``role`` is None where one channel holds both voices.

        A call whose time was over before it is settled first.
        """
        scene = self._scene
        if heard.outcome is Outcome.IGNORED:
            self._scene = turns.let_go(scene, heard, role)
            return Step()
        if turns.is_repeat(scene, heard):
            return Step()
        turn = Turn(scene)
        deadline = scene.deadline()
        if deadline is not None and deadline <= heard.start:
            turn = close(turn, deadline)
        alone = scene.told_apart and not unison.in_unison(scene)
        if alone and turns.is_echo(scene, heard, role):
            return self._step(turn)
        after = self._take(turns.remember(turn.scene, heard), heard, role)
        events = (*turn.events, *after.events)
        return self._step(Turn(after.scene, events, join((turn.reply, after.reply))))

    def settle(self, now: float) -> Step:
        """Let time pass: the call in hand is over when its deadline has come.

        ``now`` may be infinite; what is stored is stored at the deadline.
        """
        deadline = self._scene.deadline()
        if deadline is None or now < deadline:
            return Step()
        return self._step(close(Turn(self._scene), deadline))

    def finish(self, now: float) -> Step:
        """End with the sound: store the call in hand, and say what is open."""
        turn = put(close(Turn(self._scene), now), None, now)
        turn = replace(turn, reply=None) if turn.scene.question is None else turn
        if turn.scene.ledger.finished and not turn.events:
            return self._step(turn)  # the summary was the answer to the spoken finish
        text = points.summary(turn.scene.sheet, turn.scene.ledger)
        return self._step(turn.say(text, ReplyKind.ANSWER))

    def foresee(self, heard: Heard | None, role: Role | None = None) -> Reply | None:
        """Give what would be said to an utterance, or to silence; nothing changes by it.

        What is said in the end is made of the stored events all the same.
        """
        other = copy(self)
        step = other.settle(float("inf")) if heard is None else other.hear(heard, role)
        return other.commit(step.events) if step.events else step.reply

    def commit(self, stored: Sequence[Event]) -> Reply | None:
        """Take events as stored, and give the words for them, read from the events.

        Raises JournalError when they cannot follow what was committed before.
        """
        before, pending = self._scene, self._pending
        if pending is not None and tuple(stored) == pending.events:
            turn = pending
        else:
            turn = Turn(before)
            for event in stored:
                turn = turn.record(event)
        guided = turn.scene.filling is None
        told = readback.tell(before.sheet, before.ledger, tuple(stored), guided=guided)
        reply = join((told, turn.reply))
        self._pending = None
        self._scene = turn.scene if reply is None else turn.scene.but(said=reply)
        return reply

    def _step(self, turn: Turn) -> Step:
        if turn.events:
            self._pending = turn
            return Step(turn.events)
        self._pending = None
        said = turn.scene.said if turn.reply is None else turn.reply
        self._scene = turn.scene.but(said=said)
        return Step(reply=turn.reply)

    def _take(self, scene: Scene, heard: Heard, role: Role | None) -> Turn:
        meaning = heard.meaning
        command = meaning.command if meaning is not None else None
        sure = heard.outcome is Outcome.ACCEPTED and meaning is not None
        if scene.ledger.standing_by and not (sure and command == "carry_on"):
            if sure and meaning is not None and meaning.numbers:
                return Turn(scene).say(wording.standing_by(), ReplyKind.NOTICE)
            return Turn(scene)
        speaker = role if role is not None and scene.told_apart else turns.who(scene, heard)
        asked_name = speaker is Role.SCRUB or scene.filling is not None
        only_name = heard.reason is Reason.NO_NUMBER and asked_name
        if meaning is None or not (sure or (only_name and meaning.form is Form.NAME)):
            return turns.not_understood(scene, heard, speaker)
        return self._understood(scene, heard, meaning, speaker)

    def _understood(self, scene: Scene, heard: Heard, meaning: Meaning, speaker: Role) -> Turn:
        """Take what was understood: for the form in hand, as a command, or as a count."""
        role = speaker if scene.told_apart else None
        filled = fill(scene, heard, meaning, role)
        if filled is not None:
            return filled
        if meaning.form is Form.CHOICE:
            return Turn(scene)  # an answer to a question that is no longer open
        if meaning.command is not None:
            return obey(scene, meaning.command, role, heard.end, heard.start)
        meaning, scene = turns.by_digits(scene, meaning), scene.but(alike=None)
        return self._count(scene, heard, meaning, speaker)

    def _count(self, scene: Scene, heard: Heard, meaning: Meaning, speaker: Role) -> Turn:
        if meaning.form is Form.NOT_COUNTED:
            thing = next(thing for thing in scene.sheet.not_counted if thing.id == meaning.item)
            return Turn(scene).say(wording.not_on_the_count(thing), ReplyKind.ANSWER)
        if not scene.ledger.takes_lines:
            called = meaning.item is not None and bool(meaning.numbers)
            no_count = Turn(scene).say(wording_case.no_count_open(), ReplyKind.ANSWER)
            return no_count if called else Turn(scene)
        count = scene.ledger.count
        if count is not None and meaning.item is not None and meaning.item not in count.items:
            text = wording_case.not_in_this_count(scene.item(meaning.item))
            return Turn(scene).say(text, ReplyKind.ANSWER)
        if scene.question is not None and scene.question.asks is Asks.TAKE_BACK:
            scene = scene.but(question=None)
        waits = scene.waiting is not None and scene.open is None
        if speaker is Role.CIRCULATOR and unison.in_unison(scene) and not waits:
            return unison.circulator_counts(scene, heard, meaning)
        if speaker is Role.CIRCULATOR:
            return circulator_said(scene, heard, meaning)
        return scrub_said(scene, heard, meaning)
