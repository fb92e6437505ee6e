"""Every sentence that is spoken, in one place, so that a hospital can read and change them.

Short, and the same each time, written to be read on a screen as well; the pauses around every
number are made where it is spoken.
Nothing here judges, blames or reassures: it tells what was stored, what was heard, and what the
sheet says. Numbers that sound like others are said twice, the second time digit by digit
("fifteen, one five"; patient-safety practice for look-alike doses uses the same form).
"""

from collections.abc import Mapping, Sequence

from voicecount.count.events import Refusal
from voicecount.reasons import Reason
from voicecount.sheet.model import Item, NotCounted
from voicecount.talk.text import capital, listed, number, sentence, within
from voicecount.words.numbers import LARGEST
from voicecount.words.soundalike import digits, twins


def name(item: Item, n: int = 2) -> str:
    """Give an item's name inside a sentence."""
    return item.name(n)


def counted(item: Item, n: int) -> str:
    """Give an item with its count: "gauze, ten"."""
    return f"{item.name(n)}, {number(n)}"


# Opening and going on


def opened(title: str, first: Item) -> str:
    """Say that the count is open."""
    return f"{sentence(title)} Begin with {name(first)}."


def resumed(title: str) -> str:
    """Say that a case goes on after a stop of the program."""
    return f"Going on with {title}."


def not_yet_confirmed(lines: Sequence[tuple[Item, int]]) -> str:
    """List lines that wait for their number."""
    return f"Not confirmed: {listed([counted(*line) for line in lines])}."


def next_item(item: Item) -> str:
    """Say which line comes next."""
    return f"Next, {name(item)}."


# Reading back


def read_back(item: Item, n: int, pieces: int | None) -> str:
    """Read a stored line."""
    return sentence(counted(item, n) + _in_pieces(pieces))


def read_back_more(item: Item, n: int, total: int) -> str:
    """Read a further package and the sum."""
    return f"{sentence(f'{name(item, total)}, {within(n)} more')} Together {number(total)}."


def read_back_added(item: Item, n: int, total: int) -> str:
    """Read an addition and the sum."""
    return f"{sentence(f'{name(item, total)}, {within(n)} added')} Together {number(total)}."


def read_back_again(item: Item, n: int, pieces: int | None) -> str:
    """Read a line that was counted again."""
    return sentence(f"{name(item, n)}, counted again, {number(n)}{_in_pieces(pieces)}")


def sheet_says(expect: int) -> str:
    """Tell the sheet's number beside a line just read."""
    return f"The sheet says {number(expect)}."


def still_waits(item: Item, total: int) -> str:
    """Tell of an earlier line that has no number said to it."""
    return sentence(f"{counted(item, total)}, still waits")


def confirmed(item: Item, total: int) -> str:
    """Say what was confirmed."""
    return sentence(f"{counted(item, total)}, confirmed")


def confirmed_now() -> str:
    """Say that the line just read was confirmed by a number said before it was read."""
    return "Confirmed."


def disputed(item: Item, total: int, said: int | None, pieces: int | None) -> str:
    """Say that two numbers differ, without saying whose is right."""
    heard = "" if said is None else f" Heard {number(said)}{_in_pieces(pieces)}."
    stored = sentence(f"{name(item)}. Stored {number(total)}")
    return f"{stored}{heard} Count all {name(item)} again, from one."


def again(items: Sequence[Item]) -> str:
    """Ask for lines to be counted again."""
    return f"Count again, from one: {listed([name(item) for item in items])}."


# Not taken


