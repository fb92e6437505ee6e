"""Choices that a seed makes: the same for ever, on every machine. Pure."""

import hashlib
from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

_One = TypeVar("_One")


class Seeded:
    """Each choice depends on the seed and on what is chosen, not on the choices before it."""

    def __init__(self, seed: str) -> None:
        self._seed = seed

    def _value(self, what: str) -> int:
        return int.from_bytes(hashlib.sha256(f"{self._seed}/{what}".encode()).digest()[:8], "big")

    def whole(self, least: int, most: int, what: str) -> int:
        """Give a whole number from ``least`` to ``most``, both included."""
        return least + self._value(what) % (most - least + 1)

    def one(self, things: Sequence[_One], what: str) -> _One:
        """Give one of some things."""
        return things[self._value(what) % len(things)]

    def some(
        self, things: Iterable[_One], most: int, name: Callable[[_One], str], what: str = ""
    ) -> list[_One]:
        """Give up to so many of some things, in the order in which the seed puts their names."""
        order = sorted(things, key=lambda one: (self._value(f"{what}/{name(one)}"), name(one)))
        return order[:most]
