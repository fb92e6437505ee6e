"""What is expected of one item, in numbers alone, and which events of a case cannot follow."""

from dataclasses import replace
from typing import Any

import pytest
from cases import CAVITY, CLOSING, FINAL, INITIAL, LAPS, NEEDLES, TIPS, case_of
from hypothesis import given
from hypothesis import strategies as st

from voicecount.count.account import ENTRIES, Account, why_not, with_incident
from voicecount.count.events import (
    CountFinished,
    CountOpened,
    CountResult,
    CountWaived,
    Difference,
    DiscrepancyOpened,
    Event,
    Incident,
    IncidentTold,
    LineConfirmed,
    LineStored,
)
from voicecount.count.ledger import apply, fold
from voicecount.count.opening import open_case
from voicecount.count.plan import due, items_of
from voicecount.count.roles import Role
from voicecount.sheet.plan import CountKind
from voicecount.words.meaning import Form

SCRUB, CIRC = Role.SCRUB, Role.CIRCULATOR
SHEET = case_of(LAPS, NEEDLES, TIPS, plan=(INITIAL, CAVITY, CLOSING, FINAL))
ITEMS = tuple(item.id for item in SHEET.items)
BOTH: dict[str, Any] = {"by": SCRUB, "agreed": CIRC}


def opened(*, told_apart: bool = True) -> Event:
    """Make the first event."""
    return open_case(SHEET, at=0.0, software="s", recogniser="r", voice="v", told_apart=told_apart)


def line(number: int, item: str, n: int, place: str | None = None) -> list[Event]:
    """Make a line and its confirmation."""
    at: dict[str, Any] = {"at": float(number), "item": item, "place": place, "line": number}
    stored = LineStored(
        **at, numbers=(n,), start=0.0, end=0.0, counted=n, total=n,
        expected=None, form=Form.RUN,
    )  # fmt: skip
    return [stored, LineConfirmed(**at, by=CIRC, number=n)]


def finished(**fields: Any) -> CountFinished:
    """Make the end of a count."""
    return CountFinished(**{"at": 9.0, "by": CIRC, "result": CountResult.BASELINE} | fields)


def count(number: int = 2, **fields: Any) -> CountOpened:
    """Make the beginning of a later count."""
    values: dict[str, Any] = {"at": 10.0, "number": number, "count": "closing", "items": ITEMS}
    values |= {"count_kind": CountKind.CLOSING, "title": "closing count"}
    return CountOpened(**values | {"places": ("field", "off_field")} | fields)


def incident(kind: Incident, n: int, item: str = "lap", **fields: Any) -> IncidentTold:
    """Make an incident that both told."""
    return IncidentTold(**{"at": 9.5, "incident": kind, "item": item, "n": n} | BOTH | fields)


BASE: list[Event] = [
    *(opened(), *line(1, "lap", 10), *line(2, "needle", 4), *line(3, "tip", 1)),
    finished(),
]
"""Both gave ten lap sponges, four needles and a tip."""


def differs(number: int = 1, **fields: Any) -> DiscrepancyOpened:
    """Make a difference of one lap sponge."""
    values: dict[str, Any] = {"at": 11.0, "item": "lap", "differs": Difference.LINE}
    return DiscrepancyOpened(**values | {"number": number, "counted": 9, "expected": 10} | fields)


SHORT: list[Event] = [*BASE, count(), *line(4, "lap", 3, "field"), *line(5, "lap", 6, "off_field")]
"""A closing count with one lap sponge short."""


WAIVED: dict[str, Any] = {"at": 12.0, "count": "closing", "title": "closing count"}
WAIVED |= {"reason": "life_threatening", **BOTH}
"""A waiver that both told."""


# What is expected


incidents = st.builds(
    incident,
    st.sampled_from(Incident),
    st.integers(0, 12),
    printed=st.integers(0, 12),
    site=st.sampled_from(["pelvis", "under_the_skin", None]),
)


