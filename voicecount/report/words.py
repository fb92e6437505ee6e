"""Codes as words for a person who was not there. None of them says that a count is right."""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from voicecount.count.case_events import (
    CountResult,
    Difference,
    Incident,
    Settled,
    Step,
    StepTold,
)
from voicecount.count.flags import MEANINGS as FLAGS
from voicecount.count.line_events import Entry, Why
from voicecount.reasons import MEANINGS as REASONS
from voicecount.report.facts import HeardFacts, Moment, StepFacts
from voicecount.sheet.plan import CountKind
from voicecount.talk.wording_case import RESULTS as SPOKEN_RESULTS
from voicecount.words import choices
from voicecount.words.meaning import Form
from voicecount.words.places import BY_ID

NONE = "\N{EN DASH}"
"""Stands where there is nothing to tell."""

DIFFERS = "≠"
"""Stands before whatever differs, always beside words."""

RESULTS: Mapping[str, str] = {
    **{code.value: text for code, text in SPOKEN_RESULTS.items()},
    CountResult.BASELINE: "Every line has its number from both people.",
    CountResult.AGREES: "Every line has the number expected.",
}
"""What a count came to, as it is spoken; two of them are put for a reader."""

DIFFERING = frozenset({CountResult.DIFFERS.value, CountResult.RECONCILED.value})
"""Results that tell of a difference."""

NOT_FINISHED = "Nobody said that it is finished."
NO_RESULT = "No result stands: it was changed after its finish, or the record names none."
"""Records of the first version name none."""

KINDS: Mapping[str, str] = {
    CountKind.INITIAL: "initial",
    CountKind.ADDITION: "addition",
    CountKind.CAVITY: "before a cavity is closed",
    CountKind.CLOSING: "before the wound is closed",
    CountKind.FINAL: "at the end",
    CountKind.RELIEF: "after a change of people",
    CountKind.ASKED: "asked for",
}

FORMS: Mapping[str, str] = {
    Form.RUN: "one by one",
    Form.NUMBER_FIRST: "a number and a name",
    Form.TOTAL: "a stated total",
    Form.NONE: "said to be none",
}

ENTRIES: Mapping[str, str] = {
    Entry.FIRST: "first line",
    Entry.EXTENDED: "went on from the line before",
    Entry.PACKAGE: "further package",
    Entry.ADDITION: "addition",
    Entry.RECOUNT: "counted again",
}

WHY_AGAIN: Mapping[str, str] = {
    Why.ASKED: "somebody asked for it",
    Why.INTERRUPTED: "the count was interrupted",
    Why.NOT_GONE_ON: "what was called to go on with it was not stored",
    Why.DIFFERS: "it differs from what is expected",
    Why.CHANGED: "something happened to the item after it was counted",
    Why.RELIEF: "somebody took over in the middle of the count",
}
"""Why stored lines are to be counted again."""

DROPPED: Mapping[str, str] = {
    "disputed": f"{DIFFERS} disputed",
    "recount": "to be counted again",
    "taken_back": "taken back by both",
    "replaced": "in the line that went on from it",
    "set_aside": "set aside with its package",
}
"""Why a line stands no longer, or is to be counted again."""

INCIDENTS: Mapping[str, str] = {
    Incident.DROPPED: "dropped; it stays in the count",
    Incident.CUT: "cut in two; two entries for each from then on",
    Incident.BROKEN: "broken; each fragment is an entry",
    Incident.INCOMPLETE: "lacks a piece",
    Incident.TUCKED: "tucked into the patient, to come out before the end",
    Incident.CAME_OUT: "out of the patient again",
    Incident.PACKED: "left in the patient on purpose",
    Incident.OLD_PACKING_OUT: "packing of an earlier operation came out; not in this count",
    Incident.OTHER_NUMBER: "a pack held another number than is printed on it",
    Incident.HANDED_OVER: "left the count",
    Incident.COUNTED_OFF: "left the field in a counted group; it stays in the count",
    Incident.ONE_TOO_MANY: "more found than expected",
    Incident.ADDED: "added while another count was open",
}

HAPPENINGS: Mapping[str, str] = {
    **{f"incident.{code}": text for code, text in INCIDENTS.items()},
    "count_waived": "a planned count was not done",
    "people_changed": "people changed",
    "turned_open": "the operation turned open; what the plan left out is counted from then on",
    "stood_by": "standing by: nothing is taken",
    "carried_on": "listening again",
}

DIFFERENCES: Mapping[str, str] = {
    Difference.LINE: "the item over all places",
    Difference.PLACE: "fewer counted off the field than were passed off it",
    Difference.PIECE: "pieces of one item",
}

STEPS: Mapping[str, str] = {
    Step.PAUSE: "closing pauses",
    Step.TELL: "surgeon and team are told",
    Step.RECOUNT: "both count again",
    Step.SEARCH: "search",
    Step.CHARGE: "the person in charge is told",
    Step.IMAGE: "imaging",
}

ANSWERS: Mapping[str, str] = {
    "done": "done",
    "nothing": "nothing found there",
    "found": "found",
    "not_done": "not done",
}

SETTLED: Mapping[str, str] = {
    Settled.FOUND: "closed by both: found",
    Settled.RECOUNTED: "closed by both: counted again, with the number expected",
    Settled.NOT_FOUND: "closed by both without the item: not found",
    Settled.EXPLAINED: "closed by both: the expected number itself was not right",
}

HEARD_UP_TO = (
    "the last time a count was finished or the record ended, without what was heard just before a "
    "crash"
)
"""How far the figures of what was heard reach: they are written down then, and only then."""

