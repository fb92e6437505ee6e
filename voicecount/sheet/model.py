"""The count sheet: what is counted, in which order, by which names, and the policy of the room.

docs/sheet.md is the reference of all fields for people.
"""

import hashlib
from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, Literal, TypeVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictBool,
    StrictInt,
    StrictStr,
    StringConstraints,
    model_validator,
)

from voicecount.words.numbers import LARGEST
from voicecount.words.plurals import plural
from voicecount.words.pronounce import PHONES

Text = Annotated[StrictStr, StringConstraints(strip_whitespace=True, min_length=1)]
Slug = Annotated[StrictStr, StringConstraints(pattern=r"^[a-z][a-z0-9_-]*$")]
"""A short name for files and records: small letters, digits, "_" and "-"."""
Count = Annotated[StrictInt, Field(ge=0, le=LARGEST)]
AtLeastOne = Annotated[StrictInt, Field(ge=1, le=LARGEST)]
Seconds = Annotated[float, Field(ge=0.3, le=30.0)]


_Entry = TypeVar("_Entry")


def _not_empty(entries: tuple[_Entry, ...]) -> tuple[_Entry, ...]:
    if not entries:
        raise ValueError("is empty; add at least one")
    return entries


def _read_sounds(value: object) -> object:
    """Turn ``word: K IH T`` or ``word: [K IH T, ...]`` into tuples of phones without stress."""
    if not isinstance(value, Mapping):
        return value
    return {
        word.lower() if isinstance(word, str) else word: tuple(
            _read_phones(word, text) for text in _listed(texts)
        )
        for word, texts in value.items()
    }


def _listed(value: object) -> list[object]:
    return list(value) if isinstance(value, (list, tuple)) and value else [value]


def _read_phones(word: object, text: object) -> tuple[str, ...]:
    if isinstance(text, (list, tuple)):
        text = " ".join(str(phone) for phone in text)
    if not isinstance(text, str) or not text.split():
        raise ValueError(f"the sound of {word!r} must be phones such as 'K IH T N ER'")
    phones = tuple(phone.rstrip("012") for phone in text.upper().split())
    for phone in phones:
        if phone not in PHONES:
            raise ValueError(f"{phone!r} is no ARPAbet phone; use {' '.join(PHONES)}")
    return phones


Sounds = Annotated[
    dict[StrictStr, tuple[tuple[StrictStr, ...], ...]], BeforeValidator(_read_sounds)
]
"""The sheet's own pronunciations: ARPAbet phones without stress, by word."""


class Group(StrEnum):
    """The groups, in the usual order of a count (AST 2006, ORNAC: from memory)."""

    SPONGES = "sponges"
    SHARPS = "sharps"
    MISCELLANEOUS = "miscellaneous"
    INSTRUMENTS = "instruments"


class _Model(BaseModel):
    """Frozen, and closed to fields that are not known."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Spoken(_Model):
    """A spoken name, one and many, as a person writes it."""

    one: Text
    many: Text

    @model_validator(mode="before")
    @classmethod
    def _derive(cls, data: object) -> object:
        """Take a plain string, and derive the plural where it is not listed."""
        if isinstance(data, str):
            data = {"one": data}
        if not isinstance(data, Mapping):
            raise ValueError(f"must be text or {{one: ..., many: ...}}; put {data!r} in quotes")  # noqa: TRY004  (pydantic takes ValueError only)
        one = data.get("one")
        if isinstance(one, str) and one.split() and "many" not in data:
            return {**data, "many": plural(one.strip())}
        return dict(data)


class _Named(_Model):
    """Something with spoken names."""

    id: Slug
    say: Annotated[tuple[Spoken, ...], AfterValidator(_not_empty)]
    """Spoken names; the first one is read back."""
    sounds: Sounds = {}
    note: Text | None = None

    def name(self, n: int) -> str:
        """Give the first spoken name, as it goes with a number."""
        return self.say[0].one if n == 1 else self.say[0].many


class Item(_Named):
    """A line of the sheet."""

    group: Group
    expect: Count | None = None
    """How many there should be, or None where the sheet does not say."""
    pack: AtLeastOne | None = None
    """How many a package holds."""
    pieces: AtLeastOne = 1
    """How many pieces each one has."""
    stated: StrictBool = False
    """Whether a printed total may be stated instead of being counted one by one."""


class NotCounted(_Named):
    """Something on the table that is never counted; ``note`` is what a polite answer says."""


class Policy(_Model):
    """What a hospital decides; each default is on the careful side."""

    yes_confirms: StrictBool = Field(
        default=False,
        description='Whether "yes" alone confirms a line. No by default: a check-back says the'
        " thing itself (TeamSTEPPS check-back).",
    )
    interrupted: Literal["line", "group"] = Field(
        default="line",
        description="What is counted again after an interruption. Published rules differ (WHO 2009,"
        " from memory: the count; a hospital audit checklist: the item in hand).",
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


class Sheet(_Model):
    """A count sheet. The order of the items is the order of the count."""

    title: Text
    procedure: Text | None = None
    items: Annotated[tuple[Item, ...], AfterValidator(_not_empty)]
    not_counted: tuple[NotCounted, ...] = ()
    policy: Policy = Policy()

    def item(self, item_id: str) -> Item:
        """Give a line by its id. Raises KeyError."""
        for item in self.items:
            if item.id == item_id:
                return item
        raise KeyError(item_id)

    def items_in_group(self, group: Group) -> tuple[Item, ...]:
        """Give a group's lines in the order of the sheet."""
        return tuple(item for item in self.items if item.group is group)

    @property
    def digest(self) -> str:
        """SHA-256 of everything in it, in hex: two sheets with one digest say the same."""
        return hashlib.sha256(self.model_dump_json().encode()).hexdigest()

    def __hash__(self) -> int:
        return hash(self.digest)
