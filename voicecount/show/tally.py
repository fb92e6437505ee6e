"""The tally beside the sheet, by group. It tells how things stand and judges nothing."""

from rich.markup import escape
from rich.table import Table

from voicecount.count.flags import Flag
from voicecount.count.ledger import Ledger
from voicecount.count.tally import State
from voicecount.show.console import printable
from voicecount.show.states import SIGNS, WORDS

STATES = {state: f"{sign} {WORDS[state]}" for state, sign in SIGNS.items()}
"""Each state by a shape and in words; colour adds nothing."""

_IN_STATE = frozenset({Flag.NOT_CONFIRMED, Flag.RECOUNT_DUE})
"""Flags that the state already tells."""

CAUTION = "The two people decide. This is the record of what they said, nothing more."


def tally_table(ledger: Ledger) -> Table:
    """Show every line of the sheet with what was counted, and where the two differ."""
    title = escape(printable(ledger.opened.title)) if ledger.opened is not None else None
    table = Table(title=title, title_justify="left", caption=CAUTION, caption_justify="left")
    table.add_column("group")
    table.add_column("item")
    table.add_column("counted", justify="right")
    table.add_column("sheet", justify="right")
    table.add_column("state", no_wrap=True)
    table.add_column("marks")
    group = None
    for item in ledger.items.values():
        tally = ledger.tally(item.id)
        flags = ledger.flags(item.id)
        if group not in {None, item.group}:
            table.add_section()
        differs = Flag.DIFFERS_FROM_SHEET in flags
        table.add_row(
            "" if group == item.group else item.group,
            escape(printable(item.name)),
            ("≠ " if differs else "") + ("-" if tally.counted is None else str(tally.counted)),
            "-" if item.expect is None else str(item.expect),
            STATES[tally.state],
            ", ".join(words(flag) for flag in flags if flag not in _IN_STATE),
            style="bold" if differs or tally.state is State.RECOUNT else "",
        )
        group = item.group
    return table


def words(flag: Flag) -> str:
    """Give a flag's code as words."""
    return flag.value.replace("_", " ")
