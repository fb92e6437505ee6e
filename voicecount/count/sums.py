"""One item over all places of a count, beside what is expected now. Pure.

Sums are made for one item at a time and never across items, so that an error in one line cannot
make up for one in another. A place whose number is known by itself is compared by itself.
"""

from dataclasses import dataclass

from voicecount.count.events import CountResult, Settled
from voicecount.count.plan import left_out
from voicecount.count.standing import Ledger
from voicecount.count.tally import State
from voicecount.sheet.plan import CountKind

_NOT_DONE = (State.LEFT, State.WAITING, State.RECOUNT)


@dataclass(frozen=True)
class Sum:
    """One item of a count that goes place by place."""

    item: str
    places: tuple[tuple[str, int | None], ...]
    """What was counted at each place; None where nothing is stored."""
    complete: bool
    """Whether both people gave a number for every place."""
    inside: int
    """Left in the patient on purpose."""
    tucked: int
    """Tucked in, and still allowed to be."""
    expected: int | None
    passed_off: int
    """How many were passed off the field before."""

    @property
    def counted(self) -> int:
        """All places together, with what is known to be in the patient."""
        return sum(n or 0 for _, n in self.places) + self.inside + self.tucked

    @property
    def off(self) -> int | None:
        """How many are over, or below zero short; None while it cannot be told."""
        return self.counted - self.expected if self.complete and self.expected is not None else None

    @property
    def off_field(self) -> int | None:
        """How many are counted off the field; None where nothing is stored."""
        return dict(self.places).get("off_field")

    @property
    def short_off_field(self) -> int:
        """How many fewer are counted off the field than were passed off it; 0 for none."""
        found = self.off_field
        return max(0, self.passed_off - found) if self.complete and found is not None else 0


def line_sum(ledger: Ledger, item: str) -> Sum:
    """Give the sum of one item in the count that is open or was the last."""
    count = ledger.count
    places = count.places if count is not None else ()
    tallies = [(place, ledger.tally(item, place)) for place in places]
    account = ledger.account(item)
    return Sum(
        item,
        tuple((place, tally.counted) for place, tally in tallies),
        bool(tallies) and all(tally.state is State.CONFIRMED for _, tally in tallies),
        account.left_inside,
        account.tucked_in if count is not None and count.tucked_counts else 0,
        account.expected,
        account.passed_off,
    )


def differing_items(ledger: Ledger) -> tuple[str, ...]:
    """Give the items of a count with places whose complete sum is not what is expected."""
    count = ledger.count
    if count is None or not count.places:
        return ()
    return tuple(item for item in count.items if line_sum(ledger, item).off)


def result(ledger: Ledger) -> CountResult:
    """Tell what the count comes to as it stands, line by line."""
    count = ledger.count
    if count is None:
        return CountResult.INCOMPLETE
    if count.kind is CountKind.ADDITION:
        return CountResult.BASELINE if not ledger.keys(*_NOT_DONE) else CountResult.INCOMPLETE
    if not count.places:
        return CountResult.INCOMPLETE if ledger.keys(*_NOT_DONE) else CountResult.BASELINE
    sums = [line_sum(ledger, item) for item in count.items]
    found = {_line_result(ledger, one) for one in sums}
    found |= {CountResult.INCOMPLETE} if left_out(ledger) else set()
    for worst in (CountResult.DIFFERS, CountResult.INCOMPLETE, CountResult.RECONCILED):
        if worst in found:
            return worst
    purpose = CountResult.LEFT_ON_PURPOSE
    return purpose if any(one.inside for one in sums) else CountResult.AGREES


def _line_result(ledger: Ledger, one: Sum) -> CountResult:
    mine = [open_.item == one.item for open_ in ledger.discrepancies.values()]
    closed = ledger.settled.get(one.item)
    if any(mine) or (closed is not None and closed.settled is Settled.NOT_FOUND):
        return CountResult.DIFFERS
    if not one.complete or one.expected is None:
        return CountResult.INCOMPLETE
    if one.off and (closed is None or closed.settled is not Settled.FOUND):
        return CountResult.DIFFERS
    return CountResult.AGREES if closed is None else CountResult.RECONCILED
