"""A recording in the student's place: it keeps silent while the partner speaks, and afterwards.

It is a source of frames and a loudspeaker in one, as ``speak/duplex.py`` is with real devices: what
is played takes its time on the stream, in which the recording stands still. The stream does not end
with the recording, as no room does; whoever listens ends it.
"""

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from voicecount.sound.files import FRAME_SAMPLES, FileSource
from voicecount.sound.frame import RATE, Frame, Samples
from voicecount.sound.pace import Clock
from voicecount.speak.port import Clip


class StandIn:
    """A recording as a person at a microphone; all calls come from one thread.

    Without a clock its frames come as fast as they are taken. RecordingError, one line, where the
    recording cannot be used.
    """

    channels = 1

    def __init__(self, path: Path, clock: Clock | None = None) -> None:
        self._source = FileSource(path)
        self._clock = clock
        self._begun: float | None = None
        self._given = 0
        self._silence = 0
        self._lost = False

    def now(self) -> float:
        """Give the stream's time, in seconds: where all that was played is over."""
        return (self._given + self._silence) / RATE

    def play(self, clip: Clip) -> None:
        """Let so much time of the stream pass in silence."""
        self._lost = self._lost or not self._silence
        self._silence += round(clip.seconds * RATE)

    def frames(self) -> Iterator[Frame]:
        """Give the frames without an end."""
        for frame in self._source.frames():
            yield from self._silent()
            yield self._frame(frame.samples.mean(axis=1, dtype=np.float32), lost=frame.lost)
        while True:
            yield from self._silent()
            yield self._frame(np.zeros(FRAME_SAMPLES, np.float32), lost=False)

    def _silent(self) -> Iterator[Frame]:
        """Give what was played as silence; what was being said when it began is not whole."""
        while self._silence:
            count = min(self._silence, FRAME_SAMPLES)
            self._silence -= count
            lost, self._lost = self._lost, False
            yield self._frame(np.zeros(count, np.float32), lost=lost)

    def _frame(self, samples: Samples, *, lost: bool) -> Frame:
        frame = Frame(self._given / RATE, samples[:, np.newaxis], lost)
        self._given += len(samples)
        if self._clock is not None:
            if self._begun is None:
                self._begun = self._clock.monotonic()
            wait = self._begun + self._given / RATE - self._clock.monotonic()
            if wait > 0:
                self._clock.sleep(wait)
        return frame
