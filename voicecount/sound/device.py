"""A microphone as a source of frames: opened by name, watched, and opened again when it returns.

    capture ──▶ Inbox ──▶ Watchdog, Timeline ──▶ Resampler ──▶ frames of 32 ms at 16 kHz

While the device is away no frame comes, and the stream's time goes on: the first frame after it is
marked ``lost`` and starts as much later. Two microphones of their own clocks are not put together;
two people need one device of two channels.
"""

from collections import deque
from collections.abc import Callable, Iterator

import numpy as np
import soxr
from numpy.typing import NDArray

from voicecount.sound import choose, portaudio
from voicecount.sound.capture import BLOCK_SECONDS, Block, Capture, Inbox, MicrophoneCapture
from voicecount.sound.files import FRAME_SAMPLES
from voicecount.sound.frame import RATE, Frame
from voicecount.sound.pace import Clock
from voicecount.sound.portaudio import DeviceError
from voicecount.sound.timeline import Account, Missing, Placed, Timeline, Why
from voicecount.sound.watchdog import NOTICE_SECONDS, Change, Code, Health, Watchdog

RETRY_SECONDS = 0.5
"""Between two attempts to open a device that is gone."""
PATIENCE_SECONDS = 3.0
"""A device that was opened may take as long until its first sound; some take two seconds (measured
on a virtual card)."""
QUEUE_SECONDS = 60.0
"""As much sound waits for a reader that is busy; more is dropped, and counted."""

_POLL_SECONDS = 0.01

Opener = Callable[[], Capture]
"""Finds the device and makes its capture, not yet started. Raises DeviceError."""


class DeviceSource:
    """A device as frames of 32 ms at 16 kHz, from one thread that reads.

    ``changed`` is called by the reading thread when the device falls silent, is gone, or is back;
    it must not read. Right after it a frame comes, an empty one if need be, so that whoever reads
    has a turn to say what happened although no sound comes.
    """

    def __init__(
        self,
        opener: Opener,
        channels: int,
        clock: Clock,
        *,
        changed: Callable[[Change], None] = lambda _: None,
        queue_seconds: float = QUEUE_SECONDS,
    ) -> None:
        self._opener = opener
        self._channels = channels
        self._clock = clock
        self._changed = changed
        self._most = round(queue_seconds / BLOCK_SECONDS)
        self._frames: deque[Frame] = deque()
        self._capture: Capture | None = None
        self._inbox = Inbox(self._most)
        self._timeline: Timeline | None = None
        self._watchdog = Watchdog(channels, 0.0)
        self._resampler = Resampler(RATE, channels, 0.0, lost=False)
        self._again = 0.0
        self._handed_on = 0.0
        self._news = False
        self._finished = False
        self.account = Account()
        """What came and what is missing."""

    @property
    def channels(self) -> int:
        """How many channels each frame holds: 1 or 2."""
        return self._channels

    @property
    def health(self) -> Health:
        """How the device is, as far as it has been read."""
        return self._watchdog.health

    @property
    def ended(self) -> bool:
        """Whether no frame will come any more: a file that is played has an end."""
        return self._finished and not self._frames

    def now(self) -> float:
        """Give the stream's time now, in seconds: frames read later belong to their own time."""
        return 0.0 if self._timeline is None else self._timeline.now(self._clock.monotonic())

    def open(self) -> None:
        """Open the device; DeviceError, one line, when it cannot be done the first time."""
        if self._timeline is not None:
            return
        self._start(self._opener())
        begins = self._clock.monotonic() + PATIENCE_SECONDS - NOTICE_SECONDS
        self._watchdog = Watchdog(self._channels, begins)

    def read(self, timeout: float) -> Frame | None:
        """Give the next frame, or None when none comes within ``timeout`` seconds or all ended."""
        self.open()
        until = self._clock.monotonic() + timeout
        while not self._frames:
            block = self._inbox.take()
            if block is not None:
                self._take(block)
                continue
            if self._finished or self._end_of_sound():
                break
            now = self._clock.monotonic()
            self._watch(now)
            if now >= until or self._news:
                break
            self._clock.sleep(min(_POLL_SECONDS, until - now))
        return self._next_frame()

    def frames(self) -> Iterator[Frame]:
        """Give the frames in order, for as long as there may be more; waits where none come."""
        self.open()
        while not self.ended:
            frame = self.read(1.0)
            if frame is not None:
                yield frame

    def close(self) -> None:
        """Let go of the device; what was read stays."""
        capture, self._capture = self._capture, None
        self._finished = True
        if capture is not None:
            capture.close()

    def _start(self, capture: Capture) -> None:
        """Start a capture into an inbox of its own: what an older one still gives is not heard."""
        inbox = Inbox(self._most)
        capture.start(inbox.put)
        self._capture, self._inbox = capture, inbox
        if self._timeline is None:
            self._timeline = Timeline(capture.rate, self.account)
            self._resampler = Resampler(capture.rate, self._channels, 0.0, lost=False)
        else:
            self._hear(self._timeline.resume(capture.rate))
            self._frames.extend(self._resampler.flush())
            self._resampler = Resampler(
                capture.rate, self._channels, self._timeline.end, lost=False
            )

    def _next_frame(self) -> Frame | None:
        news, self._news = self._news, False
        if self._frames:
            frame = self._frames.popleft()
            self._handed_on = frame.start + len(frame.samples) / RATE
            return frame
        nothing = np.zeros((0, self._channels), dtype=np.float32)
        return Frame(self._handed_on, nothing) if news else None

    def _take(self, block: Block) -> None:
        if self._timeline is None:
            return
        alive = [bool(np.ptp(block.samples[:, channel])) for channel in range(self._channels)]
        if block.dropped:
            self._watchdog.seen(block.at)  # the reader was away, not the device
        changes = self._watchdog.block(block.at, alive)
        if any(change.code is Code.BACK for change in changes):
            self._again = 0.0  # it gives sound: if it goes once more, nothing has to be waited for
        self._tell(changes)
        self._hear(self._timeline.take(block))

    def _hear(self, placed: list[Placed]) -> None:
        for block in placed:
            if block.lost:
                self._frames.extend(self._resampler.flush())
                self._resampler = self._resampler.after_loss(block.start)
            numbers = np.isfinite(block.samples)
            sound = block.samples
            if not numbers.all():
                damaged = float(np.count_nonzero(~numbers.all(axis=1))) / self._resampler.rate
                self.account.note(Missing(block.start, damaged, Why.DAMAGED))
                sound = np.where(numbers, sound, np.float32(0.0))
                self._resampler.damaged()
            self._frames.extend(self._resampler.feed(sound))

    def _watch(self, now: float) -> None:
        """With nothing to read: tell of a device that is gone, and try to open it again."""
        if now - self._inbox.latest < NOTICE_SECONDS:
            return
        self._tell(self._watchdog.tick(now))
        if self._watchdog.health is not Health.GONE or now < self._again:
            return
        self._let_go()
        wait = PATIENCE_SECONDS
        try:
            self._start(self._opener())
        except DeviceError:
            wait = RETRY_SECONDS  # people know that it is gone; there is nothing new to say
        self._again = self._clock.monotonic() + wait

    def _let_go(self) -> None:
        """Close a device that is gone without waiting for ever: some drivers hang then."""
        capture, self._capture = self._capture, None
        if capture is not None:
            portaudio.aside(capture.close)

    def _end_of_sound(self) -> bool:
        """At the end of a sound that has one: hand on the rest."""
        if self._capture is None or not self._capture.ended:
            return False
        block = self._inbox.take()  # one may have come just before the end
        if block is not None:
            self._take(block)
            return False
        if self._timeline is not None:
            self._hear(self._timeline.release())
        self._frames.extend(self._resampler.flush())
        self.close()
        return True

    def _tell(self, changes: list[Change]) -> None:
        for change in changes:
            self._news = True
            self._changed(change)


