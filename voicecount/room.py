"""The one place of wiring: sound in, words, events, journal, voice, and what people are shown.

    moments ──▶ recogniser ──▶ dialogue ──▶ journal ──▶ dialogue.commit ──▶ voice, speaker
                    │                          │                  │
                    └── observers.heard        └── .stored        └── .replied

Time is the sound stream's own. While the assistant speaks, nothing is read from the stream; so a
recording stands still, and a reply can never cut a person off. Nothing is spoken or shown as
stored before the journal has synced it.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Protocol

from voicecount.count.events import CaseClosed, CountFinished, Event, PeopleChanged
from voicecount.count.roles import Role
from voicecount.errors import StorageError, VoiceError
from voicecount.hear.port import Follower, Heard, Recogniser
from voicecount.keep import witness
from voicecount.keep.journal import Journal
from voicecount.reasons import Reason
from voicecount.sound.frame import Utterance
from voicecount.sound.gate import Noticed
from voicecount.sound.moments import Moment, Partial, Quiet
from voicecount.speak.port import Speaker, Voice
from voicecount.speak.tone import Glide, tone
from voicecount.talk import wording_case, wording_sound
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply, ReplyKind, Step
from voicecount.talk.scene import join
from voicecount.talk.so_far import HeardSoFar
from voicecount.words.graph import Grammar
from voicecount.words.vocabulary import Vocabulary

TOLD_APART: Mapping[int, Role] = {0: Role.SCRUB, 1: Role.CIRCULATOR}
"""Who is on which channel of a two-channel stream."""
NOT_TOLD_APART: Mapping[int, Role] = {}
"""One channel: the turn tells."""

WITNESSED = (PeopleChanged, CaseClosed)
"""Events after which people are told the digits of the record's head, to write them down."""

TOLD_BEFORE = (CountFinished, CaseClosed)
"""Events before which it is written down how much was heard and asked again."""

_BESIDE = 0.5
"""Seconds between two parts of one person's words that the assistant's voice has parted."""

STOPPED = Reply("The record cannot be kept. Stop counting.", ReplyKind.ALERT)
"""Said when the journal fails, before everything ends."""


class Observer(Protocol):
    """Follows what happens, in order: a terminal, a JSON report, later a board."""

    def partial(self, heard: Heard, role: Role | None) -> None:
        """Learn what is heard of someone who still speaks; nothing has come of it."""
        ...

    def heard(self, heard: Heard, role: Role | None) -> None:
        """Learn what someone said, whatever becomes of it."""
        ...

    def stored(self, event: Event) -> None:
        """Learn that an event is synced to disk."""
        ...

    def replied(self, at: float, reply: Reply) -> None:
        """Learn what the assistant is about to say."""
        ...

    def unspoken(self, at: float, reply: Reply, error: VoiceError) -> None:
        """Learn that a reply could not be spoken, so that people have to read it."""
        ...


