"""The system voice: pyttsx3 in a worker process, its file checked before it counts as spoken."""

import contextlib
import os
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

from voicecount.errors import VoiceError
from voicecount.speak.phrases import with_commas
from voicecount.speak.port import Clip

WORKER = (sys.executable, "-m", "voicecount.speak.worker")

_LIMIT = 10.0
"""Seconds a worker may take; a healthy one needs less than one for a sentence."""
_SILENT = 0.01
"""A file whose loudest sample is below this holds no voice."""
_SHORTEST = 0.1
"""Seconds; no word is shorter."""


class SystemVoice:
    """The voice that the operating system brings.

    ``worker`` is the command that takes the text on its input and writes the sound into the file
    named by its last argument; ``limit`` is the number of seconds after which it is killed.
    ``rate`` is how many times as fast it speaks as usual; the worker gets it before the file.
    """

    def __init__(
        self,
        *,
        worker: Sequence[str] = WORKER,
        limit: float = _LIMIT,
        together: Iterable[str] = (),
        rate: float = 1.0,
    ) -> None:
        self._worker = tuple(worker)
        self._limit = limit
        self._together = tuple(together)
        self._rate = () if rate == 1.0 else (f"{rate:g}",)

    @property
    def name(self) -> str:
        """Name, for the record."""
        return "system (pyttsx3)"

    def speak(self, text: str) -> Clip:
        """Make the sound of a text; VoiceError when the worker hangs, fails or gives silence."""
        with tempfile.TemporaryDirectory(prefix="voicecount-") as folder:
            path = Path(folder) / "speech.wav"
            self._run(with_commas(text, self._together), path)
            return _checked(path)

    def _run(self, text: str, path: Path) -> None:
        try:
            process = subprocess.Popen(  # noqa: S603 - our own worker, or the one a test gives
                [*self._worker, *self._rate, str(path)],
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                start_new_session=True,
            )
        except OSError as error:
            raise _failed(f"could not be started ({error.strerror})") from error
        with process:
            try:
                _, complaint = process.communicate(text.encode(), timeout=self._limit)
            except BaseException as error:
                _kill(process)
                if isinstance(error, subprocess.TimeoutExpired):
                    raise _failed(f"gave no answer in {self._limit:g} seconds") from None
                raise
        if process.returncode != 0:
            last = complaint.decode(errors="replace").strip().rpartition("\n")[2]
            raise _failed(f"failed ({last or f'exit code {process.returncode}'})")


def _kill(process: subprocess.Popen[bytes]) -> None:
    """End the worker and whatever it started."""
    with contextlib.suppress(ProcessLookupError):
        if sys.platform == "win32":  # pragma: no cover
            process.kill()
        else:
            os.killpg(process.pid, signal.SIGKILL)
    process.communicate()


def _checked(path: Path) -> Clip:
    """Read the worker's file; VoiceError unless somebody speaks in it."""
    import soundfile  # noqa: PLC0415 - its library is loaded only where sound is

    if not path.exists() or path.stat().st_size == 0:
        raise _failed("wrote no sound")
    try:
        samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
    except soundfile.LibsndfileError as error:
        raise _failed("wrote a file that is no sound") from error
    mono = np.ascontiguousarray(samples.mean(axis=1), dtype=np.float32)
    if len(mono) < _SHORTEST * rate or float(np.abs(mono).max()) < _SILENT:
        raise _failed("wrote silence")
    return Clip(mono, rate)


def _failed(what: str) -> VoiceError:
    return VoiceError(
        f"the system voice {what}; on Linux install espeak-ng, or use --voice embedded"
    )
