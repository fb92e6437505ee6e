"""One difference between what was counted and what is expected, until both people close it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

from voicecount.count.events import Difference, DiscrepancyOpened, Settled, Step, StepTold


@dataclass(frozen=True)
class Discrepancy:
    """A difference and what was done about it."""

    opened: DiscrepancyOpened
    count: int
    """Number of the count in which it came up; 0 outside of one."""
    counted: int
    """What was counted last; what came and went since is in it."""
    expected: int
    """What is expected now."""
    found: int = 0
    """How many were found since it was counted last."""
    steps: tuple[StepTold, ...] = ()
    settled: Settled | None = None

    @property
    def number(self) -> int:
        """1, 2, 3 … in the order of coming up."""
        return self.opened.number

    @property
    def item(self) -> str:
        """The item's id."""
        return self.opened.item

    @property
    def off(self) -> int:
        """How many are over, or below zero short; what was found since is no longer missing."""
        return self.counted + self.found - self.expected

    def told(self, step: StepTold) -> Self:
        """Give the same difference after a step; a recount tells all that is there."""
        after = replace(self, steps=(*self.steps, step), found=self.found + step.found)
        return after if step.n is None else replace(after, counted=step.n, found=step.found)

    def shifted(self, by: int) -> Self:
        """Give the same difference after more or fewer are expected, for a reason that was told.

        What came or went was there or is gone, so the difference stays until it is counted again.
        """
        return replace(self, counted=self.counted + by, expected=self.expected + by)

    def next_step(self, steps: Sequence[str], places: Sequence[str]) -> Step | None:
        """Give the first step of the policy that is still to be done; None when all are."""
        for name in steps:
            step = Step(name)
            if not self._applies(step):
                continue
            if step is Step.SEARCH:
                if self.next_place(places) is not None:
                    return step
            elif not any(told.step is step for told in self.steps):
                return step
        return None

    def next_place(self, places: Sequence[str]) -> str | None:
        """Give the next place to be searched; None when all were."""
        searched = {told.where for told in self.steps if told.step is Step.SEARCH}
        return next((place for place in places if place not in searched), None)

    def _applies(self, step: Step) -> bool:
        """Tell whether a step makes sense: what is over is not searched for, nor seen on images."""
        if step is Step.RECOUNT:
            return self.opened.differs is not Difference.PIECE and self.count > 0
        return self.off < 0 or step not in {Step.SEARCH, Step.IMAGE}