@given(st.lists(incidents, max_size=12))
def test_expected_is_a_sum_of_what_was_told(told: list[IncidentTold]) -> None:
    """Expected = initial + added + entries - handed over, for whatever happens.

    What cannot be is refused: what is in the patient is never more than there is.
    """
    account, by_hand = Account(initial=10), 10
    for event in told:
        if why_not(account, event, 2) is not None:
            continue
        by_hand += {
            Incident.ADDED: event.n,
            Incident.CUT: event.n,
            Incident.BROKEN: event.n - 1,
            Incident.OTHER_NUMBER: event.n - (event.printed or 0),
            Incident.HANDED_OVER: -event.n,
        }.get(event.incident, 0)
        after = with_incident(account, event)
        assert after.expected == by_hand
        assert 0 <= after.tucked_in + after.left_inside <= by_hand
        assert (after.expected != account.expected) <= (event.incident in ENTRIES)
        account = after
    assert all(n > 0 for n in (*account.tucked.values(), *account.inside.values()))


def test_expected_needs_an_initial_count() -> None:
    """Without an initial count nothing is expected, whatever is added."""
    assert Account(added=5, changed=2).expected is None
    assert replace(Account(added=5), initial=0).expected == 5


@pytest.mark.parametrize(
    ("kind", "n", "fields", "expected"),
    [
        (Incident.DROPPED, 1, {}, 10),
        (Incident.CUT, 2, {}, 12),
        (Incident.BROKEN, 3, {}, 12),
        (Incident.OTHER_NUMBER, 3, {"printed": 5}, 8),
        (Incident.OTHER_NUMBER, 6, {"printed": 5}, 11),
        (Incident.HANDED_OVER, 1, {"reason": "with_specimen"}, 9),
        (Incident.ADDED, 5, {}, 15),
        (Incident.TUCKED, 1, {"site": "pelvis"}, 10),
        (Incident.PACKED, 2, {"site": "pelvis"}, 10),
        (Incident.COUNTED_OFF, 5, {}, 10),
        (Incident.ONE_TOO_MANY, 1, {}, 10),
        (Incident.OLD_PACKING_OUT, 3, {}, 10),
    ],
)
def test_what_an_incident_does_to_what_is_expected(
    kind: Incident, n: int, fields: dict[str, Any], expected: int
) -> None:
    """A cut is two entries, every fragment is one, what leaves has a reason, the rest changes none.

    Source: cut, pieces, no subtraction (a lesson for certified perioperative nurses); fragments
    (WHO 2009, from memory).
    """
    ledger = fold([*BASE, incident(kind, n, **fields)])

    assert ledger.expected("lap") == expected
    assert ledger.expected("needle") == 4


def test_what_is_tucked_or_packed_comes_out_of_its_site_first() -> None:
    """A named site is emptied first, and what is tucked in before what is packed."""
    at = [("pelvis", 2), ("vagina", 1)]
    events = [incident(Incident.TUCKED, n, site=site) for site, n in at]
    events.append(incident(Incident.PACKED, 1, site="pelvis"))
    tucked = fold([*BASE, *events])
    assert tucked.account("lap").tucked == {"pelvis": 2, "vagina": 1}
    assert tucked.account("lap").inside == {"pelvis": 1}

    named = apply(tucked, incident(Incident.CAME_OUT, 1, site="vagina")).account("lap")
    assert (named.tucked, named.inside) == ({"pelvis": 2}, {"pelvis": 1})
    most = apply(tucked, incident(Incident.CAME_OUT, 3)).account("lap")
    assert (most.tucked, most.inside) == ({}, {"pelvis": 1})


def test_an_addition_is_expected_from_the_number_of_both() -> None:
    """A line of an addition is expected once both gave it; the end takes it into the account."""
    addition = count(count="addition", count_kind=CountKind.ADDITION, places=())
    open_ = fold([*BASE, addition, line(4, "lap", 5)[0]])
    assert open_.expected("lap") == 10

    confirmed = apply(open_, line(4, "lap", 5)[1])
    assert confirmed.expected("lap") == 15
    ended = apply(confirmed, finished(count="addition", number=2))
    assert (ended.expected("lap"), ended.account("lap").added) == (15, 5)


def test_plan_and_held_counts() -> None:
    """What was held or waived is no longer due; an incomplete one stays due."""
    ledger = fold(BASE)
    assert [one.id for one in due(ledger)] == ["uterus", "closing", "final"]
    waived = apply(ledger, CountWaived(**WAIVED))
    assert [one.id for one in due(waived)] == ["uterus", "final"]
    half = fold([*BASE, count(), finished(count="closing", number=2, result="incomplete")])
    assert [one.id for one in due(half)] == ["uterus", "closing", "final"]
    assert items_of(ledger, due(ledger)[0]) == ITEMS
