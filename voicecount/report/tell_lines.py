"""Lines for a person about events of single lines of a count, and of the room's sound."""

from collections.abc import Callable, Mapping
from typing import Any

from voicecount.count.event_base import CallEvent, OfItem
from voicecount.count.events import (
    Entry,
    LineConfirmed,
    LineDisputed,
    LineRefused,
    LineStored,
    LineTakenBack,
    MicrophoneChanged,
    NoiseChanged,
    PackageSetAside,
    RecountCalled,
    Refusal,
    SoundChecked,
    UtterancesHeard,
)
from voicecount.count.sound_events import FoundProblem
from voicecount.count.standing import Ledger
from voicecount.report import words
from voicecount.report.tell_names import both, by_whom, item, who
from voicecount.sound.findings import Noise

REFUSALS: Mapping[Refusal, str] = {
    Refusal.NOT_FROM_ONE: "it did not begin with one",
    Refusal.SKIPPED: "a number was skipped",
    Refusal.REPEATED: "a number was said twice",
    Refusal.BACKWARDS: "the numbers went back",
    Refusal.RESTARTED: "it began again with one",
    Refusal.NOT_ONE_BY_ONE: "a total was stated where items are counted one by one",
    Refusal.PIECES_MISSING: "the pieces were not said",
    Refusal.PIECES_WRONG: "the pieces are not those of the sheet",
    Refusal.INTERRUPTED: "it was cut off",
    Refusal.STARTED_OVER: "the caller began the line again",
    Refusal.UNANSWERED: "nobody said whether it was an addition or a recount",
    Refusal.TOO_MANY: "it was more than can be said",
    Refusal.UNCLEAR: "part of it was not understood, and not said again",
    Refusal.NOT_IN_UNISON: "the two people did not count the same number",
    Refusal.NO_PLACE: "nobody said where",
}
"""Why a call was not stored."""

_NOISE: Mapping[Noise, str] = {
    Noise.FINE: "the noise of the room is no longer loud",
    Noise.LOUD: "the room is loud",
    Noise.TOO_LOUD: "the room is too loud to hear well",
}
_MICROPHONES = {
    "silent": "gives no sound, for {:.0f} s so far",
    "heard": "gives sound again, after {:.0f} s",
    "gone": "is gone, for {:.0f} s so far",
    "back": "is back, after {:.0f} s",
}


def _stored(event: LineStored, ledger: Ledger) -> str:
    what = _what(event, ledger)
    parts = [f"{what}, {event.counted} ({_called(event)})"]
    if event.entry is not Entry.FIRST:
        parts.append(words.ENTRIES[event.entry])
    if event.total != event.counted:
        parts.append(f"together {event.total}")
    if event.expected is not None:
        parts.append(f"the sheet says {event.expected}")
    told = ", ".join(parts) + _in_place_of(event.replaces)
    return f"Line {event.line} stored{by_whom(event)}: {told}."


def _confirmed(event: LineConfirmed, ledger: Ledger) -> str:
    how = "by a yes" if event.number is None else f"the number said is {event.number}"
    how = f"both counted {event.number} aloud" if event.unison else how
    return f"Line {event.line} confirmed{by_whom(event)}: {_what(event, ledger)}, {how}."


def _disputed(event: LineDisputed, ledger: Ledger) -> str:
    said = "the answer was no" if event.number is None else f"the number said is {event.number}"
    pieces = "" if event.pieces is None else f", in {event.pieces} pieces"
    return (
        f"Line {event.line} disputed{by_whom(event)}: {_what(event, ledger)}, stored "
        f"{event.total}, {said}{pieces}. To be counted again."
    )


def _recount(event: RecountCalled, ledger: Ledger) -> str:
    why = words.WHY_AGAIN[event.why]
    return (
        f"To be counted again{by_whom(event)}: {_what(event, ledger)}, {_lines(event.lines)}; "
        f"{why}."
    )


def _refused(event: LineRefused, ledger: Ledger) -> str:
    why = REFUSALS[event.refusal]
    if event.missing:
        why += f": {words.run(event.missing)}"
    elif event.after is not None and event.heard is not None:
        why += f": {event.heard} after {event.after}"
    return f"Not stored{by_whom(event)}: {_what(event, ledger)}, {_called(event)}; {why}."


def _set_aside(event: PackageSetAside, ledger: Ledger) -> str:
    return (
        f"Package set aside{by_whom(event)}: {_what(event, ledger)}, it held {event.held} where "
        f"{event.pack} belong; none of it is counted{_in_place_of(event.replaces)}."
    )


def _taken_back(event: LineTakenBack, ledger: Ledger) -> str:
    words_of = both(event.by, event.agreed)
    return f"Taken back: {_what(event, ledger)}, {_lines(event.lines)}; {words_of}."


def _checked(event: SoundChecked, _: Ledger) -> str:
    heard = sum(row.who is not None and row.speech is not None for row in event.channels)
    people = words.counted(heard, "person", "people")
    found = "; ".join(_problem(one) for one in event.problems) or "nothing found"
    return f"Sound check: {people} heard, each on a channel; {found}."


def _noise(event: NoiseChanged, _: Ledger) -> str:
    return (
        f"Noise: {_NOISE[event.state]}; on channel {event.channel + 1} the voice stands "
        f"{event.above_noise:.1f} dB above it."
    )


def _microphone(event: MicrophoneChanged, _: Ledger) -> str:
    which = "" if event.channel is None else f" of channel {event.channel + 1}"
    return f"Microphone{which} {_MICROPHONES[event.state].format(event.seconds)}."


def _heard(event: UtterancesHeard, _: Ledger) -> str:
    asked = sum(n for _, n in event.asked)
    return (
        f"Heard since it was last written down: {event.utterances} utterances, {event.accepted} "
        f"understood, {asked} asked again, {event.ignored} not meant for the assistant."
    )


TELLING: Mapping[type[Any], Callable[[Any, Ledger], str]] = {
    LineStored: _stored,
    LineConfirmed: _confirmed,
    LineDisputed: _disputed,
    RecountCalled: _recount,
    LineRefused: _refused,
    PackageSetAside: _set_aside,
    LineTakenBack: _taken_back,
    SoundChecked: _checked,
    NoiseChanged: _noise,
    MicrophoneChanged: _microphone,
    UtterancesHeard: _heard,
}
"""By kind of event what gives its line; the ledger is the one before the event."""


def _what(event: OfItem, ledger: Ledger) -> str:
    return item(ledger, event.item, event.place)


def _called(event: CallEvent) -> str:
    said = "none" if event.numbers == (0,) else words.run(event.numbers)
    pieces = "" if event.pieces is None else f", each in {event.pieces} pieces"
    return f"called {said}{pieces}"


def _in_place_of(lines: tuple[int, ...]) -> str:
    return f", in place of {_lines(lines)}" if lines else ""


def _lines(lines: tuple[int, ...]) -> str:
    numbers = ", ".join(map(str, lines))
    return f"line {numbers}" if len(lines) == 1 else f"lines {numbers}"


def _problem(one: FoundProblem) -> str:
    where = "" if one.channel is None else f" on channel {one.channel + 1}"
    whose = "" if one.who is None else f", {who(one.who)}"
    stops = "to be put right before the case" if one.stops else "more will be asked"
    return f"{words.plain(one.code.value)}{where}{whose} ({stops})"
