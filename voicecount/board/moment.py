"""What the file of this moment says, as far as a board goes by it. Pure.

Anybody may have written the file: what does not have the shape of a moment is none.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from voicecount.count.events import Step
from voicecount.count.roles import Role
from voicecount.words.places import BY_ID

_STEPS = frozenset(step.value for step in Step)
_LARGEST = 1e12
"""Of seconds and decibels; far more than any case has, far less than what cannot be shown."""
_ROLES = frozenset(role.value for role in Role)


@dataclass(frozen=True)
class Walk:
    """What the house's policy has done about a difference."""

    steps: tuple[str, ...]
    search: tuple[str, ...]
    """Ids of the places, in their order."""


def fits(now: Mapping[str, Any]) -> bool:
    """Tell whether a state has the shape that a board reads."""
    still = now.get("still", 0.0)
    if not _is_number(still) or not still >= 0.0:
        return False
    if not isinstance(now.get("unheard", []), list) or not _walk_fits(now.get("walk")):
        return False
    return all(
        part is None or (isinstance(part, dict) and _part_fits(part, number))
        for part, number in (
            (now.get("partial"), "at"),
            (now.get("heard"), "at"),
            (now.get("said"), "at"),
            (now.get("noise"), "above"),
        )
    )


def walk(now: Mapping[str, Any]) -> Walk | None:
    """Give the policy's steps; None where they are not known, as without an assistant."""
    found = now.get("walk")
    return None if found is None else Walk(tuple(found["steps"]), tuple(found["search"]))


def unheard(now: Mapping[str, Any]) -> tuple[str | None, ...]:
    """Give whose microphones are not heard; None for one of which that is not known."""
    return tuple(one if one in _ROLES else None for one in now.get("unheard", ()))


def nobody_heard(now: Mapping[str, Any], *, told_apart: bool) -> bool:
    """Tell whether no microphone is left that anybody is heard by."""
    missing = set(unheard(now))
    return missing >= _ROLES if told_apart else bool(missing)


def _walk_fits(found: object) -> bool:
    if found is None:
        return True
    if not isinstance(found, dict):
        return False
    return _all_of(found.get("steps"), _STEPS) and _all_of(found.get("search"), BY_ID)


def _all_of(found: object, known: Collection[str]) -> bool:
    return isinstance(found, list) and all(isinstance(one, str) and one in known for one in found)


def _part_fits(part: Mapping[str, Any], number: str) -> bool:
    plain = all(one is None or _is_text(one) or _is_number(one) for one in part.values())
    return plain and _is_number(part.get(number))


def _is_number(found: object) -> bool:
    """Tell whether it is a number of seconds or decibels, and none that nothing can show."""
    return isinstance(found, (int, float)) and abs(found) < _LARGEST


def _is_text(found: object) -> bool:
    """Tell whether it is a text of whole letters: half of a pair could be sent to nobody."""
    return isinstance(found, str) and not any("\ud800" <= one <= "\udfff" for one in found)
