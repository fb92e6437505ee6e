"""What can be said besides a count: our command ids, their phrases, and what each one does."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Command:
    """A command, in plain words of our own; about five syllables are heard best."""

    id: str
    phrases: tuple[str, ...]
    """The first one is the one we teach."""
    does: str
    """One line for help and docs."""


COMMANDS: tuple[Command, ...] = (
    Command("begin", ("begin the count", "start the count"), "opens the count"),
    Command(
        "start_over",
        ("start this line over", "start that line over"),
        "drops the numbers of the line in hand; it is counted again from one",
    ),
    Command(
        "say_again",
        ("say that again", "say it again please"),
        "repeats the last answer",
    ),
    Command(
        "whats_left",
        ("what is left to count", "what's left to count"),
        "names the lines that are not counted yet",
    ),
    Command("read_tally", ("read me the tally", "read the tally"), "reads out all lines so far"),
    Command(
        "stand_by",
        ("stand by for a moment", "stand by please"),
        "takes nothing more until told to carry on",
    ),
    Command("carry_on", ("carry on counting", "carry on please"), "listens again"),
    Command(
        "take_back",
        ("take that line back", "take back that line"),
        "takes the last stored line out of the tally; the record keeps both",
    ),
    Command(
        "addition",
        ("that is an addition", "it is an addition"),
        "answers that the numbers come on top of the line's count",
    ),
    Command(
        "recount",
        ("that is a recount", "it is a recount"),
        "answers that the numbers take the place of the line's count",
    ),
    Command("yes", ("yes that is right", "yes"), "agrees; a count needs its number said as well"),
    Command("no", ("no that is not right", "no"), "disagrees; the line is counted again"),
    Command("finish", ("the count is finished", "finish the count"), "closes the count"),
)
"""Every command, in the order of the help."""

BY_ID: dict[str, Command] = {command.id: command for command in COMMANDS}
