"""A whole case beside what is expected: item by item, place by place. It judges nothing."""

from rich.markup import escape
from rich.table import Table

from voicecount.count.standing import Ledger
from voicecount.count.sums import line_sum
from voicecount.count.tally import State
from voicecount.show.console import printable
from voicecount.show.tally import CAUTION, STATES
from voicecount.words.places import BY_ID


def case_table(ledger: Ledger) -> Table:
    """Show every item with what is expected now, and the last count with its places.

    ``other`` is what cutting, breaking, other packs, explanations and leaving items made of it.
    """
    count = ledger.count
    places = count.places if count is not None else ()
    title = escape(printable(ledger.opened.title)) if ledger.opened is not None else ""
    if count is not None:
        title += f" · {escape(printable(count.title))}"
    table = Table(title=title, title_justify="left", caption=CAUTION, caption_justify="left")
    table.add_column("item", no_wrap=True)
    for name in ("initial", "added", "other", "now"):
        table.add_column(name, justify="right", no_wrap=True)
    for place in places:
        table.add_column(BY_ID[place].label, justify="right")
    table.add_column("inside", justify="right", overflow="fold", min_width=6)
    if places:
        table.add_column("sum", justify="right", no_wrap=True)
    table.add_column("state", no_wrap=True)
    group = None
    for item in ledger.items.values():
        if group not in {None, item.group}:
            table.add_section()
        table.add_row(
            escape(printable(item.name)),
            *_row(ledger, item.id, places),
            style="bold" if _differs(ledger, item.id) else "",
        )
        group = item.group
    return table


def _row(ledger: Ledger, item: str, places: tuple[str, ...]) -> list[str]:
    account = ledger.account(item)
    other = account.changed + account.explained - account.handed_over
    counted = ledger.count is not None and item in ledger.count.items
    cells = [
        _number(account.initial),
        _number(account.added or None),
        f"{other:+d}" if other else "-",
        _number(ledger.expected(item)),
    ]
    one = line_sum(ledger, item)
    cells += [_number(n) for _, n in one.places] if counted else ["" for _ in places]
    cells.append(_number((account.left_inside + account.tucked_in) or None))
    if places:
        sign = "≠ " if _differs(ledger, item) else ""
        cells.append(f"{sign}{one.counted}" if counted and one.complete else "-")
    cells.append(_state(ledger, item, counted=counted))
    return cells


def _state(ledger: Ledger, item: str, *, counted: bool) -> str:
    open_ = [one for one in ledger.discrepancies.values() if one.item == item]
    if open_:
        off = open_[0].off
        return f"△ {abs(off)} {'short' if off < 0 else 'too many'}" if off else "△ to be closed"
    closed = ledger.settled.get(item)
    if closed is not None and closed.settled is not None:
        return f"◆ {closed.settled.value.replace('_', ' ')}"
    if not counted:
        return "· not in this count"
    places = ledger.count.places if ledger.count is not None else ()
    states = [ledger.tally(item, place).state for place in places or (None,)]
    for state in (State.RECOUNT, State.WAITING, State.LEFT):
        if state in states:
            return STATES[state]
    return STATES[State.CONFIRMED]


def _differs(ledger: Ledger, item: str) -> bool:
    return any(one.item == item for one in ledger.discrepancies.values())


def _number(n: int | None) -> str:
    return "-" if n is None else str(n)
