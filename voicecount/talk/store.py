"""A call that is over: stored, set aside, refused, or held until a question is answered."""

from collections.abc import Sequence

from voicecount.count.cadence import CadenceFault
from voicecount.count.events import (
    Entry,
    LineConfirmed,
    LineRefused,
    LineStored,
    PackageSetAside,
    RecountCalled,
    Refusal,
    Why,
)
from voicecount.count.package import is_whole
from voicecount.count.roles import Role
from voicecount.count.tally import Key, State, Tally
from voicecount.sheet.plan import CountKind
from voicecount.talk import unison, wording
from voicecount.talk.recount import recount_all
from voicecount.talk.scene import Asks, Call, Question, Scene, Turn
from voicecount.talk.settle import settle_sum
from voicecount.words.meaning import Form
from voicecount.words.numbers import LARGEST


def close(turn: Turn, now: float) -> Turn:
    """End the call in hand and judge it by the rules of its item."""
    call = turn.scene.open
    return turn if call is None else _judge(turn.but(open=None), call, now)


def _judge(turn: Turn, call: Call, now: float) -> Turn:
    item = turn.scene.item(call.item)
    if not call.numbers:
        return turn.but(again=call.key).ask(wording.how_many(item), Role.SCRUB)
    if call.doubt:
        return refuse(turn, call, Refusal.UNCLEAR, now)
    if item.pieces > 1 and call.pieces is None and call.counted:
        turn = put(turn, Question(Asks.PIECES, item.id, call, place=call.place), now)
        return turn.ask(wording.how_many_pieces(item), Role.SCRUB)
    if not is_whole(call.counted, turn.scene.pack(item.id)):
        return _set_aside(turn, call, now)
    entry = _entry(turn.scene, call)
    if entry is not None:
        return store(turn, call, entry, now)
    turn = put(turn, Question(Asks.ADDITION_OR_RECOUNT, item.id, call, place=call.place), now)
    return turn.ask(wording.addition_or_recount(item, turn.scene.tally(call.key).total))


def store(turn: Turn, call: Call, entry: Entry, now: float) -> Turn:
    """Record a call as a line, and its confirmation if the number was already said."""
    scene = turn.scene
    tally = scene.tally(call.key)
    replaces = _replaces(tally, call, entry)
    total = tally.without(replaces).total + call.counted
    if total > LARGEST:
        return refuse(turn, call, Refusal.TOO_MANY, now)
    second = scene.second
    if unison.in_unison(scene) and not unison.agrees(call, second):
        return refuse(turn, call, Refusal.NOT_IN_UNISON, now)
    stored = LineStored(
        at=now,
        by=Role.SCRUB,
        item=call.item,
        place=call.place,
        numbers=call.numbers,
        pieces=call.pieces,
        start=call.start,
        end=call.end,
        line=scene.ledger.next_line,
        counted=call.counted,
        total=total,
        expected=scene.item(call.item).expect if _by_sheet(scene) else None,
        form=call.form,
        entry=entry,
        replaces=replaces,
    )
    turn = turn.record(stored).but(early=None, second=None)
    if unison.in_unison(scene) and second is not None:
        return settle_sum(unison.confirmed(turn, stored, second), call.item, now)
    early = scene.early
    if (
        early is None
        or (early.key, early.number) != (call.key, total)
        or early.pieces not in {None, call.pieces}
        or early.start < call.end
    ):
        return turn
    at = max(now, early.end)
    turn = turn.record(
        LineConfirmed(
            at=at,
            by=Role.CIRCULATOR,
            item=call.item,
            place=call.place,
            line=stored.line,
            number=early.number,
        )
    )
    return settle_sum(turn, call.item, at)


def store_none(turn: Turn, keys: Sequence[Key], role: Role | None, now: float) -> Turn:
    """Record for several lines that there is none."""
    for key in keys:
        due = turn.scene.tally(key).due
        turn = turn.record(
            LineStored(
                at=now,
                by=Role.SCRUB if turn.scene.told_apart else role,
                item=key.item,
                place=key.place,
                numbers=(0,),
                start=now,
                end=now,
                line=turn.scene.ledger.next_line,
                counted=0,
                total=0,
                expected=None,
                form=Form.NONE,
                entry=Entry.RECOUNT if due else Entry.FIRST,
                replaces=due,
            )
        )
    return turn


def _by_sheet(scene: Scene) -> bool:
    """Tell whether lines stand beside the sheet's numbers: in the initial count only."""
    return scene.ledger.kind in {None, CountKind.INITIAL}


