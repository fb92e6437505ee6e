"""Frames to utterances: where one person speaks, on which channel, between which silences."""

from collections import deque
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from voicecount.sound.frame import RATE, Frame, FrameSource, Utterance
from voicecount.sound.speech import Reach, SegmentSettings, Speech
from voicecount.sound.voice import CHUNK, CHUNK_SECONDS, Voice

_JITTER = 0.02
"""Seconds that a frame's start may be off without sound having been lost."""
_LONGEST_FILLED = 1.0
"""Seconds of lost sound that are filled with silence; after more, what was open is closed."""
_LOSSES_KEPT = 64
_SAME_SOUND = 0.98
"""Two channels correlated as closely as this within 32 ms carry one and the same sound."""
_HOLD = 8
"""Chunks after a louder voice's last one in which its echo is not another person."""


class Segmenter:
    """Cuts the sound of one or two channels into utterances as it comes in.

    The silence that ends an utterance (0.8 s) is longer than any pause inside a word, so that
    "sixteen" never ends after "six"; voice that begins earlier belongs to the same utterance.
    Where both channels hold voice at once, the louder one owns the words if the other is at
    least ``quieter_db`` weaker or carries the very same sound.
    """

    def __init__(self, channels: int, settings: SegmentSettings | None = None) -> None:
        self._settings = settings or SegmentSettings()
        limits = self._settings
        self._voices = [Voice(limits.quietest_db, limits.above_floor_db) for _ in range(channels)]
        self._speech = [Speech(channel, limits) for channel in range(channels)]
        self._pending = np.zeros((0, channels), dtype=np.float32)
        self._losses: deque[int] = deque(maxlen=_LOSSES_KEPT)
        self._base: float | None = None
        self._chunks = 0

    @property
    def channels(self) -> int:
        """How many channels each frame must hold."""
        return len(self._speech)

    def feed(self, frame: Frame) -> list[Utterance]:
        """Take the next frame, of any length; give the utterances that ended, in that order."""
        ended = self._resume(frame)
        if frame.lost:
            self._losses.append(self._chunks + len(self._pending) // CHUNK)
        self._pending = np.concatenate((self._pending, frame.samples))
        return ended + self._run()

    def flush(self) -> list[Utterance]:
        """Close what is open, as at the end of the sound; frames may follow."""
        ended = []
        if len(self._pending):
            missing = CHUNK - len(self._pending) % CHUNK
            silence = np.zeros((missing, self.channels), dtype=np.float32)
            self._pending = np.concatenate((self._pending, silence))
            ended = self._run()
        last = [
            utterance for speech in self._speech for utterance in speech.close_all(self._losses)
        ]
        self._base = None
        self._chunks = 0
        self._losses.clear()
        return ended + sorted(last, key=lambda utterance: utterance.end)

    def speaking(self, channel: int) -> bool:
        """Say whether an utterance is open on a channel."""
        return self._speech[channel].open

    @property
    def anybody(self) -> bool:
        """Whether an utterance is open on any channel."""
        return any(map(self.speaking, range(self.channels)))

    def reach(self, channel: int) -> Reach | None:
        """Say how far the open utterance of a channel has come, or None; costs next to nothing."""
        return self._speech[channel].reach

    def partial(self, channel: int) -> Utterance | None:
        """Give the open utterance of a channel as far as it has come, or None."""
        return self._speech[channel].so_far(self._losses)

    def _resume(self, frame: Frame) -> list[Utterance]:
        """Fill sound that is missing before a frame with silence, or begin a new time line."""
        if self._base is not None:
            now = self._base + self._chunks * CHUNK_SECONDS + len(self._pending) / RATE
            gap = frame.start - now
            if abs(gap) <= _JITTER:
                return []
            if 0 < gap <= _LONGEST_FILLED:
                self._losses.append(self._chunks + len(self._pending) // CHUNK)
                silence = np.zeros((round(gap * RATE), self.channels), dtype=np.float32)
                self._pending = np.concatenate((self._pending, silence))
                self._losses.append(self._chunks + len(self._pending) // CHUNK)
                return []
            self._losses.append(self._chunks + len(self._pending) // CHUNK)
            ended = self.flush()
            self._begin(frame)
            self._losses.append(0)
            return ended
        self._begin(frame)
        return []

    def _begin(self, frame: Frame) -> None:
        self._base = frame.start
        self._pending = np.zeros((0, self.channels), dtype=np.float32)
        for speech in self._speech:
            speech.begin(frame.start)

    def _run(self) -> list[Utterance]:
        ended = []
        whole = len(self._pending) - len(self._pending) % CHUNK
        for first in range(0, whole, CHUNK):
            ended += self._step(self._pending[first : first + CHUNK])
        self._pending = self._pending[whole:]
        return ended

    def _step(self, chunk: NDArray[np.float32]) -> list[Utterance]:
        """Run one chunk, shape (CHUNK, channels), through every channel, the loudest first."""
        sound = [np.ascontiguousarray(chunk[:, channel]) for channel in range(self.channels)]
        for voice, samples in zip(self._voices, sound, strict=True):
            voice.measure(samples)
        loudest_first = sorted(
            range(self.channels), key=lambda channel: -self._voices[channel].speaker_level
        )
        ended = []
        for place, channel in enumerate(loudest_first):
            voice, samples = self._voices[channel], sound[channel]
            if any(self._owns(other, channel, sound) for other in loudest_first[:place]):
                voice.skip(samples)
                probability = 0.0
            else:
                probability = voice.probability(samples)
            speech = self._speech[channel]
            utterance = speech.feed(samples, probability, voice.level, self._losses)
            if speech.quiet_chunks == 0:
                self._take_back(channel)
            if utterance is not None:
                ended.append(utterance)
        self._chunks += 1
        return sorted(ended, key=lambda utterance: utterance.end)

    def _take_back(self, channel: int) -> None:
        """Take back what weaker channels took for voice just before: devices differ in time."""
        limit = self._voices[channel].speaker_level - self._settings.quieter_db
        for voice, speech in zip(self._voices, self._speech, strict=True):
            if voice.speaker_level <= limit:
                speech.take_back()

    def _owns(self, other: int, channel: int, sound: list[NDArray[np.float32]]) -> bool:
        """Say whether what a channel holds now is the voice of another, louder channel."""
        if self._speech[other].quiet_chunks > _HOLD:
            return False
        weaker = self._voices[other].speaker_level - self._voices[channel].speaker_level
        if weaker >= self._settings.quieter_db:
            return True
        first, second = sound[other], sound[channel]
        scale = float(np.sqrt(np.dot(first, first) * np.dot(second, second)))
        return scale > 0.0 and abs(float(np.dot(first, second))) >= _SAME_SOUND * scale


def utterances(source: FrameSource, settings: SegmentSettings | None = None) -> Iterator[Utterance]:
    """Give the utterances of a source in the order of their ends."""
    segmenter = Segmenter(source.channels, settings)
    for frame in source.frames():
        yield from segmenter.feed(frame)
    yield from segmenter.flush()
