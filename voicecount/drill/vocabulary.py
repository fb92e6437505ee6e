"""What may be heard in a drill, beside the sheet's names and numbers. Pure.

It depends on the task, on whether the table has places, and on the sheet's policy; never on what is
planted and never on how many lie there.
"""

from dataclasses import replace

from voicecount.drill.model import Drill, Task
from voicecount.sheet.model import Sheet
from voicecount.words.commands import BY_ID, Command
from voicecount.words.places import BY_ID as PLACES
from voicecount.words.vocabulary import Vocabulary

_EVERY = (
    *("begin", "start_over", "say_again", "whats_left", "stand_by", "carry_on", "take_back"),
    *("yes", "no", "finish", "dropped"),
)
_BY_TASK: dict[Task, tuple[str, ...]] = {
    Task.FIRST_COUNT: ("hand_over", "other_number", "incomplete", "broken"),
    Task.ADDITION: ("add", "addition", "hand_over", "other_number", "incomplete", "broken"),
    Task.CLOSING_COUNT: ("one_too_many", "incomplete", "broken"),
    Task.CONFIRM: ("hand_over", "other_number", "one_too_many", "incomplete", "broken"),
}
_PLACES = ("none_elsewhere",)


def commands(task: Task, *, places: bool) -> tuple[Command, ...]:
    """Give the commands that are listened for in a task, with or without places."""
    ids = (*_EVERY, *_BY_TASK[task], *(_PLACES if places else ()))
    return tuple(_in_full(BY_ID[id_]) if places else BY_ID[id_] for id_ in ids)


def vocabulary(drill: Drill, sheet: Sheet) -> Vocabulary:
    """Give what can be said in a drill, beside names and numbers."""
    places = any(there.place is not None for there in drill.table)
    known = tuple(PLACES[place] for place in sheet.policy.places) if places else ()
    return Vocabulary(commands(drill.task, places=places), known)


def _in_full(command: Command) -> Command:
    """Leave a bare "no" out, as in a count by places: one weak sound parts it from "none"."""
    return replace(command, phrases=command.phrases[:1]) if command.id == "no" else command
