"""Where clips go: a sound device, a file, or nowhere."""

import threading
from pathlib import Path
from typing import Any, Self

import numpy as np

from voicecount.errors import VoiceError
from voicecount.sound import portaudio
from voicecount.sound.frame import Samples
from voicecount.speak.port import Clip

_BETWEEN = 0.4
"""Seconds of silence between two clips in a file."""
_STEP_SECONDS = 0.02
"""Sound is handed to the device in steps, so that it can be stopped between them."""


class SilentSpeaker:
    """Plays nothing and returns at once, for replays without sound."""

    def play(self, clip: Clip) -> None:
        """Do nothing."""


class DeviceSpeaker:
    """Plays through a sound device (PortAudio), until its end or until it is stopped."""

    def __init__(self, device: int | str | None = None) -> None:
        self._device = device
        self._lock = threading.Lock()
        self._playing = False
        self._stop = threading.Event()
        self._cut = False

    @property
    def cut(self) -> bool:
        """Whether the clip played last was cut off by ``stop``."""
        return self._cut

    def stop(self) -> None:
        """Cut off what is being played, from another thread; nothing where nothing is."""
        with self._lock:
            if self._playing:
                self._stop.set()

    def play(self, clip: Clip) -> None:
        """Return when the device has played the last sample, or was stopped (then ``cut``).

        VoiceError when it cannot be played.
        """
        try:
            import sounddevice  # noqa: PLC0415 - needs PortAudio, which only playing needs
        except (ImportError, OSError) as error:
            raise VoiceError(
                f"the sound library PortAudio cannot be loaded ({error}); install it, or use "
                "--voice none"
            ) from error
        with self._lock:
            self._playing, self._cut = True, False
            self._stop.clear()
        try:
            with portaudio.stream():
                self._run(sounddevice, clip)
        except (sounddevice.PortAudioError, ValueError) as error:
            raise VoiceError(
                f"nothing can be played ({_one_line(error)}); connect a loudspeaker, or use "
                "--voice none"
            ) from error
        finally:
            with self._lock:
                self._playing = False

    def _run(self, sounddevice: Any, clip: Clip) -> None:
        rate = int(sounddevice.query_devices(self._device, "output")["default_samplerate"])
        samples = _resampled(clip, rate)[:, np.newaxis]
        step = max(1, round(_STEP_SECONDS * rate))
        with sounddevice.OutputStream(
            samplerate=rate, channels=1, dtype="float32", device=self._device
        ) as stream:
            for first in range(0, len(samples), step):
                if self._stop.is_set():
                    break
                stream.write(samples[first : first + step])
            # The last of what was handed over is still to be heard; a stop may come meanwhile.
            if self._stop.wait(float(stream.latency)):
                self._cut = True
                stream.abort()  # drops what was handed over and not heard yet
            else:
                stream.stop()  # waits for what is still to be heard; close would not


class FileSpeaker:
    """Collects what is said and writes it as one WAV file when it is closed."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._parts: list[Samples] = []
        self._rate = 0

    def play(self, clip: Clip) -> None:
        """Add a clip and a short silence."""
        self._rate = self._rate or clip.rate
        gap = np.zeros(round(_BETWEEN * self._rate), np.float32)
        self._parts += [_resampled(clip, self._rate), gap]

    def close(self) -> None:
        """Write the file; VoiceError when it cannot be written. Without a clip, no file."""
        if not self._parts:
            return
        import soundfile  # noqa: PLC0415 - its library is loaded only where sound is

        try:
            soundfile.write(self._path, np.concatenate(self._parts), self._rate, "PCM_16")
        except (OSError, soundfile.LibsndfileError) as error:
            raise VoiceError(
                f"{self._path}: what was said cannot be written ({_one_line(error)}); "
                "choose another file"
            ) from error
        self._parts = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _resampled(clip: Clip, rate: int) -> Samples:
    if clip.rate == rate:
        return clip.samples
    import soxr  # noqa: PLC0415 - only where a device has another rate than the voice

    resampled: Any = soxr.resample(clip.samples, clip.rate, rate)
    return np.asarray(resampled, dtype=np.float32)


def _one_line(error: Exception) -> str:
    return " ".join(str(error).split())
