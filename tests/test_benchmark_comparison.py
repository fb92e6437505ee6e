"""Recognisers at the same acceptance, and whether probabilities are true."""

import json
from pathlib import Path
from typing import Any

import pytest

from benchmarks import comparison
from benchmarks.clips import plan
from benchmarks.comparison import OURS, At, at_all, at_same_acceptance, ratio
from benchmarks.figures import by_item, by_number, interval, lower_bound, upper_bound
from benchmarks.reliability import as_table, bins, settings
from benchmarks.work import rows_of
from voicecount.errors import ModelError


def row(
    result: str,
    margin: float | None,
    kind: str = "run",
    name: str = "peer",
    ratio: float | None = 0.0,
) -> dict[str, Any]:
    """Make a row of evidence."""
    return {
        "condition": "quiet",
        "recogniser": name,
        "called": name,
        "kind": kind,
        "result": result,
        "margin": margin,
        "ratio": ratio,
    }


PEER = [
    row("right", 5.0),
    row("right", 4.0),
    row("wrong", 3.0, "talk"),
    row("wrong", 2.0),
    row("right", 1.0),
    row("ignored", None),
]


@pytest.mark.parametrize(
    ("accepted", "found"),
    [
        (0, At(0, 0, 5, 0, 1)),
        (2, At(2, 0, 5, 0, 1)),
        (3, At(3, 1, 5, 1, 1)),
        (4, At(4, 1, 5, 1, 1)),
        (5, At(4, 1, 5, 1, 1)),
    ],
)
def test_a_threshold_takes_as_many_as_ours_or_as_near_as_it_can(accepted: int, found: At) -> None:
    """Talk that stands before the last count taken is taken too; with fewest wrong otherwise."""
    assert at_same_acceptance(PEER, accepted) == found


def test_the_confidence_that_suits_the_peer_counts() -> None:
    """Where the other confidence puts the wrong one last, that one is used."""
    rows = [
        row("wrong", 9.0, ratio=0.1),
        row("right", 8.0, ratio=0.9),
        row("right", 7.0, ratio=0.8),
    ]

    assert at_same_acceptance(rows, 2) == At(2, 0, 3, 0, 0)


def test_equal_confidences_are_taken_together() -> None:
    """No threshold falls between two clips of one confidence."""
    rows = [row("right", 1.0), row("wrong", 1.0), row("right", 0.0)]

    assert at_same_acceptance(rows, 1).wrong in {0, 1}
    assert at_same_acceptance(rows, 1).accepted in {0, 2}
    assert at_same_acceptance(rows, 2) == At(2, 1, 3, 0, 0)


def test_a_peer_without_confidence_is_taken_as_it_comes() -> None:
    """Without a number to draw a threshold on, everything it takes is taken."""
    rows = [row("right", None, ratio=None), row("wrong", None, ratio=None)]

    assert at_same_acceptance(rows, 1) == at_all(rows) == At(2, 1, 2, 0, 0)


def test_none_wrong_of_ours_is_replaced_by_its_bound() -> None:
    """With none wrong the ratio is told against the upper bound, and said so."""
    assert ratio((30, 300), (0, 300)) == (
        f"over {0.1 / upper_bound(0, 300):.1f} "
        f"(surely {lower_bound(30, 300) / upper_bound(0, 300):.1f}); ours none"
    )
    assert ratio((30, 300), (3, 300)).startswith("10.0 (surely ")
    assert ratio((0, 300), (3, 300)) == "0.0; none wrong"
    assert ratio((0, 300), (0, 300)) == "-; neither has any wrong"


def test_bounds_are_mirrored() -> None:
    """The lower bound is the upper one of the opposite; the interval leaves 2.5 % on each side.

    Source: table of exact intervals in Clopper and Pearson, Biometrika 1934 (from memory: 3 of 10
    gives 6.7 to 65.2 %).
    """
    assert lower_bound(0, 50) == 0.0
    assert interval(3, 10) == pytest.approx((0.0667, 0.6525), abs=1e-3)


def test_a_page_holds_every_recogniser_and_condition() -> None:
    """Ours stands first, the peers are compared with it."""
    rows = [row("right", 1.0, name=OURS), row("right", 1.0, name="peer")]
    rows += [{**each, "condition": "pink 15 dB"} for each in rows]
    page = comparison.page(rows)

    assert "| quiet | voicecount | 1 | 1 (100.0 %)" in page
    assert "| pink 15 dB | peer | 1 of 1 | 0 (0.0 %) |" in page
    assert "| all together | peer | 2 of 2 | 0 (0.0 %) |" in page
    assert comparison.shares(rows)["quiet"] == {OURS: {"right": 1.0}, "peer": {"right": 1.0}}


