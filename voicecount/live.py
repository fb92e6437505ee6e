"""What a live room adds: a sound check by voice, and noise and microphones that are watched.

Wired by ``commands/run.py``; everything here works on any source of frames, so that a file can
stand in for a microphone.
"""

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from voicecount.count.events import Event, MicrophoneChanged, NoiseChanged
from voicecount.count.roles import Role
from voicecount.hear.heard import Outcome
from voicecount.hear.port import Cautious, Recogniser
from voicecount.keep.settings import Spoken
from voicecount.room import Room
from voicecount.sound.check import Turn, check
from voicecount.sound.findings import Noise, NoiseState, SoundCheck
from voicecount.sound.frame import RATE, Frame, FrameSource, Utterance
from voicecount.sound.moments import Moment
from voicecount.sound.noise_watch import NoiseWatch
from voicecount.sound.segment import Segmenter
from voicecount.sound.watchdog import Change, Health
from voicecount.talk import wording_sound
from voicecount.talk.reply import Reply, ReplyKind
from voicecount.words.commands import HUSH
from voicecount.words.graph import Grammar

SENTENCE = "the table is set and we are ready to count."
"""What each person says in the sound check; words that no sheet counts."""

_LONGEST_TURN = 20.0
"""Seconds that a person may take for a turn of the sound check."""
_AFTER_TURN = 0.6
"""Seconds of quiet that are recorded with a turn: the noise is measured there."""

STRICTER = {Noise.FINE: 1.0, Noise.LOUD: 0.5, Noise.TOO_LOUD: 0.2}
"""By how much fewer wrong numbers are allowed in noise, so that more is asked again. Our choice."""


_NEEDED = frozenset({ReplyKind.READBACK, ReplyKind.QUESTION, ReplyKind.ALERT, ReplyKind.ANSWER})
_TO_BE_READ = frozenset({ReplyKind.READBACK, ReplyKind.QUESTION, ReplyKind.ALERT})


def manner(spoken: Spoken) -> Callable[[Reply], tuple[bool, bool]]:
    """Give what tells of a reply whether the tone is played, and whether its words are spoken."""
    if spoken is Spoken.TONES:
        return lambda reply: (reply.kind in _TO_BE_READ, False)
    if spoken is Spoken.NEEDED:
        return lambda reply: (reply.tone, reply.kind in _NEEDED)
    return lambda reply: (reply.tone, True)


@dataclass(frozen=True)
class Note:
    """Something of the sound that is to be kept and said."""

    event: Event
    text: str
    urgent: bool = False
    listens: bool | None = None
    """Whether people are heard from now on, where that has changed."""

    @property
    def reply(self) -> Reply:
        """What is said."""
        kind = ReplyKind.ALERT if self.urgent else ReplyKind.NOTICE
        return Reply(self.text, kind, tone=self.urgent, listens=self.listens)


class Watched:
    """A source whose noise is watched while nobody speaks."""

    def __init__(self, source: FrameSource, speaking: Callable[[], bool]) -> None:
        self._source = source
        self._speaking = speaking
        self._watch: NoiseWatch | None = None
        self.notes: deque[Note] = deque()
        """What is to be kept and said when the next moment comes."""
        self.state = Noise.FINE

    @property
    def channels(self) -> int:
        """How many channels each frame holds."""
        return self._source.channels

    @property
    def noise(self) -> NoiseState | None:
        """What was measured last; None while nothing was."""
        return self._watch.current if self._watch is not None else None

    def begin(self, found: SoundCheck) -> None:
        """Watch from now on, beside the voices of a sound check."""
        levels: list[float | None] = [None] * self.channels
        for row in found.channels:
            levels[row.channel] = row.speech
        if any(level is not None for level in levels):
            self._watch = NoiseWatch(levels)

    def frames(self) -> Iterator[Frame]:
        """Give the frames in order."""
        for frame in self._source.frames():
            self._look(frame)
            yield frame

    def _look(self, frame: Frame) -> None:
        silent = not frame.samples.any()  # the gate was closed
        if self._watch is None or silent:
            return
        found = self._watch.feed(frame.samples, speech=self._speaking())
        if found is not None:
            self.state = found.state
            event = NoiseChanged.of(found, frame.start)
            text = wording_sound.noise(found.state)
            self.notes.append(Note(event, text, urgent=found.state is Noise.TOO_LOUD))


