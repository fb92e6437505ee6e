"""In unison: both people count aloud at the same time, each on a channel.

A line is stored only when both counted the same; its confirmation is what the circulator counted.
Both voices have to overlap in time: what one of them counted before is no count of both.
"""

from dataclasses import replace

from voicecount.count.cadence import check_run
from voicecount.count.events import LineConfirmed, LineStored
from voicecount.count.roles import Role
from voicecount.hear.heard import Heard
from voicecount.talk import wording
from voicecount.talk.scene import Call, Scene, Turn
from voicecount.words.meaning import Form, Meaning


def in_unison(scene: Scene) -> bool:
    """Tell whether both people count; it takes a channel for each."""
    return scene.sheet.policy.in_unison and scene.told_apart


def circulator_counts(scene: Scene, heard: Heard, meaning: Meaning) -> Turn:
    """Keep what the circulator counts, until the scrub's call is over."""
    turn = Turn(scene)
    if not meaning.numbers:
        return turn if scene.open is not None else turn.ask(wording.scrub_calls(), Role.SCRUB)
    before = scene.second
    goes_on = (
        before is not None
        and meaning.item in {None, before.item}
        and meaning.numbers[0] == before.counted + 1
    )
    if goes_on and before is not None:
        joined = replace(before, numbers=before.numbers + meaning.numbers, end=heard.end)
        return turn.but(second=joined)
    second = Call(
        meaning.item or "",
        meaning.numbers,
        meaning.pieces,
        meaning.form,
        heard.start,
        heard.end,
        place=meaning.place,
    )
    return turn.but(second=second)


def agrees(call: Call, second: Call | None) -> bool:
    """Tell whether the two counted the same line, at the same time, to the same number."""
    if second is None or second.start >= call.end or call.start >= second.end:
        return False
    if second.item not in {"", call.item} or second.place not in {None, call.place}:
        return False
    whole = second.form is not Form.RUN or check_run(second.numbers) is None
    return whole and second.counted == call.counted and second.pieces in {None, call.pieces}


def confirmed(turn: Turn, stored: LineStored, second: Call) -> Turn:
    """Record that the circulator counted the same."""
    return turn.record(
        LineConfirmed(
            at=max(stored.at, second.end),
            by=Role.CIRCULATOR,
            item=stored.item,
            place=stored.place,
            line=stored.line,
            number=stored.total,
            unison=True,
        )
    )
