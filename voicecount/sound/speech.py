"""One channel's chunks to utterances: when speech begins, when it has ended, what is kept of it."""

from bisect import insort
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from voicecount.sound.frame import Samples, Utterance
from voicecount.sound.voice import CHUNK_SECONDS

SHORTEST_END_SILENCE = 0.3
"""Below this, the closure before the "teen" of "sixteen" could end an utterance."""


_FADING_GAP = 6
"""Chunks without voice (0.19 s) after which weaker voice is no fading last sound any more."""
_FADING_LONGEST = 16
"""Chunks (0.5 s) for which a last word may fade: the "n" of "thirteen" is all that parts it
from "thirty"."""


_BACK = 3
"""Chunks (0.1 s) that can be taken back: two devices may bring one sound 50 ms apart."""


@dataclass(frozen=True)
class Reach:
    """How far an open utterance has come, without its sound. Seconds from the stream's start."""

    start: float
    """Its first voiced sample."""
    end: float
    """Its last voiced sample so far."""
    sound_end: float
    """Where the sound ends that would be kept of it now."""


@dataclass(frozen=True)
class SegmentSettings:
    """How speech is cut. Times in seconds, levels in dB."""

    pre_roll: float = 0.5
    """Sound kept before the first voiced chunk: weak first consonants lie there."""
    tail: float = 0.4
    """Sound kept after the last voiced chunk."""
    end_silence: float = 0.8
    """Silence that ends an utterance; voice that begins sooner belongs to it."""
    longest: float = 30.0
    """An utterance that grows longer is handed on in pieces, each marked ``cut``."""
    shortest_voice: float = 0.1
    """Less voice than this is a click or an echo, no word."""
    voice_on: float = 0.5
    """The detector's probability that begins an utterance."""
    voice_off: float = 0.35
    """The detector's probability that keeps it going."""
    own_voice_db: float = 14.0
    """Voice further than this under the utterance's own loud chunks is someone else's: it does
    not keep the utterance open, and opens one of its own after the silence."""
    quieter_db: float = 10.0
    """A channel this much weaker than another one that holds voice carries the other's voice."""
    quietest_db: float = -60.0
    """Below this level nothing is voice."""
    above_floor_db: float = 4.0
    """Less than this above the floor of the last seconds nothing is voice."""

    def __post_init__(self) -> None:
        """Refuse settings that could cut a number in two."""
        if self.end_silence < SHORTEST_END_SILENCE:
            raise ValueError(f"end_silence must be at least {SHORTEST_END_SILENCE} s")
        if self.tail > self.end_silence:
            raise ValueError("tail must not be longer than end_silence")


