"""What may be said now: the commands, places and answers of the moment.

It follows from where the case stands and from the open question, never from a number.
"""

from dataclasses import replace

from voicecount.sheet.vocabularies import begin_commands
from voicecount.talk.blanks import answers, open_slots
from voicecount.talk.scene import Scene
from voicecount.words.choices import Choice
from voicecount.words.commands import CASE_COMMANDS, COMMANDS, Command, When
from voicecount.words.places import BY_ID
from voicecount.words.vocabulary import Vocabulary


def vocabulary_of(scene: Scene) -> Vocabulary:
    """Give the vocabulary of a scene."""
    ledger = scene.ledger
    heard = {When.CASE}
    if ledger.places:
        heard.add(When.PLACES)
    if ledger.discrepancies:
        heard.add(When.DISCREPANCY)
    plan = ledger.opened.plan if ledger.opened is not None else ()
    begins = begin_commands(plan)
    choices, places = _choices(scene), [BY_ID[place] for place in ledger.places]
    known = {phrase for choice in choices for phrase in choice.phrases}
    # Where "none" is a count, a bare "no" is left out: one weak sound would part them.
    first = (_no_in_full(one) if ledger.places else one for one in COMMANDS)
    commands = (*first, *(one for one in CASE_COMMANDS if one.when in heard), *begins)
    lead = scene.sheet.policy.lead
    if lead and not ledger.counting and scene.filling is None:
        commands = tuple(_after(lead, command) for command in commands)
    return Vocabulary(
        commands,
        tuple(place for place in places if not known.intersection(place.phrases)),
        choices,
    )


_BARE = frozenset({"yes", "no", "carry_on"})
"""Commands that need no lead: answers, and the way back from standing by."""


def _after(lead: str, command: Command) -> Command:
    if command.id in _BARE:
        return command
    return replace(command, phrases=tuple(f"{lead} {phrase}" for phrase in command.phrases))


def _no_in_full(command: Command) -> Command:
    return replace(command, phrases=command.phrases[:1]) if command.id == "no" else command


def _choices(scene: Scene) -> tuple[Choice, ...]:
    filling = scene.filling
    if filling is None or filling.ready:
        return ()
    left = open_slots(filling.form, [slot for slot, _ in filling.values], scene.sheet)
    return answers(scene.sheet, filling.form, left[0]) if left else ()
