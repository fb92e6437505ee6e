"""Every sentence of a whole case: counts, people, its end. See wording.py.

They tell what was stored and what is expected. None blames, and none reassures.
"""

from collections.abc import Mapping, Sequence

from voicecount.count.events import CountResult
from voicecount.count.roles import Role
from voicecount.sheet.model import Item
from voicecount.talk.text import capital, listed, number, sentence, within
from voicecount.talk.wording import counted, name
from voicecount.words.places import BY_ID

ROLES: Mapping[Role, str] = {Role.SCRUB: "scrub", Role.CIRCULATOR: "circulator"}


def at_place(place: str) -> str:
    """Give a place as it is spoken: "on the Mayo stand"."""
    return BY_ID[place].phrases[0].replace("mayo", "Mayo")


def off_by(off: int) -> str:
    """Say how many are missing or over."""
    if not off:
        return "Counted again as expected."
    return f"{capital(within(abs(off)))} {'short' if off < 0 else 'too many'}."


# Counts


def count_opened(title: str, item: Item | None, place: str | None) -> str:
    """Say that a count is open, and where it begins."""
    begin = "" if item is None else f" Begin with {name(item)}{_comma(place)}."
    return f"{sentence(title)}{begin}"


def count_goes_on(title: str) -> str:
    """Say which count is open after a stop."""
    return f"The {title} is open."


def relief_count_due() -> str:
    """Say that somebody took over and the full count was not opened."""
    return "Somebody took over, and the full count is due. Say: we want a count now."


def relief_count_missing() -> str:
    """Say at the end that somebody took over and no full count followed."""
    return "Somebody took over, and no full count was held since."


def addition_opened() -> str:
    """Say that additions are taken."""
    return "Addition. Call what is added, from one, before it is used."


def next_place(item: Item, place: str, *, same: bool) -> str:
    """Say which line comes next; the name is not said again within an item."""
    if same:
        return f"Now, {at_place(place)}."
    return f"Next, {name(item)}, {at_place(place)}."


def read_back_at(item: Item, n: int, place: str, pieces: int | None) -> str:
    """Read a line of a place."""
    parts = f", in {within(pieces)} pieces" if pieces is not None and pieces > 1 else ""
    return f"{capital(name(item, n))} {at_place(place)}, {number(n)}{parts}."


def none_at(item: Item, places: Sequence[str]) -> str:
    """Read several places where there is none."""
    where = ", ".join(at_place(place) for place in places)
    return f"{capital(name(item))}, none {where}."


def not_confirmed_at(lines: Sequence[tuple[Item, int, str]]) -> str:
    """List lines that wait for their number, each with its place as it is spoken."""
    told = [f"{name(item, n)} {where}, {number(n)}" for item, n, where in lines]
    return f"Not confirmed: {listed(told, '; ')}."


def together(item: Item, n: int, inside: int, tucked: int) -> str:
    """Say what an item comes to over all places."""
    parts = [f"{capital(name(item))}, together {number(n)}"]
    parts += [f"{within(inside)} of them left in the patient on purpose"] if inside else []
    parts += [f"{within(tucked)} of them tucked in"] if tucked else []
    return sentence(", ".join(parts))


def no_initial_count(item: Item) -> str:
    """Say that there is nothing to compare with."""
    return f"No initial count of {name(item)} by both of you. It cannot be compared."


def added_now(item: Item, added: int, expected: int | None) -> str:
    """Say what was added and what is expected from now on."""
    now = "" if expected is None else f" Expected now, {number(expected)}."
    return f"{sentence(f'{_added(item, added)}, confirmed')}{now}"


def added_line(item: Item, n: int) -> str:
    """Read the line of an addition."""
    return sentence(_added(item, n))


def first_finish(title: str) -> str:
    """Answer the wish for a count while another one is open."""
    return f"The {title} is open. First say: the count is finished."


def still_to_confirm(lines: Sequence[tuple[Item, int]]) -> str:
    """Answer a finish while an addition waits for its number."""
    return f"Not confirmed: {listed([counted(*line) for line in lines])}. Say the number first."


def no_count_open() -> str:
    """Answer a call outside of a count."""
    return "No count is open, and that is not kept. For an addition, say: add to the count."


def not_in_this_count(item: Item) -> str:
    """Answer the call of an item that the plan leaves out of the open count."""
    return f"{capital(name(item))}, left out of this count by the plan. That is not kept."


