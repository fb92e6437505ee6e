"""After a line was confirmed: an item whose places are all counted is beside what is expected."""

from voicecount.count.events import (
    Difference,
    DiscrepancyOpened,
    Settled,
    Step,
    StepTold,
)
from voicecount.count.roles import Role
from voicecount.count.standing import Ledger
from voicecount.count.sums import Sum, line_sum
from voicecount.talk.scene import Turn
from voicecount.talk.walk import advance


def settle_sum(turn: Turn, item: str, now: float) -> Turn:
    """Open a difference, or note what the recount of an open one came to."""
    ledger = turn.scene.ledger
    if not ledger.places:
        return turn
    one = line_sum(ledger, item)
    if not one.complete or one.expected is None:
        return turn
    mine = [found for found in ledger.discrepancies.values() if found.item == item]
    by_line = [found for found in mine if found.opened.differs is Difference.LINE]
    for found in by_line:
        first = not any(step.step is Step.RECOUNT for step in found.steps)
        if first or found.found or found.counted != one.counted:
            step = StepTold(at=now, discrepancy=found.number, step=Step.RECOUNT, n=one.counted)
            turn = turn.record(step)
    if one.off and not by_line:
        turn = turn.record(_opened(ledger, one, now))
    at_place = [found for found in mine if found.opened.differs is Difference.PLACE]
    for found in at_place:
        step = StepTold(at=now, discrepancy=found.number, step=Step.RECOUNT, n=one.off_field)
        turn = turn.record(step)
    if one.short_off_field and not one.off and not at_place:
        turn = turn.record(_short_off_field(turn.scene.ledger, one, now))
    return advance(turn, now)


def settle_rest(turn: Turn, now: float) -> Turn:
    """Open every difference that is not open yet, before a count ends.

    There is one only where the program died between a record and what follows from it.
    """
    ledger = turn.scene.ledger
    items = ledger.count.items if ledger.count is not None and ledger.places else ()
    by_line = [
        one for one in ledger.discrepancies.values() if one.opened.differs is Difference.LINE
    ]
    open_ = {one.item for one in by_line}
    for item in items:
        closed = ledger.settled.get(item)
        known = closed is not None and closed.settled in {Settled.FOUND, Settled.NOT_FOUND}
        one = line_sum(ledger, item)
        if one.off and item not in open_ and not known:
            turn = turn.record(_opened(turn.scene.ledger, one, now))
        mine = [found for found in ledger.discrepancies.values() if found.item == item]
        if one.short_off_field and not one.off and not mine and closed is None:
            turn = turn.record(_short_off_field(turn.scene.ledger, one, now))
    return turn


def _opened(ledger: Ledger, one: Sum, now: float) -> DiscrepancyOpened:
    return difference(ledger, one.item, Difference.LINE, (one.counted, one.expected or 0), now)


def difference(
    ledger: Ledger,
    item: str,
    differs: Difference,
    numbers: tuple[int, int],
    now: float,
    *,
    by: Role | None = None,
) -> DiscrepancyOpened:
    """Build the event that opens a difference, with when the item last was as expected.

    ``numbers`` are what was counted and what is expected; ``by`` told it, None where a count did.
    """
    counted, expected = numbers
    right = ledger.account(item).right
    return DiscrepancyOpened(
        at=now,
        by=by,
        number=ledger.next_discrepancy,
        item=item,
        differs=differs,
        counted=counted,
        expected=expected,
        right_at=right.at if right is not None else None,
        right_in=right.title if right is not None else None,
        right_places=right.places if right is not None else (),
    )


def _short_off_field(ledger: Ledger, one: Sum, now: float) -> DiscrepancyOpened:
    return DiscrepancyOpened(
        at=now,
        number=ledger.next_discrepancy,
        item=one.item,
        differs=Difference.PLACE,
        counted=one.off_field or 0,
        expected=one.passed_off,
        place="off_field",
    )
