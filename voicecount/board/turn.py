"""Whose turn it is: who has to speak next, and the line in hand. Pure.

The line in hand is the one of which words are being said or were heard and are not stored; else the
one that was stored last, or the one that is due.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from voicecount.board import words
from voicecount.board.cut import short
from voicecount.board.follow import Known
from voicecount.board.moment import unheard
from voicecount.board.step import StepDue
from voicecount.count.events import Difference
from voicecount.count.plan import due
from voicecount.count.roles import Role
from voicecount.count.standing import Ledger
from voicecount.count.tally import Key, State, Tally
from voicecount.sheet.plan import CountKind
from voicecount.words.numbers import read_number, words_of
from voicecount.words.places import BY_ID

_LONGEST_NUMBER = 6
"""Words of the longest number: "one hundred and twenty one" is five."""
_LONGEST_NAME = 48
"""Characters of a name in a sentence: its place comes after it, and is never cut."""
_NOT_STORED = frozenset({"calling", "heard"})
_GOES_BEFORE = frozenset({*_NOT_STORED, "waiting", "recount"})
"""Lines in hand that are brought to their end before the step of a difference."""


@dataclass(frozen=True)
class Next:
    """Who has to speak next, and what."""

    who: str
    what: str


@dataclass(frozen=True)
class OpenLine:
    """The line in hand."""

    id: str | None
    """The item; None where no name was said."""
    item: str
    place: str
    number: str
    """Digits; empty while there is none."""
    heard: str
    """Words that are not stored; empty once they are."""
    state: str
    """A code: ``calling``, ``heard``, ``waiting``, ``confirmed``, ``recount``, ``due``; of a
    difference ``differs``."""
    words: str
    """The same for people."""
    title: str
    """What stands over it."""
    then: str = ""
    """After a confirmed line: which one comes next. Of a difference: the words that tell its step,
    where they are not those of every step."""


def speaks_next(known: Known, code: str, line: OpenLine | None, step: StepDue | None) -> Next:
    """Tell who has to speak next. ``code`` says whether anybody is heard."""
    found = _speaks_next(known, code, line, step)
    missing = [words.who(role) for role in unheard(known.now or {}) if role is not None]
    if found.who in missing or (missing and found.who == words.BOTH):
        return Next(found.who if found.who in missing else missing[0], words.NOT_HEARD)
    return found


def _speaks_next(known: Known, code: str, line: OpenLine | None, step: StepDue | None) -> Next:
    fixed = words.NEXT.get(code)
    if fixed is not None:
        return Next(*fixed)
    if code == "slow":
        return Next(words.ASSISTANT, words.late(known.slow))
    now = known.now or {}
    said = now.get("said") or {}
    kind, role = said.get("kind"), said.get("next")
    ledger = known.ledger
    if kind == "question" and not (_both_agree(step, role) and ledger.told_apart):
        return Next(words.who(role), words.ANSWER)
    if line is not None and line.state in _NOT_STORED:
        return _goes_on(ledger, line, together=_together(ledger, now))
    if step is not None and line is not None and line.state == "differs":
        return Next(step.who, step.what)
    alerted = _after_alert(ledger, now, role) if kind == "alert" else None
    return alerted or _by_record(ledger, kind, together=_together(ledger, now))


def _after_alert(ledger: Ledger, now: Mapping[str, Any], role: str | None) -> Next | None:
    """Say what something that was not taken asks for; None for an alert that asks nothing."""
    together = _together(ledger, now)
    again = _called_again(ledger, now)
    if again is not None:
        return Next(_caller(ledger, together=together), words.call_again(named(ledger, again)))
    if role is None:
        return None
    # What was not taken was counted by both, and is counted again by both.
    both = together and ledger.counting and role == Role.SCRUB
    return Next(words.BOTH if both else words.who(role), words.AS_ASKED)


def _both_agree(step: StepDue | None, role: str | None) -> bool:
    """Tell whether a question to nobody by name is the one to both, what a recount came to."""
    return step is not None and step.both and role is None


def _by_record(ledger: Ledger, kind: str | None, *, together: bool) -> Next:
    """Say what the record waits for; ``kind`` is of what was said last."""
    waiting = ledger.waiting()
    key = due_line(ledger) if ledger.counting else None
    if waiting and (kind == "readback" or ledger.last in waiting or key is None):
        return _confirm(ledger)
    return _next_line(ledger, key, together=together)


def _confirm(ledger: Ledger) -> Next:
    return Next(words.who(Role.CIRCULATOR if ledger.told_apart else None), words.SAY_NUMBER)


def _called_again(ledger: Ledger, now: Mapping[str, Any]) -> Key | None:
    """Give the line that an alert says is to be counted again; None where it meant another one."""
    key = due_line(ledger) if ledger.counting else None
    if key is None or ledger.tally(*key).state is not State.RECOUNT:
        return None
    meant = (now.get("heard") or {}).get("item")
    return key if meant is None or meant == key.item else None


def _together(ledger: Ledger, now: Mapping[str, Any]) -> bool:
    """Tell whether both people count aloud at the same time."""
    return ledger.told_apart and bool(now.get("together"))


def _caller(ledger: Ledger, *, together: bool) -> str:
    if together:
        return words.BOTH
    return words.who(Role.SCRUB if ledger.told_apart else None)


def _goes_on(ledger: Ledger, line: OpenLine, *, together: bool) -> Next:
    """Say whose words these are: the place that was due may not be the one that is called."""
    who = _caller(ledger, together=together)
    if line.state == "heard":
        return Next(who, words.GO_ON)
    return Next(who, words.calling(_with_place(line.item, line.place)))


def _next_line(ledger: Ledger, key: Key | None, *, together: bool) -> Next:
    """Say what is next where nothing is asked and no line waits."""
    if not ledger.counting:
        plan = due(ledger)
        return Next(words.NOBODY, words.planned(plan[0].say) if plan else words.NO_COUNT)
    who = _caller(ledger, together=together)
    if key is not None:
        line = named(ledger, key)
        return Next(who, words.count_together(line) if together else words.call(line))
    if ledger.kind is CountKind.ADDITION and not ledger.tallies:
        return Next(who, words.CALL_ADDED)
    return Next(words.who(None) if together else who, words.FINISH)


def due_line(ledger: Ledger) -> Key | None:
    """Give the line that is to be called next: of the item in hand first."""
    keys = ledger.keys(State.RECOUNT, State.LEFT)
    last = ledger.last
    same = [key for key in keys if last is not None and key.item == last.item]
    return next(iter((*same, *keys)), None)


def line_in_hand(ledger: Ledger, now: Mapping[str, Any]) -> OpenLine | None:
    """Give the line in hand: being said, heard and not stored, or the one stored last."""
    stored = stored_line(ledger)
    if not ledger.counting:
        return stored
    newest = _newest(ledger)
    since = newest.lines[-1].end if newest is not None and newest.lines else float("-inf")
    answered = (now.get("said") or {}).get("at", float("-inf"))
    for name, state in (("partial", "calling"), ("heard", "heard")):
        said = now.get(name)
        if not said or said.get("role") == Role.CIRCULATOR or said.get("at", since) <= since:
            continue
        if state == "heard" and (said.get("outcome") != "accepted" or said["at"] <= answered):
            continue
        item, text = said.get("item"), str(said.get("text", ""))
        if item is not None and item not in ledger.items:
            continue  # of another sheet
        place = label(str(said["place"])) if said.get("place") in BY_ID else ""
        number = last_number(text)
        if item is None:
            # What names no item can be the circulator's number where nobody tells them apart, and
            # can be no line at all; else it goes on with the item in hand.
            if not number or (said.get("role") is None and ledger.last in ledger.waiting()):
                continue
            item = ledger.last.item if ledger.last is not None else None
        shown = ledger.items[item].name if item is not None else ""
        return _line(item, shown, place, state, number=number, heard=text)
    return stored


def difference_line(ledger: Ledger, step: StepDue) -> OpenLine:
    """Give a difference in the place of the line in hand: no line comes next while it is walked."""
    one = step.one
    told = f"{words.off(one)}: {step.state}"
    place = words.OFF_FIELD if one.opened.differs is Difference.PLACE else ""
    line = _line(
        one.item,
        ledger.items[one.item].name,
        place,
        "differs",
        number=words.of_expected(one),
        then=step.say,
    )
    return replace(line, words=told)


def in_hand(ledger: Ledger, line: OpenLine | None, step: StepDue | None) -> OpenLine | None:
    """Give what stands beside who speaks next: a line that is not at its end, else a difference."""
    if step is None or (line is not None and line.state in _GOES_BEFORE):
        return line
    return difference_line(ledger, step)


def stored_line(ledger: Ledger) -> OpenLine | None:
    """Give the line that was stored last, or that is due; by the record alone."""
    tally = _newest(ledger)
    again = tally is not None and tally.state is State.RECOUNT and ledger.counting
    key = due_line(ledger) if ledger.counting else None
    if tally is None or not tally.lines or again:
        if key is None:
            return None
        # What is to be counted again stands no more: its old number would be taken for one.
        name = ledger.items[key.item].name
        return _line(key.item, name, label(key.place), "recount" if again else "due")
    name, place = ledger.items[tally.key.item].name, label(tally.key.place)
    total, state = str(tally.total), tally.state.value
    if not ledger.counting:
        return _line(tally.key.item, name, place, state, number=total, title=words.LAST_LINE)
    then = words.then(named(ledger, key) if key is not None else "")
    said_by_both = tally.state is State.CONFIRMED
    line = _line(
        tally.key.item, name, place, state, number=total, then=then if said_by_both else ""
    )
    waits_for_other = tally.state is State.WAITING and not ledger.told_apart
    return replace(line, words=words.WAITS_FOR_OTHER) if waits_for_other else line


def _line(
    item: str | None,
    name: str,
    place: str,
    state: str,
    *,
    number: str = "",
    heard: str = "",
    title: str = "",
    then: str = "",
) -> OpenLine:
    title = title or words.TITLES[state]
    return OpenLine(item, name, place, number, heard, state, words.LINE[state], title, then)


def _newest(ledger: Ledger) -> Tally | None:
    return ledger.tallies.get(ledger.last) if ledger.last is not None else None


def last_number(text: str) -> str:
    """Give the last number of a run as digits; empty where there is none."""
    said = words_of(text)
    for first in range(max(0, len(said) - _LONGEST_NUMBER), len(said)):
        number = read_number(said[first:])
        if number is not None:
            return str(number)
    return ""


def named(ledger: Ledger, key: Key) -> str:
    """Name a line in a sentence."""
    return _with_place(ledger.items[key.item].name, label(key.place))


def _with_place(name: str, place: str) -> str:
    name = short(name, _LONGEST_NAME)
    return f"{name}, {place}" if name and place else name or place


def label(place: str | None) -> str:
    """Name a place; empty for none."""
    return BY_ID[place].label if place is not None else ""
