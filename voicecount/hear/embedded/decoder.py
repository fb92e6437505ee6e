"""The text decoder as a second judge: how likely is a text, and what would be written freely.

It never searches here. It scores the few texts that it is given, and writes one text of its own,
whose score says how much the speech is like anything else.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.encoder import session, weights_file
from voicecount.hear.embedded.pieces import BEGIN, END, Pieces

_LAYERS, _HEADS, _WIDTH = 6, 8, 36
_AT_ONCE = 4
_PLACES_AT_ONCE = 160
"""Texts, and places of all texts, in one batch: the scores of 32,768 pieces for every place take
much memory, and what the longest talk ever needed is kept for the rest of the case."""
_PIECES_A_SECOND = 6.5
"""The model was made for no more than this; a longer text is a loop."""


@dataclass(frozen=True)
class Written:
    """What the decoder wrote of its own accord."""

    text: str
    score: float
    """Natural-log probability of the text."""


class Decoder:
    """Encoder frames and texts to scores.

    One call of the model is too small for two threads: with one thread each, and two calls at a
    time, the same scores came in 65 to 79 % of the time (measured on two busy cores).
    """

    def __init__(self, model: Any, pieces: Pieces, at_a_time: int = 1) -> None:
        self._model = model
        self._pieces = pieces
        self._pool = ThreadPoolExecutor(at_a_time, "decode") if at_a_time > 1 else None
        self._outputs = [output.name for output in model.get_outputs()]

    @classmethod
    def load(cls, threads: int = 2) -> "Decoder":
        """Load the weights. Raises ModelError."""
        pieces = Pieces(weights_file("tokenizer.bin"))
        return cls(session("decoder_model_merged.ort", 1), pieces, threads)

    def score(self, frames: NDArray[np.float32], texts: Sequence[str]) -> NDArray[np.float64]:
        """Give the natural-log probability of each text, given frames of shape (n, 288)."""
        if not texts:
            return np.zeros(0)
        rows = [self._pieces.split(text) for text in texts]
        at_once = max(1, min(_AT_ONCE, _PLACES_AT_ONCE // max(map(len, rows))))
        parts = [rows[at : at + at_once] for at in range(0, len(rows), at_once)]
        each = map if self._pool is None else self._pool.map
        return np.concatenate(list(each(lambda part: self._score(frames, part), parts)))

    def _score(
        self, frames: NDArray[np.float32], rows: Sequence[Sequence[int]]
    ) -> NDArray[np.float64]:
        longest = max(len(row) for row in rows)
        given = np.full((len(rows), longest + 1), END, np.int64)
        wanted = np.full((len(rows), longest + 1), -1, np.int64)
        for at, row in enumerate(rows):
            given[at, : len(row) + 1] = (BEGIN, *row)
            wanted[at, : len(row) + 1] = (*row, END)
        logits = self._first(frames, given)["logits"]
        top = logits.max(2)
        known = wanted >= 0
        picked = np.take_along_axis(logits, np.maximum(wanted, 0)[..., None], 2)[..., 0]
        logits -= top[..., None]
        total = top + np.log(np.exp(logits, out=logits).sum(2))
        return np.asarray(np.where(known, picked - total, 0.0).sum(1), np.float64)

    def write_meanwhile(self, frames: NDArray[np.float32], seconds: float) -> Callable[[], Written]:
        """Begin to write freely, where there is a thread for it; gives what waits for the text."""
        if self._pool is None:
            return lambda: self.write(frames, seconds)
        return self._pool.submit(self.write, frames, seconds).result

    def write(self, frames: NDArray[np.float32], seconds: float) -> Written:
        """Write freely, the likeliest piece each time, stopping at the end or in a loop."""
        numbers: list[int] = []
        score = 0.0
        out = self._first(frames, np.array([[BEGIN]], np.int64))
        fixed = {k: v for k, v in out.items() if ".encoder." in k}
        for _ in range(int(seconds * _PIECES_A_SECOND) + 4):
            logits = out["logits"][0, -1].astype(np.float64)
            best = int(logits.argmax())
            top = logits[best]
            score -= float(np.log(np.exp(logits - top).sum()))
            if best == END or _loops([*numbers, best]):
                break
            numbers.append(best)
            past = {k: v for k, v in out.items() if ".decoder." in k}
            out = self._next(frames, best, {**past, **fixed})
        return Written(self._pieces.join(numbers), score)

    def _run(self, feed: dict[str, Any]) -> dict[str, NDArray[np.float32]]:
        return dict(zip(self._outputs, self._model.run(None, feed), strict=True))

    def _first(self, frames: NDArray[np.float32], given: NDArray[np.int64]) -> dict[str, Any]:
        rows = len(given)
        empty = np.zeros((rows, _HEADS, 0, _WIDTH), np.float32)
        feed: dict[str, Any] = {
            f"past_key_values.{layer}.{side}.{part}": empty
            for layer in range(_LAYERS)
            for side in ("decoder", "encoder")
            for part in ("key", "value")
        }
        return self._run(
            feed
            | {
                "input_ids": given,
                "encoder_hidden_states": np.repeat(frames[None], rows, axis=0),
                "encoder_attention_mask": np.ones((rows, len(frames) * 384), np.int64),
                "use_cache_branch": np.array([False]),
            }
        )

    def _next(
        self, frames: NDArray[np.float32], last: int, past: dict[str, Any]
    ) -> dict[str, NDArray[np.float32]]:
        renamed = {k.replace("present.", "past_key_values."): v for k, v in past.items()}
        return self._run(
            renamed
            | {
                "input_ids": np.array([[last]], np.int64),
                "encoder_hidden_states": frames[None],
                "encoder_attention_mask": np.ones((1, len(frames) * 384), np.int64),
                "use_cache_branch": np.array([True]),
            }
        )


def _loops(numbers: list[int]) -> bool:
    """Tell whether the last pieces were written three times in a row."""
    return any(
        len(numbers) >= 3 * size
        and numbers[-size:] == numbers[-2 * size : -size] == numbers[-3 * size : -2 * size]
        for size in range(1, 7)
    )
