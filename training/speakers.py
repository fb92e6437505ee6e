"""One neural voice with many speakers, and who of them trains, tunes and tests.

The speakers of a part are never heard in another. See fetch_voices.py for where they come from.
"""

import json
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from training.fetch_voices import FOLDER, MODEL
from voicecount.onnx_session import open_session
from voicecount.words.pronounce import g2p

RATE = 24_000
Samples = NDArray[np.float32]

SPEAKERS = {
    "train": [
        "af_heart",
        "af_alloy",
        "af_aoede",
        "af_bella",
        "af_kore",
        "af_nicole",
        "af_sarah",
        "am_adam",
        "am_echo",
        "am_eric",
        "am_liam",
        "am_michael",
        "am_puck",
        "am_santa",
        "bf_alice",
        "bf_emma",
        "bm_daniel",
        "bm_fable",
    ],
    "tune": ["af_nova", "am_fenrir", "bf_isabella", "bm_lewis"],
    "test": ["af_jessica", "af_river", "af_sky", "am_onyx", "bf_lily", "bm_george"],
}


@lru_cache(maxsize=1)
def _model() -> Any:
    return open_session(MODEL, 1)


@lru_cache(maxsize=1)
def _symbols() -> dict[str, int]:
    found: dict[str, int] = json.loads((FOLDER / "vocab.json").read_text("utf-8"))["vocab"]
    return found


@lru_cache(maxsize=64)
def style(speaker: str) -> Samples:
    """Give a speaker's style for each length of text, shape (510, 256)."""
    return np.fromfile(FOLDER / f"{speaker}.bin", np.float32).reshape(-1, 256)


def say(text: str, voice: Samples, pace: float) -> Samples:
    """Say a text in a style at 24 kHz."""
    symbols = _symbols()
    tokens = [symbols[sound] for sound in g2p()(text) if sound in symbols]
    given = {
        "tokens": np.array([[0, *tokens, 0]], np.int64),
        "style": voice[min(len(tokens), len(voice)) - 1][None],
        "speed": np.array([pace], np.float32),
    }
    return np.asarray(_model().run(None, given)[0], np.float32).ravel()
