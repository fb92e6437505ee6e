"""Every sentence of the forms that are filled in by voice: what is asked and what is read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from voicecount.count.events import Incident
from voicecount.sheet.model import Item
from voicecount.talk.text import capital, number, sentence, within
from voicecount.talk.wording import counted, name

QUESTIONS: Mapping[str, str] = {
    "item": "Which item, and how many?",
    "number": "How many?",
    "fragments": "How many fragments?",
    "pieces": "How many pieces are there?",
    "printed": "What number is printed on it?",
    "held": "How many did it hold?",
    "reason": "For which reason?",
    "plan": "When does it come out?",
    "site": "Where in the patient?",
    "where": "Where was it found?",
    "decision": "What was decided?",
    "outgoing": "Who goes?",
    "incoming": "Who comes?",
    "image": "What is seen on the image?",
    "reader": "Who read it?",
}
"""What is asked for each blank."""

_ONE_BLANK = frozenset({"reason", "plan", "decision", "image", "reader"})


def ask_slot(slot: str, answers: Sequence[str]) -> str:
    """Ask for one blank; a few fixed answers are said with the question."""
    question = QUESTIONS[slot]
    if slot in _ONE_BLANK and answers:
        return f"{question} Say: {'; or: '.join(answers)}."
    return question


INCIDENTS: Mapping[Incident, str] = {
    Incident.DROPPED: "{what}, dropped. It stays in the count.",
    Incident.CUT: "{what}, cut in two. Two entries for each from now on.",
    Incident.BROKEN: "{one}, broken, in {within} fragments. Each is an entry.",
    Incident.INCOMPLETE: "{one}, incomplete. Pieces there, {n}.",
    Incident.TUCKED: "{what}, tucked in, {site}. To come out.",
    Incident.CAME_OUT: "{what}, out of the patient.",
    Incident.PACKED: "{what}, left inside on purpose, {site}. {reason}.",
    Incident.OLD_PACKING_OUT: "{what}, packing of an earlier operation. Not in this count.",
    Incident.OTHER_NUMBER: "{name}. Printed, {printed}. In the pack, {n}.",
    Incident.HANDED_OVER: "{what}, out of the count. {reason}.",
    Incident.COUNTED_OFF: "{what}, off the field, in one group.",
    Incident.ONE_TOO_MANY: "{these}, {within} too many.",
    Incident.ADDED: "{these}, {within} added.",
}
"""What happened, read before both agree and again from the record."""


@dataclass(frozen=True)
class Told:
    """What an incident is about; ``site`` and ``reason`` are phrases."""

    item: Item
    n: int
    printed: int = 0
    site: str = ""
    reason: str = ""


def incident(kind: Incident, told: Told) -> str:
    """Tell of an incident."""
    return capital(
        INCIDENTS[kind].format(
            what=counted(told.item, told.n),
            one=name(told.item, 1),
            name=name(told.item),
            these=name(told.item, told.n),
            n=number(told.n),
            within=within(told.n),
            printed=number(told.printed),
            site=told.site,
            reason=capital(told.reason),
        )
    )


def expected_now(n: int) -> str:
    """Say what is expected from now on."""
    return f"Expected now, {number(n)}."


def other_says_number() -> str:
    """Ask the other person for the number."""
    return "The other one of you, say the number."


def other_says_yes() -> str:
    """Ask the other person to agree."""
    return "The other one of you, say: yes that is right, or no."


def both_say_yes() -> str:
    """Ask both people to agree."""
    return "Each of you, say: yes that is right, or no."


def not_kept() -> str:
    """Say that nothing was kept of what was told."""
    return "Nothing of it is kept."


def numbers_differ(told: int, said: int) -> str:
    """Say that two people gave two numbers."""
    return f"Heard {within(told)} and {number(said)}. Nothing of it is kept. Look, and tell again."


def cannot_be(item: Item, n: int, expected: int | None) -> str:
    """Say that a number does not fit what is expected."""
    now = "" if expected is None else f" Expected now, {number(expected)}."
    return f"{sentence(counted(item, n))} That does not fit.{now} Nothing of it is kept."
