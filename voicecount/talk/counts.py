"""Counts begin and end: which one is next, what it goes over, and what it came to."""

from voicecount.count.compare import differing
from voicecount.count.events import CountFinished, CountOpened
from voicecount.count.plan import due as counts_due
from voicecount.count.plan import items_of, left_out
from voicecount.count.roles import Role
from voicecount.count.standing import Ledger
from voicecount.count.sums import differing_items, result
from voicecount.count.tally import State
from voicecount.sheet.model import Item
from voicecount.sheet.plan import CountKind, PlannedCount
from voicecount.talk import guide, wording, wording_case, wording_forms
from voicecount.talk.confirm import confirm
from voicecount.talk.reply import ReplyKind
from voicecount.talk.scene import Filling, Scene, Turn
from voicecount.talk.settle import settle_rest
from voicecount.talk.store import close, interrupt, is_complete, put, store_none

_TITLES = {
    CountKind.ADDITION: "addition",
    CountKind.RELIEF: "count at the change",
    CountKind.ASKED: "count that was asked for",
}
_OUT_BY = {
    "cavity": frozenset({CountKind.CLOSING, CountKind.FINAL}),
    "closing": frozenset({CountKind.FINAL}),
}
"""The kinds of count in which nothing may be tucked in any more, by policy."""


def begin(scene: Scene, role: Role | None, now: float, which: str | None = None) -> Turn:
    """Open the next count of the plan or a named one; in an open count, say its next line."""
    ledger = scene.ledger
    count = ledger.count
    planned = _planned(ledger, which)
    here = count is not None and which in {None, count.id}
    if here and ledger.kind not in {None, CountKind.ADDITION}:
        return Turn(scene).say(_next(scene), ReplyKind.ANSWER, Role.SCRUB)
    if planned is None:
        return Turn(scene).say(wording_case.nothing_due(), ReplyKind.ANSWER)
    if planned.kind is CountKind.INITIAL:
        return Turn(scene).say(_next(scene), ReplyKind.ANSWER, Role.SCRUB)
    turn, free = leave(Turn(scene), role, now)
    return open_planned(turn, planned, role, now) if free else turn


def ask_count(scene: Scene, role: Role | None, now: float) -> Turn:
    """Open a full count that someone asks for."""
    turn, free = leave(Turn(scene), role, now)
    return open_full(turn, CountKind.ASKED, role, now) if free else turn


def add(scene: Scene, role: Role | None, now: float) -> Turn:
    """Open an addition; within another count it is told as one thing that happens."""
    ledger = scene.ledger
    if ledger.kind is CountKind.ADDITION:
        return Turn(scene).say(wording_case.addition_opened(), ReplyKind.ANSWER, Role.SCRUB)
    if ledger.kind is CountKind.INITIAL and not ledger.accounts:
        return Turn(scene.but(answer="addition")).say(
            wording.call_it("addition"), ReplyKind.NOTICE, Role.SCRUB
        )
    if ledger.counting:
        turn = settle_call(Turn(scene), now)
        filling = Filling("add", role)
        return turn.but(filling=filling).ask(wording_forms.ask_slot("item", ()), role)
    turn, free = leave(Turn(scene), role, now)
    return _open(turn, CountKind.ADDITION, CountKind.ADDITION.value, role, now) if free else turn


def finish(scene: Scene, role: Role | None, now: float) -> Turn:
    """End the open count; an addition only when both people gave its numbers."""
    turn = settle_call(Turn(scene), now)
    ledger = turn.scene.ledger
    if ledger.kind is CountKind.ADDITION and (waits := unfinished(turn.scene)):
        return turn.ask(wording_case.still_to_confirm(waits), Role.CIRCULATOR)
    if not ledger.takes_lines:
        return turn.say(wording_case.no_count_open(), ReplyKind.ANSWER)
    return end(turn, role, now)


def end(turn: Turn, role: Role | None, now: float) -> Turn:
    """Record the end of the open count."""
    turn = settle_rest(turn, now)
    return turn.record(_finished(turn.scene.ledger, role, now))


def _finished(ledger: Ledger, role: Role | None, now: float) -> CountFinished:
    """Build the event that ends the open count, with all that is open in it."""
    count = ledger.count
    by_place = count is not None and bool(count.places)
    return CountFinished(
        at=now,
        by=role,
        count=count.id if count is not None else "initial",
        number=count.number if count is not None else 1,
        unconfirmed=_items(ledger, State.WAITING, State.RECOUNT),
        differing=differing_items(ledger)
        if by_place
        else tuple(line.key.item for line in differing(ledger)),
        left=(*_items(ledger, State.LEFT), *left_out(ledger)),
        result=result(ledger),
        open=tuple(ledger.discrepancies),
        tucked=tuple(item for item in ledger.items if ledger.account(item).tucked_in),
        takes_in=True,
    )


