"""Where clips go: a sound device, a file, or nowhere."""

from pathlib import Path
from typing import Any, Self

import numpy as np

from voicecount.errors import VoiceError
from voicecount.sound.frame import Samples
from voicecount.speak.port import Clip

_BETWEEN = 0.4
"""Seconds of silence between two clips in a file."""


class SilentSpeaker:
    """Plays nothing and returns at once, for replays without sound."""

    def play(self, clip: Clip) -> None:
        """Do nothing."""


class DeviceSpeaker:
    """Plays through a sound device (PortAudio)."""

    def __init__(self, device: int | str | None = None) -> None:
        self._device = device

    def play(self, clip: Clip) -> None:
        """Return when the device has played the last sample; VoiceError when it cannot."""
        try:
            import sounddevice  # noqa: PLC0415 - needs PortAudio, which only playing needs
        except (ImportError, OSError) as error:
            raise VoiceError(
                f"the sound library PortAudio cannot be loaded ({error}); install it, or use "
                "--voice none"
            ) from error
        try:
            rate = int(sounddevice.query_devices(self._device, "output")["default_samplerate"])
            samples = _resampled(clip, rate)
            with sounddevice.OutputStream(
                samplerate=rate, channels=1, dtype="float32", device=self._device
            ) as stream:
                stream.write(samples[:, np.newaxis])
                stream.stop()  # waits until everything handed over has been heard; close would not
        except (sounddevice.PortAudioError, ValueError) as error:
            raise VoiceError(
                f"nothing can be played ({_one_line(error)}); connect a loudspeaker, or use "
                "--voice none"
            ) from error


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
