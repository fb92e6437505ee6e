"""Every word of the board that is not from the sheet. None of them says that a count is right."""

from collections.abc import Collection, Mapping
from math import inf

from voicecount.count.discrepancy import Discrepancy
from voicecount.count.events import Difference, Step
from voicecount.count.roles import Role
from voicecount.show.states import SIGNS as STATE_SIGNS
from voicecount.show.states import WORDS as STATE_WORDS
from voicecount.words.places import BY_ID

DO_NOT = "Do not go by this board."
"""What a page says, and its script by the page, of a board that is not fresh."""
NO_COUNT = "No count is open"
NOBODY = "Nobody"
ASSISTANT = "The assistant"
SAY_NUMBER = "Say the number"
ANSWER = "Answer what was asked"
AS_ASKED = "Do what it asked for"
GO_ON = "Go on, or wait until it is stored"
BOTH = "Both of you"
CALL_ADDED = "Call what is added, from one"
FINISH = "Say: the count is finished"
LAST_LINE = "Last line"
NO_LINE = "no line yet"
DIFFERENCE = "Difference"
OFF_FIELD = "off the field"
NOT_HEARD = "Your microphone is not heard"
NOTHING_YET = "nothing yet"
AGE_NOT_KNOWN = "age not known"
NO_NOISE = "noise not measured"

CAUTIONS = (
    "The two people decide. The board decides nothing.",
    "It does not replace the team's count, wound exploration or imaging.",
    "Local policy and licensed judgement come first.",
)

HEARS: Mapping[str, str] = {
    "hears": "It listens",
    "partly": "One microphone is not heard",
    "speaks": "It speaks and does not hear",
    "stands_by": "It stands by and takes nothing",
    "slow": "It has not answered yet",
    "deaf": "It hears nobody: no microphone",
    "gone": "The assistant does not answer",
    "unread": "The board cannot read the record",
    "ended": "The record is closed",
}
"""Whether anybody is heard."""

SIGNS: Mapping[str, str] = {
    "hears": "◉",
    "partly": "◐",
    "speaks": "▶",
    "stands_by": "❚❚",
    "slow": "◌",
    "deaf": "✕",
    "gone": "✕",
    "unread": "?",
    "ended": "■",
}
"""A shape beside the words."""

NEXT: Mapping[str, tuple[str, str]] = {
    "speaks": (ASSISTANT, "Wait until it has ended"),
    "stands_by": ("Either of you", "To go on, say: carry on counting"),
    "deaf": (NOBODY, "Nobody is heard. Look at the microphone"),
    "gone": (NOBODY, f"{DO_NOT} Count on by your own policy"),
    "unread": ("Not known", DO_NOT.removesuffix(".")),
    "ended": (NOBODY, "Both of you closed the record"),
}
"""Who speaks next where the state alone tells."""

LINE: Mapping[str, str] = {
    "calling": "is being called; nothing is stored",
    "heard": "heard; nothing is stored yet",
    "waiting": "stored; the circulator has not said it",
    "confirmed": "stored, and said by both",
    "recount": "to be counted again",
    "due": "to be called next",
    "differs": "a step is due",
}
"""How far the line in hand has come."""
WAITS_FOR_OTHER = "stored; the other one has not said it"
"""Where nobody tells the two apart."""

TITLES: Mapping[str, str] = {
    "calling": "Open line",
    "heard": "Open line",
    "waiting": "Open line",
    "confirmed": "Confirmed line",
    "recount": "Open line",
    "due": "Next line",
    "differs": DIFFERENCE,
}
"""What stands over the line in hand."""

STEPS: Mapping[Step, str] = {
    Step.PAUSE: "Pause closing, then say so",
    Step.TELL: "Tell surgeon and team, then say so",
    Step.CHARGE: "Tell who is in charge and say so",
    Step.IMAGE: "Imaging by local policy and say so",
}
"""What a step of a difference asks for, in two short lines; see ``search`` for the others."""
WANT_COUNT = "Say: we want a count now"
HOW_IT_ENDS = "Say how it ends"
AGREE = "Say yes, or say no"
ASK_STEP = "Ask: what is left to count"
"""The answer tells the step, where the board does not know it."""
SEARCHED = "say: nothing found there, or: the missing one is found"
ENDS_SHORT = "say: the missing one is found, or: it stays missing, or: we can explain it"
ENDS_OVER = "say: we can explain it, or: it stays unexplained"
STEP_DUE = LINE["differs"]
BOTH_CLOSE = "both of you have to close it"
NOT_RESOLVED = "not resolved"
COUNTED_AGAIN = "counted again"

ROW: Mapping[str, str] = {
    **{state.value: told for state, told in STATE_WORDS.items()},
    "unlike_sheet": "unlike the sheet",
    "part": "counted in part",
    "differs": "differs",
    "found": "both say: found",
    "nothing": "nothing added",
    "outside": "not in this count",
}
ROW_SIGNS: Mapping[str, str] = {
    **{state.value: sign for state, sign in STATE_SIGNS.items()},
    "unlike_sheet": "≠",
    "part": "◔",
    "differs": "≠",
    "found": "≠",
    "nothing": "—",
    "outside": "—",
}
"""Shapes of a line's state, beside its words."""
AGAIN = "↻"
"""Stands for a number that is to be counted again."""