def microphone_note(change: Change, at: float, *, whole: bool = True) -> Note:
    """Give what is kept and said of a change of the microphone.

    ``whole`` says whether it concerns all that is heard, or one microphone of two.
    """
    code = change.code.value
    event = MicrophoneChanged(
        at=at, state=change.code.value, channel=change.channel, seconds=round(change.seconds, 2)
    )
    text = wording_sound.microphone(code, None if whole else change.channel)
    listens = {"gone": False, "back": True}.get(code) if whole else None
    return Note(event, text, code in {"gone", "silent"}, listens)


class MicrophoneNotes:
    """Tells of each change whether anybody is still heard."""

    def __init__(self) -> None:
        self._nobody = False

    def note(self, change: Change, at: float, health: Health, channels: int) -> Note:
        """Give the note of a change of a source of so many channels, whose health is now known."""
        before, self._nobody = self._nobody, health is Health.GONE
        all_gone = self._nobody or (before and change.code.value == "back")
        whole = channels == 1 or change.channel is None or all_gone
        return microphone_note(change, at, whole=whole)


def noted(
    stream: Iterator[Moment], notes: Sequence[deque[Note]], keep: Callable[[Note], None]
) -> Iterator[Moment]:
    """Give a stream's moments; before each, hand on what was noted meanwhile."""
    for moment in stream:
        for waiting in notes:
            while waiting:
                keep(waiting.popleft())
        yield moment


def keeper(
    room: Room, watched: Watched, recogniser: Recogniser, shift: float = 0.0
) -> Callable[[Note], None]:
    """Give what keeps and says a note, and asks more often in noise."""

    def keep(note: Note) -> None:
        room.note(note.event.model_copy(update={"at": note.event.at + shift}), note.reply)
        if isinstance(recogniser, Cautious):
            recogniser.be_stricter(STRICTER[watched.state])

    return keep


def told_to_stop(recogniser: Recogniser, grammar: Grammar) -> Callable[[Utterance], bool]:
    """Give what tells of something said into the assistant's voice whether it is to stop."""

    def stops(utterance: Utterance) -> bool:
        heard = recogniser.hear(utterance, grammar)
        said = heard.meaning.command if heard.meaning is not None else None
        return heard.outcome is Outcome.ACCEPTED and said == HUSH.id

    return stops


def record_turn(source: FrameSource) -> NDArray[np.float32]:
    """Record until somebody has spoken and is quiet again; shape (n, channels).

    What was recorded after the longest turn is given as it is: a check then says what it lacks.
    """
    segmenter = Segmenter(source.channels)
    parts: list[NDArray[np.float32]] = []
    recorded, ended_at = 0, None
    for frame in source.frames():
        parts.append(frame.samples)
        recorded += len(frame.samples)
        if segmenter.feed(frame):
            ended_at = recorded
        quiet = ended_at is not None and recorded - ended_at >= _AFTER_TURN * RATE
        over = quiet and not segmenter.anybody
        if over or recorded >= _LONGEST_TURN * RATE:
            break
    return np.concatenate(parts) if parts else np.zeros((0, source.channels), np.float32)


def check_sound(source: FrameSource, say: Callable[[str], None]) -> SoundCheck:
    """Let each person speak in turn, and measure what is heard of it.

    Whoever is heard best on a channel has it: microphones need not be changed over.
    """
    turns = []
    for role in (Role.SCRUB, Role.CIRCULATOR):
        say(wording_sound.say_this(f"the {role.value}", SENTENCE))
        turns.append(Turn(role.value, record_turn(source)))
    found = check(turns)
    whose = found.channel_of
    return check(turns, whose) if len(set(whose.values())) == len(turns) else found
