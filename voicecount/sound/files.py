"""A recording as a source of frames: any rate and width, one or two channels, never held whole."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from voicecount.errors import RecordingError
from voicecount.sound.frame import RATE, Frame
from voicecount.sound.riff import wav_data

FRAME_SAMPLES = 512
"""Samples of each frame but the last: 32 ms, one step of the voice detector."""
LOWEST_RATE = 8_000
"""Below telephone quality, consonants are gone: nothing can be counted on."""
MOST_CHANNELS = 2

_BLOCK_SECONDS = 1.0
_EXACT = frozenset({"WAV", "WAVEX", "RF64", "FLAC", "AIFF", "W64", "CAF", "AU"})
"""Containers whose number of samples is a promise; in the others it is an estimate."""


@dataclass(frozen=True)
class Recording:
    """What a sound file says of itself."""

    channels: int
    rate: int
    """Samples a second in the file."""
    seconds: float


def probe(path: str | Path) -> Recording:
    """Look at a sound file without reading its sound.

    Raises RecordingError, one line, for whatever could not be read as one or two channels of
    whole sound.
    """
    with _opened(Path(path)) as file:
        return Recording(file.channels, file.samplerate, file.frames / file.samplerate)


class FileSource:
    """A sound file as frames of 32 ms at 16 kHz.

    The file is looked at when the source is made (RecordingError, one line), and read in blocks
    of a second while the frames are taken. A FLAC file can prove to be cut short only on the way;
    ``frames`` then raises RecordingError in the end. Samples that are no numbers (a damaged float
    file) come out as silence, in a frame marked ``lost``.
    """

    def __init__(self, path: str | Path) -> None:
        self._path = Path(path)
        self.recording = probe(self._path)

    @property
    def channels(self) -> int:
        """How many channels each frame holds: 1 or 2."""
        return self.recording.channels

    def frames(self) -> Iterator[Frame]:
        """Give the frames from the start of the file; each call reads it anew."""
        done = 0
        rest = np.zeros((0, self.channels), dtype=np.float32)
        damaged = False
        for block, sound_is_whole in self._resampled():
            damaged = damaged or not sound_is_whole
            rest = np.concatenate((rest, block))
            whole = len(rest) - len(rest) % FRAME_SAMPLES
            for first in range(0, whole, FRAME_SAMPLES):
                yield Frame(done / RATE, rest[first : first + FRAME_SAMPLES], damaged)
                done += FRAME_SAMPLES
                damaged = False
            rest = rest[whole:]
        if len(rest):
            yield Frame(done / RATE, rest, damaged)

    def _resampled(self) -> Iterator[tuple[NDArray[np.float32], bool]]:
        """Give blocks at RATE, shape (n, channels), and whether all their samples were numbers."""
        rate = self.recording.rate
        stream = soxr.ResampleStream(rate, RATE, self.channels, dtype="float32", quality="HQ")
        for block in self._blocks():
            numbers = np.isfinite(block)
            whole = bool(numbers.all())
            clean = block if whole else np.where(numbers, block, np.float32(0.0))
            yield (clean if rate == RATE else stream.resample_chunk(clean)), whole
        if rate != RATE:
            nothing = np.zeros((0, self.channels), dtype=np.float32)
            yield stream.resample_chunk(nothing, last=True), True

    def _blocks(self) -> Iterator[NDArray[np.float32]]:
        with _opened(self._path) as file:
            block = max(1, int(file.samplerate * _BLOCK_SECONDS))
            found = 0
            while True:
                try:
                    sound = file.read(block, dtype="float32", always_2d=True)
                except soundfile.SoundFileError as error:
                    raise _cut_short(self._path, found, file.frames, file.samplerate) from error
                if not len(sound):
                    break
                found += len(sound)
                yield sound
            if found < file.frames and file.format in _EXACT:
                raise _cut_short(self._path, found, file.frames, file.samplerate)


def _opened(path: Path) -> soundfile.SoundFile:
    """Open a sound file, or say in one line why it cannot be used."""
    _refuse_no_file(path)
    _refuse_cut_wav(path)
    try:
        file = soundfile.SoundFile(path)
    except (soundfile.SoundFileError, TypeError, OSError) as error:
        raise RecordingError(
            f"{path}: no sound that can be read; give a WAV or FLAC file"
        ) from error
    problem = _problem(file)
    if problem is not None:
        file.close()
        raise RecordingError(f"{path}: {problem}")
    return file


def _refuse_no_file(path: Path) -> None:
    try:
        if path.is_dir():
            raise RecordingError(f"{path}: a folder; give one sound file, or several by name")
        with path.open("rb") as file:
            if not file.read(1):
                raise RecordingError(f"{path}: an empty file; record it again")
    except FileNotFoundError as error:
        raise RecordingError(f"{path}: no such file; look at the name and the folder") from error
    except PermissionError as error:
        raise RecordingError(
            f"{path}: no permission to read it; ask whoever owns the file"
        ) from error
    except (OSError, ValueError) as error:
        raise RecordingError(f"{path}: cannot be opened ({error}); copy it and retry") from error


def _refuse_cut_wav(path: Path) -> None:
    with path.open("rb") as file:
        data = wav_data(file)
    if data is None or data.whole:
        return
    second = data.bytes_a_second or 1
    found = data.found / second
    if data.promised is None:
        raise RecordingError(
            f"{path}: its writer was stopped before the end was marked ({found:.1f} s of sound "
            "found); record it again, or repair the file with a sound editor"
        )
    raise RecordingError(
        f"{path}: cut short, {found:.1f} s of {data.promised / second:.1f} s are there; "
        "copy it again from where it was recorded"
    )


def _cut_short(path: Path, found: int, promised: int, rate: int) -> RecordingError:
    return RecordingError(
        f"{path}: cut short or damaged, {found / rate:.1f} s of {promised / rate:.1f} s could be "
        "read; copy it again from where it was recorded"
    )


def _problem(file: soundfile.SoundFile) -> str | None:
    if file.channels > MOST_CHANNELS:
        return (
            f"{file.channels} channels; give one channel, or two with the scrub person left and "
            "the circulator right"
        )
    if file.samplerate < LOWEST_RATE:
        return (
            f"{file.samplerate} samples a second are too few to understand speech; record at "
            f"{LOWEST_RATE} or more, best at 16000"
        )
    if file.frames <= 0:
        return "holds no sound; record it again"
    return None