def by_words(hidden: Mapping[str, int]) -> dict[str, int]:
    """Give how many lines there are of each state that has any, by the state's words."""
    return {ROW[state]: n for state, n in hidden.items() if n}


def more(hidden: Mapping[str, int]) -> str:
    """Say how many lines are not shown, by their state; empty for none."""
    if not any(hidden.values()):
        return ""
    told = ", ".join(f"{n} {state}" for state, n in by_words(hidden).items())
    n = sum(hidden.values())
    return f"{n} more line{'' if n == 1 else 's'}: {told}"


def who(role: str | None) -> str:
    """Name a person."""
    return {Role.SCRUB.value: "Scrub", Role.CIRCULATOR.value: "Circulator"}.get(
        str(role), "Either of you"
    )


def unheard(roles: Collection[str | None]) -> str:
    """Say whose microphone is not heard."""
    known = [who(role).lower() for role in roles if role is not None]
    return f"The {known[0]} is not heard" if known else HEARS["partly"]


def search(place: str | None) -> str:
    """Ask for a search."""
    where = "everywhere" if place is None else BY_ID[place].label
    where = where if place in {None, "off_field"} else f"the {where}"
    return f"Search {where} and say so"


def counted(*, by_place: bool, adding: bool) -> str:
    """Name the column of what was counted."""
    if by_place:
        return "sum"
    return "added now" if adding else "counted"


def in_part(said_by_both: int, places: int) -> str:
    """Say of how many places both people gave the number."""
    return f"{said_by_both} of {places} places"


def unlike(sheet: int) -> str:
    """Say what the sheet has, where both people gave another number."""
    return f"sheet says {sheet}"


def call(line: str) -> str:
    """Ask for a line."""
    return f"Call {line}"


def call_again(line: str) -> str:
    """Ask for a line that no longer stands."""
    return f"Count again: {line}"


def calling(line: str) -> str:
    """Say which line is being called; empty for one without a name."""
    return f"Calling {line}" if line else "Calling"


def count_together(line: str) -> str:
    """Ask for a line that both count aloud."""
    return f"Count together: {line}"


def then(line: str) -> str:
    """Say which line comes after this one; empty for none."""
    return f"next: {line}" if line else "no further line is due"


def planned(title: str) -> str:
    """Say which count of the plan comes next."""
    return f"Next on the plan: {title}"


def after(title: str) -> str:
    """Say that a count is over."""
    return f"after the {title}"


def late(seconds: int) -> str:
    """Say for how long there is no answer."""
    return f"Wait. It has not answered for {seconds} s"


def silent(seconds: float) -> str:
    """Say since when there is no sign of life."""
    if seconds == inf:
        return "No assistant has been running since this board was started"
    return f"No sign of life for {seconds:.0f} s"


def sentence(text: str) -> str:
    """End a text, so that another one can follow it."""
    return text if not text or text.endswith((".", "!", "?")) else f"{text}."


def off(one: Discrepancy) -> str:
    """Say by how many something differs; that it was counted again where it no longer does."""
    n = abs(one.off)
    pieces = f" piece{'' if n == 1 else 's'}" if one.opened.differs is Difference.PIECE else ""
    return f"{n}{pieces} {'short' if one.off < 0 else 'too many'}" if n else COUNTED_AGAIN


def of_expected(one: Discrepancy) -> str:
    """Give what is there of what is expected."""
    return f"{one.counted + one.found} of {one.expected}"


def difference(name: str, one: Discrepancy) -> str:
    """Say how an item differs."""
    if one.opened.differs is Difference.PIECE:
        return f"{name}: {one.opened.counted} of {one.opened.expected} pieces"
    where = f" {OFF_FIELD}" if one.opened.differs is Difference.PLACE else ""
    if not one.off:
        return f"{name}{where}: counted again as expected; {BOTH_CLOSE}"
    return f"{name}{where}: {off(one)}"


def not_found(name: str, one: Discrepancy) -> str:
    """Say that a difference was closed without the item."""
    if one.off > 0:
        return f"{name}: {one.off} too many, closed without a reason found"
    return f"{name}: {max(1, -one.off)} not found"


def in_patient(name: str, n: int, site: str, *, on_purpose: bool) -> str:
    """Say what is in the patient."""
    where = "" if site == "not_said" else f", {site.replace('_', ' ')}"
    how = "left on purpose" if on_purpose else "tucked in, to come out"
    return f"{n} {name}{where} ({how})"


def noise(state: str, above: float) -> str:
    """Say how loud the room is."""
    told = {"fine": "noise is low", "loud": "loud: more is asked again", "too_loud": "too loud"}
    return f"{told.get(state, state)}; voices {above:.0f} dB above it"
