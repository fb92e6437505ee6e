"""Hand-made facts of many cases: known ones for single checks, random ones for a second sum."""

from collections.abc import Sequence
from typing import Any

from hypothesis import strategies as st

from voicecount.count.case_events import Difference, Settled
from voicecount.report.facts import (
    CaseFacts,
    Chain,
    CountFacts,
    DiscrepancyFacts,
    HappeningFacts,
    HeardFacts,
    InsideFacts,
    ItemFacts,
    LineFacts,
    Moment,
)
from voicecount.sheet.plan import CountKind

GROUPS = {"lap": "sponges", "needle": "sharps", "loop": "miscellaneous", "clamp": "instruments"}


def moment(at: float, wall: str = "2026-03-02T08:00:00Z") -> Moment:
    return Moment(record=1, at=at, wall=wall)


def line(number: int = 1, *, stands: bool = True, confirmed: bool = True) -> LineFacts:
    return LineFacts(
        line=number,
        item="lap",
        place=None,
        numbers=(5,),
        pieces=None,
        counted=5,
        form="total",
        entry="first",
        stands=stands,
        confirmed=confirmed,
        stored=moment(1),
        by="scrub",
    )


def count(
    number: int = 1,
    kind: str = "initial",
    *,
    opened: float = 0.0,
    lasted: float | None = 60.0,
    result: str | None = "baseline",
    lines: Sequence[LineFacts] = (),
    refused: int = 0,
    disputed: int = 0,
    recounted: int = 0,
    interruptions: int = 0,
    id_: str | None = None,
) -> CountFacts:
    return CountFacts(
        number=number,
        id=id_ or kind,
        kind=kind,
        title=f"{kind} count",
        places=(),
        opened=moment(opened),
        finished=None if lasted is None else moment(opened + lasted),
        result=None if lasted is None else result,
        lines=tuple(lines),
        sums=(),
        unconfirmed=(),
        differing=(),
        left=(),
        refused=refused,
        disputed=disputed,
        recounted=recounted,
        interruptions=interruptions,
    )


def difference(
    number: int = 1,
    item: str = "lap",
    *,
    differs: str = "line",
    count: int = 1,
    off: int = -1,
    settled: str | None = "found",
    took: float = 90.0,
) -> DiscrepancyFacts:
    return DiscrepancyFacts(
        number=number,
        item=item,
        differs=differs,
        counted=10 + off,
        expected=10,
        off=off,
        place=None,
        count=count,
        opened=moment(100),
        steps=(),
        closed=None if settled is None else moment(100 + took),
        settled=settled,
    )


def happening(what: str, *, permanent: bool | None = None, back: bool | None = None) -> Any:
    return HappeningFacts(when=moment(5), what=what, count=None, permanent=permanent, back=back)


def inside(item: str = "lap", n: int = 1, *, on_purpose: bool = True) -> InsideFacts:
    return InsideFacts(
        item=item, site="abdomen", n=n, on_purpose=on_purpose, removal=None, when=moment(9)
    )


def case(name: str = "a.vcj", *, damage: str | None = None, **other: Any) -> CaseFacts:
    """Build a case; ``other`` takes the place of what would stand in it."""
    head = other.pop("head", name.encode().hex().rjust(64, "0")[-64:])
    wall = other.pop("wall", "2026-03-02T08:00:00Z")
    facts: dict[str, Any] = {
        "journal": name,
        "made": "2026-04-01T10:00:00Z",
        "made_by": "voicecount 0.1.0",
        "chain": Chain(
            whole=damage is None, damage=damage, records=20, head=head, digits=head[:8], spoken=""
        ),
        "title": "Caesarean section",
        "sheet": f"sheet of {name}",
        "software": "voicecount 0.1.0",
        "recogniser": "typed",
        "voice": "none",
        "roles_told_apart": True,
        "began": moment(0, wall),
        "ended": moment(3600, wall),
        "closed": moment(3600, wall),
        "sessions": (),
        "team": (),
        "items": tuple(item(name, group) for name, group in GROUPS.items()),
        "counts": (),
        "due": (),
        "happenings": (),
        "discrepancies": (),
        "in_patient": (),
        "sound": (),
        "heard": None,
        "events": (),
        "cautions": (),
    }
    return CaseFacts(**{**facts, **other})


def item(name: str, group: str) -> ItemFacts:
    return ItemFacts(
        id=name,
        name=name,
        group=group,
        sheet=10,
        pack=None,
        pieces=1,
        initial=10,
        added=0,
        changed=0,
        explained=0,
        handed_over=0,
        expected=10,
        tucked=0,
        inside=0,
        passed_off=0,
    )


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
