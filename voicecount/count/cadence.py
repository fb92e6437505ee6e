"""Whether a run of numbers goes up by one from where it has to start. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class Break(StrEnum):
    """How a run goes wrong; the values are also refusal codes of the record."""

    NOT_FROM_ONE = "not_from_one"
    SKIPPED = "skipped"
    REPEATED = "repeated"
    BACKWARDS = "backwards"
    RESTARTED = "restarted"


@dataclass(frozen=True)
class CadenceFault:
    """The first place where a run goes wrong."""

    kind: Break
    position: int
    """Index of the wrong number in the run, from 0."""
    after: int | None
    """The number before it; None at the start of the run."""
    heard: int
    expected: int
    """The number that would have been right."""
    missing: tuple[int, ...] = ()
    """The numbers left out, when some were skipped."""


def check_run(numbers: Sequence[int], start: int = 1) -> CadenceFault | None:
    """Give the first fault of a run that has to be start, start + 1, …; None when there is none.

    An empty run has no fault. Equal to the number before: repeated. The start again: restarted.
    Otherwise lower than the number before: backwards; higher than expected: skipped.
    """
    before: int | None = None
    for position, heard in enumerate(numbers):
        expected = start + position
        if heard != expected:
            missing = tuple(range(expected, heard))
            return CadenceFault(
                _kind(before, heard, start), position, before, heard, expected, missing
            )
        before = heard
    return None


def _kind(before: int | None, heard: int, start: int) -> Break:
    if before is None:
        return Break.NOT_FROM_ONE
    if heard == before:
        return Break.REPEATED
    if heard == start:
        return Break.RESTARTED
    return Break.BACKWARDS if heard < before else Break.SKIPPED
