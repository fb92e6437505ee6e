"""The two people of a count."""

from enum import StrEnum


class Role(StrEnum):
    """Who speaks. ``None`` in its place means: not known, as on a single channel."""

    SCRUB = "scrub"
    """Handles the items and calls the lines."""
    CIRCULATOR = "circulator"
    """Sees the items and confirms each line with its number."""


def other(role: Role | None) -> Role | None:
    """Give the other one of the two; None stays None."""
    if role is None:
        return None
    return Role.CIRCULATOR if role is Role.SCRUB else Role.SCRUB
