"""The forms that are filled in by voice: which blanks each has, and what becomes of it.

A form is begun by a command, filled in blank by blank, read back, and kept only when the other
person has said its number, or yes where it has none.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from voicecount.count.events import Incident
from voicecount.sheet.model import Sheet
from voicecount.words import choices
from voicecount.words.choices import Choice

NUMBERS = frozenset({"number", "fragments", "pieces", "printed", "held"})
"""Blanks that hold a number."""


@dataclass(frozen=True)
class Blank:
    """One form."""

    slots: tuple[str, ...] = ()
    answers: Mapping[str, tuple[Choice, ...]] = field(default_factory=lambda: MappingProxyType({}))
    """The fixed answers of a slot, where it has some that do not come from the sheet."""
    incident: Incident | None = None
    both: bool = True
    """Whether the other person has to agree; a step that people did is told by one."""

    @property
    def number(self) -> str | None:
        """The slot whose number the other person has to say."""
        return next((slot for slot in reversed(self.slots) if slot in NUMBERS), None)


def _incident(kind: Incident, *slots: str, **answers: tuple[Choice, ...]) -> Blank:
    return Blank(("item", *slots), MappingProxyType(answers), kind)


BLANKS: Mapping[str, Blank] = MappingProxyType(
    {
        "dropped": _incident(Incident.DROPPED, "number"),
        "cut": _incident(Incident.CUT, "number"),
        "broken": _incident(Incident.BROKEN, "fragments"),
        "incomplete": _incident(Incident.INCOMPLETE, "pieces"),
        "tucked": _incident(Incident.TUCKED, "number", "site"),
        "untucked": _incident(Incident.CAME_OUT, "number"),
        "packed": _incident(Incident.PACKED, "number", "site", "plan", plan=choices.REMOVAL),
        "packing_out": _incident(Incident.OLD_PACKING_OUT, "number"),
        "other_number": _incident(Incident.OTHER_NUMBER, "printed", "held"),
        "hand_over": _incident(Incident.HANDED_OVER, "number", "reason", reason=choices.HAND_OVER),
        "count_off": _incident(Incident.COUNTED_OFF, "number"),
        "one_too_many": _incident(Incident.ONE_TOO_MANY, "number"),
        "add": _incident(Incident.ADDED, "number"),
        "waive": Blank(("reason",), MappingProxyType({"reason": choices.WAIVE})),
        "turn_open": Blank(),
        "change_scrub": Blank(("outgoing", "incoming")),
        "change_circulator": Blank(("outgoing", "incoming")),
        "break_scrub": Blank(("incoming",)),
        "break_circulator": Blank(("incoming",)),
        "back": Blank(),
        "end_case": Blank(),
        "found": Blank(("where", "number"), MappingProxyType({"where": choices.WHERE})),
        "stays_missing": Blank(("decision",), MappingProxyType({"decision": choices.DECISION})),
        "explained": Blank(("reason",), MappingProxyType({"reason": choices.EXPLAINED})),
        "recounted": Blank(),
        "image": Blank(
            ("image", "reader"),
            MappingProxyType({"image": choices.IMAGE, "reader": choices.READER}),
            both=False,
        ),
        "no_image": Blank(("reason",), MappingProxyType({"reason": choices.NO_IMAGE}), both=False),
    }
)
"""Every form, by the command that begins it or the step that it belongs to."""


def answers(sheet: Sheet, form: str, slot: str) -> tuple[Choice, ...]:
    """Give the answers that a slot allows; none where it takes an item or a number."""
    if slot == "site":
        return sheet.where_inside
    if slot in {"outgoing", "incoming"}:
        return sheet.people
    return BLANKS[form].answers.get(slot, ())


def phrase(sheet: Sheet, form: str, slot: str, choice: str | None) -> str:
    """Give the words of an answer; the id itself for one that is not known."""
    found = (one for one in answers(sheet, form, slot) if one.id == choice)
    return next((one.phrases[0] for one in found), choice or "")


def open_slots(form: str, filled: Sequence[str], sheet: Sheet) -> tuple[str, ...]:
    """Give the slots that are still blank; names are left out where there is no team."""
    return tuple(
        slot
        for slot in BLANKS[form].slots
        if slot not in filled and not (slot in {"outgoing", "incoming"} and not sheet.people)
    )
