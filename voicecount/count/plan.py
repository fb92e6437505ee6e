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


def items_of(ledger: Ledger, planned: PlannedCount) -> tuple[str, ...]:
    """Give the items of a planned count: all but the groups that it leaves out."""
    out = set(planned.leaves_out)
    if planned.unless_open and ledger.turned_open:
        out = set()
    return tuple(item.id for item in ledger.items.values() if item.group not in out)
