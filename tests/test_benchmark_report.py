"""The tables of the hearing benchmark."""

from typing import Any

import pytest

from benchmarks.figures import confusions, table, upper_bound
from benchmarks.report import page


@pytest.mark.parametrize("n", [60, 320, 3000])
def test_none_of_n_is_the_rule_of_three(n: int) -> None:
    """Zero of n shows a rate below about 3/n.

    Source: Hanley and Lippman-Hand, "If nothing goes wrong, is everything all right?", JAMA 1983
    (from memory).
    """
    assert upper_bound(0, n) == pytest.approx(3 / n, rel=0.03)


@pytest.mark.parametrize(
    ("wrong", "n", "bound"), [(1, 20, 0.2161), (2, 20, 0.2826), (5, 50, 0.1988)]
)
def test_some_of_n_is_the_exact_bound(wrong: int, n: int, bound: float) -> None:
    """The chance to see so few at the bound is 5 %, worked out from the binomial distribution."""
    found = upper_bound(wrong, n)

    assert found == pytest.approx(bound, abs=1e-4)
    assert upper_bound(wrong + 1, n) > found


def test_all_wrong_shows_nothing() -> None:
    """With all of n wrong, any rate is possible."""
    assert upper_bound(4, 4) == 1.0


def row(said: list[int], heard: list[int], result: str, kind: str = "run") -> dict[str, Any]:
    """Make a row of evidence."""
    scores = [[said == heard, ["run", None, heard], 0, 0]]
    if said != heard:
        scores.append([True, ["run", None, said], 0, 0])
    return {
        "condition": "quiet",
        "kind": kind,
        "result": result,
        "exact": said == heard,
        "scores": scores,
    }


def test_confusions_pair_what_was_said_with_what_was_heard() -> None:
    """Only numbers that differ are paired, and only in readings of one length."""
    rows = [
        row([1, 5], [1, 9], "asked"),
        row([15], [50], "wrong"),
        row([15], [50], "asked"),
        row([1, 2], [1], "asked"),
        row([7], [7], "right"),
    ]

    assert confusions(rows) == {(5, 9): 1, (15, 50): 2}


def test_a_table_tells_counts_and_talk_apart() -> None:
    """Talk has a line of its own, and every line its size and bound."""
    rows = [row([7], [7], "right"), row([5], [9], "wrong"), row([1], [1], "ignored", "talk")]
    lines = table(rows).splitlines()

    assert lines[2].startswith("| quiet | 2 | 1 (50.0 %) | 1 (50.0 %) |")
    assert lines[3].startswith(
        "| quiet, talk | 1 | 0 (0.0 %) | 0 (0.0 %) | 0 (0.0 %) | 1 (100.0 %)"
    )


def test_the_page_tells_errors_only_where_the_rows_hold_them() -> None:
    """Evidence of older runs still makes a page, without the tables it has no data for."""
    old = {**row([5], [9], "wrong"), "voice": "a", "said": "five", "heard": "nine", "margin": 6.5}
    new = {**old, "meant": ["run", None, [5]], "p_wrong": 0.01}

    assert "## Errors by item" not in page([old])
    assert "## Errors by item" in page([new])
    assert "pictures/reliability.png" in page([new])
    assert "| quiet | a | five | nine | 6.5 |" in page([old])
