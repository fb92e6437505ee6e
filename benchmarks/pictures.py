"""The hearing benchmark's pictures (they need matplotlib)."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from benchmarks.figures import OTHER, Row, confusions
from benchmarks.reliability import Bin


def _plots() -> Any:
    """Load the library, which writes files and opens no window."""
    try:
        import matplotlib as mpl  # noqa: PLC0415  (only for the pictures)

        mpl.use("Agg")
        import matplotlib.pyplot as plt  # noqa: PLC0415
    except ModuleNotFoundError as error:
        raise SystemExit(f"{error.name}: not found; pip install matplotlib") from error
    return plt


def picture(rows: Sequence[Row], path: Path) -> None:
    """Draw what became of the counts in each condition, and which numbers were confused."""
    plt = _plots()
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
        share = [100 * found.count(result) / max(len(found), 1) for found in here]
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
    plt.close(figure)


def reliability(bins: Sequence[Bin], path: Path) -> None:
    """Draw how often the best reading was wrong against how often it was said to be."""
    plt = _plots()
    figure, plot = plt.subplots(figsize=(5.6, 5.2), layout="constrained")
    lowest = min([1e-4, *(one.predicted for one in bins)]) / 2
    plot.plot([lowest, 1], [lowest, 1], color="#8b94a3", linewidth=1, label="as it says")
    for one in bins:
        low, high = one.interval
        plot.plot([one.predicted] * 2, [max(low, lowest), high], color="#1b1f27", linewidth=1)
        if one.wrong:
            plot.plot(one.predicted, one.wrong / one.n, "o", color="#1b1f27")
        else:  # none wrong: only the bound is known
            plot.plot(one.predicted, high, "v", color="#1b1f27", fillstyle="none")
        plot.annotate(
            f"{one.wrong}/{one.n}",
            (one.predicted, high),
            (0, 5),
            textcoords="offset points",
            ha="center",
            fontsize=7,
        )
    plot.set(
        xscale="log",
        yscale="log",
        xlim=(lowest, 1.2),
        ylim=(lowest, 1.6),
        xlabel="said: probability that the best reading is wrong",
        ylabel="found: share wrong, with its 95 % interval",
    )
    plot.legend(loc="upper left", frameon=False)
    figure.savefig(path, dpi=130)
    plt.close(figure)


def side_by_side(shares: dict[str, dict[str, dict[str, float]]], path: Path) -> None:
    """Draw what became of the counts, per recogniser and condition.

    ``shares`` is condition → recogniser → result → share, 0 to 1.
    """
    plt = _plots()
    columns = min(2, len(shares))
    rows = -(-len(shares) // columns)
    figure, plots = plt.subplots(
        rows,
        columns,
        figsize=(6 * columns, 0.6 + 1.7 * rows),
        layout="constrained",
        squeeze=False,
        sharex=True,
    )
    shades = {"right": "#c9ced6", "asked": "#8b94a3", "ignored": "#dfe3e8", "wrong": "#1b1f27"}
    for plot in plots.flat[len(shares) :]:
        plot.axis("off")
    for plot, (condition, found) in zip(plots.flat, shares.items(), strict=False):
        names = list(found)[::-1]
        left = [0.0] * len(names)
        for result, shade in shades.items():
            part = [100 * found[name].get(result, 0.0) for name in names]
            drawn = plot.barh(
                names,
                part,
                left=left,
                color=shade,
                edgecolor="white",
                label=result,
                hatch="...." if result == "ignored" else "",
            )
            light = "white" if result == "wrong" else "black"
            plot.bar_label(
                drawn,
                [f"{one:.0f}" if one >= 4 else "" for one in part],
                label_type="center",
                fontsize=7,
                color=light,
            )
            left = [one + other for one, other in zip(left, part, strict=True)]
        plot.set(title=condition, xlim=(0, 100))
    handles, labels = plots.flat[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside upper center", ncols=4, frameon=False)
    figure.savefig(path, dpi=130)
    plt.close(figure)
