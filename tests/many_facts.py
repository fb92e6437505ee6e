"""Hand-made facts of many cases: known ones for single checks, random ones for a second sum."""

from typing import Any

import made_facts
from hypothesis import strategies as st

from voicecount.count.case_events import Difference, Settled
from voicecount.report.facts import (
    CaseFacts,
    CountFacts,
    DiscrepancyFacts,
    HeardFacts,
    InsideFacts,
    LineFacts,
    Moment,
)
from voicecount.sheet.plan import CountKind

GROUPS = {"lap": "sponges", "needle": "sharps", "loop": "miscellaneous", "clamp": "instruments"}


def moment(at: float, wall: str = "2026-03-02T08:00:00Z") -> Moment:
    return Moment(record=1, at=at, wall=wall)


def line(number: int = 1, *, stands: bool = True, confirmed: bool = True) -> LineFacts:
    return made_facts.line(number, "lap", stands=stands, confirmed=confirmed)


def count(
    number: int = 1,
    kind: str = "initial",
    *,
    opened: float = 0.0,
    lasted: float | None = 60.0,
    result: str | None = "baseline",
    id_: str | None = None,
    **more: Any,
) -> CountFacts:
    values: dict[str, Any] = {
        "id": id_ or kind,
        "kind": kind,
        "title": f"{kind} count",
        "opened": moment(opened),
        "finished": None if lasted is None else moment(opened + lasted),
        "result": None if lasted is None else result,
    }
    return made_facts.count(number, **values, **more)


def difference(
    number: int = 1,
    item: str = "lap",
    *,
    off: int = -1,
    off_now: int = -1,
    settled: str | None = "found",
    took: float = 90.0,
    **more: Any,
) -> DiscrepancyFacts:
    closed = None if settled is None else moment(100 + took)
    ends: dict[str, Any] = {"opened": moment(100), "closed": closed, "settled": settled}
    return made_facts.difference(number, item, off=off, off_now=off_now, **ends, **more)


def happening(what: str, *, permanent: bool | None = None, back: bool | None = None) -> Any:
    return made_facts.told(moment(5), what, permanent=permanent, back=back)


def inside(item: str = "lap", n: int = 1, *, on_purpose: bool = True) -> InsideFacts:
    return made_facts.inside(item, n, on_purpose=on_purpose)


def case(name: str = "a.vcj", *, damage: str | None = None, **other: Any) -> CaseFacts:
    """Build a case; ``other`` takes the place of what would stand in it."""
    head = other.pop("head", name.encode().hex().rjust(64, "0")[-64:])
    wall = other.pop("wall", "2026-03-02T08:00:00Z")
    facts: dict[str, Any] = {
        "journal": name,
        "title": "Caesarean section",
        "sheet": f"sheet of {name}",
        "began": moment(0, wall),
        "ended": moment(3600, wall),
        "closed": moment(3600, wall),
        "items": tuple(made_facts.item(name, group=group) for name, group in GROUPS.items()),
    }
    chain = made_facts.chain(head, whole=damage is None, damage=damage, records=20)
    return made_facts.case(chain, **{**facts, **other})


_SMALL = st.integers(0, 4)
_KINDS = st.sampled_from([kind.value for kind in CountKind])
_SECONDS = st.integers(0, 8000).map(lambda tenths: tenths / 10)
_ITEMS = st.sampled_from([*GROUPS, "unheard of"])


@st.composite
def counts(draw: st.DrawFn) -> tuple[CountFacts, ...]:
    found = []
    for number in range(1, draw(st.integers(0, 4)) + 1):
        lines = [
            line(one + 1, stands=draw(st.booleans()), confirmed=draw(st.booleans()))
            for one in range(draw(_SMALL))
        ]
        found.append(
            count(
                number,
                draw(_KINDS),
                opened=draw(_SECONDS),
                lasted=draw(st.none() | _SECONDS | st.just(-3.0)),
                result=draw(st.sampled_from(["agrees", "differs", None])),
                lines=lines,
                refused=draw(_SMALL),
                disputed=draw(_SMALL),
                recounted=draw(_SMALL),
                interruptions=draw(_SMALL),
            )
        )
    return tuple(found)


DIFFERENCES = st.builds(
    difference,
    number=st.integers(1, 9),
    item=_ITEMS,
    differs=st.sampled_from([kind.value for kind in Difference]),
    count=st.integers(0, 5),
    off=st.sampled_from([-2, -1, 1]),
    off_now=st.sampled_from([-2, 0, 1]),
    settled=st.none() | st.sampled_from([end.value for end in Settled]),
    took=_SECONDS,
)

HAPPENINGS = st.builds(
    happening,
    st.sampled_from(["count_waived", "people_changed", "incident.dropped"]),
    permanent=st.booleans(),
    back=st.booleans(),
)

HEARD = st.builds(
    HeardFacts,
    utterances=st.integers(0, 300),
    accepted=st.just(0),
    ignored=st.just(0),
    asked=st.dictionaries(st.sampled_from(["close_call", "no_number", "clipped"]), _SMALL).map(
        lambda found: tuple(found.items())
    ),
)


@st.composite
def cases(draw: st.DrawFn, most: int = 8) -> list[CaseFacts]:
    """Draw cases of their own heads, damaged ones among them."""
    return [
        case(
            f"{number}.vcj",
            damage=draw(st.sampled_from([None, None, None, "line 7: no record"])),
            wall=f"2026-03-{draw(st.integers(1, 28)):02d}T08:00:{number:02d}Z",
            closed=draw(st.none() | st.just(moment(3600))),
            counts=draw(counts()),
            due=draw(st.sampled_from([(), ("final",), ("closing", "final")])),
            happenings=tuple(draw(st.lists(HAPPENINGS, max_size=4))),
            discrepancies=tuple(draw(st.lists(DIFFERENCES, max_size=4))),
            in_patient=tuple(
                inside(draw(_ITEMS), draw(st.integers(1, 3)), on_purpose=draw(st.booleans()))
                for _ in range(draw(st.integers(0, 2)))
            ),
            heard=draw(st.none() | HEARD),
        )
        for number in range(draw(st.integers(0, most)))
    ]
