"""A sound card without hardware: it loses sound, falls silent, vanishes, and comes back.

And a loudspeaker that such a card hears.
"""

import threading
import time
from dataclasses import dataclass
from typing import Any

import numpy as np
import soxr
from numpy.typing import NDArray

from voicecount.sound.capture import BLOCK_SECONDS, Deliver
from voicecount.sound.portaudio import DeviceError
from voicecount.speak.port import Clip
from voicecount.testing.clock import FakeClock


class CardClock(FakeClock):
    """A clock that lets its cards deliver while time passes; blocks keep their own exact times."""

    def __init__(self) -> None:
        super().__init__()
        self.cards: list[FakeCard] = []
        self.speakers: list[FakeLoudspeaker] = []

    def advance(self, seconds: float) -> None:
        """Let time pass, and every card deliver what is due."""
        super().advance(seconds)
        for card in self.cards:
            card.deliver_until(self.monotonic())
        for speaker in self.speakers:
            speaker.time_passed(self.monotonic())


@dataclass(frozen=True)
class _Span:
    """A stretch of the card's time, seconds since it was made."""

    begins: float
    ends: float

    def holds(self, time: float) -> bool:
        return self.begins <= time < self.ends


class FakeCard:
    """Gives an array, shape (n,) or (n, channels) at ``rate``, from when it is made.

    What nobody records is gone, as with a real card. ``slow`` is the share by which its own clock
    is slower than the clock.
    """

    def __init__(
        self,
        clock: CardClock,
        sound: NDArray[np.float32],
        rate: int,
        *,
        slow: float = 0.0,
        block: float = BLOCK_SECONDS,
    ) -> None:
        self.sound = sound[:, np.newaxis] if sound.ndim == 1 else sound
        self.rate = rate
        self.opened = 0
        """How often it was opened, or tried to be."""
        self._clock = clock
        self._born = clock.monotonic()
        self._slow = slow
        self._size = round(block * rate)
        self._position = 0
        self._capture: FakeCapture | None = None
        self._lost: list[tuple[_Span, bool]] = []
        self._away: list[_Span] = []
        self._refused: list[_Span] = []
        self._stalled: list[_Span] = []
        self._late: list[tuple[NDArray[np.float32], bool]] = []
        self._overflow = False
        clock.cards.append(self)

    def lose(self, at: float, seconds: float, *, reported: bool = True) -> None:
        """Lose a stretch of sound; ``reported``: the next block says so."""
        self._lost.append((_Span(at, at + seconds), reported))

    def unplug(self, at: float, until: float) -> None:
        """Be away: nothing is delivered, cannot be opened, and must be opened anew afterwards."""
        self._away.append(_Span(at, until))

    def refuse(self, at: float, until: float) -> None:
        """Refuse to be opened."""
        self._refused.append(_Span(at, until))

    def stall(self, at: float, until: float) -> None:
        """Deliver nothing for a while, then all of it at once: the machine was busy."""
        self._stalled.append(_Span(at, until))

    def mute(self, at: float, until: float, channel: int | None = None) -> None:
        """Give exact zeros."""
        first, last = round(at * self.rate), round(until * self.rate)
        self.sound = self.sound.copy()
        self.sound[first:last, slice(None) if channel is None else channel] = 0.0

    def mix(self, at: float, clip: Clip, gain: float) -> tuple[int, NDArray[np.float32]]:
        """Add a clip to what will be heard from a time of the clock; gives what ``unmix`` needs."""
        resampled: Any = soxr.resample(clip.samples, clip.rate, self.rate)
        first = round((at - self._born) * self.rate)
        added = gain * np.asarray(resampled, np.float32)[: max(0, len(self.sound) - first)]
        self.sound = self.sound.copy()
        self.sound[first : first + len(added)] += added[:, np.newaxis]
        return first, added

    def unmix(self, mixed: tuple[int, NDArray[np.float32]], at: float) -> None:
        """Take what was added out again from a time of the clock on."""
        first, added = mixed
        kept = max(0, round((at - self._born) * self.rate) - first)
        self.sound = self.sound.copy()
        self.sound[first + kept : first + len(added)] -= added[kept:, np.newaxis]

    def opener(self) -> "FakeCapture":
        """Give a capture of this card; DeviceError while it is away or refuses."""
        self.opened += 1
        now = self._clock.monotonic() - self._born
        if any(span.holds(now) for span in (*self._away, *self._refused)):
            raise DeviceError("the fake card is away; plug it in")
        return FakeCapture(self)

    def attach(self, capture: "FakeCapture | None") -> None:
        """Deliver to a capture from now on, or to none; what was late for an older one is gone."""
        self._capture = capture
        self._late = []

    def deliver_until(self, now: float) -> None:
        """Deliver every block whose last sample the card has heard by a time of the clock."""
        while self._position < len(self.sound):
            end = min(self._position + self._size, len(self.sound))
            due = end / self.rate * (1.0 + self._slow)
            if self._born + due > now + 1e-9:
                return
            first, self._position = self._position, end
            self._give(first, end, due)

    def _give(self, first: int, end: int, due: float) -> None:
        if self._capture is not None and any(span.holds(due) for span in self._away):
            self._capture = None
        kept = np.ones(end - first, dtype=bool)
        for span, reported in self._lost:
            begin = max(0, round(span.begins * self.rate) - first)
            stop = max(0, round(span.ends * self.rate) - first)
            kept[begin:stop] = False
            self._overflow = self._overflow or (reported and bool((~kept[begin:stop]).any()))
        samples = self.sound[first:end][kept]
        if self._capture is None or not len(samples):
            return
        self._late.append((samples.copy(), self._overflow))
        self._overflow = False
        if any(span.holds(due) for span in self._stalled):
            return
        late, self._late = self._late, []
        for sound, overflow in late:
            self._capture.deliver(sound, overflow, self._born + due)


