"""Lines that are to be counted again."""

from collections.abc import Collection

from voicecount.count.events import RecountCalled, Why
from voicecount.count.tally import State
from voicecount.talk.scene import Turn


def recount_all(turn: Turn, now: float, why: Why, items: Collection[str]) -> Turn:
    """Call every stored line of some items to be counted again, the first one last."""
    for key in reversed(turn.scene.ledger.keys(State.WAITING, State.CONFIRMED, State.RECOUNT)):
        lines = tuple(line.number for line in turn.scene.tally(key).lines)
        if key.item in items:
            turn = turn.record(
                RecountCalled(at=now, item=key.item, place=key.place, lines=lines, why=why)
            )
    return turn
