"""What the hearing benchmark found, as tables, and as a page with a picture in docs/.

    python -m benchmarks.report .cache/noise_test.jsonl

The page is docs/hearing.md, the picture docs/pictures/hearing.png (needs matplotlib).
"""

import argparse
import json
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

Row = dict[str, Any]
DOCS = Path(__file__).parent.parent / "docs"
OTHER = ("talk", "not on the sheet")
"""Kinds of phrases that must never be accepted."""


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
        below = sum(math.comb(n, k) * rate**k * (1 - rate) ** (n - k) for k in range(wrong + 1))
        low, high = (rate, high) if below > 1 - confidence else (low, rate)
    return high


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
            share = [
                f"{found[key]} ({100 * found[key] / n:.1f} %)"
                for key in ("right", "wrong", "asked", "ignored")
            ]
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
        counts = " | ".join(str(found[key]) for key in ("right", "wrong", "asked", "ignored"))
        lines.append(f"| {kind} | {found.total()} | {counts} |")
    return "\n".join(lines)


def truth(row: Row) -> list[int] | None:
    """Give the numbers that were said, where that reading was judged at all."""
    for right, shape, *_ in row["scores"]:
        if right:
            return list(shape[2])
    return None


def confusions(rows: Sequence[Row]) -> Counter[tuple[int, int]]:
    """Count the numbers that the best reading has in the place of another one."""
    pairs: Counter[tuple[int, int]] = Counter()
    for row in rows:
        said, scores = truth(row), row["scores"]
        if said is None or row["exact"]:
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


def picture(rows: Sequence[Row], path: Path) -> None:
    """Draw what became of the counts in each condition, and which numbers were confused."""
    import matplotlib as mpl  # noqa: PLC0415  (only for the picture)

    mpl.use("Agg")
    import matplotlib.pyplot as plt  # noqa: PLC0415

    conditions = list(dict.fromkeys(row["condition"] for row in rows))[::-1]
    figure, (bars, grid) = plt.subplots(
        1, 2, figsize=(12, 4.8), width_ratios=(3, 2), layout="constrained"
    )
    counts = [row for row in rows if row["kind"] not in OTHER]
    shades = {"right": "#c9ced6", "asked": "#8b94a3", "ignored": "#dfe3e8", "wrong": "#1b1f27"}
    hatches = {"right": "", "asked": "", "ignored": "....", "wrong": ""}
    left = [0.0] * len(conditions)
    for result, shade in shades.items():
        here = [[row["result"] for row in counts if row["condition"] == c] for c in conditions]
        share = [100 * found.count(result) / len(found) for found in here]
        drawn = bars.barh(
            conditions,
            share,
            left=left,
            color=shade,
            hatch=hatches[result],
            label=result,
            edgecolor="white",
        )
        texts = [f"{part:.0f}" if part >= 4 else "" for part in share]
        bars.bar_label(drawn, texts, label_type="center", fontsize=8)
        left = [one + other for one, other in zip(left, share, strict=True)]
    each = len(counts) // len(conditions)
    bars.set(xlabel=f"% of {each} counts, first hearing", xlim=(0, 100))
    bars.legend(loc="upper center", bbox_to_anchor=(0.5, 1.12), ncols=4, frameon=False)
    pairs = confusions(counts)
    involved = sorted({number for pair, _ in pairs.most_common(24) for number in pair})
    table = [[pairs[said, heard] for heard in involved] for said in involved]
    if involved:
        grid.imshow(table, cmap="Greys")
        places = range(len(involved))
        grid.set_xticks(places, [str(n) for n in involved], fontsize=7, rotation=90)
        grid.set_yticks(places, [str(n) for n in involved], fontsize=7)
    else:
        grid.text(0.5, 0.5, "no number", ha="center", va="center")
    grid.set(title="best reading, where it was not what was said", xlabel="heard", ylabel="said")
    figure.savefig(path, dpi=130)


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("evidence", type=Path, nargs="+", help="what hearing.py kept")
    given = parser.parse_args()
    rows = [json.loads(line) for file in given.evidence for line in file.open(encoding="utf-8")]
    picture(rows, DOCS / "pictures" / "hearing.png")
    voices = len({row["voice"] for row in rows})
    page = f"""# Hearing, measured in noise

Made by `python -m benchmarks.report`: {len(rows)} utterances of {voices} voices, at first hearing,
with no expected total used. How tuning and test are kept apart, and what was measured in quiet, is
in [measured.md](measured.md). The level is that of the voice's loud parts over the noise.

{table(rows)}

![What became of the counts, and which numbers were confused](pictures/hearing.png)

## Accepted wrong

"""
    page += "\n".join(wrongly(rows)) + "\n"
    (DOCS / "hearing.md").write_text(page, encoding="utf-8")
    print(f"{DOCS / 'hearing.md'} and {DOCS / 'pictures/hearing.png'} are written")


if __name__ == "__main__":
    main()
