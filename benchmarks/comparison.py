"""Recognisers beside each other: one table per condition, and all at the same acceptance."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from benchmarks.figures import OTHER, Row, lower_bound, rate, upper_bound

OURS = "voicecount"
"""What our own recogniser is called in rows and tables."""
CONFIDENCES = ("margin", "ratio")
"""What a peer's threshold may be drawn on; the one that is better for the peer counts."""


@dataclass(frozen=True)
class At:
    """What a recogniser takes at one threshold of its confidence."""

    accepted: int
    """Counts taken, right or wrong."""
    wrong: int
    """Counts taken wrongly."""
    n: int
    talk: int
    """Talk and things not on the sheet that were taken for counts."""
    n_talk: int

    @property
    def mistaken(self) -> int:
        """Everything that was taken wrongly."""
        return self.wrong + self.talk


def recognisers(rows: Sequence[Row]) -> list[str]:
    """Name the recognisers, ours first."""
    return list(dict.fromkeys(row["recogniser"] for row in rows))


def at_all(rows: Sequence[Row]) -> At:
    """Count what is taken without any further threshold."""
    counts = [row["result"] for row in rows if row["kind"] not in OTHER]
    talk = [row["result"] for row in rows if row["kind"] in OTHER]
    wrong = counts.count("wrong")
    return At(counts.count("right") + wrong, wrong, len(counts), talk.count("wrong"), len(talk))


def at_same_acceptance(rows: Sequence[Row], accepted: int) -> At:
    """Set a peer's threshold so that it takes as many counts as ours, or as near as it can.

    The threshold is drawn on the very clips that are reported, on whichever confidence leaves
    fewest taken wrongly: more favourable than any threshold set beforehand could be. Among
    thresholds that are equally near, the one with fewest wrong counts.
    """
    best = [_drawn(rows, key, accepted) for key in CONFIDENCES]
    return min(best, key=lambda at: (abs(at.accepted - accepted), at.mistaken))


def _drawn(rows: Sequence[Row], key: str, accepted: int) -> At:
    """Lower the threshold step by step over what the recogniser would take at most."""
    whole = at_all(rows)
    taken = [row for row in rows if row["result"] in {"right", "wrong"}]
    if not taken or any(row[key] is None for row in taken):
        return whole
    steps = [At(0, 0, whole.n, 0, whole.n_talk)]
    taken.sort(key=lambda row: row[key], reverse=True)
    for at, row in enumerate(taken):
        last, talk = steps[-1], row["kind"] in OTHER
        wrong = row["result"] == "wrong"
        step = At(
            last.accepted + (not talk),
            last.wrong + (wrong and not talk),
            whole.n,
            last.talk + talk,
            whole.n_talk,
        )
        if at and taken[at - 1][key] == row[key]:  # no threshold falls between equals
            steps[-1] = step
        else:
            steps.append(step)
    return min(steps, key=lambda step: (abs(step.accepted - accepted), step.mistaken))


def ratio(peer: tuple[int, int], ours: tuple[int, int]) -> str:
    """Tell how many times more often a peer is wrong; each is (wrong, n).

    Where ours has none wrong, its 95 % upper bound stands in its place. The bound is the peer's
    lower 95 % bound over our upper one, which is more careful than 95 %.
    """
    (wrong, n), (own, m) = peer, ours
    if not n or not m:
        return "-"
    if not wrong:
        return "0.0; none wrong" if own else "-; neither has any wrong"
    surely = lower_bound(wrong, n) / upper_bound(own, m)
    if own:
        return f"{wrong / n / (own / m):.1f} (surely {surely:.1f})"
    return f"over {wrong / n / upper_bound(own, m):.1f} (surely {surely:.1f}); ours none"


def shares(rows: Sequence[Row]) -> dict[str, dict[str, dict[str, float]]]:
    """Give condition → recogniser → result → share of the counts, 0 to 1."""
    found: dict[str, dict[str, Counter[str]]] = {}
    for row in rows:
        if row["kind"] not in OTHER:
            here = found.setdefault(row["condition"], {})
            here.setdefault(row["recogniser"], Counter())[row["result"]] += 1
    return {
        condition: {
            name: {key: one / results.total() for key, one in results.items()}
            for name, results in here.items()
        }
        for condition, here in found.items()
    }


def as_heard(rows: Sequence[Row]) -> str:
    """Give what became of the clips, per condition and recogniser, each as it comes."""
    lines = [
        "| condition | recogniser | n | right | wrong | asked or ignored | talk taken |",
        "|---|---|---|---|---|---|---|",
    ]
    for condition, name, here in _each(rows):
        at = at_all(here)
        if not at.n and not at.n_talk:
            continue
        right, left = at.accepted - at.wrong, at.n - at.accepted
        cells = [rate(one, at.n) for one in (right, at.wrong, left)]
        talk = f"{at.talk} of {at.n_talk}"
        lines.append(f"| {condition} | {name} | {at.n} | {' | '.join(cells)} | {talk} |")
    return "\n".join(lines)


def compared(rows: Sequence[Row]) -> str:
    """Give what each peer takes wrongly when it takes as many counts as ours."""
    lines = [
        "| condition | recogniser | counts taken | wrong | talk taken | wrong of all, times ours |",
        "|---|---|---|---|---|---|",
    ]
    whole = [row | {"condition": "all together"} for row in rows]
    for part in (rows, whole) if len({row["condition"] for row in rows}) > 1 else (rows,):
        ours: dict[str, At] = {}
        for condition, name, here in _each(part):
            if name == OURS:
                at = ours[condition] = at_all(here)
                times = f"{at.mistaken} of {at.n + at.n_talk}"
            elif condition in ours:
                own = ours[condition]
                at = at_same_acceptance(here, own.accepted)
                both = at.n + at.n_talk
                times = ratio((at.mistaken, both), (own.mistaken, own.n + own.n_talk))
            else:
                continue
            lines.append(
                f"| {condition} | {name} | {at.accepted} of {at.n} | {rate(at.wrong, at.n)} | "
                f"{rate(at.talk, at.n_talk)} | {times} |"
            )
    return "\n".join(lines)


def _each(rows: Sequence[Row]) -> list[tuple[str, str, list[Row]]]:
    """Give the rows of each condition and recogniser."""
    held: dict[tuple[str, str], list[Row]] = {}
    for condition in dict.fromkeys(row["condition"] for row in rows):
        for name in recognisers(rows):
            held[condition, name] = []
    for row in rows:
        held[row["condition"], row["recogniser"]].append(row)
    return [(condition, name, here) for (condition, name), here in held.items()]


def page(rows: Sequence[Row]) -> str:
    """Write the page that holds the recognisers beside each other."""
    clips = len(rows) // max(len(recognisers(rows)), 1)
    called = dict.fromkeys((row["recogniser"], row["called"]) for row in rows)
    names = "\n".join(f"- {name}: {full}" for name, full in called)
    return f"""# Beside other recognisers

Made by `python -m benchmarks.report --peers` from one run of `python -m benchmarks.side_by_side`:
{clips} clips, each heard by every recogniser, whole and unchanged. Peers get the same names; each
is used as well as we know. They serve measuring only.

{names}

## As they come

Peers take whatever is a whole count.

{as_heard(rows)}

![Right, asked, ignored, wrong](pictures/peers.png)

## At the same acceptance

Each peer's threshold is set on these very clips, on the confidence that suits it best, so that it
takes as many counts as ours does, or as near as it can; its share of wrong ones is compared with
ours. "Surely" is the peer's lower 95 % bound over our upper one. Where ours took none wrongly, its
upper bound stands in its place.

{compared(rows)}
"""
