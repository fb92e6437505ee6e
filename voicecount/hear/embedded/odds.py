"""How likely a verdict is to be wrong, and to be talk: logistic regressions over its signs.

``training/calibrate.py`` fits them on the tuning part of the benchmark and writes
``weights/odds.json``. Hastie, Tibshirani and Friedman, "The Elements of Statistical Learning",
2009, section 4.4; made to tell true probabilities after Platt, "Probabilistic Outputs for Support
Vector Machines", 1999.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp
from pathlib import Path

from voicecount.errors import ModelError
from voicecount.hear.embedded.head import WEIGHTS

FILE = "odds.json"


@dataclass(frozen=True)
class Line:
    """One logistic regression."""

    weights: Mapping[str, float]
    """What each sign adds to the log of the odds, per unit of the sign."""
    constant: float

    def probability(self, signs: Mapping[str, float]) -> float:
        """Give the probability for the signs of one verdict, 0 to 1."""
        score = self.constant + sum(self.weights[name] * signs[name] for name in self.weights)
        return 1.0 / (1.0 + exp(-max(-60.0, min(60.0, score))))


@dataclass(frozen=True)
class Odds:
    """Probabilities of being wrong and of being talk, and where to part them."""

    wrong: Line
    talk: Line
    limits: Sequence[tuple[float, float]]
    """Wrong numbers in a thousand accepted ones, and the probability of being wrong up to which
    accepting gives just that on the tuning part; both rising."""
    version: str

    @classmethod
    def load(cls, path: Path = WEIGHTS / FILE) -> "Odds":
        """Load the committed fit. Raises ModelError."""
        try:
            kept = json.loads(path.read_text(encoding="utf-8"))
            lines = [Line(kept[key]["weights"], kept[key]["constant"]) for key in ("wrong", "talk")]
            limits = [(float(rate), float(limit)) for rate, limit in kept["limits"]]
            return cls(lines[0], lines[1], limits, str(kept["version"]))
        except (OSError, ValueError, KeyError, TypeError) as problem:
            raise ModelError(
                f"odds: {path} cannot be read ({problem}); reinstall voicecount"
            ) from problem

    def limit(self, wrong_per_thousand: float) -> float:
        """Give the probability of being wrong up to which a verdict is accepted.

        Between two rates of the table it is interpolated; outside of it the nearest one holds.
        """
        (rate, limit), *more = self.limits
        if wrong_per_thousand <= rate:
            return limit * wrong_per_thousand / rate
        for next_rate, next_limit in more:
            if wrong_per_thousand <= next_rate:
                part = (wrong_per_thousand - rate) / (next_rate - rate)
                return limit + part * (next_limit - limit)
            rate, limit = next_rate, next_limit
        return limit
