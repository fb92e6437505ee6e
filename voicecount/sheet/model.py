"""The count sheet: what is counted, in which order, by which names, and the policy of the room.

docs/sheet.md is the reference of all fields for people.
"""

import hashlib
from collections.abc import Mapping
from typing import Annotated, Any, TypeVar

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

from voicecount.sheet.plan import DEFAULT_PLAN, Group, Plan
from voicecount.sheet.policy import FIRST_FIELDS, Policy
from voicecount.words.choices import SITES, Choice
from voicecount.words.numbers import LARGEST
from voicecount.words.plurals import plural
from voicecount.words.pronounce import PHONES

Text = Annotated[StrictStr, StringConstraints(strip_whitespace=True, min_length=1)]
Slug = Annotated[StrictStr, StringConstraints(pattern=r"^[a-z][a-z0-9_-]*$")]
"""A short name for files and records: small letters, digits, "_" and "-"."""
Count = Annotated[StrictInt, Field(ge=0, le=LARGEST)]
AtLeastOne = Annotated[StrictInt, Field(ge=1, le=LARGEST)]


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


class SheetPerson(_Model):
    """Someone of the team who may take over; ``say`` is how the name is spoken."""

    id: Slug
    say: Text


class Site(_Model):
    """A site in the patient where something can be tucked in or left."""

    id: Slug
    say: Text


class Sheet(_Model):
    """A count sheet. The order of the items is the order of the count."""

    title: Text
    procedure: Text | None = None
    items: Annotated[tuple[Item, ...], AfterValidator(_not_empty)]
    not_counted: tuple[NotCounted, ...] = ()
    plan: Plan = DEFAULT_PLAN
    """The counts of the case, in their order."""
    sites: tuple[Site, ...] = ()
    """Sites in the patient; none for the usual ones."""
    team: tuple[SheetPerson, ...] = ()
    """People who may take over by voice; without them a change is kept without names."""
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
    def ways(self) -> frozenset[str]:
        """Every way in which a line's name is spoken, singular and plural."""
        return frozenset(
            way for item in self.items for say in item.say for way in (say.one, say.many)
        )

    @property
    def where_inside(self) -> tuple[Choice, ...]:
        """The sites that can be said: the sheet's own, or the usual ones."""
        return tuple(Choice(site.id, (site.say,)) for site in self.sites) or SITES

    @property
    def people(self) -> tuple[Choice, ...]:
        """The people that can be named."""
        return tuple(Choice(person.id, (person.say,)) for person in self.team)

    @property
    def digest(self) -> str:
        """SHA-256 of all in it that is no default, in hex: sheets with one digest say the same."""
        return _sha256(self.model_dump_json(exclude_defaults=True))

    @property
    def first_digest(self) -> str:
        """The same as the first version took it, over the fields that it had."""
        fields: Any = {
            **dict.fromkeys(("title", "procedure", "items", "not_counted"), True),
            "policy": FIRST_FIELDS,
        }
        return _sha256(self.model_dump_json(include=fields))

    def __hash__(self) -> int:
        return hash(self.digest)


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
