"""A sound file in the place of a microphone: block by block, at the speed of life."""

import threading
from pathlib import Path

import numpy as np
import soundfile

from voicecount.sound.capture import BLOCK_SECONDS, Deliver
from voicecount.sound.files import probe
from voicecount.sound.pace import Clock


class FileCapture:
    """Delivers a file as a device would, from a thread of its own, at the file's own rate.

    RecordingError, one line, when the file cannot be used. It ends where the file ends, or where
    the file proves to be damaged on the way.
    """

    def __init__(self, path: Path, clock: Clock) -> None:
        self._path = path
        self._clock = clock
        self._recording = probe(path)
        self._closed = threading.Event()
        self._ended = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def rate(self) -> int:
        """The file's own rate."""
        return self._recording.rate

    @property
    def channels(self) -> int:
        """Channels of the file."""
        return self._recording.channels

    @property
    def ended(self) -> bool:
        """Whether the last block was delivered."""
        return self._ended.is_set()

    def start(self, deliver: Deliver) -> None:
        """Begin to deliver, each block when its last sample would have been heard."""
        self._thread = threading.Thread(target=self._run, args=(deliver,), daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Deliver nothing more."""
        self._closed.set()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join()

    def _run(self, deliver: Deliver) -> None:
        begun = self._clock.monotonic()
        done = 0
        size = max(1, round(BLOCK_SECONDS * self.rate))
        try:
            with soundfile.SoundFile(self._path) as file:
                while not self._closed.is_set():
                    sound = file.read(size, dtype="float32", always_2d=True)
                    if not len(sound):
                        break
                    done += len(sound)
                    wait = begun + done / self.rate - self._clock.monotonic()
                    if wait > 0:
                        self._clock.sleep(wait)
                    deliver(np.ascontiguousarray(sound), False, self._clock.monotonic())
        except (soundfile.SoundFileError, OSError):
            return  # as a device that is cut off: what came until then was whole
        finally:
            self._ended.set()