class Resampler:
    """A stretch of sound without a gap, from the device's rate to RATE, once, as whole frames."""

    def __init__(self, rate: int, channels: int, start: float, *, lost: bool) -> None:
        self.rate = rate
        """Samples a second that come in."""
        self._channels = channels
        self._start = start
        self._lost = lost
        self._done = 0
        self._rest = np.zeros((0, channels), dtype=np.float32)
        self._stream = soxr.ResampleStream(rate, RATE, channels, dtype="float32", quality="HQ")

    def after_loss(self, start: float) -> "Resampler":
        """Give the one that goes on at ``start`` seconds, its first frame marked ``lost``."""
        return Resampler(self.rate, self._channels, start, lost=True)

    def damaged(self) -> None:
        """Mark the next frame as ``lost``."""
        self._lost = True

    def feed(self, samples: NDArray[np.float32]) -> list[Frame]:
        """Take samples, shape (n, channels); give the frames that are whole."""
        if self.rate != RATE:
            samples = self._stream.resample_chunk(np.ascontiguousarray(samples))
        self._rest = np.concatenate((self._rest, samples))
        whole = len(self._rest) - len(self._rest) % FRAME_SAMPLES
        frames = [
            self._frame(self._rest[first : first + FRAME_SAMPLES])
            for first in range(0, whole, FRAME_SAMPLES)
        ]
        self._rest = self._rest[whole:]
        return frames

    def flush(self) -> list[Frame]:
        """Give what is left, before a gap or at the end; nothing may be fed afterwards."""
        rest = np.zeros((0, self._channels), dtype=np.float32)
        if self.rate != RATE:
            rest = self._stream.resample_chunk(rest, last=True)
        self._rest = np.concatenate((self._rest, rest))
        frames = [
            self._frame(self._rest[first : first + FRAME_SAMPLES])
            for first in range(0, len(self._rest), FRAME_SAMPLES)
        ]
        self._rest = self._rest[:0]
        return frames

    def _frame(self, samples: NDArray[np.float32]) -> Frame:
        frame = Frame(self._start + self._done / RATE, samples, self._lost)
        self._done += len(samples)
        self._lost = False
        return frame


def microphone(
    part: str | None,
    channels: int,
    clock: Clock,
    *,
    changed: Callable[[Change], None] = lambda _: None,
) -> DeviceSource:
    """Give the microphone whose name holds ``part`` (None: the system's own), not yet opened.

    The list of devices is taken anew at every attempt, so that one that was plugged in is found.
    """

    def opener() -> Capture:
        portaudio.refresh()
        return MicrophoneCapture(choose.choose(choose.microphones(), part), channels, clock)

    return DeviceSource(opener, channels, clock, changed=changed)
