"""Who speaks, and what is no turn at all: the same words twice, or a voice on both channels."""

from dataclasses import replace

from voicecount.count.events import Refusal
from voicecount.count.roles import Role
from voicecount.count.tally import State
from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.talk import wording
from voicecount.talk.scene import Asks, Scene, Turn
from voicecount.talk.store import refuse
from voicecount.words.meaning import Form, Meaning
from voicecount.words.soundalike import digits_part, from_digits, twins

KEPT = 4
"""How many of the last utterances are looked at for repeats and echoes."""


def who(scene: Scene, heard: Heard) -> Role:
    """Tell from the turn who speaks, where no channel tells it.

    A single number that fits what was just called or read back is the circulator's; so is any
    single number while a line waits and none is in hand. Everything else is a call.
    """
    meaning = heard.meaning
    if meaning is None or len(meaning.numbers) != 1 or meaning.place is not None:
        return Role.SCRUB
    number, call, waiting = meaning.numbers[0], scene.open, scene.waiting
    if scene.question is not None and scene.question.asks is Asks.PIECES and meaning.item is None:
        return Role.SCRUB
    if call is not None:
        own = meaning.item in {None, call.item} and number == call.counted and not call.doubt
        return Role.CIRCULATOR if own or _named_waiting(scene, meaning) else Role.SCRUB
    if meaning.item is None:
        return Role.SCRUB if waiting is None else Role.CIRCULATOR
    return Role.CIRCULATOR if _named_waiting(scene, meaning) else Role.SCRUB


def is_repeat(scene: Scene, heard: Heard) -> bool:
    """Tell whether the same utterance was already taken."""
    place = (heard.channel, heard.start, heard.end)
    return any(place == (old.channel, old.start, old.end) for old in scene.heard)


def is_echo(scene: Scene, heard: Heard, role: Role | None) -> bool:
    """Tell whether it is another channel's utterance over again: one voice, two microphones.

    It overlaps in time, and all its numbers, its name and its command are in the other one; or it
    is the circulator's and was not understood, which costs nothing, because a line waits on.
    """
    unsure = heard.outcome is Outcome.UNSURE and role is Role.CIRCULATOR
    return any(
        old.channel != heard.channel
        and old.start < heard.end
        and heard.start < old.end
        and (unsure or _within(heard.meaning, old.meaning))
        for old in scene.heard
    )


def remember(scene: Scene, heard: Heard) -> Scene:
    """Keep an utterance as one of the last."""
    return scene.but(heard=(heard, *scene.heard)[:KEPT])


def by_digits(scene: Scene, meaning: Meaning) -> Meaning:
    """Give what was asked for by its digits, where just these digits were said; else the same.

    The name that was said before still holds; the digits tell the number.
    """
    asked = scene.alike
    if asked is None or meaning.form is not Form.RUN or meaning.item not in {None, asked.item}:
        return meaning
    number = from_digits(meaning.numbers)
    if number not in {asked.numbers[0], *twins(asked.numbers[0])}:
        return meaning
    return replace(asked, numbers=(number,))


def not_understood(scene: Scene, heard: Heard, role: Role) -> Turn:
    """Ask for something to be said again, and let nothing be joined across what was missed.

    One number that sounds like another is asked for by its digits.
    """
    meaning = heard.meaning
    alike = meaning if heard.reason is Reason.SOUND_ALIKE and _has_digits(meaning) else None
    asked = wording.unsure(heard.reason)
    if alike is not None:
        asked = wording.which_number(alike.numbers[0])
    turn = Turn(scene.but(alike=alike)).ask(asked, role)
    if role is not Role.SCRUB or (meaning is not None and meaning.form is Form.COMMAND):
        return turn
    turn = turn.but(unclear=scene.unclear or _may_name_another(scene, meaning))
    if scene.open is not None:
        turn = turn.but(open=replace(scene.open, doubt=True, end=heard.end))
    return turn


def let_go(scene: Scene, heard: Heard, role: Role | None) -> Scene:
    """Give the scene after a sound that nobody is asked about: too faint to be of the people there.

    If it was one of them after all, it may have named another item: a bare run then needs its name.
    """
    faint = heard.reason is Reason.FAINT and role is not Role.CIRCULATOR
    if not faint or not scene.ledger.takes_lines or heard.meaning is None:
        return scene
    return scene.but(unclear=scene.unclear or _may_name_another(scene, heard.meaning))


def _may_name_another(scene: Scene, meaning: Meaning | None) -> bool:
    """Tell whether what was not understood may have named another item than the one in hand."""
    call = scene.open
    topic = call.item if call is not None else scene.again.item if scene.again else None
    if topic is None and scene.ledger.last is not None:
        topic = scene.ledger.last.item
    return meaning is None or meaning.item not in {None, topic}


def start_over(scene: Scene, now: float) -> Turn | None:
    """Give up a call that is in hand or waits for an answer; None when there is none."""
    question = scene.question
    if scene.open is not None:
        if not scene.open.numbers:
            return Turn(scene.but(open=None, again=scene.open.key))
        return refuse(Turn(scene), scene.open, Refusal.STARTED_OVER, now)
    if question is not None and question.call is not None:
        turn = Turn(scene.but(question=None))
        return refuse(turn, question.call, Refusal.STARTED_OVER, now)
    return None


def _named_waiting(scene: Scene, meaning: Meaning) -> bool:
    return (
        meaning.item is not None
        and meaning.item in scene.ledger.items
        and any(key.item == meaning.item for key in scene.ledger.keys(State.WAITING))
        and (scene.open is None or scene.open.item != meaning.item)
    )


def _has_digits(meaning: Meaning | None) -> bool:
    """Tell whether a reading has just one number, and digits part that from its twin."""
    return meaning is not None and len(meaning.numbers) == 1 and digits_part(meaning.numbers[0])


def _within(part: Meaning | None, whole: Meaning | None) -> bool:
    if part is None or whole is None or part.command != whole.command:
        return False
    return part.item in {None, whole.item} and set(part.numbers) <= set(whole.numbers)
