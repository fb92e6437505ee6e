"""Is a probability of being wrong as often right as it says? Bins for a reliability curve."""

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from benchmarks.figures import OTHER, Row, interval

BINS = 10
LOWEST = 1e-5
"""Smaller probabilities are counted with this one; each bin spans half a power of ten."""


@dataclass(frozen=True)
class Bin:
    """What was said and what was found within one range of probabilities."""

    predicted: float
    """Geometric mean of what was said."""
    wrong: int
    n: int

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval of the share that was wrong."""
        return interval(self.wrong, self.n)


def best_is_wrong(row: Row) -> bool | None:
    """Tell whether the best reading was not what was said; None where there was none."""
    return not row["scores"][0][0] if row.get("scores") else None


def bins(rows: Iterable[Row]) -> list[Bin]:
    """Sort counts that hold ``p_wrong`` into bins, the smallest first; empty bins are left out.

    What was no count is left out too: how much talk there is says nothing about a number.
    """
    held: dict[int, list[tuple[float, bool]]] = {}
    for row in rows:
        said, wrong = row.get("p_wrong"), best_is_wrong(row)
        if said is not None and wrong is not None and row.get("kind") not in OTHER:
            logarithm = math.log10(min(max(said, LOWEST), 1.0))
            place = min(BINS - 1, int((logarithm - math.log10(LOWEST)) * 2 + 1e-9))
            held.setdefault(place, []).append((logarithm, wrong))
    return [
        Bin(
            10 ** (math.fsum(logarithm for logarithm, _ in here) / len(here)),
            sum(wrong for _, wrong in here),
            len(here),
        )
        for _, here in sorted(held.items())
    ]


def as_table(found: list[Bin]) -> str:
    """Give the bins as a Markdown table."""
    lines = ["| said | n | wrong | found, with its 95 % interval |", "|---|---|---|---|"]
    for one in found:
        low, high = one.interval
        lines.append(
            f"| {100 * one.predicted:.3g} % | {one.n} | {one.wrong} | "
            f"{100 * one.wrong / one.n:.3g} % ({100 * low:.3g} to {100 * high:.3g} %) |"
        )
    return "\n".join(lines)


SETTINGS = (0.3, 1.0, 2.0, 3.0)
"""Wrong numbers in a thousand; above the default the evidence does not tell what would be taken."""


def settings(rows: Sequence[Row], limit: Callable[[float], float]) -> str:
    """Give what stricter settings would have accepted; ``limit`` gives the probability of each."""
    counts = [row for row in rows if row["kind"] not in OTHER]
    lines = ["| setting | counts right | counts wrong | others taken |", "|---|---|---|---|"]
    for rate in SETTINGS:
        taken = [
            row
            for row in rows
            if row["result"] in {"right", "wrong"} and (row["p_wrong"] or 0.0) <= limit(rate)
        ]
        found = Counter((row["kind"] in OTHER, row["result"]) for row in taken)
        right, wrong = found[False, "right"], found[False, "wrong"]
        others = sum(n for (other, _), n in found.items() if other)
        lines.append(
            f"| {rate:g} | {right} ({100 * right / len(counts):.1f} %) "
            f"| {wrong} ({100 * wrong / len(counts):.2f} %) | {others} |"
        )
    return "\n".join(lines)
