"""The circulator's words: a line is confirmed by its number, and by nothing else."""

from dataclasses import replace

from voicecount.count.events import Entry, LineConfirmed, LineDisputed
from voicecount.count.roles import Role
from voicecount.count.tally import Key, State, Tally
from voicecount.hear.heard import Heard
from voicecount.talk import wording
from voicecount.talk.reply import ReplyKind
from voicecount.talk.scene import Early, Scene, Turn
from voicecount.talk.settle import settle_sum
from voicecount.words.meaning import Form, Meaning


def circulator_said(scene: Scene, heard: Heard, meaning: Meaning) -> Turn:
    """Take a number from the person who confirms."""
    turn = Turn(scene)
    if meaning.form in {Form.NAME, Form.PLACE} or len(meaning.numbers) != 1:
        return _no_single_number(turn, meaning)
    if meaning.item is None and meaning.place is None:
        return _bare(turn, heard, meaning)
    key = _meant(scene, meaning)
    if key is None:
        return turn.ask(wording.say_name_and_number(), Role.CIRCULATOR)
    if scene.open is not None and scene.open.key == key:
        return _early(turn, heard, meaning)
    return _named(turn, heard, meaning, scene.tally(key))


def _meant(scene: Scene, meaning: Meaning) -> Key | None:
    """Give the line that a name or a place means; None when it could be several.

    In a count with places a name alone means the line in hand or the one that waits.
    """
    if not scene.ledger.places:
        return None if meaning.item is None else Key(meaning.item)
    known: list[Key] = [scene.open.key] if scene.open is not None else []
    known += reversed(scene.ledger.waiting())
    for key in known:
        if meaning.item in {None, key.item} and meaning.place in {None, key.place}:
            return key
    return None if None in {meaning.item, meaning.place} else Key(meaning.item or "", meaning.place)


def _bare(turn: Turn, heard: Heard, meaning: Meaning) -> Turn:
    """Take a number without a name: it belongs to the call in hand or to the line read last."""
    number, call, waiting = meaning.numbers[0], turn.scene.open, turn.scene.waiting
    if waiting is None:
        return _nothing_waits(turn) if call is None else _early(turn, heard, meaning)
    if call is None:
        return _judge(turn, waiting, heard, meaning)
    fits_call = heard.start >= call.end and number == call.counted
    if call.key == waiting.key:
        return _early(turn, heard, meaning)
    if fits_call and number == waiting.total:
        return turn.ask(wording.say_name_and_number(), Role.CIRCULATOR)
    return _early(turn, heard, meaning) if fits_call else _judge(turn, waiting, heard, meaning)


def _named(turn: Turn, heard: Heard, meaning: Meaning, tally: Tally) -> Turn:
    item = turn.scene.item(tally.key.item)
    question = turn.scene.question
    if question is not None and question.call is not None and question.item == item.id:
        return turn.ask(wording.addition_or_recount(item, tally.total))
    if tally.state is State.WAITING:
        return _judge(turn, tally, heard, meaning)
    if tally.state is State.LEFT:
        return turn.ask(wording.not_counted_yet(item), Role.SCRUB)
    if tally.state is State.RECOUNT:
        return turn.ask(wording.to_be_counted_again(item), Role.SCRUB)
    if meaning.numbers == (tally.total,):
        return turn.say(wording.confirmed(item, tally.total), ReplyKind.NOTICE)
    return turn.ask(wording.already_confirmed(item, tally.total))


def _judge(turn: Turn, tally: Tally, heard: Heard, meaning: Meaning) -> Turn:
    """Compare a number with the stored total of a line that waits."""
    newest = tally.newest
    number = meaning.numbers[0]
    if newest is None or heard.start < newest.end:
        return turn  # said into the scrub's own words: no answer to what was stored
    item = turn.scene.item(tally.key.item)
    same_pieces = meaning.pieces in {None, newest.pieces or 1}
    if number == tally.total and same_pieces:
        return confirm(turn, tally, heard.end, number)
    on_top = newest.entry in {Entry.PACKAGE, Entry.ADDITION} or len(tally.lines) > 1
    if on_top and number == newest.counted and same_pieces:
        return turn.ask(wording.say_the_sum(item), Role.CIRCULATOR)
    others = (key for key in turn.scene.ledger.waiting() if key != tally.key)
    if meaning.item is None and any(turn.scene.tally(key).total == number for key in others):
        return turn.ask(wording.say_name_and_number(), Role.CIRCULATOR)
    return dispute(turn, tally, heard.end, number, meaning.pieces)


def dispute(
    turn: Turn, tally: Tally, now: float, number: int | None, pieces: int | None = None
) -> Turn:
    """Record that the circulator does not agree; all of the item is counted again."""
    newest = tally.newest
    if newest is None:
        return turn
    return turn.record(
        LineDisputed(
            at=now,
            by=Role.CIRCULATOR,
            item=tally.key.item,
            place=tally.key.place,
            line=newest.number,
            total=tally.total,
            number=number,
            pieces=pieces,
        )
    )


def confirm(turn: Turn, tally: Tally, now: float, number: int | None) -> Turn:
    """Record a confirmation; without a number only where the sheet's policy lets a yes confirm."""
    newest = tally.newest
    if newest is None:
        return turn
    for key in _with_it(turn.scene, tally):
        stands = turn.scene.tally(key).newest
        turn = turn.record(
            LineConfirmed(
                at=now,
                by=Role.CIRCULATOR,
                item=key.item,
                place=key.place,
                line=newest.number if stands is None else stands.number,
                number=number,
            )
        )
    return settle_sum(turn, tally.key.item, now)


def _with_it(scene: Scene, tally: Tally) -> list[Key]:
    """Give the line and, where it is none, all other places of the item read as none with it."""
    if not scene.ledger.places or tally.total:
        return [tally.key]
    waiting = [key for key in scene.ledger.waiting() if key.item == tally.key.item]
    return [key for key in waiting if not scene.tally(key).total]


def _early(turn: Turn, heard: Heard, meaning: Meaning) -> Turn:
    """Keep a number said before the call was stored; it counts once the line is, if it fits.

    A number that began before the scrub's words were over is not kept: it could be the scrub's
    own voice on the other channel.
    """
    call = turn.scene.open
    if call is None or heard.start < call.end:
        return turn
    early = Early(call.key, meaning.numbers[0], meaning.pieces, heard.start, heard.end)
    if call.doubt and early.number == call.counted:
        turn = turn.but(open=replace(call, doubt=False))  # what was missed was no part of it
    return turn.but(early=early)


def _no_single_number(turn: Turn, meaning: Meaning) -> Turn:
    """Answer a name alone, a run, or pieces alone."""
    if turn.scene.open is not None:
        return turn  # the scrub is at it; the number is asked for when the line is read back
    if turn.scene.waiting is None and len(meaning.numbers) > 1:
        return turn.ask(wording.scrub_calls(), Role.SCRUB)
    if turn.scene.waiting is None:
        return _nothing_waits(turn)
    return turn.ask(wording.say_the_number(), Role.CIRCULATOR)


def _nothing_waits(turn: Turn) -> Turn:
    return turn.say(wording.nothing_waits(), ReplyKind.NOTICE, Role.SCRUB)
