"""The student's sound on disk, exactly on the stream's time: what was lost or kept out is silence.

It is written as it comes, so that a drill that is killed leaves what was recorded; ``mended`` makes
a whole file of that.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Self

import numpy as np
import soundfile

from voicecount.drill.store import AttemptsError
from voicecount.sound.frame import RATE, Frame, FrameSource

_KEPT_EVERY = RATE // 2
"""Samples after which what was written is handed to the system."""
_MEND_BLOCK = 160
"""Samples read at a time of a file without an end: the last one cannot be read."""


class Tape:
    """A FLAC file of one channel, 16 bits, at RATE. Raises AttemptsError, one line."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._written = 0
        self._kept = 0
        try:
            self._file: Any = soundfile.SoundFile(path, "x", RATE, 1, "PCM_16", format="FLAC")
        except (OSError, soundfile.SoundFileError) as error:
            raise _unusable(path, error) from None

    @property
    def seconds(self) -> float:
        """How much was recorded, in seconds of the stream."""
        return self._written / RATE

    def add(self, frame: Frame) -> None:
        """Record a frame at its time; its channels are put together."""
        first = round(frame.start * RATE)
        sound = frame.samples.mean(axis=1, dtype=np.float32)[max(0, self._written - first) :]
        gap = np.zeros(max(0, first - self._written), np.float32)
        self._write(np.concatenate((gap, sound)))

    def close(self) -> None:
        """Write the end."""
        try:
            self._file.close()
        except (OSError, soundfile.SoundFileError) as error:
            raise _unusable(self._path, error) from None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _write(self, samples: Any) -> None:
        try:
            self._file.write(samples)
            self._written += len(samples)
            if self._written - self._kept >= _KEPT_EVERY:
                self._file.flush()
                self._kept = self._written
        except (OSError, soundfile.SoundFileError) as error:
            raise _unusable(self._path, error) from None


class Taped:
    """A source whose frames are recorded as they are handed on."""

    def __init__(self, source: FrameSource, tape: Tape) -> None:
        self._source = source
        self._tape = tape

    @property
    def channels(self) -> int:
        """How many channels each frame holds."""
        return self._source.channels

    def frames(self) -> Iterator[Frame]:
        """Give the frames in order."""
        for frame in self._source.frames():
            self._tape.add(frame)
            yield frame


def mend(path: Path) -> float:
    """Give a recording that was broken off an end; tells how many seconds of it could be read.

    At most the last 0.3 s are lost. Raises AttemptsError where there is nothing to mend.
    """
    parts = []
    try:
        with soundfile.SoundFile(path) as file:
            rate = file.samplerate
            while len(block := _readable(file)):
                parts.append(block)
    except (OSError, soundfile.SoundFileError) as error:
        raise AttemptsError(
            f"{path}: no sound that can be read ({_one_line(error)}); it was broken off too soon"
        ) from None
    if not parts:
        raise AttemptsError(f"{path}: holds no sound; it was broken off too soon")
    sound = np.concatenate(parts)
    half = path.with_name(f".{path.name}.mended")
    try:
        soundfile.write(half, sound, rate, "PCM_16", format="FLAC")
        half.replace(path)
    except (OSError, soundfile.SoundFileError) as error:
        half.unlink(missing_ok=True)
        raise _unusable(path, error) from None
    return float(len(sound) / rate)


def copied(path: Path, to: Path) -> None:
    """Keep a recording as FLAC, its rate, channels and times as they are. Raises AttemptsError."""
    try:
        with (
            soundfile.SoundFile(path) as source,
            soundfile.SoundFile(
                to, "x", source.samplerate, source.channels, "PCM_16", format="FLAC"
            ) as file,
        ):
            for block in source.blocks(source.samplerate * 10, dtype="float32", always_2d=True):
                file.write(np.nan_to_num(block))
    except (OSError, soundfile.SoundFileError) as error:
        raise _unusable(to, error) from None


def _readable(file: Any) -> Any:
    """Read the next block; nothing where the file ends without saying so."""
    try:
        return file.read(_MEND_BLOCK, dtype="float32")
    except soundfile.SoundFileError:
        return np.zeros(0, np.float32)


def _unusable(path: Path, error: Exception) -> AttemptsError:
    return AttemptsError(
        f"{path}: the sound cannot be written ({_one_line(error)}); what was recorded before is "
        "kept; make room, or name another folder by --to"
    )


def _one_line(error: Exception) -> str:
    return " ".join(str(error).split())
