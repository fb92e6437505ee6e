"""Every word of the board that is not from the sheet. None of them says that a count is right."""

from collections.abc import Mapping
from math import inf

from voicecount.count.discrepancy import Discrepancy
from voicecount.count.events import Difference
from voicecount.count.roles import Role
from voicecount.show.states import SIGNS as STATE_SIGNS
from voicecount.show.states import WORDS as STATE_WORDS

NO_COUNT = "No count is open"
NOBODY = "Nobody"
ASSISTANT = "The assistant"
SAY_NUMBER = "Say the number"
ANSWER = "Answer what was asked"
AS_ASKED = "Do what it asked for"
GO_ON = "Go on, or wait until it is stored"
BOTH = "Both of you"
STEP = "Do what was said, then tell it"
CALL_ADDED = "Call what is added, from one"
FINISH = "Say: the count is finished"
LAST_LINE = "Last line"
NO_NOISE = "noise not measured"

CAUTIONS = (
    "The two people decide. The board shows what they said and nothing more.",
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
    "ended": "■",
}
"""A shape beside the words."""

NEXT: Mapping[str, tuple[str, str]] = {
    "speaks": (ASSISTANT, "Wait until it has ended"),
    "stands_by": ("Either of you", "To go on, say: carry on counting"),
    "deaf": (NOBODY, "Nobody is heard. Look at the microphone"),
    "gone": (NOBODY, "Do not go by this board. Count on by your own policy"),
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
}
"""How far the line in hand has come."""

TITLES: Mapping[str, str] = {
    "calling": "Open line",
    "heard": "Open line",
    "waiting": "Open line",
    "confirmed": "Confirmed line",
    "recount": "Open line",
    "due": "Next line",
}
"""What stands over the line in hand."""

ROW: Mapping[str, str] = {
    **{state.value: told for state, told in STATE_WORDS.items()},
    "unlike_sheet": "unlike the sheet",
    "differs": "differs",
    "nothing": "nothing added",
    "outside": "not in this count",
}
ROW_SIGNS: Mapping[str, str] = {
    **{state.value: sign for state, sign in STATE_SIGNS.items()},
    "unlike_sheet": "≠",
    "differs": "≠",
    "nothing": "—",
    "outside": "—",
}
"""Shapes of a line's state, beside its words."""
PLACE_AGAIN = "↻"
"""Stands for a number that is to be counted again."""


def by_words(hidden: Mapping[str, int]) -> dict[str, int]:
    """Give how many lines there are of each state that has any, by the state's words."""
    return {ROW[state]: n for state, n in hidden.items() if n}


def more(hidden: Mapping[str, int]) -> str:
    """Say how many lines are not shown, by their state; empty for none."""
    if not any(hidden.values()):
        return ""
    told = ", ".join(f"{n} {state}" for state, n in by_words(hidden).items())
    return f"{sum(hidden.values())} more lines: {told}"


def who(role: str | None) -> str:
    """Name a person."""
    return {Role.SCRUB.value: "Scrub", Role.CIRCULATOR.value: "Circulator"}.get(
        str(role), "Either of you"
    )


def call(line: str) -> str:
    """Ask for a line."""
    return f"Call {line}"


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


def difference(name: str, one: Discrepancy) -> str:
    """Say how an item differs."""
    off = one.off
    if one.opened.differs is Difference.PIECE:
        return f"{name}: {one.opened.counted} of {one.opened.expected} pieces"
    where = " off the field" if one.opened.differs is Difference.PLACE else ""
    if not off:
        return f"{name}{where}: counted again as expected; both of you have to close it"
    return f"{name}{where}: {abs(off)} {'short' if off < 0 else 'too many'}"


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
