"""What a hospital decides: every rule of counting that published sources differ on.

Each default has its reason and its source beside it. None of them is law: local policy and
licensed judgement come first. ``voicecount policy`` prints all of this as a file to be edited.
"""

from typing import Annotated, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    StrictBool,
    StrictInt,
    StrictStr,
    StringConstraints,
)

from voicecount.words.places import BY_ID

Seconds = Annotated[float, Field(ge=0.3, le=30.0)]


def _places(ids: tuple[str, ...]) -> tuple[str, ...]:
    if not ids:
        raise ValueError("is empty; name at least one place")
    for place in ids:
        if place not in BY_ID:
            raise ValueError(f"{place!r} is no place; use {', '.join(BY_ID)}")
    if len(set(ids)) < len(ids):
        raise ValueError("names a place twice; keep one")
    return ids


PlaceIds = Annotated[tuple[str, ...], AfterValidator(_places)]

StepName = Literal["pause", "tell", "recount", "search", "charge", "image"]


def _steps(steps: tuple[StepName, ...]) -> tuple[StepName, ...]:
    if len(set(steps)) < len(steps):
        raise ValueError("names a step twice; keep one")
    return steps


class Policy(BaseModel):
    """What a hospital decides; each default is on the careful side."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    yes_confirms: StrictBool = Field(
        default=False,
        description='Whether "yes" alone confirms a line. No by default: a check-back says the'
        " thing itself (TeamSTEPPS check-back).",
    )
    interrupted: Literal["line", "group", "count"] = Field(
        default="line",
        description="What is counted again after an interruption. Published rules differ (WHO 2009,"
        " from memory: the count; a hospital audit checklist: the item in hand). The line, because"
        " every line before it was stored and confirmed by both.",
    )
    glance: Annotated[StrictInt, Field(ge=1, le=20)] = Field(
        default=4,
        description="The largest number said before a name that is taken without counting one by"
        " one. Common practice, no source: up to about four are seen at a glance.",
    )
    settle_seconds: Seconds = Field(
        default=1.5,
        description="How long a line stays open for a run that goes on after a breath. Our choice.",
    )
    pack_settle_seconds: Seconds = Field(
        default=4.0,
        description="The same while a package is short of its number: a hand is still at it. Our"
        " choice.",
    )
    wrong_per_thousand: Annotated[float, Field(gt=0, le=100, strict=False)] = Field(
        default=3.0,
        description="How many numbers in a thousand accepted ones may be misheard, over all the"
        " noise that was measured; fewer are asked about more often. Our choice.",
    )
    places: PlaceIds = Field(
        default=("field", "mayo", "back_table", "off_field"),
        description="Where each line is counted in every count after the initial one, in this"
        " order. Site and field, Mayo stand, back table, off the field (a US hospital audit"
        " checklist; AST 2006, from memory).",
    )
    in_unison: StrictBool = Field(
        default=False,
        description="Whether both people count aloud at the same time, each on a channel, and a"
        " line is stored only when both counted the same (in unison: Great Ormond Street Hospital"
        " guideline). No by default: one voice is heard better than two at once.",
    )
    steps: Annotated[tuple[StepName, ...], AfterValidator(_steps)] = Field(
        default=("pause", "tell", "recount", "search", "charge", "image"),
        description="What is done about a difference, in this order: closing pauses, surgeon and"
        " team are told, both recount, search, the person in charge is told, imaging (union of"
        " published orders; open nursing course on surgical counting; US hospital policies).",
    )
    recount: Literal["item", "group", "count"] = Field(
        default="group",
        description="What both people count again after a difference: the item, all of its group,"
        " or the whole count, as far as it was counted. The group (union of published orders: the"
        " whole item group; some say all groups).",
    )
    search: PlaceIds = Field(
        default=(
            *("wound", "drapes", "field", "mayo", "back_table"),
            *("off_field", "waste", "linen", "floor"),
        ),
        description="Where a missing item is searched for, in this order: surgeon the wound; scrub"
        " drapes, field, Mayo stand and back table; circulator what is off the field, waste, linen"
        " and floor (a US hospital policy).",
    )
    relief_counts: StrictBool = Field(
        default=True,
        description="Whether a full count is due when the scrub or the circulator changes for good"
        " (AORN 2006: at permanent relief; AfPP-style text: signed by both).",
    )
    lead: Annotated[StrictStr, StringConstraints(pattern=r"^([a-z]+( [a-z]+)*)?$")] = Field(
        default="",
        description="Words that have to come before a command while no count is open, such as"
        ' "listen counter"; none by default. Our choice: a room that talks much wants one.',
    )
    tucked_counts_until: Literal["cavity", "closing"] = Field(
        default="cavity",
        description="Up to which kind of count a tucked item may still be in the patient and counts"
        " as being there; after it, it has to be out (Minnesota Hospital Association: accounted"
        " for before closure).",
    )


FIRST_FIELDS = {
    *("yes_confirms", "interrupted", "glance", "settle_seconds"),
    *("pack_settle_seconds", "wrong_per_thousand"),
}
"""The fields that a policy had in the first version of the record."""
