"""Where clips go: a sound device, a file, or nowhere."""

import threading
from enum import Enum, auto
from pathlib import Path
from typing import Any, Self

import numpy as np

from voicecount.errors import VoiceError
from voicecount.sound import choose, portaudio
from voicecount.sound.frame import Samples
from voicecount.sound.portaudio import DeviceError
from voicecount.speak.port import Clip

_BETWEEN = 0.4
"""Seconds of silence between two clips in a file."""
_LATENCY_SECONDS = 0.15
"""What the device is asked to hold, so that a busy machine leaves no hole in a word."""
_STEP_SECONDS = 0.02
"""What the device asks for at a time."""
_SILENCE_SECONDS = 0.05
_PATIENCE_SECONDS = 3.0
"""So much longer than the clip a device may take; then it is stuck."""


class SilentSpeaker:
    """Plays nothing and returns at once, for replays without sound."""

    def play(self, clip: Clip) -> None:
        """Do nothing."""


class DeviceSpeaker:
    """Plays through a sound device (PortAudio), until its end or until it is stopped.

    ``device`` is a number, a part of a name, or None for the system's own.
    """

    def __init__(self, device: int | str | None = None) -> None:
        self._device = device
        self._lock = threading.Lock()
        self._playing: _Playing | None = None
        self._cut = False

    @property
    def cut(self) -> bool:
        """Whether the clip played last was cut off by ``stop``."""
        return self._cut

    def stop(self) -> None:
        """Cut off what is being played, from another thread; nothing where nothing is."""
        with self._lock:
            if self._playing is not None:
                self._playing.stop()

    def play(self, clip: Clip) -> None:
        """Return when the device has played the last sample, or was stopped (then ``cut``).

        VoiceError when it cannot be played, also where the device goes away meanwhile.
        """
        try:
            import sounddevice  # noqa: PLC0415 - needs PortAudio, which only playing needs
        except (ImportError, OSError) as error:
            raise VoiceError(
                f"the sound library PortAudio cannot be loaded ({error}); install it, or use "
                "--voice none"
            ) from error
        self._cut = False
        try:
            with portaudio.stream():
                self._run(sounddevice, clip)
        except (sounddevice.PortAudioError, ValueError) as error:
            raise _cannot_play(_one_line(error)) from error
        finally:
            with self._lock:
                self._playing = None

    def _found(self, sounddevice: Any) -> tuple[int | None, int]:
        """Give the device's number and rate now: numbers change when devices come and go."""
        if isinstance(self._device, str):
            try:
                found = choose.choose(choose.loudspeakers(), self._device, "loudspeaker")
            except DeviceError as error:
                raise VoiceError(str(error)) from error
            return found.index, found.rate
        asked = sounddevice.query_devices(self._device, "output")
        return self._device, int(asked["default_samplerate"])

    def _run(self, sounddevice: Any, clip: Clip) -> None:
        device, rate = self._found(sounddevice)
        playing = _Playing(resampled(clip, rate), sounddevice.CallbackStop)
        with portaudio.quiet():
            stream = sounddevice.OutputStream(
                samplerate=rate,
                channels=1,
                dtype="float32",
                device=device,
                blocksize=round(_STEP_SECONDS * rate),
                latency=_LATENCY_SECONDS,
                callback=playing.give,
                finished_callback=playing.finished,
            )
        # Some devices say that they have finished while they still hold sound, so silence follows.
        playing.follow_with(round((stream.latency + _SILENCE_SECONDS) * rate))
        with self._lock:
            self._playing = playing
        try:
            stream.start()
            outcome = playing.wait(clip.seconds + _PATIENCE_SECONDS)
            self._cut = outcome is _Outcome.STOPPED
            if outcome is not _Outcome.PLAYED:
                portaudio.aside(stream.abort)  # drops what was handed over and not heard yet
        finally:
            portaudio.aside(stream.close)
        if outcome is _Outcome.STUCK:
            raise _cannot_play("the device takes no sound any more")


class _Outcome(Enum):
    PLAYED = auto()
    STOPPED = auto()
    STUCK = auto()


class _Playing:
    """A clip on its way into a device.

    The device asks for sound when it has room. Handing sound over and waiting for room instead can
    wait for ever: PortAudio over ALSA did so after a hole in the sound.
    """

    def __init__(self, samples: Samples, end: type[Exception]) -> None:
        self._samples = samples
        self._end = end
        self._given = 0
        self._played = False
        self._stopped = False
        self._over = threading.Event()

    def follow_with(self, silence: int) -> None:
        """Hand over so many samples of silence behind the clip, to push it out."""
        self._samples = np.concatenate((self._samples, np.zeros(silence, np.float32)))

    def give(self, out: Any, count: int, _time: Any, _status: Any) -> None:
        """Fill what the device asks for; end it where nothing is left."""
        part = self._samples[self._given : self._given + count]
        self._given += len(part)
        out[: len(part), 0] = part
        out[len(part) :] = 0.0
        if len(part) < count:
            raise self._end

    def finished(self) -> None:
        """Learn that the device has taken all, the silence too."""
        self._played = not self._stopped
        self._over.set()

    def stop(self) -> None:
        """End now."""
        self._stopped = not self._played
        self._over.set()

    def wait(self, limit: float) -> _Outcome:
        """Wait for the end; STUCK when it does not come within ``limit`` seconds."""
        if not self._over.wait(limit):
            return _Outcome.STUCK
        return _Outcome.STOPPED if self._stopped else _Outcome.PLAYED


def _cannot_play(why: str) -> VoiceError:
    return VoiceError(f"nothing can be played ({why}); connect a loudspeaker, or use --voice none")


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
        self._parts += [resampled(clip, self._rate), gap]

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


def resampled(clip: Clip, rate: int) -> Samples:
    """Give a clip's samples at a rate, in samples a second."""
    if clip.rate == rate:
        return clip.samples
    import soxr  # noqa: PLC0415 - only where a device has another rate than the voice

    resampled: Any = soxr.resample(clip.samples, clip.rate, rate)
    return np.asarray(resampled, dtype=np.float32)


def _one_line(error: Exception) -> str:
    return " ".join(str(error).split())
