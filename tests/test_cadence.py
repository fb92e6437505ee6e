"""A run of numbers is right, or its first fault is named."""

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicecount.count.cadence import Break, check_run
from voicecount.count.package import is_whole, packages_to_come


@pytest.mark.parametrize(
    ("run", "kind", "after", "heard", "missing"),
    [
        ((1, 2, 3, 5), Break.SKIPPED, 3, 5, (4,)),
        ((1, 2, 6, 7), Break.SKIPPED, 2, 6, (3, 4, 5)),
        ((1, 2, 2, 3), Break.REPEATED, 2, 2, ()),
        ((1, 1), Break.REPEATED, 1, 1, ()),
        ((1, 2, 3, 4, 3), Break.BACKWARDS, 4, 3, ()),
        ((1, 2, 3, 1, 2), Break.RESTARTED, 3, 1, ()),
        ((3, 4, 5), Break.NOT_FROM_ONE, None, 3, (1, 2)),
        ((0, 1, 2), Break.NOT_FROM_ONE, None, 0, ()),
        ((*range(1, 13), 30), Break.SKIPPED, 12, 30, tuple(range(13, 30))),
    ],
)
def test_each_fault_is_named(
    run: Sequence[int], kind: Break, after: int | None, heard: int, missing: tuple[int, ...]
) -> None:
    """A fault tells its kind, the number before, the number heard, and what is missing."""
    fault = check_run(run)

    assert fault is not None
    assert (fault.kind, fault.after, fault.heard, fault.missing) == (kind, after, heard, missing)


@given(st.integers(0, 199))
def test_a_whole_run_has_no_fault(last: int) -> None:
    """One, two, three … has no fault, however long it is."""
    assert check_run(range(1, last + 1)) is None


@given(st.integers(2, 60), st.data())
def test_a_number_left_out_is_found(last: int, data: st.DataObject) -> None:
    """A number left out inside a run is named, and it alone."""
    gone = data.draw(st.integers(2, last))
    run = [number for number in range(1, last + 2) if number != gone]

    fault = check_run(run)

    assert fault is not None
    assert (fault.kind, fault.after, fault.missing) == (Break.SKIPPED, gone - 1, (gone,))


@given(st.integers(2, 60), st.data())
def test_a_number_said_twice_is_found(last: int, data: st.DataObject) -> None:
    """A number said twice is named."""
    twice = data.draw(st.integers(1, last))
    run = sorted([*range(1, last + 1), twice])

    fault = check_run(run)

    assert fault is not None
    assert (fault.kind, fault.heard, fault.position) == (Break.REPEATED, twice, twice)


@given(st.lists(st.integers(0, 12), max_size=8))
def test_only_whole_runs_have_no_fault(run: Sequence[int]) -> None:
    """Whatever is not exactly one, two, three … has a fault, and its place is where it departs."""
    right = list(range(1, len(run) + 1))

    fault = check_run(run)

    assert (fault is None) == (run == right)
    if fault is not None:
        assert run[: fault.position] == right[: fault.position]
        assert run[fault.position] == fault.heard != right[fault.position] == fault.expected


@pytest.mark.parametrize(
    ("total", "expect", "pack", "to_come"),
    [
        (10, 20, 10, 1),
        (5, 20, 5, 3),
        (10, 10, 10, 0),
        (15, 10, 5, 0),
        (5, 8, 5, 0),
        (5, None, 5, 0),
        (3, 5, None, 0),
    ],
)
def test_packages_to_come(total: int, expect: int | None, pack: int | None, to_come: int) -> None:
    """Only a rest of whole packages is one that further packages can settle."""
    assert packages_to_come(total, expect, pack) == to_come


@pytest.mark.parametrize(
    ("counted", "pack", "whole"),
    [(10, 10, True), (20, 10, True), (9, 10, False), (11, 10, False), (7, None, True)],
)
def test_whole_packages(counted: int, pack: int | None, whole: bool) -> None:
    """A package holds exactly its number (gauze in tens: common practice, no source)."""
    assert is_whole(counted, pack) is whole
