"""The ledger of a long case is no larger than that of a short one."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from itertools import accumulate
from typing import Any

from benchmarks.long_case import made_case, made_sheet
from voicecount.count.ledger import Ledger, apply
from voicecount.count.tally import Key, Tally

LINES = 5


def size(thing: Any) -> int:
    """Count everything that a ledger holds, however deep; an event in it is one thing."""
    if is_dataclass(thing):
        return sum(size(getattr(thing, one.name)) for one in fields(thing))
    if isinstance(thing, Mapping):
        return sum(1 + size(value) for value in thing.values())
    if isinstance(thing, (tuple, frozenset)):
        return sum(map(size, thing))
    return 1


def largest(ledger: Ledger) -> dict[str, int]:
    """Give the size of each part of a ledger."""
    return {one.name: size(getattr(ledger, one.name)) for one in fields(ledger)}


def test_size_counts_what_is_deep_inside() -> None:
    """A thing more at any depth makes the size larger."""
    key = Key("gauze", "field")
    line = Tally(key, due=(1,))
    less, more = Ledger(tallies={key: line}), Ledger(tallies={key: replace(line, due=(1, 2))})
    assert largest(more)["tallies"] == largest(less)["tallies"] + 1


def test_nothing_in_the_ledger_grows_with_the_number_of_events() -> None:
    """After 5,000 events each part of the ledger holds about what it held before 1,000 of that mix.

    What may grow: the numbers of differences that were closed without the item, the steps of one
    that is open, and what one count holds; none of them is in this mix.
    """
    events = made_case(made_sheet(LINES), seed=2, least=5000)
    ledgers = accumulate(events, apply, initial=Ledger())
    next(ledgers)
    at_ends = [
        (at, largest(ledger))
        for at, (event, ledger) in enumerate(zip(events, ledgers, strict=True), start=1)
        if event.kind == "count_finished" and ledger.count is not None and ledger.count.places
    ]
    early = [parts for at, parts in at_ends if 500 <= at <= 1000]
    last, late = at_ends[-1]
    assert (len(early) > 2, last >= 5000) == (True, True)
    most = {name: max(parts[name] for parts in early) for name in late}
    # Flags of single lines come and go; what grew with the events would be five times as large.
    assert {name: n for name, n in late.items() if n > 1.25 * most[name]} == {}
