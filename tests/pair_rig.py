"""Two fake cards with clocks of their own, read as one source; and sounds that need no memory."""

from functools import partial
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.device import DeviceSource
from voicecount.sound.frame import RATE, Frame
from voicecount.sound.pair import PairSource
from voicecount.sound.watchdog import Change, Code
from voicecount.testing.capture import CardClock, FakeCard

Sound = NDArray[np.float32]


class Room:
    """A quiet room in which something clicks every ``every`` seconds, as one card records it.

    Made as it is read, so that hours of it take no memory. A card that is ``slow`` gives fewer
    samples for the same time.
    """

    ndim = 2

    def __init__(
        self, seconds: float, rate: int, slow: float, *, every: float = 1.0, seed: int = 1
    ) -> None:
        self.shape = (round(seconds * rate), 1)
        self._step = every / (1.0 + slow) * rate
        self._noise = np.random.default_rng(seed).normal(0, 0.001, 9973).astype(np.float32)

    def __len__(self) -> int:
        return self.shape[0]

    def __getitem__(self, part: slice) -> Sound:
        first, last = part.start, part.stop
        sound = np.take(self._noise, np.arange(first, last), mode="wrap")
        for number in range(int(first / self._step), int(last / self._step) + 2):
            place = round(number * self._step) - first
            if number and 0 <= place < len(sound):
                sound[place : place + 3] = 0.9
        return sound[:, np.newaxis]


class PairRig:
    """Two fake cards, by default in a room that clicks, read as a pair."""

    def __init__(
        self,
        seconds: float,
        rates: tuple[int, int] = (16_000, 16_000),
        slow: tuple[float, float] = (0.0, 0.0),
        sounds: tuple[Sound, Sound] | None = None,
        *,
        every: float = 1.0,
        block: float = 0.02,
    ) -> None:
        self.clock = CardClock()
        rooms = sounds or tuple(
            Room(seconds, rate, own, every=every, seed=seed)
            for seed, (rate, own) in enumerate(zip(rates, slow, strict=True))
        )
        self.cards = [
            FakeCard(self.clock, cast("Any", room), rate, slow=own, block=block)
            for room, rate, own in zip(rooms, rates, slow, strict=True)
        ]
        self.changes: list[Change] = []
        self.frames: list[Frame] = []
        self.late: list[float] = []
        """How long after its last sample was heard each frame was handed on, in seconds."""
        makers = [partial(DeviceSource, card.opener, 1, self.clock) for card in self.cards]
        self.source = PairSource(makers, self.clock, changed=self.changes.append)

    def read(self, until: float, timeout: float = 0.1) -> list[Frame]:
        """Read everything until a time of the clock."""
        while self.clock.monotonic() < until:
            self._take(timeout)
        while self._take(0.0):
            pass
        return self.frames

    def _take(self, timeout: float) -> bool:
        frame = self.source.read(timeout)
        if frame is not None:
            self.frames.append(frame)
            if len(frame.samples):
                self.late.append(self.source.now() - frame.start - len(frame.samples) / RATE)
        return frame is not None

    def codes(self) -> list[tuple[Code, int | None]]:
        return [(change.code, change.channel) for change in self.changes]

    def check_accounts(self) -> None:
        """Every sample of both devices is somewhere, and every sample handed on came or is told."""
        handed_on = sum(len(frame.samples) for frame in self.frames)
        for lane, account in zip(self.source._lanes, self.source.account.lanes, strict=True):
            gone = account.removed + account.early + account.late + account.handed_on
            assert account.came + account.added == gone + lane.held
            assert account.handed_on + account.filled == handed_on


def laid_out(frames: list[Frame]) -> Sound:
    """The sound of frames, shape (n, 2), at the places that they name; gaps are silence."""
    end = frames[-1].start + len(frames[-1].samples) / RATE
    sound = np.zeros((round(end * RATE) + 1, 2), np.float32)
    for frame in frames:
        first = round(frame.start * RATE)
        sound[first : first + len(frame.samples)] = frame.samples
    return sound


def apart(frames: list[Frame], every: float = 1.0) -> list[float]:
    """How many ms the first channel has each click after the second one."""
    clicks: tuple[list[float], list[float]] = ([], [])
    for frame in frames:
        for channel, found in enumerate(clicks):
            places = np.flatnonzero(np.abs(frame.samples[:, channel]) > 0.2)
            if len(places):
                at = frame.start + float(places[0]) / RATE
                if not found or at - found[-1] > every / 2:
                    found.append(at)
    first, second = map(np.array, clicks)
    nearest = [second[np.argmin(np.abs(second - at))] for at in first]
    return [
        1000.0 * (at - other)
        for at, other in zip(first, nearest, strict=True)
        if abs(at - other) < every / 2
    ]
