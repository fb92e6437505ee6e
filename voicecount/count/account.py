"""What is expected of one item now, and where the part of it is that nobody counts on the table.

Expected now = initial + added + changed + explained - handed over; nothing is ever taken away
without an event that says why (a lesson for certified perioperative nurses: no subtractions).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

from voicecount.count.events import Incident, IncidentTold

_NOTHING: Mapping[str, int] = MappingProxyType({})
_NO_GROUPS: Mapping[int, int] = MappingProxyType({})


@dataclass(frozen=True)
class Right:
    """When an item was last counted as expected."""

    at: float
    """Seconds on the stream's clock."""
    title: str
    """Of the count."""
    places: tuple[tuple[str, int], ...] = ()
    """Where they were."""


@dataclass(frozen=True)
class Account:
    """One item of a case."""

    initial: int | None = None
    """What both people gave in the initial count, with what was in the patient then; None when
    they did not."""
    added: int = 0
    changed: int = 0
    """Entries that came about by cutting or breaking, or by a pack with another number."""
    handed_over: int = 0
    explained: int = 0
    """What both people gave as the mistake in the expected number itself."""
    told: tuple[tuple[int, str, int], ...] = ()
    """While the initial count can be corrected, all that was told to be more or fewer, or in the
    patient: the next line's number then, what, how many."""
    tucked: Mapping[str, int] = field(default_factory=lambda: _NOTHING)
    """In the patient, to come out: how many by site."""
    inside: Mapping[str, int] = field(default_factory=lambda: _NOTHING)
    """In the patient on purpose: how many by site."""
    off: Mapping[int, int] = field(default_factory=lambda: _NO_GROUPS)
    """Passed off the field so far: how many groups by their size."""
    off_explained: int = 0
    """What both people gave as the mistake in the number passed off the field."""
    right: Right | None = None

    @property
    def expected(self) -> int | None:
        """What there should be now, wherever it is; None without an initial count."""
        if self.initial is None:
            return None
        return self.initial + self.added + self.changed + self.explained - self.handed_over

    @property
    def tucked_in(self) -> int:
        """How many are tucked in."""
        return sum(self.tucked.values())

    @property
    def left_inside(self) -> int:
        """How many stay in the patient on purpose."""
        return sum(self.inside.values())

    @property
    def in_patient(self) -> int:
        """How many are in the patient, for now or on purpose."""
        return self.tucked_in + self.left_inside

    @property
    def passed_off(self) -> int:
        """How many were passed off the field."""
        return sum(size * groups for size, groups in self.off.items()) + self.off_explained


def why_not(account: Account, event: IncidentTold, pieces: int) -> str | None:
    """Tell why an incident cannot have happened to an item; None when it can.

    ``pieces`` is how many pieces one of it has.
    """
    n = event.n
    least = _LEAST.get(event.incident, 1)
    wrong = None
    if n < least:
        wrong = f"{n} is less than {least}"
    elif event.incident is Incident.OTHER_NUMBER and event.printed in {None, n}:
        wrong = "the number found is the number printed"
    elif event.incident is Incident.INCOMPLETE and n >= pieces:
        wrong = "no piece is missing"
    elif event.incident is Incident.CAME_OUT and n > account.tucked_in + account.left_inside:
        wrong = "fewer than that are in the patient"
    elif account.expected is not None and _needs(event) > account.expected - _elsewhere(
        account, event.incident
    ):
        wrong = "there are not that many"
    return wrong


_LEAST = {Incident.OTHER_NUMBER: 0, Incident.INCOMPLETE: 0, Incident.BROKEN: 2}


def _needs(event: IncidentTold) -> int:
    """Give how many there must have been for it to happen."""
    match event.incident:
        case (
            Incident.OLD_PACKING_OUT
            | Incident.ONE_TOO_MANY
            | Incident.INCOMPLETE
            | Incident.ADDED
            | Incident.CAME_OUT
        ):
            return 0
        case Incident.OTHER_NUMBER:
            return (event.printed or 0) - event.n
        case Incident.BROKEN:
            return 1
        case _:
            return event.n


