"""What can be said besides a count: one small function for each command."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType

from voicecount.count.events import (
    CarriedOn,
    Entry,
    LineTakenBack,
    RecountCalled,
    StoodBy,
    Why,
)
from voicecount.count.roles import Role, other
from voicecount.count.tally import State, Tally
from voicecount.sheet.vocabularies import BEGIN
from voicecount.talk import (
    case_commands,
    counts,
    guide,
    points,
    readback,
    wording,
    wording_case,
    wording_forms,
)
from voicecount.talk.confirm import confirm, dispute
from voicecount.talk.reply import Reply, ReplyKind
from voicecount.talk.scene import Asks, Question, Scene, Turn, join
from voicecount.talk.store import interrupt, put, store
from voicecount.talk.turns import start_over

_READS = frozenset({"say_again", "whats_left", "read_tally"})
"""Commands that change nothing, and so are obeyed after the end of the case."""
_BESIDE = _READS | {"stand_by", "carry_on"}
"""Commands that leave a form in hand as it is; every other one drops it, and says so."""


def obey(scene: Scene, command: str, role: Role | None, now: float, start: float) -> Turn:
    """Do what a command asks.

    ``role`` is None where roles are not told apart; ``now`` and ``start`` are the seconds to the
    end and the start of its words.
    """
    if scene.ledger.closed and command not in _READS:
        return Turn(scene).say(wording_case.case_closed(), ReplyKind.ANSWER)
    if scene.filling is not None and command not in _BESIDE:
        turn = obey(scene.but(filling=None), command, role, now, start)
        dropped = Reply(wording_forms.not_kept(), ReplyKind.NOTICE)
        return replace(turn, reply=join((dropped, turn.reply)))
    if command in {"yes", "no"}:
        return _yes(scene, role, now, start) if command == "yes" else _no(scene, role, now, start)
    if command.startswith(BEGIN):
        return counts.begin(scene, role, now, command.removeprefix(BEGIN))
    if command in _DO:
        return _DO[command](scene, role, now)
    return case_commands.obey(scene, command, role, now, start)


def _start_over(scene: Scene, role: Role | None, now: float) -> Turn:
    turn = start_over(scene, now)
    if turn is not None:
        if not turn.events and turn.scene.again is not None:
            text = wording.again([scene.item(turn.scene.again.item)])
            return turn.say(text, ReplyKind.NOTICE, Role.SCRUB)
        return turn
    tally = scene.current
    if tally is None or not tally.lines:
        return Turn(scene).say(wording.no_line_open(), ReplyKind.NOTICE)
    item = scene.item(tally.key.item)
    if tally.state is State.CONFIRMED:
        return Turn(scene).ask(wording.already_confirmed(item, tally.total))
    return _count_again(scene, tally, role, now)


def _count_again(scene: Scene, tally: Tally, role: Role | None, now: float) -> Turn:
    """Call the newest line to be counted again, and with it what is due already."""
    lines = (*tally.due, tally.lines[-1].number)
    return Turn(scene).record(
        RecountCalled(
            at=now,
            by=role,
            item=tally.key.item,
            place=tally.key.place,
            lines=tuple(sorted(set(lines))),
            why=Why.ASKED,
        )
    )


def _say_again(scene: Scene, _role: Role | None, _now: float) -> Turn:
    if scene.said is None:
        return Turn(scene).say(wording.nothing_to_repeat(), ReplyKind.ANSWER)
    return Turn(scene, reply=scene.said)


def _whats_left(scene: Scene, _role: Role | None, _now: float) -> Turn:
    open_ = points.open_points(scene.sheet, scene.ledger)
    text = " ".join((*open_, guide.walk(scene.sheet, scene.ledger))).strip()
    return Turn(scene).say(text or wording.nothing_left(), ReplyKind.ANSWER)


def _read_tally(scene: Scene, _role: Role | None, _now: float) -> Turn:
    return Turn(scene).say(readback.tally(scene.sheet, scene.ledger), ReplyKind.ANSWER)


def _stand_by(scene: Scene, role: Role | None, now: float) -> Turn:
    return interrupt(Turn(scene), now).record(StoodBy(at=now, by=role))


def _carry_on(scene: Scene, role: Role | None, now: float) -> Turn:
    if not scene.ledger.standing_by:
        return Turn(scene).say(wording.carrying_on(), ReplyKind.NOTICE)
    return Turn(scene).record(CarriedOn(at=now, by=role))


def _take_back(scene: Scene, role: Role | None, now: float) -> Turn:
    turn = start_over(scene, now)
    if turn is not None and turn.events:
        return turn
    tally = scene.current
    newest = tally.newest if tally is not None else None
    if tally is None or newest is None:
        return Turn(scene).say(wording.no_line_open(), ReplyKind.NOTICE)
    item = scene.item(tally.key.item)
    question = Question(
        Asks.TAKE_BACK, item.id, lines=(newest.number,), by=role, place=tally.key.place
    )
    text = wording.take_back(item, newest.counted)
    return put(Turn(scene), question, now).ask(text, other(role))


def _addition(scene: Scene, role: Role | None, now: float) -> Turn:
    return _answer(scene, Entry.ADDITION, role, now)


def _recount(scene: Scene, role: Role | None, now: float) -> Turn:
    return _answer(scene, Entry.RECOUNT, role, now)


def _answer(scene: Scene, entry: Entry, _role: Role | None, now: float) -> Turn:
    """Answer "addition or recount?", or say it before the call that it belongs to."""
    question = scene.question
    if question is not None and question.asks is Asks.ADDITION_OR_RECOUNT and question.call:
        return store(Turn(scene.but(question=None)), question.call, entry, now)
    turn = Turn(scene.but(answer=entry.value))
    if scene.open is not None:
        return turn
    return turn.say(wording.call_it(entry.value), ReplyKind.NOTICE, Role.SCRUB)


def _yes(scene: Scene, role: Role | None, now: float, start: float) -> Turn:
    turn = Turn(scene)
    question = scene.question
    if question is not None and question.asks is Asks.TAKE_BACK:
        if scene.told_apart and role is question.by:
            return turn.ask(wording.other_one())
        return turn.but(question=None).record(
            LineTakenBack(
                at=now,
                by=question.by,
                item=question.item,
                place=question.place,
                lines=question.lines,
                agreed=role,
            )
        )
    waiting = scene.waiting
    if waiting is None or scene.open is not None:
        return turn if scene.open is not None else _nothing(turn)
    newest = waiting.lines[-1]
    allowed = scene.sheet.policy.yes_confirms and role is not Role.SCRUB
    if allowed and start >= newest.end:
        return confirm(turn, waiting, now, None)
    return turn.ask(wording.say_the_number(), Role.CIRCULATOR)


def _no(scene: Scene, role: Role | None, now: float, start: float) -> Turn:
    turn = Turn(scene)
    question = scene.question
    if question is not None and question.asks is Asks.TAKE_BACK:
        item = scene.item(question.item)
        text = wording.stays_at(item, scene.tally(question.key).total)
        return turn.but(question=None).say(text, ReplyKind.NOTICE)
    if scene.open is not None:
        return _start_over(scene, role, now) if role is not Role.CIRCULATOR else turn
    waiting = scene.waiting
    if waiting is None or start < waiting.lines[-1].end:
        return _nothing(turn)
    if role is Role.SCRUB:
        return _count_again(scene, waiting, role, now)
    return dispute(turn, waiting, now, None)


def _nothing(turn: Turn) -> Turn:
    return turn.say(wording.nothing_waits(), ReplyKind.NOTICE)


_DO: Mapping[str, Callable[[Scene, Role | None, float], Turn]] = MappingProxyType(
    {
        "begin": counts.begin,
        "start_over": _start_over,
        "say_again": _say_again,
        "whats_left": _whats_left,
        "read_tally": _read_tally,
        "stand_by": _stand_by,
        "carry_on": _carry_on,
        "take_back": _take_back,
        "addition": _addition,
        "recount": _recount,
        "finish": counts.finish,
    }
)
