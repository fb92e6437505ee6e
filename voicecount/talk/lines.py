"""The scrub's calls: each part of a run is joined to the call in hand, and checked at once."""

from dataclasses import replace

from voicecount.count.cadence import check_run
from voicecount.count.events import Refusal
from voicecount.count.package import is_whole
from voicecount.count.roles import Role
from voicecount.count.tally import Key, State
from voicecount.hear.heard import Heard
from voicecount.talk import wording
from voicecount.talk.scene import Asks, Call, Question, Scene, Turn
from voicecount.talk.store import close, interrupt, is_complete, put, refuse
from voicecount.words.meaning import Form, Meaning


def scrub_said(scene: Scene, heard: Heard, meaning: Meaning) -> Turn:
    """Take a call or a part of one, from the person who calls the lines."""
    asked = scene.question
    waits = asked.call if asked is not None and asked.asks is Asks.PLACE else None
    if waits is not None and meaning.form is Form.PLACE:
        placed = replace(waits, place=meaning.place, end=heard.end)
        return close(_begin(Turn(scene.but(question=None)), placed), heard.end)
    meaning = _with_topic(scene, meaning)
    if meaning.item is None:
        return _bare(Turn(scene), heard, meaning)
    numbers = meaning.numbers
    if not numbers and meaning.pieces is not None:
        numbers = (1,)  # "balfour, four pieces" is one of it
    form = Form.NAME if meaning.form is Form.PLACE else meaning.form
    place = meaning.place or _place_of(scene, meaning.item)
    call = Call(meaning.item, numbers, meaning.pieces, form, heard.start, heard.end, place=place)
    if scene.ledger.places and place is None:
        return _ask_place(Turn(scene), call)
    turn = _leave_others(Turn(scene), call).but(unclear=False)
    before = turn.scene.open
    if before is not None:
        return _same_again(turn, before, call, told=meaning.numbers)
    extended = _extension(turn.scene, call.numbers, call.end)
    if extended is not None and extended.key == call.key:
        return _run_on(turn, extended)
    return _begin(turn, call)


def _with_topic(scene: Scene, meaning: Meaning) -> Meaning:
    """Give a place without a name the name that is being counted, or whose place was asked for."""
    if meaning.item is not None or meaning.place is None:
        return meaning
    asked = scene.question
    if asked is not None and asked.asks is Asks.PLACE:
        return replace(meaning, item=asked.item)
    topic = scene.open.key if scene.open is not None else scene.again or scene.ledger.last
    return meaning if topic is None else replace(meaning, item=topic.item)


def _place_of(scene: Scene, item: str) -> str | None:
    """Give the place that a name without one belongs to: the one in hand or asked for."""
    for key in (scene.open.key if scene.open is not None else None, scene.again):
        if key is not None and key.item == item:
            return key.place
    return None


def _ask_place(turn: Turn, call: Call) -> Turn:
    """Ask where something was counted; the numbers wait for the answer."""
    turn = _leave_others(turn, call)
    if not call.numbers:
        turn = turn.but(again=None)
    waits = call if call.numbers else None
    turn = put(turn, Question(Asks.PLACE, call.item, waits), call.end)
    return turn.ask(wording.which_place(turn.scene.item(call.item)), Role.SCRUB)


def _bare(turn: Turn, heard: Heard, meaning: Meaning) -> Turn:
    """Take numbers without a name: they go on with something, or begin what was asked for."""
    scene, numbers = turn.scene, meaning.numbers
    question = scene.question
    waits = question.call if question is not None else None
    if waits is not None and question is not None and question.asks is Asks.PIECES:
        pieces = meaning.pieces if meaning.pieces is not None or len(numbers) != 1 else numbers[0]
        if pieces is not None and numbers in {(), (pieces,), waits.numbers}:
            return _with_pieces(turn, waits, pieces, heard.end)
    if scene.unclear:
        return turn.ask(wording.which_item(), Role.SCRUB)
    if scene.open is not None:
        return _goes_on_with(turn, scene.open, heard, meaning)
    if waits is not None and _goes_on(waits.numbers, numbers):
        held = replace(waits, numbers=waits.numbers + numbers, end=heard.end)
        turn = _run_on(turn.but(question=None), held)
        return close(turn, heard.end)
    extended = _extension(scene, numbers, heard.end)
    if extended is not None:
        return _run_on(turn, extended)
    return _begin_bare(turn, heard, meaning)


def _goes_on_with(turn: Turn, call: Call, heard: Heard, meaning: Meaning) -> Turn:
    """Take bare numbers while a call is in hand."""
    if not _new_package(turn.scene, call, meaning.numbers):
        return _join(turn, call, meaning.numbers, meaning.pieces, heard.end)
    fresh = Call(call.item, meaning.numbers, meaning.pieces, meaning.form, heard.start, heard.end)
    return _begin(close(turn, heard.end), replace(fresh, place=call.place))


def _begin_bare(turn: Turn, heard: Heard, meaning: Meaning) -> Turn:
    """Take bare numbers that begin a call: of what was asked for, or of a further package."""
    scene, numbers = turn.scene, meaning.numbers
    key = scene.again or (_next_package(scene) if numbers[:1] == (1,) else None)
    waiting = scene.waiting
    if scene.again is None and waiting is not None and numbers == (waiting.total,):
        return turn.ask(wording.say_the_number(), Role.CIRCULATOR)
    if key is None or not numbers:
        return turn.ask(wording.which_item(), Role.SCRUB)
    fresh = Call(key.item, numbers, meaning.pieces, meaning.form, heard.start, heard.end)
    if scene.ledger.places and key.place is None:
        return _ask_place(turn, fresh)  # what was refused without a place still needs one
    return _begin(put(turn, None, heard.end), replace(fresh, place=key.place))


