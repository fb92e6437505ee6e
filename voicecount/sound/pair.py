"""Two microphones with clocks of their own as one source of two channels.

    DeviceSource ──▶ Lane ─┐
                           ├─▶ frames of 32 ms, two channels, on the first device's time
    DeviceSource ──▶ Lane ─┘

The first device's samples are the master. Each source knows to which time of the clock its samples
belong (``timeline.py``); the difference of the two is followed, and the second device is kept in
its place by small steps (``lane.py``). What two devices need to bring sound to the program is not
known here: where it differs, one channel lies some 10 ms beside the other.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Protocol

import numpy as np

from voicecount.sound.choose import Device, choose
from voicecount.sound.device import PATIENCE_SECONDS, DeviceSource
from voicecount.sound.files import FRAME_SAMPLES
from voicecount.sound.frame import RATE, Frame
from voicecount.sound.lane import Lane, PairAccount
from voicecount.sound.pace import Clock
from voicecount.sound.portaudio import DeviceError
from voicecount.sound.timeline import HOLD_SECONDS
from voicecount.sound.watchdog import Change, Health

WAIT_SECONDS = HOLD_SECONDS + 0.05
"""For so long, at most, and once, a device that stalls holds the other one's sound back: its source
may need as long to tell late sound from lost sound."""

_POLL_SECONDS = 0.01


class Maker(Protocol):
    """Makes the source of one device, of one channel, not yet opened."""

    def __call__(self, *, changed: Callable[[Change], None]) -> DeviceSource:
        """Give a source that tells its changes to ``changed``."""
        ...


class PairSource:
    """The first device is channel 0, the second one channel 1; all calls come from one thread.

    While one device is away its channel is silent and the other one goes on; frames where silence
    begins or ends are marked ``lost``. While both are away no frame comes. ``changed`` is called as
    by a ``DeviceSource``, always with the channel.
    """

    channels = 2
    """How many channels each frame holds."""

    def __init__(
        self,
        makers: Sequence[Maker],
        clock: Clock,
        *,
        changed: Callable[[Change], None] = lambda _: None,
    ) -> None:
        first, second = makers
        self._changed = changed
        self._clock = clock
        self._sources = (
            first(changed=lambda change: self._tell(0, change)),
            second(changed=lambda change: self._tell(1, change)),
        )
        self._lanes = (Lane(), Lane())
        self._early: tuple[list[Frame], list[Frame]] = ([], [])
        self._opened: float | None = None
        self._main: int | None = None
        self._base = 0.0
        self._place = 0
        self._news = False
        self.account = PairAccount(
            (self._sources[0].account, self._sources[1].account),
            (self._lanes[0].account, self._lanes[1].account),
        )
        """What came and what is missing."""

    @property
    def health(self) -> Health:
        """Gone when both are; silent when a channel gives nothing, as when one device is gone."""
        both = {source.health for source in self._sources}
        if len(both) == 1:
            return both.pop()
        return Health.SILENT

    @property
    def ended(self) -> bool:
        """Whether no frame will come any more."""
        left = max(lane.end for lane in self._lanes) > self._place or any(self._early)
        return all(source.ended for source in self._sources) and not left

    def now(self) -> float:
        """Give the stream's time now, in seconds; 0 before it has begun."""
        if self._main is None:
            return 0.0
        return self._sources[self._main].now() + self._base

    def open(self) -> None:
        """Open both devices; DeviceError, one line, when one cannot be opened the first time."""
        if self._opened is not None:
            return
        try:
            for source in self._sources:
                source.open()
        except DeviceError:
            self.close()
            raise
        self._opened = self._clock.monotonic()

    def read(self, timeout: float) -> Frame | None:
        """Give the next frame, or None when none comes within ``timeout`` seconds or all ended."""
        self.open()
        until = self._clock.monotonic() + timeout
        while True:
            self._drain()
            frame = self._next()
            if frame is not None:
                return frame
            now = self._clock.monotonic()
            if self.ended or now >= until:
                return None
            self._clock.sleep(min(_POLL_SECONDS, until - now))

    def frames(self) -> Iterator[Frame]:
        """Give the frames in order, for as long as there may be more; waits where none come."""
        self.open()
        while not self.ended:
            frame = self.read(1.0)
            if frame is not None:
                yield frame

    def close(self) -> None:
        """Let go of both devices; what was read stays."""
        for source in self._sources:
            source.close()

    def _tell(self, channel: int, change: Change) -> None:
        self._news = True
        self._changed(replace(change, channel=channel))

    def _drain(self) -> None:
        """Take all that has come of both, so that nothing is taken for late that only waits."""
        for channel, source in enumerate(self._sources):
            while (frame := source.read(0.0)) is not None:
                if len(frame.samples):
                    self._sort(channel, frame)
        if self._main is None:
            self._begin()

    def _sort(self, channel: int, frame: Frame) -> None:
        if self._main is None:
            self._early[channel].append(frame)
            return
        if channel == 0 != self._main:
            # The first device comes after all: it is the master from now on, at this time.
            self._base, self._main = self._zero(0) - self._zero(1) + self._base, 0
        lane = self._lanes[channel]
        lane.put(frame, self._shift(channel))
        if lane.end > self._place - WAIT_SECONDS * RATE:
            lane.awaited = True

    def _zero(self, channel: int) -> float:
        """Give the clock's time at which a source's own stream began, as it knows it now."""
        return self._clock.monotonic() - self._sources[channel].now()

    def _shift(self, channel: int) -> float:
        """Give what is added to a source's time to come to the pair's."""
        main = self._main or 0
        beside = 0.0 if channel == main else self._zero(channel) - self._zero(main)
        return beside + self._base

    def _begin(self) -> None:
        """Begin when both devices give sound, or with one when the other had time enough."""
        there = [channel for channel, frames in enumerate(self._early) if frames]
        waited = self._clock.monotonic() - (self._opened or 0.0) >= PATIENCE_SECONDS
        waited = waited or any(source.ended for source in self._sources)
        if not there or (len(there) < len(self._early) and not waited):
            return
        self._main = there[0]
        for channel, lane in enumerate(self._lanes):
            lane.awaited = channel in there
            lane.filling = channel not in there
            frames = self._early[channel]
            for frame in frames:
                lane.put(frame, self._shift(channel))
            frames.clear()
        self._place = max(lane.first for lane in self._lanes if lane.first is not None)
        for lane in self._lanes:
            lane.drop_before(self._place)

    def _next(self) -> Frame | None:
        """Give the next frame as soon as it is whole, or needs to be waited for no more."""
        jumped = False
        while self._main is not None and (size := self._ready()):
            first = min(lane.first for lane in self._lanes if lane.first is not None)
            if first <= self._place:
                return self._frame(size, jumped)
            self._place, jumped = first, True  # nobody gave anything: as with one device, a gap
        news, self._news = self._news, False
        nothing = np.zeros((0, self.channels), dtype=np.float32)
        return Frame(self._place / RATE, nothing) if news else None

    def _ready(self) -> int:
        """Say how many samples can be handed on now: a frame, less at the end, or 0."""
        ends = [lane.end for lane in self._lanes]
        left = max(ends) - self._place
        if left < FRAME_SAMPLES:
            return max(0, left) if all(source.ended for source in self._sources) else 0
        until = self._place + FRAME_SAMPLES
        for lane, source in zip(self._lanes, self._sources, strict=True):
            if lane.awaited and lane.end < until and not source.ended:
                if self.now() - until / RATE < WAIT_SECONDS:
                    return 0
                lane.awaited = False
        return FRAME_SAMPLES

    def _frame(self, size: int, lost: bool) -> Frame:
        columns = []
        for lane in self._lanes:
            samples, covered, damaged = lane.take(self._place, size)
            columns.append(samples)
            begins = covered < size and not lane.filling
            lost = lost or damaged or begins or (covered > 0 and lane.filling)
            lane.filling = covered < size
        frame = Frame(self._place / RATE, np.stack(columns, axis=1), lost)
        self._place += size
        self._news = False
        return frame


def choose_two(
    devices: Iterable[Device], first: str | None, second: str | None
) -> tuple[Device, Device]:
    """Give the devices that two names fit. DeviceError, one line; also where it is one device."""
    devices = tuple(devices)
    one, other = choose(devices, first), choose(devices, second)
    if one.label == other.label:
        raise DeviceError(
            f'"{one.label}" is chosen for both people; name another one by a second --microphone, '
            "or name one only"
        )
    return one, other