REFUSED: Mapping[Refusal, str] = {
    Refusal.NOT_FROM_ONE: "I heard {heard} first. Count {name} again, from one.",
    Refusal.SKIPPED: "After {after} I heard {heard}. Count {name} again, from one.",
    Refusal.REPEATED: "I heard {heard} twice. Count {name} again, from one.",
    Refusal.BACKWARDS: "After {after} I heard {heard}. Count {name} again, from one.",
    Refusal.RESTARTED: "After {after} I heard {heard}. Count {name} again, from one.",
    Refusal.NOT_ONE_BY_ONE: "Count {name} one by one, from one.",
    Refusal.PIECES_MISSING: "{one} is not stored. Call it with its pieces.",
    Refusal.PIECES_WRONG: (
        "{one} is not stored. Pieces heard: {heard}. The sheet says {after}. Look, and call again."
    ),
    Refusal.INTERRUPTED: "{name} stopped at {last}. Not stored. Count {name} again, from one.",
    Refusal.STARTED_OVER: "{name}, again from one.",
    Refusal.UNANSWERED: "{name}, the last call is not stored. Addition, or recount, was open.",
    Refusal.TOO_MANY: "{name}, not stored: over {most} cannot be confirmed by voice.",
    Refusal.UNCLEAR: "{name}, not stored: part of it was not clear. Count again, from one.",
    Refusal.NOT_IN_UNISON: (
        "{name}, not stored. The scrub counted {heard}, the circulator {after}. "
        "Both count again, together, from one."
    ),
    Refusal.NO_PLACE: "{name}, not stored: no place was said. Call it with its place.",
}
"""Why a call is not stored, and what to do."""


def refused(
    item: Item,
    refusal: Refusal,
    after: int | None,
    heard: int | None,
    last: int | None,
    *,
    package: bool,
) -> str:
    """Say why a call was not stored, and what to do.

    ``after`` and ``heard`` are the numbers around a fault of cadence or, for pieces, the sheet's
    and the ones heard; ``last`` is the last number of the call. With ``package``, only that package
    is counted again, because others of the item stand.
    """
    return capital(
        REFUSED[refusal]
        .format(
            name="that package" if package else name(item),
            one=name(item, 1),
            after=_plain(after),
            heard=_plain(heard),
            last=_plain(last),
            most=within(LARGEST),
        )
        .replace(",.", ".")
    )


def set_aside(item: Item, held: int, pack: int) -> str:
    """Say that a package did not hold its number."""
    return (
        f"{sentence(f'a package of {name(item)} with {number(held)}, not {number(pack)}')} "
        "Set the whole package aside. None of it is counted."
    )


def stays_at(item: Item, total: int) -> str:
    """Say what still stands after a package was set aside or a question dropped."""
    return sentence(f"{name(item, total)} at {number(total)}")


# Questions


def how_many(item: Item) -> str:
    """Ask for the numbers of a name."""
    return f"How many {name(item)}? Count from one."


def how_many_pieces(item: Item) -> str:
    """Ask for the pieces of an item that comes apart."""
    return f"How many pieces has the {name(item, 1)}?"


def addition_or_recount(item: Item, total: int) -> str:
    """Ask what a second count of one line is."""
    return f"{sentence(f'{name(item, total)} at {number(total)}')} Addition, or recount?"


def say_the_number() -> str:
    """Ask the circulator for the number; a yes is not enough."""
    return "Circulator, say the number."


def say_the_sum(item: Item) -> str:
    """Ask for the number of all packages."""
    return f"Circulator, all {name(item)} together. Say that number."


def say_name_and_number() -> str:
    """Ask which of two lines a number belongs to."""
    return "Say the name with the number."


def which_place(item: Item) -> str:
    """Ask where something was counted."""
    return f"{capital(name(item))}, where? Say the place."


def which_item() -> str:
    """Ask for the item of a bare run."""
    return "Which item? Say its name, and count from one."


def already_confirmed(item: Item, total: int) -> str:
    """Answer another number for a line that is confirmed."""
    return f"{confirmed(item, total)} To count it again, say: that is a recount."


def not_counted_yet(item: Item) -> str:
    """Answer a number for a line that the scrub has not called."""
    return f"No count of {name(item)} is stored. The scrub calls it first."


def to_be_counted_again(item: Item) -> str:
    """Answer a number for a line that is due for a recount."""
    return sentence(f"{name(item)} come again first. The scrub counts from one")


def scrub_calls() -> str:
    """Answer a run on the circulator's channel."""
    return "The scrub calls the lines. The circulator says the number."


def nothing_waits() -> str:
    """Answer a number, a yes or a no that belongs to nothing."""
    return "No line waits for a number."


def call_it(what: str) -> str:
    """Ask for the call of an announced addition or recount."""
    return f"Call the {what}, with its name."


