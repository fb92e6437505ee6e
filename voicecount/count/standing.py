"""What stands: the ledger of a case. It is only ever made by the fold of events in ledger.py."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from voicecount.count.account import Account
from voicecount.count.discrepancy import Discrepancy
from voicecount.count.events import CaseItem, CaseOpened, CountResult
from voicecount.count.flags import Flag
from voicecount.count.roles import Role
from voicecount.count.tally import Key, State, Tally
from voicecount.sheet.plan import CountKind


@dataclass(frozen=True)
class Count:
    """One count of the case."""

    number: int
    id: str
    kind: CountKind
    title: str
    items: tuple[str, ...]
    """Ids, in the order of counting."""
    places: tuple[str, ...]
    """In the order of counting; empty where an item is counted as one line."""
    at: float
    """Seconds on the stream's clock when it was opened."""
    tucked_counts: bool = True
    """Whether what is tucked in may still be there, and counts as being there."""


@dataclass(frozen=True)
class Ledger:
    """Immutable; ``apply`` gives the next one. Its cost per event does not grow with the case."""

    opened: CaseOpened | None = None
    items: Mapping[str, CaseItem] = field(default_factory=dict)
    """By id, in the sheet's order."""
    accounts: Mapping[str, Account] = field(default_factory=dict)
    """By item, from the first count that was finished."""
    count: Count | None = None
    """The count that is open, or else the last one."""
    tallies: Mapping[Key, Tally] = field(default_factory=dict)
    """Of this count. Only keys of which something is known, in the order of that."""
    last: Key | None = None
    """The key called last in this count: stored, or its package set aside."""
    next_line: int = 1
    standing_by: bool = False
    finished: bool = False
    """A person said that this count is finished, and nothing was stored since."""
    held: Mapping[str, CountResult] = field(default_factory=lambda: MappingProxyType({}))
    """The counts of the plan that were held or waived, with what they came to."""
    discrepancies: Mapping[int, Discrepancy] = field(default_factory=lambda: MappingProxyType({}))
    """Those that are open, by number."""
    settled: Mapping[str, Discrepancy] = field(default_factory=lambda: MappingProxyType({}))
    """The last one that was closed in this count, by item."""
    not_found: tuple[int, ...] = ()
    """Numbers of those that were closed without the item."""
    next_discrepancy: int = 1
    turned_open: bool = False
    people: Mapping[Role, str] = field(default_factory=lambda: MappingProxyType({}))
    """Ids of those who took over, by role."""
    relieved: frozenset[Role] = frozenset()
    """Whose break is not over."""
    away: Mapping[Role, str] = field(default_factory=lambda: MappingProxyType({}))
    """Ids of those who are on a break and had taken over before, by role."""
    relief_due: bool = False
    """Somebody took over for good, and no full count was opened since."""
    closed: bool = False
    """Both people ended the case."""

    @property
    def told_apart(self) -> bool:
        """Whether each person has a channel."""
        return self.opened is not None and self.opened.roles_told_apart

    @property
    def counting(self) -> bool:
        """Whether a count is open."""
        return self.count is not None and not self.finished and not self.closed

    @property
    def takes_lines(self) -> bool:
        """Whether lines can be stored: in a count, and after the initial one until another opens.

        What comes then reopens the initial count, which has to be finished again.
        """
        if self.counting:
            return True
        count = self.count
        return count is not None and count.kind is CountKind.INITIAL and not self.closed

    @property
    def kind(self) -> CountKind | None:
        """What the open count is for; None between counts."""
        return self.count.kind if self.count is not None and self.counting else None

    @property
    def places(self) -> tuple[str, ...]:
        """Where each line of the open count is counted; empty without places."""
        return self.count.places if self.count is not None and self.counting else ()

    def tally(self, item: str, place: str | None = None) -> Tally:
        """Give what stands of an item in this count; empty when nothing is stored."""
        key = Key(item, place)
        return self.tallies.get(key) or Tally(key)

    def account(self, item: str) -> Account:
        """Give what is known of an item over the whole case."""
        return self.accounts.get(item) or Account()

    def expected(self, item: str) -> int | None:
        """Give what there should be of an item now; None without an initial count of both."""
        expected = self.account(item).expected
        if expected is None or self.kind is not CountKind.ADDITION:
            return expected
        return expected + self.tally(item).confirmed

    def keys(self, *states: State) -> tuple[Key, ...]:
        """Give the keys of this count in these states, in the order of counting."""
        items = self.count.items if self.count is not None else tuple(self.items)
        places = self.count.places if self.count is not None else ()
        if places:
            known = [Key(item, place) for item in items for place in places]
            return tuple(key for key in known if self.tally(*key).state in states)
        order = {item: at for at, item in enumerate(self.items)}
        if self.count is not None and self.count.kind is CountKind.ADDITION:
            items = ()  # an addition has no line that is missing
        found = (
            key
            for key in {*self.tallies, *(Key(item) for item in items)}
            if self.tally(*key).state in states
        )
        return tuple(sorted(found, key=lambda key: (order[key.item], key.place or "")))

    def waiting(self) -> tuple[Key, ...]:
        """Give the keys that wait for the circulator's number, the one stored last at the end."""
        keys = self.keys(State.WAITING)
        return tuple(sorted(keys, key=lambda key: self.tallies[key].lines[-1].number))

    def left(self) -> tuple[Key, ...]:
        """Give the keys with nothing stored, in the order of counting."""
        return self.keys(State.LEFT)

    def flags(self, item: str, place: str | None = None) -> tuple[Flag, ...]:
        """Give an item's flags in the order of their list."""
        tally = self.tally(item, place)
        now = set(tally.lasting)
        if tally.lines:
            expect = self.items[item].expect
            sheet_holds = self.count is None or self.count.kind is CountKind.INITIAL
            if sheet_holds and expect is not None and tally.total != expect:
                now.add(Flag.DIFFERS_FROM_SHEET)
            if tally.state is not State.CONFIRMED:
                now.add(Flag.NOT_CONFIRMED)
            if tally.state is State.RECOUNT:
                now.add(Flag.RECOUNT_DUE)
            if not self.told_apart:
                now.add(Flag.ROLES_NOT_TOLD_APART)
        return tuple(flag for flag in Flag if flag in now)
