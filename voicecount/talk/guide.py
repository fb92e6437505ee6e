"""What comes next: the line to be counted, or the step of an open difference."""

from voicecount.count.discrepancy import Discrepancy
from voicecount.count.events import Step
from voicecount.count.standing import Ledger
from voicecount.count.tally import State
from voicecount.sheet.model import Sheet
from voicecount.talk import wording_case, wording_differences
from voicecount.talk.scene import next_key


def current(ledger: Ledger) -> Discrepancy | None:
    """Give the difference that is walked through now: the oldest that is open."""
    return next(iter(ledger.discrepancies.values()), None)


def step_of(sheet: Sheet, discrepancy: Discrepancy) -> tuple[Step | None, str | None]:
    """Give the step that comes next, and the place to be searched."""
    policy = sheet.policy
    step = discrepancy.next_step(policy.steps, policy.search)
    place = discrepancy.next_place(policy.search) if step is Step.SEARCH else None
    return step, place


def walk(sheet: Sheet, ledger: Ledger) -> str:
    """Say what is to be done about the difference in hand; nothing while it is counted again."""
    discrepancy = current(ledger)
    if discrepancy is None:
        return ""
    step, place = step_of(sheet, discrepancy)
    if step is None:
        return wording_differences.outcome(short=discrepancy.off < 0)
    said = wording_differences.step(step, place)
    if step is Step.RECOUNT and ledger.places:
        return f"{said} {next_line(sheet, ledger)}".strip()
    return f"{said} {wording_differences.ask_for_a_count()}" if step is Step.RECOUNT else said


def next_line(sheet: Sheet, ledger: Ledger) -> str:
    """Say which line of a count with places is next; nothing when none is left."""
    key = next_key(ledger)
    if key is None or key.place is None:
        return ""
    last = ledger.last
    again = ledger.tally(*key).state is State.RECOUNT
    same = last is not None and last.item == key.item and not again
    return wording_case.next_place(sheet.item(key.item), key.place, same=same)


def guidance(sheet: Sheet, ledger: Ledger, *, step_begins: bool = False) -> str:
    """Say what comes next in a count with places: the walk first, then the lines.

    Within a recount only its next line is said, but for the moment when it begins.
    """
    discrepancy = current(ledger)
    if discrepancy is not None:
        step, _ = step_of(sheet, discrepancy)
        if step is not Step.RECOUNT or not ledger.places or step_begins:
            return walk(sheet, ledger)
    return next_line(sheet, ledger)
