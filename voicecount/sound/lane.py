"""One device of a pair on the pair's time line: where its samples lie, and what keeps them there.

A device's own clock is never quite that of another one. A step makes one frame some samples longer
or shorter by drawing it out evenly, so that nothing clicks; it is made where nobody speaks.
"""

from collections import deque
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.frame import RATE, Frame, Samples
from voicecount.sound.level import rms_db
from voicecount.sound.timeline import Account

STEP_SAMPLES = 16
"""A step: 1 ms in a frame of 32 ms, once. A voice's own pitch moves by more from word to word
(common practice, no source)."""
BEGIN_SECONDS = 0.002
"""Off by so much, steps begin, one a frame, and go on until less than half a step is left."""
LIMIT_SECONDS = 0.01
"""Off by so much, steps are made in speech, too."""

_SAME_SECONDS = 0.002
_STEPS_KEPT = 100
_SHORTEST = 256
_FLOOR_FRAMES = 250
_FLOOR_FROM = 31
_FLOOR_EVERY = 8
_FLOOR_SHARE = 10.0
_LOWEST_DB = -75.0
_ABOVE_DB = 6.0
_HOLD_FRAMES = 8


@dataclass(frozen=True)
class Step:
    """A frame that was made longer or shorter."""

    at: float
    """Seconds from the start of the pair's stream."""
    samples: int
    """How many samples longer; negative: shorter."""
    speaking: bool
    """Whether somebody spoke: the limit was reached."""


@dataclass
class LaneAccount:
    """Samples of one device, at RATE: came + added = removed + early + late + handed on + held."""

    came: int = 0
    added: int = 0
    """By steps."""
    removed: int = 0
    """By steps."""
    early: int = 0
    """Came before the pair began, and dropped."""
    late: int = 0
    """Came when silence had been handed on in their place, and dropped."""
    handed_on: int = 0
    filled: int = 0
    """Silence that was handed on where nothing was there."""
    steps: int = 0
    """How many steps were made."""
    steps_in_speech: int = 0
    latest: deque[Step] = field(default_factory=lambda: deque(maxlen=_STEPS_KEPT))


@dataclass(frozen=True)
class PairAccount:
    """What came of both devices, what is missing, and every step."""

    devices: tuple[Account, Account]
    """What each device gave by itself."""
    lanes: tuple[LaneAccount, LaneAccount]
    """What was made of it, sample by sample."""

    @property
    def delivered(self) -> float:
        """Seconds of sound that were handed on, of both devices together."""
        return sum(lane.handed_on for lane in self.lanes) / RATE

    @property
    def missing(self) -> float:
        """Seconds for which a channel was silent because its device gave nothing, both together."""
        return sum(lane.filled for lane in self.lanes) / RATE


@dataclass(frozen=True, eq=False)
class _Piece:
    first: int
    samples: Samples
    lost: bool


class Lane:
    """Holds what came of one device until it is handed on. Places are samples at RATE."""

    def __init__(self) -> None:
        self.account = LaneAccount()
        self.end = -(2**62)
        """The place after the last sample that came."""
        self.awaited = True
        """Whether the other device waits for this one."""
        self.filling = False
        """Whether silence is handed on in the place of this device."""
        self._pieces: deque[_Piece] = deque()
        self._expected: float | None = None
        self._stepping = False
        self._quiet = _Quiet()

    @property
    def first(self) -> int | None:
        """The place of the first sample that is held; None where none is."""
        return self._pieces[0].first if self._pieces else None

    @property
    def held(self) -> int:
        """How many samples are held."""
        return sum(len(piece.samples) for piece in self._pieces)

    def put(self, frame: Frame, shift: float) -> None:
        """Take a frame of one channel; ``shift`` seconds lie between its time and the pair's."""
        samples = np.ascontiguousarray(frame.samples[:, 0])
        self.account.came += len(samples)
        place = (frame.start + shift) * RATE
        expected = self._expected
        self._expected = frame.start + len(samples) / RATE
        quiet = self._quiet.feed(samples)
        lost = frame.lost
        if expected is None or lost or abs(frame.start - expected) > _SAME_SECONDS:
            lost = lost or expected is not None
            first = max(self.end, round(place))
        else:
            first = self.end
            samples = self._stepped(samples, place - first, speaking=not quiet)
        self._pieces.append(_Piece(first, samples, lost))
        self.end = first + len(samples)

    def drop_before(self, place: int) -> None:
        """Drop what lies before the place where the pair begins."""
        self.account.early += self._forget(place)

    def take(self, first: int, size: int) -> tuple[Samples, int, bool]:
        """Give ``size`` samples from a place, how many of them came, and whether some were lost.

        What did not come is silence. What lies before is dropped: it came too late.
        """
        self.account.late += self._forget(first)
        sound = np.zeros(size, np.float32)
        covered, lost = 0, False
        while self._pieces and self._pieces[0].first < first + size:
            piece = self._pieces.popleft()
            begin = piece.first - first
            taken = piece.samples[: size - begin]
            sound[begin : begin + len(taken)] = taken
            covered += len(taken)
            lost = lost or piece.lost
            if len(taken) < len(piece.samples):
                rest = piece.samples[len(taken) :]
                self._pieces.appendleft(_Piece(first + size, rest, lost=False))
        self.account.handed_on += covered
        self.account.filled += size - covered
        return sound, covered, lost

    def _forget(self, place: int) -> int:
        dropped = 0
        while self._pieces and self._pieces[0].first < place:
            piece = self._pieces.popleft()
            past = min(place - piece.first, len(piece.samples))
            dropped += past
            if past < len(piece.samples):
                self._pieces.appendleft(_Piece(place, piece.samples[past:], piece.lost))
        return dropped

    def _stepped(self, samples: Samples, off: float, *, speaking: bool) -> Samples:
        """Give the samples, one step longer or shorter where that is due."""
        self._stepping = abs(off) >= (STEP_SAMPLES / 2 if self._stepping else BEGIN_SECONDS * RATE)
        due = self._stepping and (not speaking or abs(off) >= LIMIT_SECONDS * RATE)
        if not due or len(samples) < _SHORTEST:
            return samples
        change = round(np.clip(off, -STEP_SAMPLES, STEP_SAMPLES))
        account = self.account
        account.added += max(0, change)
        account.removed += max(0, -change)
        account.steps += 1
        account.steps_in_speech += speaking
        account.latest.append(Step(self.end / RATE, change, speaking))
        return drawn_out(samples, len(samples) + change)


class _Quiet:
    """Tells frames in which nobody speaks, by level alone: a step there is heard by nobody."""

    def __init__(self) -> None:
        self._levels: deque[float] = deque(maxlen=_FLOOR_FRAMES)
        self._count = 0
        self._floor = _LOWEST_DB
        self._since_loud = 0

    def feed(self, samples: Samples) -> bool:
        """Take the next frame; say whether it and those just before are near the floor."""
        level = rms_db(samples)
        self._levels.append(level)
        self._count += 1
        if self._count % _FLOOR_EVERY == 0:
            self._floor = max(_LOWEST_DB, float(np.percentile(self._levels, _FLOOR_SHARE)))
        loud = self._count < _FLOOR_FROM or level > self._floor + _ABOVE_DB
        self._since_loud = 0 if loud else self._since_loud + 1
        return self._since_loud > _HOLD_FRAMES


def drawn_out(samples: NDArray[np.float32], size: int) -> Samples:
    """Give the same sound in ``size`` samples; its first and last sample stay."""
    places = np.linspace(0.0, len(samples) - 1, size)
    return np.interp(places, np.arange(len(samples)), samples).astype(np.float32)
