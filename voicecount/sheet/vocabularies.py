"""What a sheet adds to what can be said: its counts by name, its places, its people and sites."""

from collections.abc import Iterator

from voicecount.sheet.model import Sheet
from voicecount.sheet.plan import PlannedCount
from voicecount.words.commands import CASE_COMMANDS, COMMANDS, Command
from voicecount.words.places import BY_ID
from voicecount.words.vocabulary import Vocabulary

BEGIN = "begin:"
"""What the ids of commands begin with that open a named count of the plan."""


def begin_commands(plan: tuple[PlannedCount, ...]) -> tuple[Command, ...]:
    """Give the commands that open each count of a plan."""
    return tuple(Command(f"{BEGIN}{count.id}", (f"begin the {count.say}",), "") for count in plan)


def by_place(sheet: Sheet) -> Vocabulary:
    """Give the vocabulary of a count that goes place by place."""
    commands = (*COMMANDS, *CASE_COMMANDS, *begin_commands(sheet.plan))
    return Vocabulary(commands, tuple(BY_ID[place] for place in sheet.policy.places))


def of_sheet(sheet: Sheet) -> Iterator[tuple[str, Vocabulary]]:
    """Give the widest vocabularies, each with the field of the sheet that it comes from."""
    whole = by_place(sheet)
    yield "plan", whole
    yield "team", Vocabulary(whole.commands, (), sheet.people)
    yield "sites", Vocabulary(whole.commands, (), sheet.where_inside)
