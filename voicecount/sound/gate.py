"""Half duplex: while the assistant speaks, nothing that a microphone hears counts as said.

    frame ──▶ Gate ──▶ the same frame, silent where the gate was closed
               └─────▶ Noticed: a person spoke meanwhile, and has to be asked again

The gate works by the stream's time, not by the moment of reading, so that frames that waited in a
queue are treated right. A person is told from the assistant's own voice by level: the clip that is
played is known, and so is how loud the room gives it back (``room_sound.py``).
"""

from collections import deque
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.frame import RATE, Frame, Samples, Utterance
from voicecount.sound.level import SILENCE_DB, STEP, step_levels
from voicecount.sound.speech import SegmentSettings
from voicecount.sound.voice import CHUNK, CHUNK_SECONDS, Voice

PERSON_DB = 6.0
"""How far above the assistant's own voice in a microphone another voice must be to be noticed."""
UNMEASURED_DB = -6.0
"""The room gives the assistant's voice back by so much weaker, where nobody measured it."""
REACH_SECONDS = 0.6
"""For so long after it was handed over a sound may still be heard: delays, and the room."""

_PRE_CHUNKS = 10
_END_CHUNKS = 10
"""0.32 s without the person ends what was noticed: "stop" must be heard while it matters."""
_LEAST_CHUNKS = 3
_LONGEST_CHUNKS = 310
_QUIETER_DB = SegmentSettings.quieter_db
_SLACK = 0.02


@dataclass(frozen=True)
class Echo:
    """How a room gives the assistant's voice back."""

    gain_db: tuple[float, ...] = ()
    """For each channel, the level in the microphone less that of the clip; empty: not measured."""
    reach: float = REACH_SECONDS

    def gain(self, channel: int) -> float:
        """Give the gain of a channel in dB."""
        return self.gain_db[channel] if channel < len(self.gain_db) else UNMEASURED_DB


@dataclass(frozen=True, eq=False)
class Noticed:
    """A person's voice while the gate was closed."""

    utterance: Utterance
    """With the sound as the microphone heard it, the assistant's voice in it, too."""
    goes_on: bool
    """Whether the person still spoke when the gate opened: the rest comes as an utterance marked
    ``lost``, so it is asked about in any case."""


@dataclass
class _Closure:
    """A stretch of the stream's time; marked once its first frame was."""

    begins: float
    ends: float
    marked: bool = False


@dataclass(frozen=True, eq=False)
class _Played:
    """Levels, in dB, of every 20 ms of a clip, from the time at which it was handed over."""

    at: float
    levels: NDArray[np.float32]

    def loudest(self, first: float, last: float) -> float:
        """Give the highest level between two times."""
        begin = max(0, int((first - self.at) * RATE / STEP))
        end = max(0, int(np.ceil((last - self.at) * RATE / STEP)))
        return float(self.levels[begin:end].max(initial=SILENCE_DB))


