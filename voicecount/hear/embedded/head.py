"""The phone head: encoder frames to log-probabilities of phones, two outputs per frame.

Layer norm, a convolution over five frames, two bidirectional gated recurrent layers, and a linear
layer that gives two steps for each encoder frame (83 a second). Trained by ``training/`` on
synthetic speech only; run here in numpy. See ``weights/CARD.md``.
"""

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from voicecount.errors import ModelError
from voicecount.words.pronounce import PHONES

BLANK = 0
"""Index of the blank."""

INDEX = {phone: number for number, phone in enumerate(PHONES, 1)}
"""Index of each phone."""

STEP_SECONDS = 0.012
"""Seconds of sound per output step."""

_Array = NDArray[np.float32]
WEIGHTS = Path(__file__).parent / "weights"
"""The folder of the committed weights."""


@dataclass(frozen=True)
class PhoneHead:
    """Frames (n, 288) to log-probabilities (2 n, 40)."""

    weights: dict[str, _Array]
    version: str

    @classmethod
    def load(cls, path: Path) -> "PhoneHead":
        """Load weights. Raises ModelError."""
        try:
            with np.load(path) as file:
                card = json.loads(str(file["card"]))
                weights = {k: file[k].astype(np.float32) for k in file.files if k != "card"}
        except (OSError, ValueError, KeyError) as problem:
            raise ModelError(
                f"phone head: {path} cannot be read ({problem}); reinstall voicecount"
            ) from problem
        if card.get("phones") != list(PHONES):
            raise ModelError(
                f"phone head: {path} was trained on other phones; reinstall voicecount"
            )
        return cls(weights, str(card["version"]))

    def log_probabilities(self, frames: _Array) -> _Array:
        """Log-probability of the blank and each phone for every step, shape (2 n, 40)."""
        w = self.weights
        mean = frames.mean(1, keepdims=True)
        spread = np.sqrt(frames.var(1, keepdims=True) + 1e-5)
        hidden = (frames - mean) / spread * w["norm.weight"] + w["norm.bias"]
        hidden = _convolve(hidden, w["conv.weight"], w["conv.bias"])
        for layer in (0, 1):
            hidden = self._recur(hidden, layer)
        out = hidden @ w["out.weight"].T + w["out.bias"]
        out = out.reshape(2 * len(out), len(PHONES) + 1)
        top = out.max(1, keepdims=True)
        return np.asarray(out - top - np.log(np.exp(out - top).sum(1, keepdims=True)), np.float32)

    def _recur(self, inputs: _Array, layer: int) -> _Array:
        """Run one bidirectional layer; both directions step together."""
        w = self.weights
        names = (f"gru.{{}}_l{layer}", f"gru.{{}}_l{layer}_reverse")
        given = np.stack(
            [
                (inputs if back == 0 else inputs[::-1]) @ w[name.format("weight_ih")].T
                + w[name.format("bias_ih")]
                for back, name in enumerate(names)
            ]
        )
        matrix = np.stack([w[name.format("weight_hh")].T for name in names])
        bias = np.stack([w[name.format("bias_hh")] for name in names])[:, None]
        size = matrix.shape[1]
        state = np.zeros((2, 1, size), np.float32)
        out = np.empty((2, len(inputs), size), np.float32)
        for step in range(len(inputs)):
            now = given[:, step, None]
            past = state @ matrix + bias
            gates = 0.5 + 0.5 * np.tanh(0.5 * (now[..., : 2 * size] + past[..., : 2 * size]))
            reset, keep = gates[..., :size], gates[..., size:]
            fresh = np.tanh(now[..., 2 * size :] + reset * past[..., 2 * size :])
            state = fresh + keep * (state - fresh)
            out[:, step] = state[:, 0]
        return np.concatenate([out[0], out[1][::-1]], axis=1)


def _convolve(inputs: _Array, weight: _Array, bias: _Array) -> _Array:
    """Convolve over time with the same length, then GELU; ``weight`` has shape (out, in, k)."""
    width = weight.shape[2]
    padded = np.pad(inputs, ((width // 2, width // 2), (0, 0)))
    out = bias + sum(padded[k : k + len(inputs)] @ weight[:, :, k].T for k in range(width))
    cubic = np.tanh(0.7978845608 * (out + 0.044715 * out**3))
    return np.asarray(0.5 * out * (1 + cubic), np.float32)
