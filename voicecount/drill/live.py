"""The wiring of a drill: sound in, words, the partner's voice, and the student's sound on disk.

    frames ─▶ Tape ─▶ moments ─▶ Hearing ─▶ Session ─▶ voice ─▶ loudspeaker
                                    └──▶ Attempt ◀── Said ◀──┘

Time is the stream's own. While the partner speaks the microphone is kept out (half duplex), so the
recording is silent there.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

from voicecount.drill.attempt import Attempt, Said, Saying
from voicecount.drill.hearing import Hearing
from voicecount.drill.lines import Speech
from voicecount.drill.session import Session
from voicecount.drill.store import Kept
from voicecount.drill.tape import Tape, Taped
from voicecount.errors import VoiceError
from voicecount.hear.heard import Heard, Outcome
from voicecount.hear.port import Follower, Recogniser
from voicecount.sound.frame import FrameSource, Utterance
from voicecount.sound.moments import Moment, Partial, Quiet, moments
from voicecount.speak.port import Speaker, Voice
from voicecount.words.graph import Grammar
from voicecount.words.meaning import Form

PARTIAL_SECONDS = 0.2
"""An open utterance is followed whenever it has grown by so much: a number takes about as long."""


class Watcher(Protocol):
    """Shows a drill while it goes on."""

    def heard(self, heard: Heard) -> None:
        """Learn what the student said."""
        ...

    def said(self, said: Said) -> None:
        """Learn what the partner is saying."""
        ...

    def unspoken(self, said: Said, error: VoiceError) -> None:
        """Learn that something could not be spoken, so that it has to be read."""
        ...


@dataclass
class Room:
    """What a drill is done with."""

    frames: FrameSource
    now: Callable[[], float]
    """The stream's time."""
    speaker: Speaker
    voice: Voice | None
    """None where the partner's words are only shown."""
    recogniser: Recogniser
    grammar: Grammar
    watchers: Sequence[Watcher] = ()
    objections: "Objections | None" = None
    """What the student says into the partner's voice; None where it is not listened to then."""
    said: list[Said] = field(default_factory=list)
    objected: list[Saying] = field(default_factory=list)
    """What was said into the partner's voice."""


class Objections:
    """Commands said into the partner's voice, which they cut off: a fault is objected to at once.

    Numbers are not taken from a sound in which two voices are mixed.
    """

    def __init__(self, recogniser: Recogniser, grammar: Grammar) -> None:
        self.recogniser = recogniser
        self.grammar = grammar
        self._waiting: list[Utterance] = []

    def stops(self, utterance: Utterance) -> bool:
        """Tell whether the partner has to stop."""
        heard = self.recogniser.hear(utterance, self.grammar)
        told = heard.meaning is not None and heard.meaning.form is Form.COMMAND
        if told and heard.outcome is Outcome.ACCEPTED:
            self._waiting.append(utterance)
            return True
        return False

    def take(self) -> list[Utterance]:
        """Give what was said meanwhile, each once."""
        waiting, self._waiting = self._waiting, []
        return waiting


def hold(session: Session, hearing: Hearing, room: Room, kept: Kept) -> Attempt:
    """Hold a drill until it is over, or until no more sound comes; gives what is to be judged.

    What was recorded and said so far is in ``kept`` at any time. Raises AttemptsError where it
    cannot be written.
    """
    with kept.running(), Tape(kept.sound) as tape:
        _say(session.begin(), session, room, kept)
        stream = moments(Taped(room.frames, tape), partial_every=PARTIAL_SECONDS, now=room.now)
        for moment in stream:
            meanwhile = [] if room.objections is None else room.objections.take()
            for one in meanwhile:
                room.objected.append(hearing.add(one))
                _say(_hear(room.objected[-1], session, room), session, room, kept)
            _say(_take(moment, session, hearing, room), session, room, kept)
            if session.over:
                break
        while not session.over:  # the sound has ended
            _say(session.tick(float("inf")), session, room, kept)
        attempt = hearing.attempt(tape.seconds, tuple(room.said))
    # The partner's own voice was kept out: what lies inside it is the student's.
    there = {saying.heard.start for saying in attempt.sayings}
    more = (saying for saying in room.objected if saying.heard.start not in there)
    sayings = sorted((*attempt.sayings, *more), key=lambda saying: saying.heard.start)
    return replace(attempt, sayings=tuple(sayings))


def _take(moment: Moment, session: Session, hearing: Hearing, room: Room) -> Sequence[Speech]:
    if isinstance(moment, Quiet):
        return session.tick(moment.until)
    if isinstance(moment, Partial):
        follower = room.recogniser
        if not session.may_interrupt or not isinstance(follower, Follower):
            return ()
        return session.partial(follower.follow(moment.utterance, room.grammar))
    return _hear(hearing.add(_as_recorded(moment, room.said)), session, room)


def _hear(saying: Saying, session: Session, room: Room) -> Sequence[Speech]:
    heard = saying.heard
    for watcher in room.watchers:
        watcher.heard(heard)
    return session.heard(heard)


def _as_recorded(utterance: Utterance, said: Sequence[Said]) -> Utterance:
    """Take words that the partner talked into as they are on the tape, up to where it began."""
    into = any(utterance.start < one.start < utterance.end + 1.0 for one in said)
    return replace(utterance, lost=False) if utterance.lost and into else utterance


def _say(speeches: Sequence[Speech], session: Session, room: Room, kept: Kept) -> None:
    """Speak, one after the other, and keep when."""
    for speech in speeches:
        begun = room.now()
        shown = Said(speech.cue, speech.words, round(begun, 6), round(begun, 6))
        for watcher in room.watchers:
            watcher.said(shown)
        if room.voice is not None:
            try:
                clip = room.voice.speak(speech.words)
                begun = room.now()
                room.speaker.play(clip)
            except VoiceError as error:
                for watcher in room.watchers:
                    watcher.unspoken(shown, error)
        said = replace(shown, start=round(begun, 6), end=round(max(begun, room.now()), 6))
        room.said.append(said)
        session.said(said)
        kept.keep_said(room.said)
