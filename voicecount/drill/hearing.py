"""Sound to an attempt: what the student said, when, and how loud it was.

    recording ─▶ one channel ─▶ utterances ─▶ recogniser ─▶ mend ─▶ Saying, Saying, … ─▶ Attempt
    microphone ──────────────▶ utterances ─▶ Hearing.add ─▶ Saying at once

The recogniser gets the drill's grammar, which is made of names and never of numbers that lie there.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from voicecount.drill.attempt import A_LINE, Attempt, Said, Saying
from voicecount.drill.load import Loaded
from voicecount.drill.mend import Piece, mend
from voicecount.drill.word_times import on_the_sound
from voicecount.hear.heard import Heard, Outcome
from voicecount.hear.port import Recogniser
from voicecount.sheet.policy import Policy
from voicecount.sound.files import FileSource
from voicecount.sound.frame import RATE, Frame, FrameSource, Samples, Utterance
from voicecount.sound.level import LOUD_SHARE, SILENCE_DB, measure, step_levels
from voicecount.sound.segment import utterances
from voicecount.sound.telling import TellingSource
from voicecount.words.graph import Grammar

WRONG_PER_THOUSAND = 10.0
"""What the recogniser is loaded with for drills: a number misheard in a lesson costs less than one
in a case, and a line that was not heard cannot be judged. Measured: docs/measured.md."""

_BEFORE = 0.15
"""Seconds before the first voiced sample in which a soft consonant may lie."""
_AFTER = 0.2
"""Seconds after the last voiced sample in which a word may still fade."""
_OWN_VOICE_DB = 10.0
"""Speech that is weaker than this beside what was understood is somebody else's."""
_SLOWER = 1.25
"""How much slower than the drill's least pace a run may be whose pieces are still one line."""


def heard_with(policy: Policy) -> Policy:
    """Give the policy with which a drill is heard: as many may be wrong as a lesson allows."""
    return policy.model_copy(update={"wrong_per_thousand": WRONG_PER_THOUSAND})


class Hearing:
    """Hears an attempt, utterance by utterance; live, or those of a recording."""

    def __init__(self, loaded: Loaded, recogniser: Recogniser, grammar: Grammar) -> None:
        self._loaded = loaded
        self._recogniser = recogniser
        self._grammar = grammar
        self._pieces: list[Piece] = []
        self._room: list[float] = []

    def add(self, utterance: Utterance) -> Saying:
        """Understand the next utterance. Times are seconds from the start of the recording."""
        piece = Piece(utterance, self._hear(utterance))
        self._room += _room_levels(utterance)
        self._pieces.append(piece)
        return _saying(piece)

    def attempt(
        self, seconds: float, said: Sequence[Said] = (), *, cues_known: bool = True
    ) -> Attempt:
        """Give everything so far as an attempt of a recording of so many seconds.

        What lies wholly inside the partner's words is the partner's own voice, and left out. What
        was not understood by itself is heard again with what stands beside it.
        """
        self._pieces = mend(
            [piece for piece in self._pieces if not _is_partners(piece.heard, said)],
            self._hear,
            said,
            longest_pause=_SLOWER * 60.0 / self._loaded.drill.pace.least,
        )
        return Attempt(
            seconds=round(seconds, 3),
            sayings=_meant([_saying(piece) for piece in self._pieces]),
            said=tuple(said),
            cues_known=cues_known,
            room_db=round(float(np.median(self._room)), 1) if self._room else None,
            recogniser=self._recogniser.name,
        )

    def _hear(self, utterance: Utterance) -> Heard:
        heard = self._recogniser.hear(utterance, self._grammar)
        if heard.words is None:
            return heard
        return replace(heard, words=on_the_sound(heard.words, utterance))


def hear_recording(
    path: Path,
    loaded: Loaded,
    recogniser: Recogniser,
    grammar: Grammar,
    *,
    said: tuple[Said, ...] = (),
    cues_known: bool,
    tell: Callable[[float], None] = lambda _: None,
) -> Attempt:
    """Hear a recording of one student: WAV or FLAC, any rate from 8000 a second.

    Of two channels the one with the louder voice is heard. ``tell`` learns how many seconds are
    done. Raises RecordingError, one line, for a file that could not be read whole.
    """
    source = FileSource(path)
    hearing = Hearing(loaded, recogniser, grammar)
    for utterance in utterances(TellingSource(_one_channel(source), tell, every=1.0)):
        hearing.add(utterance)
    seconds = source.recording.seconds
    tell(seconds)
    return hearing.attempt(seconds, said, cues_known=cues_known)


def _saying(piece: Piece) -> Saying:
    found = measure(piece.utterance.samples)
    words = piece.heard.words or ()
    return Saying(
        piece.on_stream,
        loud_db=round(found.loud, 1),
        above_room=round(found.above_noise, 1),
        levels=tuple(round(_loud(piece.utterance, word.start, word.end), 1) for word in words),
    )


def _meant(sayings: Sequence[Saying]) -> tuple[Saying, ...]:
    """Take nothing for talk that may have been a line of the student's own.

    In a count it is let go, so that the room is not asked about its talk. Here it would turn into a
    line that was never called; so it is shown as not heard.
    """
    known = [one.loud_db for one in sayings if one.heard.outcome is Outcome.ACCEPTED]
    least = float(np.median(known)) - _OWN_VOICE_DB if known else SILENCE_DB
    return tuple(
        replace(one, heard=replace(one.heard, outcome=Outcome.UNSURE))
        if one.heard.outcome is Outcome.IGNORED
        and one.heard.end - one.heard.start >= A_LINE
        and one.loud_db >= least
        else one
        for one in sayings
    )


def _loud(utterance: Utterance, start: float, end: float) -> float:
    """Give the level of the loud parts between two times of the stream."""
    return measure(_between(utterance, start, end)).loud


def _between(utterance: Utterance, start: float, end: float) -> Samples:
    first, stop = (max(0, round((at - utterance.offset) * RATE)) for at in (start, end))
    return utterance.samples[first:stop]


def _room_levels(utterance: Utterance) -> list[float]:
    """Give the levels of the room before and after the voice; digital silence is no room."""
    last = utterance.offset + len(utterance.samples) / RATE
    edges = (
        _between(utterance, utterance.offset, utterance.start - _BEFORE),
        _between(utterance, utterance.end + _AFTER, last),
    )
    return [
        float(level) for edge in edges for level in step_levels(edge) if level > SILENCE_DB + 1.0
    ]


def _is_partners(heard: Heard, said: Sequence[Said]) -> bool:
    return any(one.start <= heard.start and heard.end <= one.end for one in said)


def _one_channel(source: FrameSource) -> FrameSource:
    """Give the channel with the louder voice; a source of one channel as it is."""
    if source.channels == 1:
        return source
    levels: list[list[float]] = [[] for _ in range(source.channels)]
    for frame in source.frames():
        for channel, found in enumerate(levels):
            found.extend(step_levels(frame.samples[:, channel]).tolist())
    loud = [float(np.percentile(found, LOUD_SHARE)) if found else SILENCE_DB for found in levels]
    return _Channel(source, loud.index(max(loud)))


class _Channel:
    """One channel of a source."""

    channels = 1

    def __init__(self, source: FrameSource, channel: int) -> None:
        self._source = source
        self._channel = channel

    def frames(self) -> Iterator[Frame]:
        for frame in self._source.frames():
            only = frame.samples[:, self._channel : self._channel + 1]
            yield Frame(frame.start, only, frame.lost)
