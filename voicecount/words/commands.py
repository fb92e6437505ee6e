"""What can be said besides a count: our command ids, their phrases, and what each one does."""

from dataclasses import dataclass
from enum import StrEnum


class When(StrEnum):
    """When a command is listened for."""

    ALWAYS = "always"
    CASE = "case"
    """During a case, outside of an open question."""
    PLACES = "places"
    """In a count that goes place by place."""
    DISCREPANCY = "discrepancy"
    """While a difference is open."""


@dataclass(frozen=True)
class Command:
    """A command, in plain words of our own; about five syllables are heard best."""

    id: str
    phrases: tuple[str, ...]
    """The first one is the one we teach."""
    does: str
    """One line for help and docs."""
    when: When = When.ALWAYS


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

CASE_COMMANDS: tuple[Command, ...] = (
    *(
        Command(id_, phrases, does, When.CASE)
        for id_, phrases, does in (
            ("add", ("add to the count", "adding to the count"), "opens an addition"),
            ("ask_count", ("we want a count now",), "opens a full count that someone asks for"),
            ("waive", ("we cannot count now",), "records that a count is not done, and why"),
            ("turn_open", ("we are turning to open",), "the operation turns open"),
            ("change_scrub", ("the scrub is changing",), "a new scrub for good: full count"),
            (
                "change_circulator",
                ("the circulator is changing",),
                "a new circulator for good: full count",
            ),
            ("break_scrub", ("a break for the scrub",), "somebody stands in for the scrub"),
            (
                "break_circulator",
                ("a break for the circulator",),
                "somebody stands in for the circulator",
            ),
            ("back", ("the break is over",), "the person who had a break is back"),
            ("dropped", ("something was dropped",), "an item fell; it stays in the count"),
            ("cut", ("something was cut",), "an item was cut in two: two entries from now on"),
            ("broken", ("something has broken",), "an item broke: each fragment is an entry"),
            ("incomplete", ("a piece is missing",), "an item of several pieces is not whole"),
            ("tucked", ("tucking something in",), "an item is tucked in, to come out again"),
            ("untucked", ("that one came out again",), "a tucked item is out"),
            ("packed", ("packing is left inside",), "packing stays in the patient on purpose"),
            ("packing_out", ("old packing came out",), "packing of an earlier operation is out"),
            (
                "other_number",
                ("that pack held another number",),
                "a suture pack held another number than is printed on it",
            ),
            ("hand_over", ("something leaves the count",), "an item leaves, with its reason"),
            ("count_off", ("passing them off the field",), "items leave the field, in groups"),
            ("one_too_many", ("there is one too many",), "an item too many was found"),
            ("end_case", ("close the record now",), "ends the case"),
        )
    ),
    Command(
        "none_elsewhere",
        ("none anywhere else",),
        "the item in hand is at none of the places left; the circulator confirms it so as well",
        When.PLACES,
    ),
    *(
        Command(id_, phrases, does, When.DISCREPANCY)
        for id_, phrases, does in (
            ("done", ("that has been done",), "a step is done"),
            ("nothing_there", ("nothing found there",), "a place was searched, nothing found"),
            ("found", ("the missing one is found", "we have found it"), "the item is found"),
            ("stays_missing", ("it stays missing", "it stays unexplained"), "it is not found"),
            ("cannot", ("that cannot be done",), "a step is not done, and why"),
            ("explained", ("we can explain it",), "the expected number itself was not right"),
        )
    ),
)
"""Commands of a whole case, beside those of every count."""

HUSH = Command("hush", ("stop", "stop talking please"), "cuts the assistant's voice off")
"""Listened for only while the assistant speaks."""

BY_ID: dict[str, Command] = {command.id: command for command in (*COMMANDS, *CASE_COMMANDS)}
