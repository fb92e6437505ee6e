"""Every sentence of a whole case: counts, incidents, differences, people. See wording.py.

They tell what was stored and what is expected. None blames, and none reassures.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from voicecount.count.events import CountResult, Difference, Incident, Settled, Step
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


# Forms: what is asked, what is read before both agree


QUESTIONS: Mapping[str, str] = {
    "item": "Which item, and how many?",
    "number": "How many?",
    "fragments": "How many fragments?",
    "pieces": "How many pieces are there?",
    "printed": "What number is printed on it?",
    "held": "How many did it hold?",
    "reason": "For which reason?",
    "plan": "When does it come out?",
    "site": "Where in the patient?",
    "where": "Where was it found?",
    "decision": "What was decided?",
    "outgoing": "Who goes?",
    "incoming": "Who comes?",
    "image": "What is seen on the image?",
    "reader": "Who read it?",
}
"""What is asked for each blank."""

_ONE_BLANK = frozenset({"reason", "plan", "decision", "image", "reader"})


def ask_slot(slot: str, answers: Sequence[str]) -> str:
    """Ask for one blank; a few fixed answers are said with the question."""
    question = QUESTIONS[slot]
    if slot in _ONE_BLANK and answers:
        return f"{question} Say: {'; or: '.join(answers)}."
    return question


INCIDENTS: Mapping[Incident, str] = {
    Incident.DROPPED: "{what}, dropped. It stays in the count.",
    Incident.CUT: "{what}, cut in two. Two entries for each from now on.",
    Incident.BROKEN: "{one}, broken, in {within} fragments. Each is an entry.",
    Incident.INCOMPLETE: "{one}, incomplete. Pieces there, {n}.",
    Incident.TUCKED: "{what}, tucked in, {site}. To come out.",
    Incident.CAME_OUT: "{what}, out of the patient.",
    Incident.PACKED: "{what}, left inside on purpose, {site}. {reason}.",
    Incident.OLD_PACKING_OUT: "{what}, packing of an earlier operation. Not in this count.",
    Incident.OTHER_NUMBER: "{name}. Printed, {printed}. In the pack, {n}.",
    Incident.HANDED_OVER: "{what}, out of the count. {reason}.",
    Incident.COUNTED_OFF: "{what}, off the field, in one group.",
    Incident.ONE_TOO_MANY: "{these}, {within} too many.",
    Incident.ADDED: "{these}, {within} added.",
}
"""What happened, read before both agree and again from the record."""


@dataclass(frozen=True)
class Told:
    """What an incident is about; ``site`` and ``reason`` are phrases."""

    item: Item
    n: int
    printed: int = 0
    site: str = ""
    reason: str = ""


def incident(kind: Incident, told: Told) -> str:
    """Tell of an incident."""
    return capital(
        INCIDENTS[kind].format(
            what=counted(told.item, told.n),
            one=name(told.item, 1),
            name=name(told.item),
            these=name(told.item, told.n),
            n=number(told.n),
            within=within(told.n),
            printed=number(told.printed),
            site=told.site,
            reason=capital(told.reason),
        )
    )


def expected_now(n: int) -> str:
    """Say what is expected from now on."""
    return f"Expected now, {number(n)}."


def other_says_number() -> str:
    """Ask the other person for the number."""
    return "The other one of you, say the number."


def other_says_yes() -> str:
    """Ask the other person to agree."""
    return "The other one of you, say: yes that is right, or no."


def both_say_yes() -> str:
    """Ask both people to agree."""
    return "Each of you, say: yes that is right, or no."


def not_kept() -> str:
    """Say that nothing was kept of what was told."""
    return "Nothing of it is kept."


def numbers_differ(told: int, said: int) -> str:
    """Say that two people gave two numbers."""
    return f"Heard {within(told)} and {number(said)}. Nothing of it is kept. Look, and tell again."


def cannot_be(item: Item, n: int, expected: int | None) -> str:
    """Say that a number does not fit what is expected."""
    now = "" if expected is None else f" Expected now, {number(expected)}."
    return f"{sentence(counted(item, n))} That does not fit.{now} Nothing of it is kept."


# Differences


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


def _to_search(place: str | None) -> str:
    if place is None:
        return "everywhere"
    if place == "off_field":
        return "what was counted off"
    return f"the {BY_ID[place].label}"


def _comma(place: str | None) -> str:
    return "" if place is None else f", {at_place(place)}"


def _from(who: str | None) -> str:
    return "" if who is None else f", from {who}"


def _to(who: str | None) -> str:
    return "" if who is None else f" to {who}"


def _added(item: Item, n: int) -> str:
    """Give an item with how many were added: "lap sponges, five added"."""
    return f"{name(item, n)}, {within(n)} added"


def _differing(item: Item, differs: Difference) -> str:
    """Name what differs: an item, what was counted off of it, or its pieces."""
    match differs:
        case Difference.LINE:
            return name(item)
        case Difference.PLACE:
            return f"{name(item)} counted off"
        case Difference.PIECE:
            return f"{name(item, 1)}, pieces"
