"""The port to a recording device: blocks of sound with their flags and times, and nothing else.

What runs in the sound library's own thread only puts a copy into an inbox; everything else is done
by the reader, in ``device.py``.
"""

from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from voicecount.sound import portaudio
from voicecount.sound.choose import Device
from voicecount.sound.pace import Clock
from voicecount.sound.portaudio import DeviceError

BLOCK_SECONDS = 0.02
"""What a device is asked to give at a time."""
LATENCY_SECONDS = 0.1
"""What a device is asked to hold back, so that a busy machine loses nothing."""


@dataclass(frozen=True, eq=False)
class Block:
    """A stretch of sound as the device gave it."""

    first: int
    """Samples that the device had given before, dropped ones too."""
    samples: NDArray[np.float32]
    """Shape (n, channels), at the device's own rate."""
    overflow: bool
    """Whether the device said that sound before it was lost."""
    at: float
    """The clock's time, in seconds, when it came in."""
    dropped: bool = False
    """Whether the inbox had no room for what came right before it."""


Deliver = Callable[[NDArray[np.float32], bool, float], None]
"""Takes samples, shape (n, channels), whether sound before them was lost, and the time."""


class Capture(Protocol):
    """A device that is open: a microphone, a file at the speed of life, or a fake."""

    @property
    def rate(self) -> int:
        """Samples a second, the device's own."""
        ...

    @property
    def channels(self) -> int:
        """Channels of each block: 1 or 2."""
        ...

    @property
    def ended(self) -> bool:
        """Whether no more will come, as at the end of a file; a microphone has no end."""
        ...

    def start(self, deliver: Deliver) -> None:
        """Begin to deliver blocks, from any thread. Raises DeviceError."""
        ...

    def close(self) -> None:
        """End; may be called twice, and raises nothing."""
        ...


class Inbox:
    """The queue between the sound library's thread and the reader; it never blocks the first."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._blocks: deque[Block] = deque()
        self._given = 0
        self._dropped = False
        self.latest = float("-inf")
        """The clock's time, in seconds, of the latest block, also of a dropped one."""

    def put(self, samples: NDArray[np.float32], overflow: bool, at: float) -> None:
        """Take a block; drop it where the reader is too far behind. The count goes on."""
        first, self._given = self._given, self._given + len(samples)
        self.latest = at
        full = len(self._blocks) >= self._most
        if not full:
            self._blocks.append(Block(first, samples, overflow, at, self._dropped))
        self._dropped = full

    def take(self) -> Block | None:
        """Give the oldest block, or None."""
        with suppress(IndexError):
            return self._blocks.popleft()
        return None


class MicrophoneCapture:
    """A microphone (PortAudio), opened at its own rate."""

    def __init__(self, device: Device, channels: int, clock: Clock) -> None:
        if device.channels < channels:
            raise DeviceError(
                f"{device.label} has {device.channels} channel where {channels} are needed; choose "
                "another microphone, or one channel"
            )
        self._device = device
        self._channels = channels
        self._clock = clock
        self._stream: Any = None

    @property
    def rate(self) -> int:
        """The device's own rate."""
        return self._device.rate

    @property
    def channels(self) -> int:
        """Channels of each block."""
        return self._channels

    @property
    def ended(self) -> bool:
        """A microphone has no end."""
        return False

    def start(self, deliver: Deliver) -> None:
        """Open the device and begin; DeviceError, one line, where it cannot be opened."""
        sounddevice = portaudio.load()

        def callback(indata: Any, _frames: int, _time: Any, status: Any) -> None:
            deliver(indata.copy(), bool(status.input_overflow), self._clock.monotonic())

        portaudio.opened()
        try:
            with portaudio.quiet():
                self._stream = sounddevice.InputStream(
                    samplerate=self.rate,
                    channels=self._channels,
                    dtype="float32",
                    device=self._device.index,
                    blocksize=round(BLOCK_SECONDS * self.rate),
                    latency=LATENCY_SECONDS,
                    callback=callback,
                )
                self._stream.start()
        except (sounddevice.PortAudioError, ValueError) as error:
            if self._stream is None:
                portaudio.closed()
            self.close()
            raise DeviceError(
                f"{self._device.label} cannot be opened ({portaudio.one_line(error)}); connect it, "
                "or close what else uses it"
            ) from error

    def close(self) -> None:
        """Stop at once; what the device still held is dropped."""
        stream, self._stream = self._stream, None
        if stream is None:
            return
        stream.close(ignore_errors=True)
        portaudio.closed()
