"""Fit how likely a verdict is to be wrong, and to be talk, on evidence of the tuning part.

    python -m benchmarks.hearing --part tune --conditions all --evidence .cache/tune.jsonl
    python -m training.calibrate .cache/tune.jsonl

Needs scikit-learn. Whatever is no count counts as wrong in the first fit; its scores are then made
probabilities on counts alone, since how much talk there is says nothing about a number. All scores
used for that come from folds that hold other phrases than were fitted.
"""

import argparse
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.figures import OTHER
from voicecount.hear.embedded.head import WEIGHTS
from voicecount.hear.embedded.odds import FILE

RATES = (0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0)
"""Wrong numbers in a thousand accepted ones."""
FOLDS = 10
STIFFNESS = {"wrong": 0.03, "talk": 0.03}
"""Inverse of the penalty on weights."""


def read(files: Iterable[Path]) -> list[dict[str, Any]]:
    """Read evidence; clips that were refused before they were judged have no signs."""
    texts = [file.read_text(encoding="utf-8") for file in files]
    rows = [json.loads(line) for text in texts for line in text.splitlines()]
    return [row for row in rows if row.get("signs")]


def fit(signs: Any, labels: Any, phrases: list[str], stiffness: float) -> tuple[Any, Any, float]:
    """Fit one regression; gives its weights, scores from other folds, and its constant."""
    from sklearn.linear_model import LogisticRegression
    from sklearn.model_selection import GroupKFold, cross_val_predict
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import StandardScaler

    model = make_pipeline(StandardScaler(), LogisticRegression(C=stiffness, max_iter=5000))
    held_out = cross_val_predict(
        model, signs, labels, groups=phrases, cv=GroupKFold(FOLDS), method="decision_function"
    )
    scaler, line = model.fit(signs, labels)
    weights = line.coef_[0] / scaler.scale_
    return weights, held_out, float(line.intercept_[0] - weights @ scaler.mean_)


def as_probability(scores: Any, wrong: Any) -> tuple[float, float]:
    """Give the slope and the constant that make scores the log of the odds (Platt 1999)."""
    from sklearn.linear_model import LogisticRegression

    line = LogisticRegression(C=1e4, max_iter=5000).fit(scores[:, None], wrong)
    return float(line.coef_[0, 0]), float(line.intercept_[0])


def limits(probabilities: Any) -> list[tuple[float, float]]:
    """Give, for each rate, up to which probability accepting gives no more than that rate."""
    rising = np.sort(probabilities)
    mean = np.cumsum(rising) / np.arange(1, len(rising) + 1)
    table = []
    for rate in RATES:
        fitting = np.flatnonzero(1000.0 * mean <= rate)
        table.append((rate, float(rising[fitting[-1]]) if len(fitting) else 0.0))
    return table


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("evidence", type=Path, nargs="+")
    parser.add_argument("--out", type=Path, default=WEIGHTS / FILE)
    given = parser.parse_args()
    rows = read(given.evidence)
    names = list(rows[0]["signs"])
    signs = np.array([[row["signs"][name] for name in names] for row in rows])
    wrong = np.array([not row["exact"] for row in rows])
    kinds = np.array([row["kind"] for row in rows])
    phrases = [row["said"] for row in rows]
    counts = ~np.isin(kinds, OTHER)
    weights, scores, constant = fit(signs, wrong, phrases, STIFFNESS["wrong"])
    slope, shift = as_probability(scores[counts], wrong[counts])
    probability = 1 / (1 + np.exp(-(slope * scores + shift)))
    sure = kinds != "not on the sheet"
    talk = kinds[sure] == "talk"
    talk_weights, talk_scores, talk_constant = fit(
        signs[sure], talk, [p for p, s in zip(phrases, sure, strict=True) if s], STIFFNESS["talk"]
    )
    table = limits(probability[counts])
    kept = {
        "version": f"odds-{len(rows)}",
        "fitted_on": {"counts": int(counts.sum()), "others": int((~counts).sum())},
        "wrong": _line(names, slope * weights, slope * constant + shift),
        "talk": _line(names, talk_weights, talk_constant),
        "limits": table,
    }
    given.out.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
    print(f"{len(rows)} verdicts, {int(wrong[counts].sum())} of {counts.sum()} counts misheard")
    for rate, limit in table:
        taken = counts & (probability <= limit)
        print(
            f"{rate:g} wrong in a thousand: up to {limit:.4f}; accepts "
            f"{100 * taken.sum() / counts.sum():.1f} % of counts, {int((taken & wrong).sum())} "
            f"wrong; of others {int((~counts & (probability <= limit)).sum())}"
        )
    print(
        f"taken for talk: {int((talk_scores[talk] > 0).sum())} of {talk.sum()} sentences of talk, "
        f"{int((talk_scores[~talk] > 0).sum())} of {(~talk).sum()} counts"
    )


def _line(names: list[str], weights: Any, constant: float) -> dict[str, Any]:
    rounded = {name: round(float(w), 6) for name, w in zip(names, weights, strict=True)}
    return {"weights": rounded, "constant": round(float(constant), 6)}


if __name__ == "__main__":
    main()
