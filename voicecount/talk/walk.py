"""The walk through an open difference: each step is announced, done by people, told by voice."""

from voicecount.count.events import Difference, Step, StepTold, Why
from voicecount.count.roles import Role
from voicecount.count.standing import Ledger
from voicecount.count.tally import State
from voicecount.talk import guide, wording_differences, wording_forms
from voicecount.talk.recount import recount_all
from voicecount.talk.reply import ReplyKind
from voicecount.talk.scene import Filling, Scene, Turn


def advance(turn: Turn, now: float) -> Turn:
    """Bring about what the next step needs: lines to be counted again, or the words of both."""
    ledger = turn.scene.ledger
    discrepancy = guide.current(ledger)
    if discrepancy is None:
        return turn
    if _being_counted(ledger, discrepancy.item):
        return turn  # what it comes to is known when all of it is counted
    step, _ = guide.step_of(turn.scene.sheet, discrepancy)
    if step is Step.RECOUNT:
        if not ledger.places:
            return turn
        return recount_all(turn, now, Why.DIFFERS, _again(turn.scene, discrepancy.item))
    question = agreement(turn.scene)
    if question is None or turn.scene.filling is not None:
        return turn
    return turn.but(filling=Filling("recounted", None, ready=True)).ask(question)


def _again(scene: Scene, item: str) -> set[str]:
    """Give the items that are counted again with one, by policy."""
    scope = scene.sheet.policy.recount
    group = scene.item(item).group
    return {
        one.id
        for one in scene.sheet.items
        if scope == "count" or one.id == item or (scope == "group" and one.group is group)
    }


def agreement(scene: Scene) -> str | None:
    """Give the question to both when the recount of the difference in hand came out as expected."""
    ledger = scene.ledger
    discrepancy = guide.current(ledger)
    if discrepancy is None or discrepancy.off:
        return None
    counted_again = any(told.step is Step.RECOUNT for told in discrepancy.steps)
    if not counted_again or _being_counted(ledger, discrepancy.item):
        return None
    text = wording_differences.recounted_read(scene.item(discrepancy.item), discrepancy.counted)
    by_line = discrepancy.opened.differs is Difference.LINE
    return f"{text if by_line else ''} {wording_forms.both_say_yes()}".strip()


def _being_counted(ledger: Ledger, item: str) -> bool:
    """Tell whether a place of an item has no number by both in a count with places."""
    due = ledger.keys(State.LEFT, State.WAITING, State.RECOUNT) if ledger.places else ()
    return any(key.item == item for key in due)


def tell_step(turn: Turn, answer: str, role: Role | None, now: float) -> Turn:
    """Record a step that a person says is done, or not done."""
    discrepancy = guide.current(turn.scene.ledger)
    if discrepancy is None:
        return turn.say(wording_differences.no_discrepancy(), ReplyKind.ANSWER)
    step, place = guide.step_of(turn.scene.sheet, discrepancy)
    plain = step in {Step.PAUSE, Step.TELL, Step.CHARGE}
    fits = {"done": plain, "nothing": step is Step.SEARCH, "not_done": step is not None}
    if step is None or not fits[answer] or (step is Step.RECOUNT and turn.scene.ledger.places):
        return turn.ask(guide.walk(turn.scene.sheet, turn.scene.ledger))
    told = StepTold(
        at=now,
        by=role,
        discrepancy=discrepancy.number,
        step=step,
        answer=answer,
        where=place,
        reason="other_reason" if answer == "not_done" else None,
    )
    return advance(turn.record(told), now)