def leave(turn: Turn, role: Role | None, now: float) -> tuple[Turn, bool]:
    """Make room for another count; False, with a question, where one is still open."""
    turn = settle_call(turn, now)
    ledger = turn.scene.ledger
    if not ledger.counting or ledger.count is None:
        return turn, True
    reopened = ledger.kind is CountKind.INITIAL and bool(ledger.accounts)
    if ledger.kind is not CountKind.ADDITION and not reopened:
        return turn.ask(wording_case.first_finish(ledger.count.title)), False
    if waits := unfinished(turn.scene):
        return turn.ask(wording_case.still_to_confirm(waits), Role.CIRCULATOR), False
    return end(turn, role, now), True


def open_planned(turn: Turn, planned: PlannedCount, role: Role | None, now: float) -> Turn:
    """Open a count of the plan."""
    items = items_of(turn.scene.ledger, planned)
    return _open(turn, planned.kind, planned.id, role, now, title=planned.say, items=items)


def open_full(turn: Turn, kind: CountKind, role: Role | None, now: float) -> Turn:
    """Open a count of everything, outside of the plan."""
    items = tuple(turn.scene.ledger.items)
    return _open(turn, kind, kind.value, role, now, items=items)


def settle_call(turn: Turn, now: float) -> Turn:
    """End what is in hand before something else begins: stored when whole, else cut off."""
    call = turn.scene.open
    if call is not None:
        turn = close(turn, now) if is_complete(turn.scene, call) else interrupt(turn, now)
    return put(turn, None, now).but(open=None, second=None)


def none_elsewhere(scene: Scene, role: Role | None, now: float, start: float) -> Turn:
    """Store that the item in hand is at none of the places left, when the scrub says so.

    Said again by the circulator, it confirms what was stored: it is heard far better than "none".
    """
    waiting = scene.waiting
    agrees = role is not Role.SCRUB and scene.open is None and waiting is not None
    if agrees and waiting is not None and scene.ledger.places and not waiting.total:
        newest = waiting.newest
        into = newest is not None and start < newest.end
        return Turn(scene) if into else confirm(Turn(scene), waiting, now, 0)
    if scene.told_apart and role is not Role.SCRUB:
        return Turn(scene).ask(wording.scrub_calls(), Role.SCRUB)
    turn = settle_call(Turn(scene), now)
    key = turn.scene.ledger.last
    if key is None or not turn.scene.ledger.places:
        return turn.say(wording.no_line_open(), ReplyKind.NOTICE)
    due = turn.scene.ledger.keys(State.LEFT, State.RECOUNT)
    left = [one for one in due if one.item == key.item]
    if not left:
        return turn.say(_next(turn.scene), ReplyKind.ANSWER, Role.SCRUB)
    return store_none(turn, left, role, now)


def waived_count(ledger: Ledger) -> tuple[str, str] | None:
    """Give the id and title of the count that a waiver means: the open one, or the next due."""
    count = ledger.count
    planned = {one.id for one in counts_due(ledger)}
    if count is not None and ledger.counting and count.id in planned:
        return count.id, count.title
    following = counts_due(ledger)
    return (following[0].id, following[0].say) if following else None


def unfinished(scene: Scene) -> list[tuple[Item, int]]:
    """Give the lines of the open count that were called and have no number by both."""
    keys = scene.ledger.keys(State.WAITING, State.RECOUNT)
    return [(scene.item(key.item), scene.tally(key).total) for key in keys]


def _open(
    turn: Turn,
    kind: CountKind,
    count: str,
    role: Role | None,
    now: float,
    *,
    title: str | None = None,
    items: tuple[str, ...] | None = None,
) -> Turn:
    scene = turn.scene
    before = scene.ledger.count
    policy = scene.sheet.policy
    return turn.record(
        CountOpened(
            at=now,
            by=role,
            number=before.number + 1 if before is not None else 1,
            count=count,
            count_kind=kind,
            title=title or _TITLES[kind],
            items=tuple(scene.ledger.items) if items is None else items,
            places=() if kind is CountKind.ADDITION else policy.places,
            tucked_counts=kind not in _OUT_BY[policy.tucked_counts_until],
        )
    )


def _planned(ledger: Ledger, which: str | None) -> PlannedCount | None:
    plan = ledger.opened.plan if ledger.opened is not None else ()
    if which is not None:
        return next((count for count in plan if count.id == which), None)
    left = counts_due(ledger)
    later = [count for count in left if count.kind is not CountKind.INITIAL]
    return next(iter(later if ledger.finished else left), None)


def _next(scene: Scene) -> str:
    ledger = scene.ledger
    if ledger.places:
        return guide.guidance(scene.sheet, ledger) or wording.nothing_left()
    left = ledger.left()
    return wording.next_item(scene.item(left[0].item)) if left else wording.nothing_left()


def _items(ledger: Ledger, *states: State) -> tuple[str, ...]:
    return tuple(dict.fromkeys(key.item for key in ledger.keys(*states)))