class Room:
    """Runs a case. ``voice`` and ``speaker`` are None where nothing is spoken.

    ``heard_from`` gives the time from which people are heard again after the last reply.
    ``manner`` says of a reply whether the tone is played, and whether its words are spoken.
    ``meanwhile`` gives what people said while the assistant spoke, each once. ``ahead`` is told the
    words that will probably be spoken next, so that their sound can be made before they are due.
    """

    def __init__(
        self,
        dialogue: Dialogue,
        journal: Journal[Event],
        recogniser: Recogniser,
        grammars: Callable[[Vocabulary], Grammar],
        *,
        roles: Mapping[int, Role],
        voice: Voice | None = None,
        speaker: Speaker | None = None,
        observers: Iterable[Observer] = (),
        meanwhile: Callable[[], Sequence[Noticed]] = tuple,
        heard_from: Callable[[], float] = lambda: float("-inf"),
        manner: Callable[[Reply], tuple[bool, bool]] = lambda reply: (reply.tone, True),
        ahead: Callable[[str], None] | None = None,
    ) -> None:
        self._dialogue = dialogue
        self._journal = journal
        self._recogniser = recogniser
        self._grammars = grammars
        self._roles = roles
        self._voice = voice
        self._speaker = speaker
        self._observers = tuple(observers)
        self._now = 0.0
        self._meanwhile = meanwhile
        self._manner = manner
        self._heard_from = heard_from
        self._asking = False
        self._asked_for: Sequence[Noticed] = ()
        self._foreseen = ahead
        self._missed: Reply | None = None
        self._so_far = HeardSoFar()
        self._kept_at = max((event.at for event in journal.events), default=0.0)
        self._ahead: dict[int, tuple[tuple[float, float, int], Grammar, Heard]] = {}

    def open(self) -> None:
        """Begin with the first event, which the journal already holds."""
        self._reply(0.0, self._dialogue.commit(self._journal.events))

    def reopen(self, at: float) -> None:
        """Go on with a journal of events that the dialogue already knows."""
        self._reply(at, self._dialogue.opening())

    def run(
        self,
        stream: Iterable[Moment],
        *,
        after: float = 0.0,
        until: Callable[[], bool] = lambda: False,
    ) -> None:
        """Take a stream to its end, or ``until`` something holds, then finish the count.

        Utterances that ended by ``after`` are passed over: they were taken before a resume.
        Raises StorageError, after saying so, when the journal fails.
        """
        self._now = after
        try:
            for moment in stream:
                if isinstance(moment, Quiet):
                    self._settle(moment.until)
                elif isinstance(moment, Partial):
                    self._overhear(moment)
                elif moment.end > after:
                    self._take(moment)
                if until():
                    break
            self._settle(float("inf"))
            self._perform(self._now, self._dialogue.finish(self._now))
        except StorageError:
            self._reply(self._now, STOPPED)
            raise

    def note(self, event: Event, reply: Reply) -> None:
        """Keep an event that no words brought about, show it, and say something of it."""
        self._perform(event.at, Step((event,)), reply)

    def _take(self, utterance: Utterance) -> None:
        role = self._roles.get(utterance.channel)
        heard = self._hear(utterance)
        self._so_far.take(heard)
        for observer in self._observers:
            observer.heard(heard, role)
        step = self._dialogue.hear(heard, role)
        if step.events or not self._asked_already(utterance, heard):
            self._perform(utterance.end, step)
        if self._dialogue.next_deadline is not None:
            self._foresee(None)

    def _asked_already(self, utterance: Utterance, heard: Heard) -> bool:
        """Tell whether these are the rest of words that were just asked for: they are not again."""
        return heard.reason is Reason.SOUND_LOST and any(
            one.utterance.channel == utterance.channel
            and utterance.start <= one.utterance.end + _BESIDE
            and one.utterance.start - _BESIDE <= utterance.end
            for one in self._asked_for
        )

    def _overhear(self, partial: Partial) -> None:
        """Show what is heard of an open utterance; keep the answer to one that is whole."""
        utterance = partial.utterance
        role = self._roles.get(utterance.channel)
        if partial.whole or not isinstance(self._recogniser, Follower):
            heard = self._hear(utterance)
        else:
            heard = self._recogniser.follow(utterance, self._grammar())
        if partial.whole:
            self._ahead[utterance.channel] = (_sound_of(utterance), self._grammar(), heard)
        for observer in self._observers:
            observer.partial(heard, role)
        if partial.whole:
            self._foresee(heard, role)

    def _foresee(self, heard: Heard | None, role: Role | None = None) -> None:
        """Have the sound made of what would be said to an utterance, or to further silence."""
        if self._foreseen is None:
            return
        reply = self._dialogue.foresee(heard, role)
        if reply is not None and self._manner(reply)[1]:
            self._foreseen(reply.text)

    def _hear(self, utterance: Utterance) -> Heard:
        """Understand an utterance; not twice where its very sound was heard before it had ended."""
        sound, grammar, heard = self._ahead.pop(utterance.channel, (None, None, None))
        if heard is not None and sound == _sound_of(utterance) and grammar is self._grammar():
            return heard
        return self._recogniser.hear(utterance, self._grammar())

    def _grammar(self) -> Grammar:
        return self._grammars(self._dialogue.vocabulary)

    def _settle(self, until: float) -> None:
        """Let every deadline pass that lies before ``until``."""
        last = float("-inf")
        while (deadline := self._deadline()) is not None and last < deadline < until:
            self._perform(deadline, self._dialogue.settle(deadline))
            last = deadline

    def _deadline(self) -> float | None:
        """Give when the call in hand is over: its time does not run while nobody can be heard."""
        deadline, call = self._dialogue.next_deadline, self._dialogue.call
        if deadline is None or call is None:
            return deadline
        return max(deadline, self._heard_from() + (deadline - call.end))

    def _perform(self, at: float, step: Step, more: Reply | None = None) -> None:
        """Keep first, then show, then speak; ``more`` is said after what the events say."""
        self._now = max(self._now, at)
        if not step.events:
            self._reply(at, step.reply)
            return
        if any(isinstance(event, TOLD_BEFORE) for event in step.events):
            # At the time of what was kept before: a resume passes over what ended by the last one.
            told = self._journal.append(self._so_far.event(self._kept_at))
            for observer in self._observers:
                observer.stored(told)
        stored = tuple(self._journal.append(event) for event in step.events)
        self._kept_at = max(self._kept_at, stored[-1].at)
        reply = join((self._dialogue.commit(stored), more))
        if any(isinstance(event, WITNESSED) for event in stored):
            text = wording_case.witness(witness.spoken(self._journal.head))
            reply = join((reply, Reply(text, ReplyKind.NOTICE)))
        for event in stored:
            for observer in self._observers:
                observer.stored(event)
        self._reply(at, reply)

    def _reply(self, at: float, reply: Reply | None) -> None:
        if reply is None:
            return
        for observer in self._observers:
            observer.replied(at, reply)
        if self._voice is None or self._speaker is None:
            return
        try:
            self._speak(reply, self._voice, self._speaker)
        except VoiceError as error:
            if reply.kind is ReplyKind.ALERT:
                self._missed = reply
            for observer in self._observers:
                observer.unspoken(at, reply, error)
        self._ask_again(at)

    def _speak(self, reply: Reply, voice: Voice, speaker: Speaker) -> None:
        """Play a reply, and after it an alert that could not be played when it was due."""
        with_tone, with_words = self._manner(reply)
        if reply.listens is not None:
            speaker.play(tone(Glide.RISES if reply.listens else Glide.FALLS))
        elif with_tone:
            speaker.play(tone())
        if with_words:
            speaker.play(voice.speak(reply.text))
        missed, self._missed = self._missed, None
        if missed is not None and with_words:
            speaker.play(voice.speak(wording_sound.not_spoken_before(missed.text)))

    def _ask_again(self, at: float) -> None:
        """Ask for what people said while the assistant spoke; it is never lost in silence."""
        said = self._meanwhile()
        if said and not self._asking:
            self._asking = True
            self._asked_for = said
            role = self._roles.get(said[-1].utterance.channel)
            question = Reply(wording_sound.spoke_meanwhile(), ReplyKind.QUESTION, role, tone=True)
            self._reply(at, question)
            self._asking = False


def _sound_of(utterance: Utterance) -> tuple[float, float, int]:
    """Tell one stretch of a channel's sound from another."""
    return utterance.offset, utterance.end, len(utterance.samples)