TOO_MANY = "closed by both: too many, not explained"
OPEN = "open: nobody closed it"

_CHOICES = {
    choice.id: choice.phrases[0]
    for group in (
        *(choices.WAIVE, choices.HAND_OVER, choices.REMOVAL, choices.IMAGE, choices.READER),
        *(choices.NO_IMAGE, choices.DECISION, choices.EXPLAINED, choices.SITES),
    )
    for choice in group
}


def plain(code: str | None) -> str:
    """Put a code that has no words of its own as words: ``not_done`` is "not done"."""
    return NONE if code is None else code.replace("_", " ")


def said(code: str | None) -> str:
    """Give an answer as it was said: ``on_ward`` is "comes out on the ward"."""
    return _CHOICES.get(code or "") or plain(code)


def place(code: str | None) -> str:
    """Name a place as it stands in print."""
    known = BY_ID.get(code or "")
    return plain(code) if known is None else known.label


def result(code: str | None, *, finished: bool) -> str:
    """Tell what a count came to, with a sign where something differed."""
    if code is None:
        return NO_RESULT if finished else NOT_FINISHED
    text = RESULTS.get(code, plain(code))
    return f"{DIFFERS} {text}" if code in DIFFERING else text


def flag(code: str) -> str:
    """Explain a mark on a line."""
    return next((text for known, text in FLAGS.items() if known == code), plain(code))


def why_asked(code: str) -> str:
    """Explain why something was asked to be said again."""
    return next((text for known, text in REASONS.items() if known == code), plain(code))


def settled(code: str | None, off: int) -> str:
    """Tell how a difference ended; what was too many is not "not found".

    ``off`` is how many were over or short when it was closed, not when it came up.
    """
    if code is None:
        return OPEN
    if code == Settled.NOT_FOUND and off > 0:
        return TOO_MANY
    return SETTLED.get(code, plain(code))


def came_of(step: StepTold | StepFacts) -> list[str]:
    """Tell what came of a step of a difference: the answer, numbers, why not, who read it."""
    parts = [ANSWERS.get(step.answer) or said(step.answer)]
    parts += [f"counted {step.n}"] if step.n is not None else []
    parts += [f"{step.found} found"] if step.found else []
    return parts + [said(code) for code in (step.reason, step.reader) if code is not None]


def asked_again(heard: HeardFacts) -> str:
    """Tell how often something was asked to be said again, and of how much that was heard."""
    asked = sum(times for _, times in heard.asked)
    return f"{asked} of {counted(heard.utterances, 'utterance')}"


def two(by: str | None, agreed: str | None) -> str:
    """Name who told it and who agreed; neither is known where one microphone hears both."""
    return NONE if by is None and agreed is None else f"{plain(by)}, {plain(agreed)}"


def number(value: int | None) -> str:
    """Write a number, or that there is none."""
    return NONE if value is None else str(value)


def signed(value: int | None) -> str:
    """Write a change with its sign; what differs from zero is marked by its caller."""
    if value is None:
        return NONE
    return f"{value:+d}".replace("-", "\N{MINUS SIGN}") if value else "0"


def off(value: int | None) -> str:
    """Write how far a number is off, with the sign of a difference where it is."""
    return f"{DIFFERS} {signed(value)}" if value else signed(value)


def short_or_over(value: int) -> str:
    """Say a difference in words: "1 short", "2 too many"."""
    return f"{abs(value)} {'short' if value < 0 else 'too many'}" if value else "no difference"


def counted(n: int, one: str, many: str | None = None) -> str:
    """Write a number with its noun: "1 count", "3 counts"."""
    return f"{n} {one}" if n == 1 else f"{n} {many or one + 's'}"


def run(numbers: tuple[int, ...]) -> str:
    """Write the numbers of a call as heard: from the first to the last where they follow."""
    if len(numbers) > 2 and all(after == one + 1 for one, after in pairwise(numbers)):
        return f"{numbers[0]}\N{EN DASH}{numbers[-1]}"
    return ", ".join(map(str, numbers)) or NONE


def clock(seconds: float) -> str:
    """Write seconds on the case's clock: ``4:52``, from an hour on ``1:04:52``."""
    whole = max(0, int(seconds))
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{left:02d}" if hours else f"{minutes}:{left:02d}"


def time_of_day(moment: Moment | None) -> str:
    """Write when it was: ``08:14:05``, by the machine's clock, UTC.

    The day stands before it where it is not the one on which the case began.
    """
    if moment is None:
        return NONE
    then = wall(moment.wall)
    another_day = (then - timedelta(seconds=moment.at)).date() != then.date()
    return f"{then:%Y-%m-%d %H:%M:%S}" if another_day else f"{then:%H:%M:%S}"


def date_and_time(moment: str) -> str:
    """Write a whole time: ``2026-11-26 08:14:05 UTC``."""
    return f"{wall(moment):%Y-%m-%d %H:%M:%S} UTC"


def both_times(moment: Moment | None) -> str:
    """Write the time of day and the case's clock: ``08:14:05 (4:52)``; the head names UTC."""
    return NONE if moment is None else f"{time_of_day(moment)} ({clock(moment.at)})"


def zoned(moment: Moment) -> str:
    """Write the same where no head of a column names UTC: ``08:14:05 UTC (4:52)``."""
    return f"{time_of_day(moment)} UTC ({clock(moment.at)})"


def listed(parts: Iterable[str]) -> str:
    """Join what there is with commas, or say that there is nothing."""
    return ", ".join(part for part in parts if part) or NONE


def wall(text: str) -> datetime:
    """Read a time of day, ISO 8601, as UTC."""
    return datetime.fromisoformat(text).astimezone(UTC)