def nothing_due() -> str:
    """Answer the wish for a further count of the plan."""
    return "No count of the plan is left. For another, say: we want a count now."


def counts_due(titles: Sequence[str]) -> str:
    """List the counts that were not held."""
    if not titles:
        return nothing_due()
    return f"Counts of the plan not held: {listed(titles)}."


RESULTS: Mapping[CountResult, str] = {
    CountResult.BASELINE: "Every line has its number from both of you.",
    CountResult.AGREES: "Every line has the number that is expected now.",
    CountResult.LEFT_ON_PURPOSE: (
        "Reconciled, with items left in the patient on purpose. Every line has the number that is "
        "expected now."
    ),
    CountResult.RECONCILED: "Reconciled after a difference.",
    CountResult.DIFFERS: "Not reconciled.",
    CountResult.INCOMPLETE: "Not complete.",
    CountResult.NOT_DONE: "Not done.",
}
"""What a count came to. "The two of you decide" follows it always."""


def finished(title: str, result: CountResult) -> str:
    """Say that a count is finished, and what it came to; the decision is left to people."""
    return f"{sentence(f'{title} finished')} {RESULTS[result]} The two of you decide."


def inside(lines: Sequence[tuple[Item, int, str]]) -> str:
    """List what was left in the patient on purpose."""
    told = [f"{counted(item, n)}, {where}" for item, n, where in lines]
    return f"Left in the patient on purpose: {listed(told, '; ')}."


def tucked_in(lines: Sequence[tuple[Item, int, str]]) -> str:
    """List what is tucked in and has to come out."""
    told = [f"{counted(item, n)}, {where}" for item, n, where in lines]
    return f"Tucked in, and to come out: {listed(told, '; ')}."


def addition_finished() -> str:
    """Say that additions are no longer taken."""
    return "Addition finished."


def not_found_before(n: int) -> str:
    """Say how many differences of earlier counts were closed without the item."""
    return f"In earlier counts, not found or not explained: {number(n)}."


def waived(title: str) -> str:
    """Say that a count is not done."""
    return f"{sentence(f'{title} not done')} The reason is in the record. The two of you decide."


def not_done(title: str, reason: str) -> str:
    """Read that a count is not to be done, before both agree."""
    return f"{sentence(f'{title} not done')} {capital(reason)}."


# People and the end


def changes(role: Role, outgoing: str | None, incoming: str | None) -> str:
    """Tell of a change for good."""
    return f"The {ROLES[role]} changes{_from(outgoing)}{_to(incoming)}."


def stands_in(role: Role, incoming: str | None) -> str:
    """Tell of a break."""
    who = "Somebody" if incoming is None else capital(incoming)
    return f"{who} stands in for the {ROLES[role]}."


def is_back(role: Role) -> str:
    """Tell that a break is over."""
    return f"The {ROLES[role]} is back."


def nobody_away() -> str:
    """Answer the end of a break that nobody has."""
    return "Nobody is on a break."


def off_field_so_far(lines: Sequence[tuple[Item, int]]) -> str:
    """Tell a reliever what is off the field already."""
    if not lines:
        return "Nothing was passed off the field."
    return f"Off the field so far: {listed([counted(*line) for line in lines], '; ')}."


def expected_all(lines: Sequence[tuple[Item, int]]) -> str:
    """Tell a reliever what is expected of every line."""
    return " ".join(sentence(counted(*line)) for line in lines)


def turned_open() -> str:
    """Say what changes when the operation turns open."""
    return "The operation turns open. What the plan left out is counted from now on."


def end_of_case() -> str:
    """Ask whether the record ends here."""
    return "The record ends here."


def case_closed() -> str:
    """Say that the record is closed."""
    return (
        "The record is closed. It does not replace the count of the team, the look into the "
        "wound, imaging, local policy, or your judgement."
    )


def witness(digits: str) -> str:
    """Say the digits by which people outside can witness the record."""
    return f"The record stands at: {digits}. Write it down."


def _comma(place: str | None) -> str:
    return "" if place is None else f", {at_place(place)}"


def _from(who: str | None) -> str:
    return "" if who is None else f", from {who}"


def _to(who: str | None) -> str:
    return "" if who is None else f" to {who}"


def _added(item: Item, n: int) -> str:
    """Give an item with how many were added: "lap sponges, five added"."""
    return f"{name(item, n)}, {within(n)} added"