class Speech:
    """The speech of one channel: closed or open, with the chunks that would belong to it."""

    def __init__(self, channel: int, settings: SegmentSettings) -> None:
        self._channel = channel
        self._settings = settings
        self._pre_roll = _chunks(settings.pre_roll)
        self.begin(0.0)

    def begin(self, base: float) -> None:
        """Begin a time line whose first chunk starts at ``base`` seconds."""
        self._base = base
        self._kept: list[Samples] = []
        self._first_kept = 0
        self._next = 0
        self._start: int | None = None
        self._last = 0
        self._voiced = 0
        self._levels: list[float] = []
        self._cut = False
        self._weak: list[tuple[int, float]] = []
        self._faded = 0
        self.quiet_chunks = 1_000_000
        self._past: deque[_State] = deque(maxlen=_BACK)

    @property
    def open(self) -> bool:
        """Whether an utterance has begun and not ended."""
        return self._start is not None

    def feed(
        self, chunk: Samples, probability: float, level: float, losses: Iterable[int]
    ) -> Utterance | None:
        """Take the next chunk; give the utterance that ended with it, if any."""
        self._past.append(self._state())
        self._kept.append(chunk)
        self._next += 1
        if self._is_voice(probability, level):
            self._take_voice(self._next - 1, level)
        else:
            self.quiet_chunks += 1
            self._note_weak(probability, level)
        if self._start is None:
            self._forget(self._next - self._pre_roll)
            return None
        if self.quiet_chunks >= _chunks(self._settings.end_silence):
            return self.close(losses)
        if self._next - self._start >= _chunks(self._settings.longest):
            return self._hand_on(losses)
        return None

    def take_back(self) -> None:
        """Take no voice from the last 0.1 s: it was another channel's, which brings it later."""
        if not self._past:
            return
        state, chunks = self._past[0], len(self._past)
        self._past.clear()
        self._start, self._last, self._voiced = state.start, state.last, state.voiced
        self._levels, self._weak, self._faded = state.levels, state.weak, state.faded
        self.quiet_chunks = state.quiet_chunks + chunks

    def close(self, losses: Iterable[int]) -> Utterance | None:
        """End what is open; None where there was too little voice to be a word.

        Weaker voice that began after the last loud one is not lost: it is open afterwards.
        """
        utterance = self.so_far(losses)
        self._past.clear()
        weak = self._weak
        if self._start is not None:
            first = weak[0][0] if weak else self._next
            self._forget(max(self._last + 1, first - self._pre_roll))
        self._start = None
        self._levels = []
        self._voiced = 0
        self._cut = False
        self._weak = []
        for chunk, level in weak:
            self._take_voice(chunk, level)
        return utterance

    def close_all(self, losses: Iterable[int]) -> Iterator[Utterance]:
        """End what is open, and the weaker voice behind it, as at the end of the sound."""
        while self._start is not None:
            utterance = self.close(losses)
            if utterance is not None:
                yield utterance

    @property
    def reach(self) -> Reach | None:
        """How far the open utterance has come; None where there is none that could be a word."""
        if self._start is None or self._voiced < _chunks(self._settings.shortest_voice):
            return None
        time = self._time
        return Reach(time(self._start), time(self._last + 1), time(self._after))

    @property
    def _after(self) -> int:
        """The first chunk behind what would be kept of the open utterance now."""
        after = min(self._next, self._last + 1 + _chunks(self._settings.tail))
        return min(after, self._weak[0][0]) if self._weak else after

    def so_far(self, losses: Iterable[int]) -> Utterance | None:
        """Give the open utterance as it stands; None where there is none that could be a word."""
        if self._start is None or self.reach is None:
            return None
        after = self._after
        lost = any(self._first_kept <= loss <= after for loss in losses)
        return Utterance(
            channel=self._channel,
            start=self._time(self._start),
            end=self._time(self._last + 1),
            samples=np.concatenate(self._kept[: after - self._first_kept]),
            offset=self._time(self._first_kept),
            lost=lost,
            cut=self._cut,
        )

    def _is_voice(self, probability: float, level: float) -> bool:
        if self._start is None:
            return probability >= self._settings.voice_on
        if probability < self._settings.voice_off:
            return False
        if not self._levels:
            return True
        return level >= self._loud() - self._settings.own_voice_db

    def _loud(self) -> float:
        """Give the level that a tenth of the voiced chunks of the open utterance exceed."""
        return self._levels[len(self._levels) * 9 // 10]

    def _take_voice(self, chunk: int, level: float) -> None:
        if self._start is None:
            self._start = chunk
        self._last = chunk
        self._voiced += 1
        self._weak = []
        self._faded = 0
        insort(self._levels, level)
        self.quiet_chunks = self._next - 1 - chunk

    def _note_weak(self, probability: float, level: float) -> None:
        """Follow a last sound as it fades; keep note of weaker voice that begins after a pause."""
        chunk = self._next - 1
        if self._start is None or probability < self._settings.voice_on:
            return
        if self._weak or chunk - self._last > _FADING_GAP:
            self._weak.append((chunk, level))
        elif self._faded < _FADING_LONGEST:
            self._faded += 1
            self._last = chunk
            self.quiet_chunks = 0

    def _hand_on(self, losses: Iterable[int]) -> Utterance | None:
        """Give the overlong utterance up to here, and go on with what follows as a piece of it."""
        self._cut = True
        utterance = self.so_far(losses)
        self._past.clear()
        self._forget(self._next)
        self._start = self._next
        self._last = self._next
        self._voiced = 0
        self._weak = []
        return utterance

    def _state(self) -> "_State":
        levels, weak = self._levels.copy(), self._weak.copy()
        return _State(
            self._start, self._last, self._voiced, levels, weak, self._faded, self.quiet_chunks
        )

    def _forget(self, before: int) -> None:
        surplus = before - self._first_kept
        if surplus > 0:
            del self._kept[:surplus]
            self._first_kept = before

    def _time(self, chunk: int) -> float:
        return self._base + chunk * CHUNK_SECONDS


@dataclass(frozen=True)
class _State:
    """What a chunk can change of an open or closed utterance."""

    start: int | None
    last: int
    voiced: int
    levels: list[float]
    weak: list[tuple[int, float]]
    faded: int
    quiet_chunks: int


def _chunks(seconds: float) -> int:
    return round(seconds / CHUNK_SECONDS)