def said(p_wrong: float | None, *, right: bool) -> dict[str, Any]:
    """Make a row with a probability."""
    return {"p_wrong": p_wrong, "scores": [[right, ["run", None, [1]], 0, 0]]}


def test_rows_fall_into_bins_of_half_a_power_of_ten() -> None:
    """Each bin counts its rows and those that were wrong; rows without a probability are left."""
    rows = [said(0.0, right=True), said(1e-5, right=True), said(0.02, right=True)]
    rows += [said(0.02, right=False), said(1.0, right=False), said(None, right=False)]
    found = bins([*rows, {"p_wrong": 0.5, "scores": []}])

    assert [(round(one.predicted, 6), one.wrong, one.n) for one in found] == [
        (1e-5, 0, 2),
        (0.02, 1, 2),
        (1.0, 1, 1),
    ]
    assert as_table(found).splitlines()[3] == "| 2 % | 2 | 1 | 50 % (1.26 to 98.7 %) |"


def test_errors_are_listed_by_item_and_by_number_the_worst_first() -> None:
    """Wrong ones come first, then those asked most; a number counts once in each utterance."""
    rows = [
        {"meant": ["run", "burr", [1, 2, 2]], "result": "wrong"},
        {"meant": ["run", "burr", [1]], "result": "right"},
        {"meant": ["run", "gelpi", [1]], "result": "asked"},
        {"meant": ["run", None, [7]], "result": "right"},
        {"meant": ["command", "yes", []], "result": "asked"},
        {"meant": None, "result": "ignored"},
    ]

    assert by_item(rows).splitlines()[2:] == [
        "| burr | 2 | 1 | 1 | 0 | 0 |",
        "| gelpi | 1 | 0 | 0 | 1 | 0 |",
    ]
    assert by_number(rows).splitlines()[2:] == [
        "| 2 | 1 | 0 | 1 | 0 | 0 |",
        "| 1 | 3 | 1 | 1 | 1 | 0 |",
        "| 7 | 1 | 1 | 0 | 0 | 0 |",
    ]


def test_rows_are_kept_as_they_come_and_in_order(tmp_path: Path) -> None:
    """A run that is cut off leaves what it has found, in the order of the tasks."""
    tasks = plan("test", 5, 1, ["quiet"], 1)
    file = tmp_path / "kept" / "rows.jsonl"

    def load(name: str, threads: int) -> Any:
        def work(task: Any) -> list[dict[str, Any]]:
            if task is tasks[3]:
                raise ModelError("gone")
            return [{"name": name, "threads": threads, "at": task.at}]

        return work

    with pytest.raises(ModelError, match="gone"):
        rows_of(load, ("ours",), tasks, 1, file)

    kept = [json.loads(line) for line in file.read_text(encoding="utf-8").splitlines()]
    assert kept == [{"name": "ours", "threads": 2, "at": task.at} for task in tasks[:3]]


def test_less_talk_leaves_the_other_clips_as_they_are() -> None:
    """A smaller run hears some of the very clips of the whole one, in every condition."""
    names = ["quiet", "pink 15 dB"]
    whole, fewer = plan("test", 20, 1, names), plan("test", 20, 1, names, 5)

    assert set(fewer) < set(whole)
    assert len([task for task in fewer if task.phrase.kind == "run"]) == len(
        [task for task in whole if task.phrase.kind == "run"]
    )
    assert 2 <= len([task for task in fewer if task.phrase.kind == "talk"]) <= 2 * 5


def test_a_stricter_setting_takes_a_part_of_what_was_taken() -> None:
    """Below the default, what was accepted is taken up to the setting's own limit."""
    rows = [
        {"kind": "run", "result": "right", "p_wrong": 0.001},
        {"kind": "run", "result": "wrong", "p_wrong": 0.015},
        {"kind": "run", "result": "asked", "p_wrong": 0.5},
        {"kind": "talk", "result": "wrong", "p_wrong": 0.025},
    ]
    lines = settings(rows, lambda rate: rate / 100).splitlines()

    assert lines[2] == "| 0.3 | 1 (33.3 %) | 0 (0.00 %) | 0 |"
    assert lines[4] == "| 2 | 1 (33.3 %) | 1 (33.33 %) | 0 |"
    assert lines[5] == "| 3 | 1 (33.3 %) | 1 (33.33 %) | 1 |"
