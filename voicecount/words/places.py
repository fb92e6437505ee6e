"""Where things are counted and searched for: ids, spoken phrases, and names for screens.

"On the field" and "off the field" differ by one weak sound, so what has left the field is called
"counted off" here.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Place:
    """A place in the room."""

    id: str
    phrases: tuple[str, ...]
    """The first one is the one that is spoken by the assistant."""
    label: str
    """As it stands on a screen or in print."""


PLACES: tuple[Place, ...] = (
    Place("wound", ("in the wound",), "wound"),
    Place("field", ("on the field",), "field"),
    Place("mayo", ("on the mayo stand", "on the mayo"), "Mayo stand"),
    Place("back_table", ("on the back table",), "back table"),
    Place("off_field", ("counted off", "among those counted off"), "off the field"),
    Place("drapes", ("in the drapes",), "drapes"),
    Place("waste", ("in the waste",), "waste"),
    Place("linen", ("in the linen",), "linen"),
    Place("floor", ("on the floor",), "floor"),
)
"""Every place; the places of a count and of a search are chosen from these by policy."""

BY_ID: dict[str, Place] = {place.id: place for place in PLACES}
