"""A microphone and a loudspeaker as one: whoever is played is never heard as a person.

``play`` keeps listening while it plays: frames wait, gated, for the one who reads them next, and a
person who says "stop" is heard at once.
"""

import threading
from collections import deque
from collections.abc import Callable, Iterator
from typing import Protocol

import numpy as np

from voicecount.sound.frame import RATE, Frame, FrameSource, Samples, Utterance
from voicecount.sound.gate import Echo, Gate, Noticed
from voicecount.sound.portaudio import DeviceError
from voicecount.sound.room_sound import RoomSound, echo_gain, tail_seconds
from voicecount.speak.player import resampled
from voicecount.speak.port import Clip, Speaker

UNMEASURED_TAIL = 0.5
"""Seconds of tail where nobody measured the room: longer than a treated room needs."""

_WAIT = 0.02
_LEAD = 0.1
"""The gate closes so much before the voice begins: some devices name a sound's time up to 0.04 s
too early (measured on a virtual card)."""
_AFTER = 2.0
_PATIENCE = 3.0
_DELAY = 0.5
_BEFORE = 1.0


class LiveSource(FrameSource, Protocol):
    """A source of frames that come when they come."""

    @property
    def ended(self) -> bool:
        """Whether no frame will come any more."""
        ...

    def open(self) -> None:
        """Begin, unless begun. Raises DeviceError."""
        ...

    def now(self) -> float:
        """Give the stream's time now."""
        ...

    def read(self, timeout: float) -> Frame | None:
        """Give the next frame, or None where none comes within ``timeout`` seconds."""
        ...


class StoppableSpeaker(Speaker, Protocol):
    """A loudspeaker that can be cut off."""

    @property
    def cut(self) -> bool:
        """Whether the clip played last was cut off."""
        ...

    def stop(self) -> None:
        """Cut off what is being played, from another thread."""
        ...


class HalfDuplex:
    """Both a FrameSource and a Speaker; all calls come from one thread.

    ``stops`` is asked of everything that a person says into the assistant's voice; where it says
    True the voice is cut off. ``room`` is what ``measure`` found, or None.
    """

    def __init__(
        self,
        source: LiveSource,
        speaker: StoppableSpeaker,
        *,
        room: RoomSound | None = None,
        stops: Callable[[Utterance], bool] = lambda _: False,
    ) -> None:
        self._source = source
        self._speaker = speaker
        self._tail = room.tail if room else UNMEASURED_TAIL
        self._gate = Gate(source.channels, room.echo if room else Echo())
        self._stops = stops
        self._waiting: deque[Frame] = deque()
        self._noticed: list[Noticed] = []
        self._asked = 0
        self._heard_from = 0.0

    @property
    def channels(self) -> int:
        """How many channels each frame holds."""
        return self._source.channels

    @property
    def cut(self) -> bool:
        """Whether the clip played last was cut off."""
        return self._speaker.cut

    @property
    def heard_from(self) -> float:
        """The stream's time from which people are heard again after the clip played last.

        Only from then on can a silence mean anything.
        """
        return self._heard_from

    def take_noticed(self) -> list[Noticed]:
        """Give what people said into the assistant's voice, each once, without what stopped it."""
        self._collect()
        noticed, self._noticed = self._noticed, []
        return noticed

    def frames(self) -> Iterator[Frame]:
        """Give the frames in order, silent where the assistant could be heard."""
        self._source.open()
        while self._waiting or not self._source.ended:
            if not self._waiting:
                self._pump(1.0)
            while self._waiting:
                yield self._waiting.popleft()

    def play(self, clip: Clip) -> None:
        """Close the gate, play, listen meanwhile, and open it when the tail is over.

        Returns when the last sample has been played or the voice was cut off. VoiceError when it
        cannot be played; the gate opens then, too.
        """
        self._source.open()
        self._gate.close(self._source.now() - _LEAD, resampled(clip, RATE))
        self._asked = len(self._noticed)
        playing = _Playing(self._speaker, clip)
        try:
            while playing.goes_on(_WAIT if self._source.ended else 0.0):
                self._pump(_WAIT)
                self._stop_if_told()
        finally:
            playing.join()
            ended = self._source.now()
            self._gate.open_after(self._tail, ended)
            self._heard_from = ended + self._tail
        playing.raise_error()

    def _stop_if_told(self) -> None:
        self._collect()
        while self._asked < len(self._noticed):
            if self._stops(self._noticed[self._asked].utterance):
                self._speaker.stop()
                del self._noticed[self._asked]
            else:
                self._asked += 1

    def _pump(self, timeout: float) -> None:
        """Take the next frame, and whatever waits behind it."""
        while (frame := self._source.read(timeout)) is not None:
            self._waiting.append(self._gate.feed(frame))
            timeout = 0.0

    def _collect(self) -> None:
        self._noticed += self._gate.take_noticed()


