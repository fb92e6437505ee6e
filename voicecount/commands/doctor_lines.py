"""One line of the doctor: a sign, what was found, and a remedy."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from voicecount.commands.doctor_machine import Machine
from voicecount.errors import VoicecountError


class Sign(StrEnum):
    """What a line says at its beginning."""

    OK = "ok"
    NOTE = "note"
    """It works, and something is less than it could be."""
    FAIL = "fail"


@dataclass(frozen=True)
class Line:
    """One finding; a note and a failure come with one remedy."""

    sign: Sign
    what: str
    remedy: str | None = None


Check = Callable[[Machine], Line | None]
"""Gives no line where there is nothing to check. May raise; a VoicecountError is a failure."""


def ok(what: str) -> Line:
    """Make a line with nothing to do."""
    return Line(Sign.OK, what)


def note(what: str, remedy: str) -> Line:
    """Make a line that ends no case."""
    return Line(Sign.NOTE, what, remedy)


def fail(what: str, remedy: str) -> Line:
    """Make a line that has to be put right."""
    return Line(Sign.FAIL, what, remedy)


def from_error(error: VoicecountError, sign: Sign = Sign.FAIL) -> Line:
    """Part an error's line into what is wrong and what to do."""
    what, _, remedy = str(error).rpartition("; ")
    return Line(sign, what or remedy, remedy if what else "see docs/commands.md")


def one_line(error: BaseException) -> str:
    """Give the text of an error without line breaks."""
    return " ".join(str(error).split())
