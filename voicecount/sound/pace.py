"""Frames at the speed of life: a file then behaves as a microphone does."""

from collections.abc import Iterator
from typing import Protocol

from voicecount.sound.frame import RATE, Frame, FrameSource


class Clock(Protocol):
    """The port to time: a real clock, or one that a test moves."""

    def monotonic(self) -> float:
        """Give seconds that only go forward; where they start means nothing."""
        ...

    def sleep(self, seconds: float) -> None:
        """Wait."""
        ...


class Paced:
    """A source whose frames come when their last sample would have been heard.

    A frame is never given early. When the listener falls behind, the frames come at once until
    it has caught up: no sound is dropped, and the pace stays that of the start.
    """

    def __init__(self, source: FrameSource, clock: Clock) -> None:
        self._source = source
        self._clock = clock

    @property
    def channels(self) -> int:
        """How many channels each frame holds."""
        return self._source.channels

    def frames(self) -> Iterator[Frame]:
        """Give the frames in order, each after its own end in real time."""
        begun = self._clock.monotonic()
        for frame in self._source.frames():
            due = begun + frame.start + len(frame.samples) / RATE
            wait = due - self._clock.monotonic()
            if wait > 0:
                self._clock.sleep(wait)
            yield frame


def paced(source: FrameSource, clock: Clock) -> Paced:
    """Wrap a source so that its frames come in real time by the given clock."""
    return Paced(source, clock)
