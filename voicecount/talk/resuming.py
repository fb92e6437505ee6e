"""The first words after a stop of the program: where the case stands, and what comes next."""

from itertools import takewhile

from voicecount.count.plan import due
from voicecount.count.roles import Role
from voicecount.count.standing import Ledger
from voicecount.count.tally import State
from voicecount.sheet.model import Item
from voicecount.sheet.plan import CountKind
from voicecount.talk import guide, wording, wording_case
from voicecount.talk.points import open_differences
from voicecount.talk.reply import Reply, ReplyKind
from voicecount.talk.scene import Filling, Scene, next_key
from voicecount.talk.walk import agreement


def resumed(scene: Scene) -> Scene:
    """Give the scene of a case that goes on, with what is said first in ``said``."""
    ledger = scene.ledger
    said = [wording.resumed(scene.sheet.title)]
    if ledger.closed:
        reply = Reply(f"{said[0]} {wording_case.case_closed()}", ReplyKind.NOTICE)
        return scene.but(said=reply)
    said += _where(scene)
    again = ledger.keys(State.RECOUNT)
    if again and not ledger.places:
        items = dict.fromkeys(key.item for key in again)
        said.append(wording.again([scene.item(item) for item in items]))
        scene = scene.but(again=again[0])
    said += _passed_over(scene)
    said += open_differences(scene.sheet, ledger)
    waiting = ledger.waiting()
    if waiting:
        lines = [(scene.item(key.item), ledger.tally(*key).total) for key in waiting]
        if lines[1:]:
            said.append(wording.not_yet_confirmed(lines[:-1]))
        said.append(wording.still_waits(*lines[-1]))
        scene = scene.but(read=waiting[-1])
    question = agreement(scene)
    if question is not None:
        text = " ".join(part for part in (*said, question) if part)
        scene = scene.but(filling=Filling("recounted", None, ready=True))
        return scene.but(said=Reply(text, ReplyKind.QUESTION, tone=True))
    if ledger.places or ledger.discrepancies:
        said.append(guide.guidance(scene.sheet, ledger, step_begins=True))
        scene = scene.but(again=next_key(ledger) if ledger.places else None)
    speak_next = Role.CIRCULATOR if waiting else Role.SCRUB
    text = " ".join(part for part in said if part)
    return scene.but(said=Reply(text, ReplyKind.NOTICE, speak_next))


def _where(scene: Scene) -> list[str]:
    """Say whether it listens, what is due, and which count is open."""
    ledger = scene.ledger
    said = [wording.standing_by()] if ledger.standing_by else []
    if ledger.relief_due and scene.sheet.policy.relief_counts:
        said.append(wording_case.relief_count_due())
    if ledger.finished:
        said.append(wording_case.counts_due([count.say for count in due(ledger)]))
    elif ledger.count is not None and ledger.kind is not CountKind.INITIAL:
        said.append(wording_case.count_goes_on(ledger.count.title))
    return said


def _passed_over(scene: Scene) -> list[str]:
    """Say which lines of an initial count were passed over, and which is next."""
    ledger = scene.ledger
    following = _next(scene, ledger)
    if following is None or ledger.kind is not CountKind.INITIAL:
        return []
    passed = takewhile(lambda key: key.item != following.id, ledger.left())
    over = [scene.item(key.item) for key in passed]
    said = [wording.left(over)] if over else []
    return [*said, wording.next_item(following)]


def _next(scene: Scene, ledger: Ledger) -> Item | None:
    """Give the first line left after the one called last, else the first one left."""
    order = list(ledger.items)
    last = -1 if ledger.last is None else order.index(ledger.last.item)
    left = [key.item for key in ledger.left()]
    after = [item for item in left if order.index(item) > last]
    return scene.item((after or left)[0]) if left else None