def _elsewhere(account: Account, incident: Incident) -> int:
    """Give what cannot be meant: it is in the patient, or was passed off the field before."""
    if incident is Incident.CAME_OUT:
        return 0
    passed = account.passed_off if incident is Incident.COUNTED_OFF else 0
    return account.tucked_in + account.left_inside + passed


ENTRIES = frozenset(
    {
        *(Incident.CUT, Incident.BROKEN, Incident.OTHER_NUMBER),
        *(Incident.ADDED, Incident.HANDED_OVER),
    }
)
"""Incidents after which there are more or fewer than before."""


def with_incident(account: Account, event: IncidentTold) -> Account:
    """Give the account after an incident."""
    n, site = event.n, event.site or "not_said"
    entries = {
        Incident.CUT: n,
        Incident.BROKEN: n - 1,
        Incident.OTHER_NUMBER: n - (event.printed or 0),
    }
    changes: dict[str, Any] = {"changed": account.changed + entries.get(event.incident, 0)}
    match event.incident:
        case Incident.ADDED:
            changes = {"added": account.added + n}
        case Incident.HANDED_OVER:
            changes = {"handed_over": account.handed_over + n}
        case Incident.TUCKED:
            changes = {"tucked": _plus(account.tucked, site, n)}
        case Incident.PACKED:
            changes = {"inside": _plus(account.inside, site, n)}
        case Incident.CAME_OUT:
            changes = _out(account, n, event.site)
        case Incident.COUNTED_OFF:
            changes = {"off": MappingProxyType({**account.off, n: account.off.get(n, 0) + 1})}
        case Incident.DROPPED:
            changes = {"off": MappingProxyType({**account.off, 1: account.off.get(1, 0) + n})}
    return replace(account, **changes)


MORE_OR_FEWER = ("added", "changed", "handed_over", "explained")
"""The fields of what came on top of the initial number."""


_IN_PATIENT = "in_patient"


def keeping(before: Account, after: Account, next_line: int) -> Account:
    """Give the account after something was told, with when that was among the lines."""
    changes = {name: getattr(after, name) - getattr(before, name) for name in MORE_OR_FEWER}
    changes[_IN_PATIENT] = after.in_patient - before.in_patient
    told = tuple((next_line, name, n) for name, n in changes.items() if n)
    return replace(after, told=(*before.told, *told))


def with_initial(account: Account, n: int, lines: Sequence[int]) -> Account:
    """Give the account with the initial number that both gave, made of these lines in their order.

    What was told before the first of them was called is in the number already; what was told after
    the last comes on top. What was in the patient before could not be counted on the table, and
    belongs to the number. Between two lines nobody knows which of them it was counted with: then it
    is taken so that more are expected, since a difference is asked about, and an item too few is
    not.
    """
    first, last = lines[0], lines[-1]
    hidden = 0
    on_top: dict[str, Any] = dict.fromkeys(MORE_OR_FEWER, 0)
    for line, what, more in account.told:
        more_expected = more > 0 if what != "handed_over" else more < 0
        if what == _IN_PATIENT:
            hidden += more if line <= first or (line <= last and more_expected) else 0
        elif line > last or (line > first and more_expected):
            on_top[what] += more
    return replace(account, initial=n + hidden, **on_top)


def _plus(sites: Mapping[str, int], site: str, n: int) -> Mapping[str, int]:
    return MappingProxyType({**sites, site: sites.get(site, 0) + n})


def _out(account: Account, n: int, site: str | None) -> dict[str, Any]:
    """Take some out of the patient: of a site first if one was named, tucked ones before packed."""
    left = {"tucked": dict(account.tucked), "inside": dict(account.inside)}
    for only in ((site,) if site is not None else ()) + (None,):
        for sites in left.values():
            for where in tuple(sites):
                if only in {None, where}:
                    taken = min(n, sites[where])
                    sites[where] -= taken
                    n -= taken
                    if not sites[where]:
                        del sites[where]
    return {name: MappingProxyType(sites) for name, sites in left.items()}
