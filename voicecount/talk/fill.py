"""Filling in a form: one blank at a time, then the agreement of the other person."""

from dataclasses import replace

from voicecount.count.cadence import check_run
from voicecount.count.roles import Role, other
from voicecount.hear.heard import Heard
from voicecount.talk import wording_forms
from voicecount.talk.blanks import BLANKS, NUMBERS, answers, open_slots
from voicecount.talk.complete import check, complete, package_aside, reading
from voicecount.talk.counts import settle_call
from voicecount.talk.reply import ReplyKind
from voicecount.talk.scene import Filling, Scene, Turn
from voicecount.words.meaning import Form, Meaning

_DROPS = frozenset({"no", "start_over"})


def start(turn: Turn, form: str, by: Role | None, now: float, **known: str | int) -> Turn:
    """Begin a form; what is in hand is settled first."""
    filling = Filling(form, by, tuple(known.items()))
    return _on(settle_call(turn, now), filling, now)


def fill(scene: Scene, heard: Heard, meaning: Meaning, role: Role | None) -> Turn | None:
    """Take something said while a form is in hand; None when it is no part of it.

    ``role`` is None where roles are not told apart.
    """
    filling = scene.filling
    if filling is None:
        return None
    turn, now = Turn(scene), heard.end
    if meaning.command in _DROPS:
        return turn.but(filling=None).say(wording_forms.not_kept(), ReplyKind.NOTICE)
    if filling.ready:
        return _agree(turn, filling, meaning, role, now)
    if meaning.command is not None:
        return None
    left = open_slots(filling.form, [slot for slot, _ in filling.values], scene.sheet)
    slot = left[0]
    after = _filled(scene, filling, slot, meaning)
    if after is None:
        return _ask(turn, filling, slot)
    return _on(turn, _told_by(after, filling, role), now)


def _told_by(after: Filling, before: Filling, role: Role | None) -> Filling:
    """Give a form to the person who tells its number, so that the other one has to agree to it.

    Anyone may fill in a blank; but nobody agrees to what only they said.
    """
    number = BLANKS[after.form].number
    if role is None or (number is not None and before.get(number) is not None):
        return after
    return replace(after, by=role)


def _filled(scene: Scene, filling: Filling, slot: str, meaning: Meaning) -> Filling | None:
    """Give the form with what was said for a slot, and a number that came with it."""
    if slot in NUMBERS:
        n = _number(meaning)
        known = filling.text("item")
        return None if n is None or meaning.item not in {None, known} else filling.holding(slot, n)
    if slot == "item":
        if meaning.item is None or meaning.form is Form.NOT_COUNTED:
            return None
        filling = filling.holding("item", meaning.item)
        after = open_slots(filling.form, [name for name, _ in filling.values], scene.sheet)
        n = _number(meaning)
        if n is not None and after and after[0] in NUMBERS:
            filling = filling.holding(after[0], n)
        return filling
    allowed = {choice.id for choice in answers(scene.sheet, filling.form, slot)}
    allowed.discard(filling.text("outgoing") or "")  # nobody takes over from themselves
    return filling.holding(slot, meaning.choice) if meaning.choice in allowed else None


def _number(meaning: Meaning) -> int | None:
    """Give the number of an utterance: a single one, or the last of a run from one."""
    numbers = meaning.numbers
    if not numbers or (len(numbers) > 1 and check_run(numbers) is not None):
        return None
    return numbers[-1]


def _on(turn: Turn, filling: Filling, now: float) -> Turn:
    """Ask for the next blank; with none left, read the form and ask the other person."""
    scene = turn.scene
    aside = package_aside(scene, filling, now)
    if aside is not None:
        return turn.but(filling=None).record(aside)
    wrong = check(scene, filling)
    if wrong is not None:
        return turn.but(filling=None).say(wrong, ReplyKind.ALERT, filling.by)
    left = open_slots(filling.form, [slot for slot, _ in filling.values], scene.sheet)
    if left:
        return _ask(turn.but(filling=filling), filling, left[0])
    if not BLANKS[filling.form].both:
        return complete(turn.but(filling=None), filling, None, now)
    filling = replace(filling, ready=True)
    return turn.but(filling=filling).ask(
        " ".join((reading(scene, filling), _how_to_agree(scene, filling))), _asked(scene, filling)
    )


def _ask(turn: Turn, filling: Filling, slot: str) -> Turn:
    said = [choice.phrases[0] for choice in answers(turn.scene.sheet, filling.form, slot)]
    return turn.ask(wording_forms.ask_slot(slot, said), filling.by)


def _asked(scene: Scene, filling: Filling) -> Role | None:
    return other(filling.by) if scene.told_apart else None


def _how_to_agree(scene: Scene, filling: Filling) -> str:
    if filling.by is None and scene.told_apart:
        return wording_forms.both_say_yes()
    if BLANKS[filling.form].number is not None and not scene.sheet.policy.yes_confirms:
        return wording_forms.other_says_number()
    return wording_forms.other_says_yes()


def _agree(
    turn: Turn, filling: Filling, meaning: Meaning, role: Role | None, now: float
) -> Turn | None:
    """Take the other person's words for a form that was read back."""
    scene = turn.scene
    yes = meaning.command == "yes"
    if meaning.command is not None and not yes:
        return None
    if filling.form == "recounted" and filling.get("first") is None:
        return (
            _first_of_both(turn, filling, role) if yes else turn.ask(wording_forms.both_say_yes())
        )
    slot = BLANKS[filling.form].number
    told = None if slot is None else filling.n(slot)
    said = _number(meaning) if meaning.item in {None, filling.text("item")} else None
    by_yes = told is None or scene.sheet.policy.yes_confirms
    same_person = scene.told_apart and role is filling.by
    if not same_person and ((yes and by_yes) or (said is not None and said == told)):
        return complete(turn.but(filling=None), filling, role, now)
    if same_person or said is None or told is None:
        return turn.ask(_how_to_agree(scene, filling), _asked(scene, filling))
    text = wording_forms.numbers_differ(told, said)
    return turn.but(filling=None).say(text, ReplyKind.ALERT, filling.by)


def _first_of_both(turn: Turn, filling: Filling, role: Role | None) -> Turn:
    """Take the first yes of two."""
    first = replace(filling, by=role).holding("first", 1)
    return turn.but(filling=first).ask(wording_forms.other_says_yes(), other(role))
