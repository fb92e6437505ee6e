"""Which counts are due, from the plan that the case was opened with. Pure.

Published plans that fit in: an abdominal removal of fibroids has five counts (initial, uterine
cavity, abdominal cavity, closing, final; AORN 2022, in a teaching lesson); a Chinese principle has
four (before, before and after closing a cavity, after the skin); a minimally invasive operation
leaves instruments out at the end unless it turns open (a Canadian hospital policy of 2015).
"""

from voicecount.count.standing import Ledger
from voicecount.sheet.plan import PlannedCount


def due(ledger: Ledger) -> tuple[PlannedCount, ...]:
    """Give the planned counts that were neither held nor waived, in their order."""
    plan = ledger.opened.plan if ledger.opened is not None else ()
    return tuple(count for count in plan if count.id not in ledger.held)


def left_out(ledger: Ledger) -> tuple[str, ...]:
    """Give what the count in hand leaves out and should not, because the case turned open in it."""
    count = ledger.count
    plan = ledger.opened.plan if ledger.opened is not None else ()
    planned = next((one for one in plan if count is not None and one.id == count.id), None)
    if count is None or planned is None or not count.places:
        return ()
    return tuple(item for item in items_of(ledger, planned) if item not in count.items)


def items_of(ledger: Ledger, planned: PlannedCount) -> tuple[str, ...]:
    """Give the items of a planned count: all but the groups that it leaves out."""
    out = set(planned.leaves_out)
    if planned.unless_open and ledger.turned_open:
        out = set()
    return tuple(item.id for item in ledger.items.values() if item.group not in out)
