"""The hearing benchmark's figures: counts with their bounds, as Markdown tables."""

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

Row = dict[str, Any]
OTHER = ("talk", "not on the sheet")
"""Kinds of phrases that must never be accepted."""
RESULTS = ("right", "wrong", "asked", "ignored")
"""What may become of a clip."""
MOST = 15
"""Lines of a table of errors."""


def upper_bound(wrong: int, n: int, confidence: float = 0.95) -> float:
    """Give the largest rate that ``wrong`` of ``n`` still allows.

    Exact one-sided binomial bound (Clopper and Pearson, Biometrika 1934); for none of n it is the
    rule of three, about 3/n.
    """
    if wrong >= n:
        return 1.0
    low, high = wrong / n, 1.0
    for _ in range(60):
        rate = (low + high) / 2
        below = _at_most(wrong, n, rate)
        low, high = (rate, high) if below > 1 - confidence else (low, rate)
    return high


def _at_most(wrong: int, n: int, rate: float) -> float:
    """Give the chance of at most ``wrong`` of ``n``; through logarithms, since n may be large."""
    if rate <= 0.0 or rate >= 1.0:
        return 1.0 if rate <= 0.0 else float(wrong >= n)
    yes, no = math.log(rate), math.log1p(-rate)
    ways = math.lgamma(n + 1)
    return math.fsum(
        math.exp(ways - math.lgamma(k + 1) - math.lgamma(n - k + 1) + k * yes + (n - k) * no)
        for k in range(wrong + 1)
    )


def lower_bound(wrong: int, n: int, confidence: float = 0.95) -> float:
    """Give the smallest rate that ``wrong`` of ``n`` still allows, one-sided, as above."""
    return 1.0 - upper_bound(n - wrong, n, confidence)


def interval(wrong: int, n: int) -> tuple[float, float]:
    """Give the exact two-sided 95 % interval of a rate (Clopper and Pearson)."""
    return lower_bound(wrong, n, 0.975), upper_bound(wrong, n, 0.975)


def rate(some: int, n: int) -> str:
    """Give a number with its share of n."""
    return f"{some} ({100 * some / max(n, 1):.1f} %)"


def table(rows: list[Row]) -> str:
    """Give the figures of a run as a Markdown table."""
    lines = [
        "| condition | n | right | wrong | asked | ignored | exact if forced | wrong, 95 % bound |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for condition in dict.fromkeys(row["condition"] for row in rows):
        here = [row for row in rows if row["condition"] == condition]
        for name, part in (
            ("", [row for row in here if row["kind"] not in OTHER]),
            *((f", {kind}", [row for row in here if row["kind"] == kind]) for kind in OTHER),
        ):
            n, found = len(part), Counter(row["result"] for row in part)
            if not n:
                continue
            share = [rate(found[key], n) for key in RESULTS]
            exact = f"{100 * sum(r['exact'] for r in part) / n:.1f} %" if not name else "-"
            bound = f"< {100 * upper_bound(found['wrong'], n):.1f} %"
            lines.append(f"| {condition}{name} | {n} | {' | '.join(share)} | {exact} | {bound} |")
    return "\n".join(lines)


def by_kind(rows: list[Row]) -> str:
    """Give the quiet figures by what was said."""
    lines = [
        "| said, in quiet | n | right | wrong | asked | ignored |",
        "|---|---|---|---|---|---|",
    ]
    quiet = [row for row in rows if row["condition"] == "quiet"]
    for kind in dict.fromkeys(row["kind"] for row in quiet):
        found = Counter(row["result"] for row in quiet if row["kind"] == kind)
        counts = " | ".join(str(found[key]) for key in RESULTS)
        lines.append(f"| {kind} | {found.total()} | {counts} |")
    return "\n".join(lines)


def truth(row: Row) -> list[int] | None:
    """Give the numbers that were said; None for talk, and where an old row does not hold them."""
    if row.get("meant"):
        return list(row["meant"][2])
    for right, shape, *_ in row.get("scores", ()):
        if right:
            return list(shape[2])
    return None


def confusions(rows: Sequence[Row]) -> Counter[tuple[int, int]]:
    """Count the numbers that the best reading has in the place of another one."""
    pairs: Counter[tuple[int, int]] = Counter()
    for row in rows:
        said, scores = truth(row), row.get("scores")
        if said is None or row["exact"] or not scores or scores[0][0]:
            continue
        heard = scores[0][1][2]
        if len(said) == len(heard):
            pairs.update((one, other) for one, other in zip(said, heard, strict=True))
    return Counter({pair: n for pair, n in pairs.items() if pair[0] != pair[1]})


def wrongly(rows: Sequence[Row]) -> Iterator[str]:
    """Tell every wrong acceptance."""
    yield from ("| condition | voice | said | heard | lead |", "|---|---|---|---|---|")
    for row in rows:
        if row["result"] == "wrong":
            told = (
                row["condition"],
                row["voice"],
                row["said"],
                row["heard"],
                f"{row['margin']:.1f}",
            )
            yield f"| {' | '.join(told)} |"


def by_item(rows: Sequence[Row]) -> str:
    """Give the items that were heard worst, the worst first, over all conditions."""
    return _worst("item", ((row["meant"][1], row) for row in rows if _has_item(row)))


def by_number(rows: Sequence[Row]) -> str:
    """Give the numbers in whose counts most went wrong, the worst first, over all conditions."""
    pairs = ((number, row) for row in rows for number in sorted(set(truth(row) or ())))
    return _worst("a count with the number", pairs)


def _has_item(row: Row) -> bool:
    return bool(row.get("meant")) and row["meant"][0] != "command" and row["meant"][1] is not None


def _worst(head: str, pairs: Iterable[tuple[Any, Row]]) -> str:
    """Give the things with the most wrong, then the largest share not taken at once."""
    found: dict[Any, Counter[str]] = {}
    for thing, row in pairs:
        found.setdefault(thing, Counter())[row["result"]] += 1
    missed = {
        thing: (here["wrong"], 1 - here["right"] / here.total()) for thing, here in found.items()
    }
    lines = [f"| {head} | n | right | wrong | asked | ignored |", "|---|---|---|---|---|---|"]
    for thing in sorted(missed, key=lambda one: missed[one], reverse=True)[:MOST]:
        here = found[thing]
        counts = " | ".join(str(here[key]) for key in RESULTS)
        lines.append(f"| {thing} | {here.total()} | {counts} |")
    return "\n".join(lines)