class Gate:
    """Closed while the assistant speaks. Times are seconds from the start of the stream."""

    def __init__(self, channels: int, echo: Echo | None = None) -> None:
        limits = SegmentSettings()
        self.echo = echo or Echo()
        """How the room gives the voice back; may be set anew when it was measured."""
        self._limits = limits
        self._voices = [Voice(limits.quietest_db, limits.above_floor_db) for _ in range(channels)]
        self._people = [_Person(channel) for channel in range(channels)]
        self._closures: deque[_Closure] = deque()
        self._played: deque[_Played] = deque()
        self._pending = np.zeros((0, channels), dtype=np.float32)
        self._time: float | None = None
        self._noticed: list[Noticed] = []
        self._recent = [0.0] * channels

    def close(self, at: float, clip: Samples | None = None) -> None:
        """Close from a time on; ``clip``, mono at RATE, is what will be heard from then."""
        if self._closures and at < self._closures[-1].ends:
            self._closures[-1].ends = float("inf")  # the tail of the clip before goes on into this
        else:
            self._closures.append(_Closure(at, float("inf")))
        if clip is not None:
            self._played.append(_Played(at, step_levels(clip)))

    def open_after(self, tail: float, at: float) -> None:
        """Open ``tail`` seconds after playback ended at a time."""
        if self._closures:
            self._closures[-1].ends = max(at, self._closures[-1].begins) + max(0.0, tail)

    def closed(self, at: float) -> bool:
        """Say whether the gate is closed at a time that has not been fed yet."""
        return any(closure.begins <= at < closure.ends for closure in self._closures)

    def take_noticed(self) -> list[Noticed]:
        """Give what people said meanwhile, each once, in the order of their ends."""
        noticed, self._noticed = self._noticed, []
        return noticed

    def feed(self, frame: Frame) -> Frame:
        """Take the next frame; give it back, silent where the gate is closed.

        It is marked ``lost`` where the gate closed, so that what was being said is asked again, and
        where it opened into somebody's words.
        """
        self._watch(frame)
        end = frame.start + len(frame.samples) / RATE
        samples, lost = frame.samples, frame.lost
        for closure in self._closures:
            first, last = (
                min(max(0, int(np.ceil((time - frame.start) * RATE - 0.5))), len(samples))
                if time < end
                else len(samples)
                for time in (closure.begins, closure.ends)
            )
            if first < last:
                if samples is frame.samples:
                    samples = samples.copy()
                samples[first:last] = 0.0
                lost = lost or not closure.marked
                closure.marked = True
            if last < len(samples):
                lost = self._opened(closure) or lost
        while self._closures and self._closures[0].ends < end:
            self._closures.popleft()
        while self._played and self._over(self._played[0], end):
            self._played.popleft()
        return replace(frame, samples=samples, lost=lost)

    def _over(self, played: _Played, now: float) -> bool:
        return now > played.at + len(played.levels) * STEP / RATE + self.echo.reach

    def _opened(self, closure: _Closure) -> bool:
        """End what is noticed; say whether a voice was going on when the gate opened."""
        voiced = closure.marked and max(self._recent) >= self._limits.voice_off
        for person in self._people:
            voiced = voiced or person.speaks
            self._keep(person.end(goes_on=True))
        self._recent = [0.0] * len(self._recent)
        return voiced

    def _watch(self, frame: Frame) -> None:
        """Run what comes in through the detectors, in chunks of 32 ms."""
        expected = None if self._time is None else self._time + len(self._pending) / RATE
        if expected is None or abs(frame.start - expected) > _SLACK:
            for person in self._people:
                self._keep(person.end(goes_on=False))
            self._time, self._pending = frame.start, self._pending[:0]
        self._pending = np.concatenate((self._pending, frame.samples))
        while len(self._pending) >= CHUNK and self._time is not None:
            self._chunk(self._time, self._pending[:CHUNK])
            self._pending = self._pending[CHUNK:]
            self._time += CHUNK_SECONDS

    def _chunk(self, at: float, chunk: NDArray[np.float32]) -> None:
        closed = self.closed(at)
        until = at + CHUNK_SECONDS
        own = max(
            (played.loudest(at - self.echo.reach, until) for played in self._played),
            default=SILENCE_DB,
        )
        people = []
        for person, voice in zip(self._people, self._voices, strict=True):
            samples = np.ascontiguousarray(chunk[:, person.channel])
            voice.measure(samples)
            if not closed:
                voice.skip(samples)
                continue
            probability = voice.probability(samples)
            self._recent[person.channel] = probability
            heard = probability >= (
                self._limits.voice_off if person.speaks else self._limits.voice_on
            )
            if heard and voice.level >= own + self.echo.gain(person.channel) + PERSON_DB:
                people.append(person.channel)
        loudest = max((self._voices[channel].speaker_level for channel in people), default=0.0)
        for person in self._people:
            speaks = person.channel in people and (
                self._voices[person.channel].speaker_level > loudest - _QUIETER_DB
            )
            self._keep(person.feed(at, chunk[:, person.channel], speaks))

    def _keep(self, noticed: Noticed | None) -> None:
        if noticed is not None:
            self._noticed.append(noticed)


class _Person:
    """What one channel gives of a person while the gate is closed."""

    def __init__(self, channel: int) -> None:
        self.channel = channel
        self._chunks: deque[Samples] = deque(maxlen=_PRE_CHUNKS)
        self._offset = 0.0
        self._start = 0.0
        self._last = 0.0
        self._voiced = 0
        self._quiet = 0
        self.speaks = False

    def feed(self, at: float, chunk: Samples, speaks: bool) -> Noticed | None:
        """Take the chunk at a time; give what ended with it."""
        if speaks and not self.speaks:
            self._start = at
            self._offset = at - len(self._chunks) * CHUNK_SECONDS
            self._chunks = deque(self._chunks)
            self._voiced = 0
            self.speaks = True
        self._chunks.append(np.ascontiguousarray(chunk))
        if not self.speaks:
            return None
        self._quiet = 0 if speaks else self._quiet + 1
        if speaks:
            self._voiced += 1
            self._last = at + CHUNK_SECONDS
        if self._quiet < _END_CHUNKS and len(self._chunks) < _LONGEST_CHUNKS:
            return None
        return self.end(goes_on=False)

    def end(self, *, goes_on: bool) -> Noticed | None:
        """End what is open; None where there is nothing, or too little to be a word."""
        if not self.speaks:
            return None
        self.speaks = False
        sound, self._chunks = self._chunks, deque(self._chunks, maxlen=_PRE_CHUNKS)
        self._quiet = 0
        if self._voiced < _LEAST_CHUNKS:
            return None
        utterance = Utterance(
            self.channel, self._start, self._last, np.concatenate(list(sound)), self._offset
        )
        return Noticed(utterance, goes_on)
