"""What is due about a difference: the step that the policy has next, until both close it. Pure.

Which difference is walked through, and when its item is counted again first, is as in ``talk``:
what the board shows is what the assistant says, also after other words came between.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from voicecount.board import words
from voicecount.board.moment import Walk, walk
from voicecount.count.discrepancy import Discrepancy
from voicecount.count.events import Step
from voicecount.count.standing import Ledger
from voicecount.count.tally import State


@dataclass(frozen=True)
class StepDue:
    """A step of a difference."""

    one: Discrepancy
    who: str
    what: str
    say: str = ""
    """Which words tell it, where they need telling."""
    state: str = words.STEP_DUE
    both: bool = False
    """Whether both have to agree to what the recount came to."""


def step_due(ledger: Ledger, now: Mapping[str, Any]) -> StepDue | None:
    """Give the step that is due; None where nothing differs, or while the item is counted again."""
    one = next(iter(ledger.discrepancies.values()), None)
    if one is None or _has(ledger, one, State.RECOUNT):
        return None
    again = any(told.step is Step.RECOUNT for told in one.steps)
    if again and not one.off and not _has(ledger, one, State.LEFT, State.WAITING):
        return StepDue(one, words.BOTH, words.AGREE, state=words.BOTH_CLOSE, both=True)
    known = walk(now)
    if known is None:
        return StepDue(one, words.who(None), words.ASK_STEP, state=words.NOT_RESOLVED)
    return _next(ledger, one, known)


def _next(ledger: Ledger, one: Discrepancy, known: Walk) -> StepDue | None:
    step = one.next_step(known.steps, known.search)
    either = words.who(None)
    match step:
        case None:
            say = words.ENDS_SHORT if one.off < 0 else words.ENDS_OVER
            return StepDue(one, either, words.HOW_IT_ENDS, say, words.BOTH_CLOSE)
        case Step.RECOUNT:
            # In a count with places the lines themselves say what is to be counted again.
            return None if ledger.places else StepDue(one, either, words.WANT_COUNT)
        case Step.SEARCH:
            place = one.next_place(known.search)
            return StepDue(one, either, words.search(place), words.SEARCHED)
        case _:
            return StepDue(one, either, words.STEPS[step])


def _has(ledger: Ledger, one: Discrepancy, *states: State) -> bool:
    """Tell whether a place of its item is in one of these states, in a count with places."""
    keys = ledger.keys(*states) if ledger.places else ()
    return any(key.item == one.item for key in keys)
