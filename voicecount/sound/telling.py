"""A source that tells how far it is, for whoever waits."""

from collections.abc import Callable, Iterator

from voicecount.sound.frame import RATE, Frame, FrameSource


class TellingSource:
    """Gives another source's frames, and tells the seconds that are done, at most so often."""

    def __init__(
        self, source: FrameSource, tell: Callable[[float], None], every: float = 0.0
    ) -> None:
        self._source = source
        self._tell = tell
        self._every = every

    @property
    def channels(self) -> int:
        """How many channels each frame holds."""
        return self._source.channels

    def frames(self) -> Iterator[Frame]:
        """Give the frames; a frame is told of before it is given."""
        told = 0.0
        for frame in self._source.frames():
            done = frame.start + len(frame.samples) / RATE
            if done - told >= self._every:
                told = done
                self._tell(done)
            yield frame
