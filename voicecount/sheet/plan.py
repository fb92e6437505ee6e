"""Which counts a case has: the sheet's plan. Published plans differ, so every sheet has its own."""

from enum import StrEnum
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, StrictBool, StringConstraints

Id = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_-]*$")]
Title = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]


class Group(StrEnum):
    """The groups, in the usual order of a count (AST 2006, ORNAC: from memory)."""

    SPONGES = "sponges"
    SHARPS = "sharps"
    MISCELLANEOUS = "miscellaneous"
    INSTRUMENTS = "instruments"


class CountKind(StrEnum):
    """What a count is for."""

    INITIAL = "initial"
    """Before the case begins; all later counts are compared with it."""
    ADDITION = "addition"
    """What comes onto the field later, before it is used."""
    CAVITY = "cavity"
    """Before a cavity, or a cavity inside a cavity, is closed."""
    CLOSING = "closing"
    """Before the wound is closed."""
    FINAL = "final"
    """When the skin is closed, or at the end."""
    RELIEF = "relief"
    """When the scrub or the circulator changes for good."""
    ASKED = "asked"
    """Whenever anyone of the team asks for one."""


PLANNED = frozenset({CountKind.INITIAL, CountKind.CAVITY, CountKind.CLOSING, CountKind.FINAL})


class PlannedCount(BaseModel):
    """One count of the plan."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: Id
    kind: CountKind
    say: Title
    """As it is spoken: "uterine count"."""
    leaves_out: tuple[Group, ...] = ()
    """Groups that are not counted in it."""
    unless_open: StrictBool = False
    """Whether they are counted after all when the operation has turned open."""


DEFAULT_PLAN: tuple[PlannedCount, ...] = (
    PlannedCount(id="initial", kind=CountKind.INITIAL, say="initial count"),
    PlannedCount(id="closing", kind=CountKind.CLOSING, say="closing count"),
    PlannedCount(id="final", kind=CountKind.FINAL, say="final count"),
)
"""Before the case, before the wound is closed, at the end (WHO Guidelines for Safe Surgery 2009,
from memory: at least the first and the last)."""


def _planned(plan: tuple[PlannedCount, ...]) -> tuple[PlannedCount, ...]:
    if not plan or plan[0].kind is not CountKind.INITIAL:
        raise ValueError("begins with a count of kind 'initial'; put it first")
    if any(count.kind is CountKind.INITIAL for count in plan[1:]):
        raise ValueError("has two counts of kind 'initial'; keep the first")
    if any(count.kind not in PLANNED for count in plan):
        raise ValueError(f"holds only the kinds {', '.join(sorted(PLANNED))}; take others out")
    if plan[0].id != "initial":
        raise ValueError("the initial count has the id 'initial'; write it so")
    for what, seen in (
        ("id", [count.id for count in plan]),
        ("spoken name", [count.say.lower() for count in plan]),
    ):
        if len(set(seen)) < len(seen):
            raise ValueError(f"has a count that uses the {what} of another; give each its own")
    return plan


Plan = Annotated[tuple[PlannedCount, ...], AfterValidator(_planned)]
"""A whole plan: the initial count first, no id and no name twice."""
