"""A Vosk model on disk: where it is found, whether it can be used, and what it answers."""

import ctypes
import importlib
import json
import os
import sys
import weakref
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from models_fetch.places import ENGLISH, models_folder
from voicecount.errors import ModelError
from voicecount.sound.frame import RATE, Samples

MODEL_VARIABLE = "VOICECOUNT_VOSK_MODEL"
"""The environment variable that names a model's folder."""

_NEEDED = ("am/final.mdl", "conf/mfcc.conf")
_LOOK_AHEAD = ("graph/HCLr.fst", "graph/Gr.fst")
"""Only models with these two take a word list; the others ignore it."""
_QUIET = -1
_STEP_BYTES = RATE * 2 // 5
"""The engine decodes in steps of 0.2 s."""


@dataclass(frozen=True)
class Timed:
    """One word of an answer; seconds from the start of the samples."""

    text: str
    start: float
    end: float


@dataclass(frozen=True)
class Alternative:
    """One answer. Scores differ by natural logs within one utterance; alone they mean nothing."""

    words: tuple[Timed, ...]
    score: float


class VoskModel:
    """A loaded model. Raises ModelError, one line, where there is none that can be used."""

    def __init__(self, folder: Path) -> None:
        _refuse_unusable(folder)
        self._vosk = _vosk()
        self._vosk.SetLogLevel(_QUIET)
        try:
            self._held = [self._vosk.Model(str(folder))]
        except Exception as error:  # the package raises nothing more special
            raise ModelError(
                f"{folder}: Vosk cannot load this model; fetch it again (python -m models_fetch)"
            ) from error
        self.name = folder.resolve().name
        # freed before the interpreter takes the package apart, which the package cannot bear
        weakref.finalize(self, self._held.clear)

    def knows(self, word: str) -> bool:
        """Say whether a word is in the model's vocabulary."""
        return int(self._held[0].vosk_model_find_word(word)) >= 0

    def answer(
        self, samples: Samples, phrases: Sequence[str] | None, most: int
    ) -> list[Alternative]:
        """Decode one utterance; give at most ``most`` answers, best first.

        Without ``phrases`` the model writes freely; scores of both ways can be compared.
        """
        _seed()
        listed = () if phrases is None else (json.dumps(list(phrases), ensure_ascii=False),)
        recogniser = self._vosk.KaldiRecognizer(self._held[0], RATE, *listed)
        recogniser.SetWords(True)
        recogniser.SetMaxAlternatives(most)
        sound = _as_bytes(samples)
        for first in range(0, len(sound), _STEP_BYTES):
            recogniser.AcceptWaveform(sound[first : first + _STEP_BYTES])
        answer = json.loads(recogniser.FinalResult())
        return [_alternative(entry) for entry in answer.get("alternatives", [])]

    def stream(self, phrases: Sequence[str]) -> "VoskStream":
        """Begin to follow an utterance while it is said."""
        listed = json.dumps(list(phrases), ensure_ascii=False)
        return VoskStream(self._vosk.KaldiRecognizer(self._held[0], RATE, listed))


class VoskStream:
    """Words of an utterance while it is said, without their times."""

    def __init__(self, recogniser: Any) -> None:
        self._held = [recogniser]
        self._before: list[str] = []
        weakref.finalize(self, self._held.clear)  # as above

    def feed(self, samples: Samples) -> list[str]:
        """Take what was said next; give all words so far. The last ones may still change."""
        (recogniser,) = self._held
        sound = _as_bytes(samples)
        for first in range(0, len(sound), _STEP_BYTES):
            if recogniser.AcceptWaveform(sound[first : first + _STEP_BYTES]):
                # The engine takes a pause for an end; for us the utterance goes on.
                self._before += json.loads(recogniser.Result()).get("text", "").split()
        partial = json.loads(recogniser.PartialResult()).get("partial", "")
        return [*self._before, *partial.split()]


def find_model(folder: str | Path | None = None) -> Path:
    """Give the model's folder: the argument, else the environment, else the user's data folder."""
    named = folder or os.environ.get(MODEL_VARIABLE)
    return Path(named).expanduser() if named else models_folder() / ENGLISH.name


def _vosk() -> Any:
    try:
        return importlib.import_module("vosk")
    except (ImportError, OSError, TypeError) as error:  # TypeError: no library for this system
        raise ModelError(
            f"the package vosk cannot be loaded ({error}); install it (pip install vosk), or use "
            "the embedded recogniser, which needs no model"
        ) from error


def _as_bytes(samples: Samples) -> bytes:
    return (np.clip(samples, -1.0, 1.0) * 32767.0).astype("<i2").tobytes()


def _seed() -> None:
    """Make the engine's noise the same each time.

    Kaldi adds a little random noise to the sound ("dither"), drawn from the C library's ``rand``.
    Unseeded, the same sound scores up to 9 nats apart from one time to the next; seeded, 0.2
    (measured).
    """
    library = ctypes.CDLL("msvcrt" if sys.platform == "win32" else None)
    library.srand(1)


def _refuse_unusable(folder: Path) -> None:
    if not folder.is_dir():
        raise ModelError(
            f"{folder}: no Vosk model there; fetch the English one (python -m models_fetch) or "
            f"name a model's folder in {MODEL_VARIABLE}"
        )
    missing = [part for part in _NEEDED if not (folder / part).is_file()]
    if missing:
        raise ModelError(
            f"{folder}: no Vosk model, {missing[0]} is missing; name the folder that holds am/ "
            "and conf/, or fetch the model again (python -m models_fetch)"
        )
    if not all((folder / part).is_file() for part in _LOOK_AHEAD):
        raise ModelError(
            f"{folder}: this Vosk model takes no word list ({' and '.join(_LOOK_AHEAD)} are "
            f"needed); use {ENGLISH.name}"
        )


def _alternative(entry: dict[str, Any]) -> Alternative:
    words = tuple(
        Timed(str(word["word"]), float(word["start"]), float(word["end"]))
        for word in entry.get("result", [])
    )
    return Alternative(words, float(entry["confidence"]))
