"""The graph of what may be said: tokens, arcs, and the little of a sheet that it is made of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import Protocol

Phones = tuple[str, ...]
"""One pronunciation: ARPAbet phones without stress."""


class Tag(StrEnum):
    """What a token is."""

    ITEM = "item"
    NUMBER = "number"
    PIECES = "pieces"
    NONE = "none"
    TOTAL = "total"
    COMMAND = "command"
    NOT_COUNTED = "not_counted"
    LINK = "link"
    PLACE = "place"
    CHOICE = "choice"


_OF_A_SHEET = {Tag.ITEM, Tag.NOT_COUNTED, Tag.COMMAND, Tag.CHOICE}


@dataclass(frozen=True)
class Token:
    """Words that belong together, and what they stand for."""

    tag: Tag
    words: tuple[str, ...]
    value: str | int | None = None
    """NUMBER: the value of one number word. Whatever names something: its id. Else None."""


@dataclass(frozen=True)
class Arc:
    """One token said between two states."""

    source: int
    target: int
    token: Token


@dataclass(frozen=True)
class Grammar:
    """The graph. Hashable and comparable, so that what is built from it can be kept."""

    arcs: tuple[Arc, ...]
    start: int
    finals: frozenset[int]
    names: tuple[Token, ...]
    """Every spoken name once, singular and plural: ITEM and NOT_COUNTED, in sheet order."""
    sounds: tuple[tuple[str, tuple[Phones, ...]], ...] = ()
    """The sheet's own pronunciations, by word."""
    spelled: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Further spellings of a name or a part of it, by its words: what a text decoder writes when
    it hears them. Learned by a rehearsal; never a reading of its own."""

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash((self.arcs, self.start, self.finals, self.sounds, self.spelled))

    @cached_property
    def words(self) -> frozenset[str]:
        """Every word that can be said."""
        return frozenset(word for arc in self.arcs for word in arc.token.words)

    @cached_property
    def name_words(self) -> frozenset[str]:
        """Every word of a name."""
        return frozenset(word for name in self.names for word in name.words)

    @cached_property
    def frame_words(self) -> frozenset[str]:
        """Every word that stands around names: numbers, "none", "total", "pieces", and links."""
        around = (arc.token for arc in self.arcs if arc.token.tag not in _OF_A_SHEET)
        return frozenset(word for token in around for word in token.words)

    @cached_property
    def out(self) -> Mapping[int, tuple[Arc, ...]]:
        """The arcs that leave each state."""
        arcs: dict[int, list[Arc]] = {}
        for arc in self.arcs:
            arcs.setdefault(arc.source, []).append(arc)
        return {state: tuple(leaving) for state, leaving in arcs.items()}

    @cached_property
    def by_first_word(self) -> Mapping[tuple[int, str], tuple[Arc, ...]]:
        """The arcs that leave a state with a word."""
        arcs: dict[tuple[int, str], list[Arc]] = {}
        for arc in self.arcs:
            arcs.setdefault((arc.source, arc.token.words[0]), []).append(arc)
        return {key: tuple(leaving) for key, leaving in arcs.items()}

    def names_of(self, item: str) -> tuple[tuple[str, ...], ...]:
        """Give the words of every name of an item."""
        return tuple(name.words for name in self.names if name.value == item)


class Spoken(Protocol):
    """A spoken name, one and many."""

    @property
    def one(self) -> str: ...  # noqa: D102

    @property
    def many(self) -> str: ...  # noqa: D102


class Named(Protocol):
    """Something with spoken names: all that the grammar sees of a line of the sheet."""

    @property
    def id(self) -> str: ...  # noqa: D102

    @property
    def say(self) -> Sequence[Spoken]: ...  # noqa: D102

    @property
    def sounds(self) -> Mapping[str, Sequence[Phones]]: ...  # noqa: D102


class Names(Protocol):
    """The names of a sheet."""

    @property
    def items(self) -> Sequence[Named]: ...  # noqa: D102

    @property
    def not_counted(self) -> Sequence[Named]: ...  # noqa: D102
