"""What may be said at a moment, beside a sheet's names: commands, places, answers.

It depends on where the count stands, never on what is expected.
"""

from dataclasses import dataclass

from voicecount.words.choices import Choice
from voicecount.words.commands import COMMANDS, Command
from voicecount.words.places import Place


@dataclass(frozen=True)
class Vocabulary:
    """Hashable, so that a grammar can be kept for each."""

    commands: tuple[Command, ...] = COMMANDS
    places: tuple[Place, ...] = ()
    """Places that are said with a count; none where counts have no places."""
    choices: tuple[Choice, ...] = ()
    """Answers to the question that is open."""


FIRST = Vocabulary()
"""Names, numbers and the commands of every count."""