class FakeCapture:
    """A fake card that is open."""

    def __init__(self, card: FakeCard) -> None:
        self._card = card
        self._deliver: Deliver | None = None

    @property
    def rate(self) -> int:
        """The card's own rate."""
        return self._card.rate

    @property
    def channels(self) -> int:
        """Channels of each block."""
        return int(self._card.sound.shape[1])

    @property
    def ended(self) -> bool:
        """A card has no end."""
        return False

    def start(self, deliver: Deliver) -> None:
        """Take what the card gives from now on."""
        self._deliver = deliver
        self._card.attach(self)

    def deliver(self, samples: NDArray[np.float32], overflow: bool, at: float) -> None:
        """Hand a block on."""
        if self._deliver is not None:
            self._deliver(samples, overflow, at)

    def close(self) -> None:
        """Take nothing more."""
        self._deliver = None
        self._card.attach(None)


_PATIENCE = 5.0
_BREATH = 0.0001


class FakeLoudspeaker:
    """Plays into a fake card, on all its channels, ``gain`` times as loud and ``delay`` s later.

    ``play`` blocks, in whatever thread it runs, until the clock has passed the clip's end.
    """

    def __init__(
        self, clock: CardClock, card: FakeCard, *, gain: float = 0.3, delay: float = 0.1
    ) -> None:
        self._clock = clock
        self._card = card
        self._gain = gain
        self._delay = delay
        self._due: float | None = None
        self._wake = threading.Event()
        self._left = threading.Event()
        self.cut = False
        self.played: list[tuple[float, float]] = []
        """When each clip began and ended, by the clock."""
        clock.speakers.append(self)

    def play(self, clip: Clip) -> None:
        """Mix the clip into what the card will hear; return at its end, or when it is stopped."""
        begun = self._clock.monotonic()
        self.cut = False
        self._wake.clear()
        self._left.clear()
        echo = self._card.mix(begun + self._delay, clip, self._gain)
        self._due = begun + clip.seconds
        self._wake.wait()
        self._due = None
        ended = self._clock.monotonic()
        if self.cut:
            self._card.unmix(echo, ended + self._delay)
        self.played.append((begun, ended))
        self._left.set()

    def stop(self) -> None:
        """Cut off what is being played."""
        if self._due is not None:
            self.cut = True
            self._wake.set()
            self._left.wait(_PATIENCE)

    def time_passed(self, now: float) -> None:
        """Let the playing thread see that its end has come, before time goes on."""
        time.sleep(_BREATH)  # lets a thread that was just started begin
        if self._due is not None and now >= self._due:
            self._wake.set()
            self._left.wait(_PATIENCE)