class _Playing:
    """A clip that is played in a thread of its own."""

    def __init__(self, speaker: Speaker, clip: Clip) -> None:
        self._error: Exception | None = None
        self._speaker = speaker
        self._clip = clip
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def goes_on(self, wait: float) -> bool:
        """Wait a little; say whether it still plays."""
        self._thread.join(wait)
        return self._thread.is_alive()

    def join(self) -> None:
        """Wait for its end."""
        self._thread.join()

    def raise_error(self) -> None:
        """Raise in this thread what was raised in the other."""
        if self._error is not None:
            raise self._error

    def _run(self) -> None:
        try:
            self._speaker.play(self._clip)
        except Exception as error:  # noqa: BLE001 - raised again in the thread that asked
            self._error = error


def measure(source: LiveSource, speaker: Speaker, clip: Clip) -> RoomSound:
    """Play a clip into a quiet room and measure its tail and its echo on every channel.

    Takes the clip's length and about 3 s. Raises DeviceError where the room does not fall quiet or
    the microphone gives nothing, VoiceError where nothing can be played.
    """
    source.open()
    recorder = _Recorder(source)
    first = source.now()
    while source.now() < first + _BEFORE:
        recorder.wait()
    begun = source.now()
    playing = _Playing(speaker, clip)
    while playing.goes_on(0.0):
        recorder.wait()
    playing.raise_error()
    ended = source.now()
    while source.now() < ended + _AFTER:
        recorder.wait()
    recorder.check(ended + _AFTER)
    before = [frame.samples for frame in recorder.frames if frame.start < begun - _BEFORE / 2]
    recorded = _laid_out(recorder.frames, begun, source.channels)
    after = recorded[max(0, round((ended - begun) * RATE)) :]
    gains = tuple(
        echo_gain(resampled(clip, RATE), np.ascontiguousarray(recorded[:, channel]))
        for channel in range(source.channels)
    )
    earlier = np.concatenate(before) if before else None
    return RoomSound(tail_seconds(after, RATE, earlier), Echo(gains))


class _Recorder:
    """Keeps the frames of a source that must not stop."""

    def __init__(self, source: LiveSource) -> None:
        self._source = source
        self._without = 0
        self.frames: list[Frame] = []

    def wait(self) -> None:
        """Wait a little for a frame; DeviceError when none has come for long."""
        frame = self._source.read(_WAIT)
        if frame is not None:
            self.frames.append(frame)
        self._without = 0 if frame is not None else self._without + 1
        if self._without * _WAIT > _PATIENCE:
            raise _not_whole()

    def check(self, until: float) -> None:
        """Raise DeviceError unless the sound is whole until a time."""
        last = self.frames[-1].start if self.frames else 0.0
        if last < until - _DELAY or any(frame.lost for frame in self.frames):
            raise _not_whole()


def _not_whole() -> DeviceError:
    return DeviceError(
        "the microphone gave no sound or lost some, so the room is not measured; connect it, and "
        "measure again"
    )


def _laid_out(frames: list[Frame], begun: float, channels: int) -> Samples:
    """Put frames on one array, shape (n, channels), from a time on; gaps are silence."""
    end = max((frame.start + len(frame.samples) / RATE for frame in frames), default=begun)
    sound = np.zeros((max(0, round((end - begun) * RATE)), channels), dtype=np.float32)
    for frame in frames:
        first = round((frame.start - begun) * RATE)
        samples = frame.samples[max(0, -first) :]
        first = max(0, first)
        sound[first : first + len(samples)] = samples[: max(0, len(sound) - first)]
    return sound