def _leave_others(turn: Turn, call: Call) -> Turn:
    """Settle what is still open of other items when an item is named."""
    now = call.end
    question = turn.scene.question
    if question is not None and question.item == call.item:
        turn = turn.but(question=None)  # the line is said again, with or without what was asked
    else:
        turn = put(turn, None, now)
    before = turn.scene.open
    if before is None or before.key == call.key:
        return turn
    if is_complete(turn.scene, before):
        return close(turn, now)
    return interrupt(turn, now)


def _same_again(turn: Turn, before: Call, call: Call, *, told: tuple[int, ...]) -> Turn:
    """Take a call of the item whose call is in hand: it goes on, is completed, or starts over."""
    now = call.end
    if call.form is Form.NAME:
        return turn.but(open=replace(before, end=now))
    if call.pieces is not None and before.pieces is None and told in {(), before.numbers}:
        return _with_pieces(turn, before, call.pieces, now)
    if not before.numbers:
        return _begin(turn, replace(call, start=before.start))
    if _goes_on(before.numbers, call.numbers):
        return _join(turn, before, call.numbers, call.pieces, now)
    if _new_package(turn.scene, before, call.numbers):
        return _begin(close(turn, now), call)
    return _begin(refuse(turn, before, Refusal.STARTED_OVER, now), call)


def _begin(turn: Turn, call: Call) -> Turn:
    """Put a call in hand, or refuse it at once."""
    now = call.end
    item = turn.scene.item(call.item)
    if call.numbers == (0,):
        call = replace(call, form=Form.NONE)
    if call.pieces is not None and call.pieces != item.pieces:
        return refuse(turn, call, Refusal.PIECES_WRONG, now)
    if call.form is not Form.NONE and len(call.numbers) == 1 and call.numbers[0] > 1:
        seen = call.form is Form.NUMBER_FIRST and call.numbers[0] <= turn.scene.sheet.policy.glance
        if not (item.stated or seen):
            return refuse(turn, call, Refusal.NOT_ONE_BY_ONE, now)
    elif call.form is not Form.NONE:
        fault = check_run(call.numbers)
        if fault is not None:
            return refuse(turn, call, Refusal(fault.kind), now, fault)
    return turn.but(open=call)


def _join(turn: Turn, call: Call, numbers: tuple[int, ...], pieces: int | None, end: float) -> Turn:
    """Add numbers to the call in hand."""
    if pieces is not None and numbers in {(), call.numbers}:
        return _with_pieces(turn, call, pieces, end)
    joined = replace(
        call,
        numbers=call.numbers + numbers,
        pieces=call.pieces if pieces is None else pieces,
        end=end,
        doubt=False,
    )
    if call.form is Form.NAME:
        return _begin(turn, replace(joined, form=Form.RUN))
    return _run_on(turn, joined)


def _run_on(turn: Turn, call: Call) -> Turn:
    """Put a run that has gone on in hand, or refuse all of it."""
    fault = check_run(call.numbers)
    if fault is not None:
        return refuse(turn, call, Refusal(fault.kind), call.end, fault)
    if call.pieces not in {None, turn.scene.item(call.item).pieces}:
        return refuse(turn, call, Refusal.PIECES_WRONG, call.end)
    return turn.but(open=call)


def _with_pieces(turn: Turn, call: Call, pieces: int, end: float) -> Turn:
    """Add the pieces to a call that has its number."""
    call = replace(call, pieces=pieces, end=end)
    if not call.numbers:
        call = replace(call, numbers=(1,), form=Form.RUN)
    turn = turn.but(question=None)
    if pieces != turn.scene.item(call.item).pieces:
        return refuse(turn, call, Refusal.PIECES_WRONG, end)
    return turn.but(open=call)


def _extension(scene: Scene, numbers: tuple[int, ...], end: float) -> Call | None:
    """Give the call that goes on with the line stored last, if nobody has confirmed it yet."""
    tally = scene.current
    newest = tally.newest if tally is not None else None
    if tally is None or newest is None or tally.state is not State.WAITING or newest.confirmed:
        return None
    if not _goes_on(newest.numbers, numbers):
        return None
    return Call(
        tally.key.item,
        newest.numbers + numbers,
        newest.pieces,
        newest.form,
        newest.start,
        end,
        extends=newest.number,
        place=tally.key.place,
    )


def _goes_on(before: tuple[int, ...], numbers: tuple[int, ...]) -> bool:
    """Tell whether numbers go on with a run from one."""
    return bool(before and numbers) and check_run(before) is None and numbers[0] == before[-1] + 1


def _new_package(scene: Scene, call: Call, numbers: tuple[int, ...]) -> bool:
    """Tell whether a run from one comes after a whole package in hand."""
    pack = scene.pack(call.item)
    whole = pack is not None and call.counted > 0 and is_whole(call.counted, pack)
    return whole and not call.doubt and numbers[:1] == (1,)


def _next_package(scene: Scene) -> Key | None:
    """Give the line called last, if it comes in packages and has a count."""
    tally = scene.current
    if tally is None or not tally.total or scene.pack(tally.key.item) is None:
        return None
    return tally.key