def refuse(
    turn: Turn, call: Call, refusal: Refusal, now: float, fault: CadenceFault | None = None
) -> Turn:
    """Record that a call is not stored; the call in hand is given up."""
    after = None if fault is None else fault.after
    heard = None if fault is None else fault.heard
    if refusal is Refusal.PIECES_WRONG:
        after, heard = turn.scene.item(call.item).pieces, call.pieces
    if refusal is Refusal.NOT_IN_UNISON:
        second = turn.scene.second
        after, heard = None if second is None else second.counted, call.counted
    turn = turn.but(open=None, early=None, second=None).record(
        LineRefused(
            at=now,
            by=Role.SCRUB,
            item=call.item,
            place=call.place,
            numbers=call.numbers,
            pieces=call.pieces,
            start=call.start,
            end=call.end,
            refusal=refusal,
            after=after,
            heard=heard,
            missing=() if fault is None else fault.missing,
        )
    )
    tally = turn.scene.tally(call.key)
    standing = {line.number for line in tally.lines} - set(tally.due)
    if call.extends not in standing:
        return turn
    return turn.record(
        RecountCalled(
            at=now,
            item=call.item,
            place=call.place,
            lines=(call.extends,),
            why=Why.NOT_GONE_ON,
        )
    )


def interrupt(turn: Turn, now: float) -> Turn:
    """Give up the call in hand because something cut it off; by policy, its group as well."""
    call = turn.scene.open
    if call is None or not call.numbers:
        return turn.but(open=None, early=None)
    turn = refuse(turn, call, Refusal.INTERRUPTED, now)
    again = turn.scene.sheet.policy.interrupted
    if again == "line":
        return turn
    group = turn.scene.item(call.item).group
    return recount_all(
        turn,
        now,
        Why.INTERRUPTED,
        {item.id for item in turn.scene.sheet.items if again == "count" or item.group is group},
    )


def is_complete(scene: Scene, call: Call) -> bool:
    """Tell whether a call that was cut short by another one can be taken as it is.

    Whole packages can, and so can a line that is not below the sheet's number. Whatever is below
    was probably cut off in the middle; asking for it again costs less than storing it.
    """
    item = scene.item(call.item)
    tally = scene.tally(call.key)
    if call.doubt or not call.numbers:
        return False
    if not _by_sheet(scene):
        return is_whole(call.counted, scene.pack(item.id))
    if item.pack is not None:
        return is_whole(call.counted, item.pack)
    if item.expect is None or (tally.lines and not tally.due):
        return True
    return call.counted >= item.expect


def put(turn: Turn, question: Question | None, now: float) -> Turn:
    """Open a question; a call that waited for the answer to another one is refused."""
    before = turn.scene.question
    turn = turn.but(question=question)
    if before is None or before.call is None:
        return turn
    refusal = _UNANSWERED.get(before.asks, Refusal.UNANSWERED)
    open_call, early = turn.scene.open, turn.scene.early
    return refuse(turn, before.call, refusal, now).but(open=open_call, early=early)


_UNANSWERED = {Asks.PIECES: Refusal.PIECES_MISSING, Asks.PLACE: Refusal.NO_PLACE}


def _set_aside(turn: Turn, call: Call, now: float) -> Turn:
    pack = turn.scene.pack(call.item) or 1
    standing = {line.number for line in turn.scene.tally(call.key).lines}
    return turn.but(early=None).record(
        PackageSetAside(
            at=now,
            by=Role.SCRUB,
            item=call.item,
            place=call.place,
            numbers=call.numbers,
            pieces=call.pieces,
            start=call.start,
            end=call.end,
            held=call.counted,
            pack=pack,
            replaces=() if call.extends not in standing else (call.extends,),
        )
    )


def _entry(scene: Scene, call: Call) -> Entry | None:
    """Tell how a call comes into its item's count; None when people have to say it."""
    tally = scene.tally(call.key)
    newest = tally.newest
    if newest is None:
        return Entry.FIRST
    if tally.due:
        return Entry.RECOUNT
    if call.extends == newest.number and not newest.confirmed:
        return Entry.EXTENDED
    if scene.answer is not None or scene.ledger.last != tally.key:
        return None if scene.answer is None else Entry(scene.answer)
    if scene.pack(call.item) is not None:
        return Entry.PACKAGE if call.counted and tally.total else None
    said_again = tally.state is State.WAITING and call.counted == tally.total
    return Entry.RECOUNT if said_again and len(tally.lines) == 1 else None


def _replaces(tally: Tally, call: Call, entry: Entry) -> tuple[int, ...]:
    if entry is Entry.EXTENDED and call.extends is not None:
        return (call.extends,)
    if entry is Entry.RECOUNT:
        return tally.due or tuple(line.number for line in tally.lines)
    return ()
