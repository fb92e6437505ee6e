"""Every sentence of a difference: what differs, the steps, and how it ends. See wording.py."""

from collections.abc import Mapping, Sequence

from voicecount.count.events import Difference, Settled, Step
from voicecount.sheet.model import Item
from voicecount.talk.text import capital, listed, number, sentence, within
from voicecount.talk.wording import counted, name
from voicecount.talk.wording_case import at_place, off_by
from voicecount.words.places import BY_ID


def discrepancy(item: Item, n: int, expected: int) -> str:
    """Say what differs, at once."""
    return f"{sentence(counted(item, n))} Expected, {number(expected)}. {off_by(n - expected)}"


def discrepancy_off_field(item: Item, n: int, passed: int) -> str:
    """Say that fewer are counted off than were passed off."""
    return (
        f"{capital(name(item))}, counted off, {number(n)}. Passed off the field before, "
        f"{number(passed)}."
    )


def discrepancy_pieces(item: Item, n: int, pieces: int) -> str:
    """Say that pieces are missing."""
    return f"{capital(name(item, 1))}. Pieces there, {number(n)}. Expected, {number(pieces)}."


def last_right(title: str, minutes: int, places: Sequence[tuple[str, int]]) -> str:
    """Say when and where the number last was as expected."""
    ago = f"{within(min(max(minutes, 0), 199))} minute{'' if minutes == 1 else 's'} ago"
    when = "just before" if minutes < 1 else ago
    where = "; ".join(f"{at_place(place)}, {number(n)}" for place, n in places)
    return f"Last as expected in the {title}, {when}{': ' + where if where else ''}."


STEPS: Mapping[Step, str] = {
    Step.PAUSE: "Closing pauses. Then say: that has been done.",
    Step.TELL: "Tell the surgeon and the team. Then say: that has been done.",
    Step.RECOUNT: "Both count again.",
    Step.SEARCH: "Search {place}. Then say: nothing found there, or: the missing one is found.",
    Step.CHARGE: "Tell the person in charge. Then say: that has been done.",
    Step.IMAGE: (
        "Imaging, as local policy says. Then say: that has been done, or: that cannot be done."
    ),
}
"""What each step asks for."""


def step(which: Step, place: str | None) -> str:
    """Announce a step."""
    return STEPS[which].format(place=_to_search(place))


def ask_for_a_count() -> str:
    """Tell how a recount is begun where no count with places is open."""
    return "For that, say: we want a count now."


def outcome(*, short: bool) -> str:
    """Ask how it ends, when all steps are done."""
    if short:
        return "Say: the missing one is found; or: it stays missing; or: we can explain it."
    return "Say: we can explain it; or: it stays unexplained."


def first_step(text: str) -> str:
    """Answer an outcome that comes before the steps."""
    return f"Steps are open. {text}"


def no_discrepancy() -> str:
    """Answer a step when nothing differs."""
    return "No difference is open."


def found_read(item: Item, n: int, place: str) -> str:
    """Read what was found, before both agree."""
    return f"Found: {counted(item, n)}, {at_place(place)}."


def missing_read(item: Item, differs: Difference, off: int, decision: str) -> str:
    """Read that something was not found and what was decided."""
    return f"{capital(_differing(item, differs))}, {off_by(off).lower()} {capital(decision)}."


EXPLAINED: Mapping[Difference, str] = {
    Difference.LINE: "{reason}. {these}, expected from now on, {n}.",
    Difference.PLACE: "{reason}. {these}, passed off the field, {n}.",
    Difference.PIECE: "{reason}. {one}. Pieces there, {n}.",
}
"""What both give as the mistake in the number itself."""


def explained_read(item: Item, differs: Difference, n: int, reason: str) -> str:
    """Read that the number to compare with was itself not right."""
    return EXPLAINED[differs].format(
        reason=capital(reason),
        these=capital(name(item)),
        one=capital(name(item, 1)),
        n=number(n),
    )


def recounted_read(item: Item, n: int) -> str:
    """Read that a recount came to what is expected."""
    return f"{capital(name(item))}, counted again, {number(n)}. Expected, {number(n)}."


SETTLED: Mapping[Settled, str] = {
    Settled.FOUND: "{name}, closed by both: found.",
    Settled.RECOUNTED: "{name}, closed by both: counted again.",
    Settled.NOT_FOUND: "{name}, not found. It stays in the record.",
    Settled.EXPLAINED: "{name}, closed by both: explained.",
}
"""How a difference was closed."""


def settled(item: Item, how: Settled, *, over: bool) -> str:
    """Say how a difference was closed; what is over is not found, but not explained."""
    if over and how is Settled.NOT_FOUND:
        return f"{capital(name(item))}, too many, not explained. It stays in the record."
    return capital(SETTLED[how].format(name=name(item)))


def open_discrepancies(lines: Sequence[tuple[Item, Difference, int]]) -> str:
    """List the differences that are open."""
    told = [
        f"{_differing(item, differs)}, {off_by(off)[:-1].lower()}" for item, differs, off in lines
    ]
    return f"Open: {listed(told, '; ')}."


def were_not_explained(names: Sequence[str]) -> str:
    """List what was over, and was closed without an explanation."""
    return f"Too many, not explained: {listed(names)}."


def were_not_found(names: Sequence[str]) -> str:
    """List what was closed without the item."""
    return f"Not found: {listed(names)}."


def _to_search(place: str | None) -> str:
    if place is None:
        return "everywhere"
    if place == "off_field":
        return "what was counted off"
    return f"the {BY_ID[place].label}"


def _differing(item: Item, differs: Difference) -> str:
    """Name what differs: an item, what was counted off of it, or its pieces."""
    match differs:
        case Difference.LINE:
            return name(item)
        case Difference.PLACE:
            return f"{name(item)} counted off"
        case Difference.PIECE:
            return f"{name(item, 1)}, pieces"
