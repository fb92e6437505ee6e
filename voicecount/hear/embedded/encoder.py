"""The frozen speech encoder whose weights a wheel carries: sound to one frame per 24 ms.

Model: Moonshine tiny (MIT), from the wheel ``moonshine-voice`` 0.0.52, run by onnxruntime.
"""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from voicecount.errors import ModelError
from voicecount.hear.embedded.packaged import has_digest, package_folder
from voicecount.onnx_session import open_session
from voicecount.sound.frame import Samples

HOP = 384
"""Samples of sound at 16 kHz per frame of the encoder."""

DIGESTS = {
    "encoder_model.ort": "94e90a4654fc45cdfedb77c4c08e1739f48862998e58fada384b25118134f221",
    "decoder_model_merged.ort": "cf524c4862d36e9e5ab032eddc73637efd822d70e868ac575cf1a46e1e4708a0",
    "tokenizer.bin": "6884b35fd6377d4c4d32336a0bc152f36b64d1e45b6503683cdc238250a8472d",
}
"""SHA-256 of the files inside the wheel."""

_SHORTEST = 4_800


@lru_cache(maxsize=8)
def weights_file(name: str) -> Path:
    """Find a file of the wheel and check it. Raises ModelError."""
    folder = package_folder("moonshine_voice", "speech weights", "moonshine-voice==0.0.52")
    path = folder / "assets" / "tiny-en" / name
    if not path.is_file():
        raise ModelError(
            f"speech weights: {name} is not in the installed moonshine-voice; "
            "run 'pip install --force-reinstall moonshine-voice==0.0.52'"
        )
    if not has_digest(path, DIGESTS[name]):
        raise ModelError(
            f"speech weights: {path} is not the file that this version was measured with; "
            "run 'pip install --force-reinstall moonshine-voice==0.0.52'"
        )
    return path


def session(name: str, threads: int) -> Any:
    """Open one of the wheel's models with onnxruntime."""
    return open_session(weights_file(name), threads)


@dataclass(frozen=True)
class Encoder:
    """Sound to frames."""

    model: Any

    @classmethod
    def load(cls, threads: int = 2) -> "Encoder":
        """Load the weights. Raises ModelError."""
        return cls(session("encoder_model.ort", threads))

    def encode(self, samples: Samples) -> NDArray[np.float32]:
        """Encode mono sound at 16 kHz, shape (n,), to frames of shape (about n / 384, 288)."""
        if len(samples) < _SHORTEST:
            samples = np.pad(samples, (0, _SHORTEST - len(samples)))
        sound = np.ascontiguousarray(samples[None], np.float32)
        mask = np.ones(sound.shape, np.int64)
        frames = self.model.run(None, {"input_values": sound, "attention_mask": mask})[0][0]
        return np.asarray(frames, np.float32)