def take_back(item: Item, n: int) -> str:
    """Ask the other person to agree to taking a line back."""
    return f"Take back {counted(item, n)}? The other one of you, say yes, or no."


def other_one() -> str:
    """Answer a yes of the person who asked."""
    return "The other one of you has to say yes."


# Answers and notices


def taken_back(item: Item, n: int) -> str:
    """Say what was taken out of the tally."""
    return sentence(f"{counted(item, n)}, taken back")


def not_on_the_count(thing: NotCounted) -> str:
    """Answer the name of something that is never counted."""
    return thing.note or sentence(f"{thing.name(2)} are not counted")


def standing_by() -> str:
    """Say that nothing is taken."""
    return "Standing by. Nothing is taken until you say: carry on counting."


def carrying_on() -> str:
    """Say that it listens again."""
    return "Listening."


def nothing_to_repeat() -> str:
    """Answer a say-again before anything was said."""
    return "Nothing was said yet."


def no_line_open() -> str:
    """Answer a command that needs a line when there is none."""
    return "No line is open."


def tally(lines: Sequence[tuple[Item, int]]) -> str:
    """Read all lines."""
    if not lines:
        return "Nothing is stored yet."
    return " ".join(sentence(counted(*line)) for line in lines)


def nothing_left() -> str:
    """Answer the question what is left when no line of the sheet is."""
    return "No line of the sheet is left to call."


def left(items: Sequence[Item]) -> str:
    """List what has no count."""
    return f"Not counted: {listed([name(item) for item in items])}."


def differing(lines: Sequence[tuple[Item, int, int]]) -> str:
    """List lines whose count is not the sheet's."""
    told = [f"{counted(item, n)}, sheet {number(expect)}" for item, n, expect in lines]
    return f"Not as on the sheet: {listed(told, '; ')}."


def finished(confirmed_lines: int, lines: int) -> str:
    """Say how many lines are confirmed; the decision is left to people."""
    return f"Lines confirmed: {within(confirmed_lines)} of {number(lines)}. The two of you decide."


UNSURE: Mapping[Reason, str] = {
    Reason.NO_SPEECH: "I heard no words. Say that again.",
    Reason.NOT_FOR_US: "Was that for me? Say that again.",
    Reason.FAINT: "That was too quiet. Say that again.",
    Reason.CLOSE_CALL: "I heard two things in that. Say that again.",
    Reason.WEAK_MATCH: "That was not clear. Say that again.",
    Reason.SOUND_ALIKE: "That number sounds like another. Say that again.",
    Reason.NO_NUMBER: "I heard no number. Say that again.",
    Reason.NO_ITEM: "Which item? Say its name with the number.",
    Reason.UNKNOWN_NAME: "That name is not on the sheet. Say that again.",
    Reason.UNCLEAR_NAME: "Two names sound like that. Say the name again.",
    Reason.NOT_A_COUNT: "That was no whole count. Say that again.",
    Reason.TOO_FAST: "That was too fast. Say that again.",
    Reason.TOO_LONG: "That was too long at once. Say that again, in parts.",
    Reason.CLIPPED: "That was too loud. Say that again.",
    Reason.SOUND_LOST: "Some sound was lost. Say that again.",
    Reason.ENGINES_DIFFER: "I heard that in two ways. Say that again.",
    Reason.STILL_OPEN: "I had not heard all of that. Say that again.",
}
"""What is asked when speech was not understood, by its reason."""


def which_number(n: int) -> str:
    """Ask which of two numbers that sound alike was said: the digits tell them apart."""
    both = sorted({n, *twins(n)})
    return f"{capital(', or '.join(digits(one) for one in both))}? Say the digits."


def unsure(reason: Reason | None) -> str:
    """Ask for something to be said again."""
    return UNSURE[reason or Reason.WEAK_MATCH]


def _plain(n: int | None) -> str:
    """Say a number as it was heard: zero is zero here."""
    return "zero" if n == 0 else within(n or 0)


def _in_pieces(pieces: int | None) -> str:
    return "" if pieces is None or pieces == 1 else f", in {within(pieces)} pieces"
