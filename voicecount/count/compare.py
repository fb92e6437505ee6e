"""The tally beside the sheet, line by line; totals are never compared across lines. Pure."""

from dataclasses import dataclass

from voicecount.count.flags import Flag
from voicecount.count.ledger import Ledger
from voicecount.count.package import packages_to_come
from voicecount.count.tally import Key, State
from voicecount.sheet.plan import CountKind


@dataclass(frozen=True)
class Comparison:
    """One line of the tally beside the sheet."""

    key: Key
    name: str
    group: str
    counted: int | None
    """None when nothing is stored."""
    expected: int | None
    """The sheet's number, in the initial count only; None when the sheet does not say."""
    state: State
    flags: tuple[Flag, ...]
    to_come: int
    """Whole packages that the sheet still expects."""

    @property
    def off(self) -> int | None:
        """How many more (or, below zero, fewer) than the sheet says; None when not comparable."""
        if self.counted is None or self.expected is None:
            return None
        return self.counted - self.expected


def compare(ledger: Ledger) -> tuple[Comparison, ...]:
    """Give every line of the sheet, and every further place of it, in the sheet's order."""
    return tuple(compare_key(ledger, key) for key in ledger.keys(*State))


def compare_key(ledger: Ledger, key: Key) -> Comparison:
    """Give one key beside the sheet."""
    item = ledger.items[key.item]
    tally = ledger.tally(*key)
    by_sheet = ledger.count is None or ledger.count.kind is CountKind.INITIAL
    expect = item.expect if by_sheet else None
    return Comparison(
        key=key,
        name=item.name,
        group=item.group,
        counted=tally.counted,
        expected=expect,
        state=tally.state,
        flags=ledger.flags(*key),
        to_come=packages_to_come(tally.total, expect, item.pack) if tally.lines else 0,
    )


def differing(ledger: Ledger) -> tuple[Comparison, ...]:
    """Give the lines whose stored count is not the sheet's number."""
    return tuple(line for line in compare(ledger) if line.off)
