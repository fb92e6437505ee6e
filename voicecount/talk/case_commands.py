"""Commands of a whole case: counts, forms, and the steps of a difference."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from voicecount.count.events import Step
from voicecount.count.roles import Role
from voicecount.talk import counts, guide, wording_case, wording_differences
from voicecount.talk.blanks import BLANKS
from voicecount.talk.fill import start
from voicecount.talk.reply import ReplyKind
from voicecount.talk.scene import Scene, Turn
from voicecount.talk.walk import tell_step


def obey(scene: Scene, command: str, role: Role | None, now: float, start: float) -> Turn:
    """Do what a command of a case asks; ``start`` is the second at which its words began."""
    if command == "none_elsewhere":
        return counts.none_elsewhere(scene, role, now, start)
    if command in _DO:
        return _DO[command](scene, role, now)
    if command in BLANKS:
        return _form(scene, command, role, now)
    return Turn(scene)


def _form(scene: Scene, command: str, role: Role | None, now: float) -> Turn:
    turn = Turn(scene)
    if command == "back" and not scene.ledger.relieved:
        return turn.say(wording_case.nobody_away(), ReplyKind.ANSWER)
    if command == "waive" and counts.waived_count(scene.ledger) is None:
        return turn.say(wording_case.nothing_due(), ReplyKind.ANSWER)
    return start(turn, command, role, now)


def _done(scene: Scene, role: Role | None, now: float) -> Turn:
    discrepancy = guide.current(scene.ledger)
    if discrepancy is not None and guide.step_of(scene.sheet, discrepancy)[0] is Step.IMAGE:
        return start(Turn(scene), "image", role, now)
    return tell_step(Turn(scene), "done", role, now)


def _nothing_there(scene: Scene, role: Role | None, now: float) -> Turn:
    return tell_step(Turn(scene), "nothing", role, now)


def _cannot(scene: Scene, role: Role | None, now: float) -> Turn:
    discrepancy = guide.current(scene.ledger)
    if discrepancy is not None and guide.step_of(scene.sheet, discrepancy)[0] is Step.IMAGE:
        return start(Turn(scene), "no_image", role, now)
    return tell_step(Turn(scene), "not_done", role, now)


def _found(scene: Scene, role: Role | None, now: float) -> Turn:
    discrepancy = guide.current(scene.ledger)
    if discrepancy is None or discrepancy.off >= 0:
        return Turn(scene).say(wording_differences.no_discrepancy(), ReplyKind.ANSWER)
    return start(Turn(scene), "found", role, now)


def _missing(scene: Scene, role: Role | None, now: float) -> Turn:
    return _when_all_done(scene, "stays_missing", role, now)


def _explained(scene: Scene, role: Role | None, now: float) -> Turn:
    return _when_all_done(scene, "explained", role, now)


def _when_all_done(scene: Scene, form: str, role: Role | None, now: float) -> Turn:
    """Begin a form that ends a difference; the steps of the policy come first."""
    discrepancy = guide.current(scene.ledger)
    if discrepancy is None:
        return Turn(scene).say(wording_differences.no_discrepancy(), ReplyKind.ANSWER)
    if guide.step_of(scene.sheet, discrepancy)[0] is not None:
        text = wording_differences.first_step(guide.walk(scene.sheet, scene.ledger))
        return Turn(scene).ask(text)
    return start(Turn(scene), form, role, now)


_DO: Mapping[str, Callable[[Scene, Role | None, float], Turn]] = MappingProxyType(
    {
        "add": counts.add,
        "ask_count": counts.ask_count,
        "done": _done,
        "nothing_there": _nothing_there,
        "cannot": _cannot,
        "found": _found,
        "stays_missing": _missing,
        "explained": _explained,
    }
)
