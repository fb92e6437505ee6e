"""The ledger is the fold of its events, whatever is said in whatever order."""

from dataclasses import dataclass, field, replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from playing import Play, play, sheet_of

from voicecount.count.compare import compare, compare_key, differing
from voicecount.count.events import (
    CarriedOn,
    CountFinished,
    CountOpened,
    Event,
    LineConfirmed,
    LineDisputed,
    LineStored,
    LineTakenBack,
    PackageSetAside,
    RecountCalled,
    StoodBy,
    Why,
    event_from_dict,
    event_to_dict,
)
from voicecount.count.flags import LASTING, MEANINGS, Flag
from voicecount.count.ledger import Ledger, apply, fold
from voicecount.count.opening import open_case
from voicecount.count.roles import Role, other
from voicecount.count.tally import Key, State
from voicecount.errors import JournalError
from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.sheet.plan import CountKind
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply, Step
from voicecount.words.meaning import Form, Meaning

ITEMS: tuple[dict[str, Any], ...] = (
    {"id": "gauze", "pack": 4, "expect": 8},
    {"id": "blade", "group": "sharps", "expect": 2},
    {"id": "needle", "group": "sharps", "expect": 6, "stated": True},
    {"id": "clip", "group": "instruments", "expect": 3, "pieces": 2},
    {"id": "probe", "group": "instruments"},
)
SHEET = sheet_of(*ITEMS, plan=[{"id": "initial", "kind": "initial", "say": "initial count"}])
"""A plan of one count: all of the talk stays in it."""
NAMES = tuple(item.id for item in SHEET.items)
OPENED = open_case(SHEET, at=0.0, software="s", recogniser="r", voice="v", told_apart=True)


# An independent model: nothing of the ledger is used, only the fields of the events.


@dataclass
class Naive:
    """What stands, as plain lists."""

    lines: list[dict[str, Any]] = field(default_factory=list)

    def see(self, event: Event) -> None:
        values = event_to_dict(event)
        gone = {
            "line_stored": values.get("replaces"),
            "package_set_aside": values.get("replaces"),
            "line_taken_back": values.get("lines"),
        }.get(values["kind"])
        self.lines = [line for line in self.lines if line["line"] not in (gone or ())]
        mine = [line for line in self.lines if line["item"] == values.get("item")]
        match values["kind"]:
            case "line_stored":
                self.lines.append({**values, "confirmed": False, "due": False})
            case "line_confirmed":
                for line in mine:
                    line["confirmed"] = True
            case "line_disputed":
                for line in mine:
                    line["due"] = True
            case "recount_called":
                for line in mine:
                    line["due"] = line["due"] or line["line"] in values["lines"]

    def counted(self, item: str) -> int | None:
        numbers = [line["counted"] for line in self.lines if line["item"] == item]
        return sum(numbers) if numbers else None

    def state(self, item: str) -> str:
        mine = [line for line in self.lines if line["item"] == item]
        if not mine:
            return "left"
        if any(line["due"] for line in mine):
            return "recount"
        return "confirmed" if all(line["confirmed"] for line in mine) else "waiting"


# Random talk of two people, as meanings: far wilder than any room.

runs = st.one_of(
    st.integers(1, 9).map(lambda last: tuple(range(1, last + 1))),
    st.tuples(st.integers(1, 8), st.integers(1, 4)).map(lambda at: tuple(range(at[0], sum(at)))),
    st.lists(st.integers(0, 9), min_size=1, max_size=4).map(tuple),
)
counts = st.builds(
    Meaning,
    st.sampled_from([Form.RUN, Form.RUN, Form.RUN, Form.TOTAL]),
    st.sampled_from(NAMES),
    runs,
    st.sampled_from([None, None, None, 2, 3]),
)
bare = st.builds(Meaning, st.just(Form.RUN), st.none(), runs)
single = st.builds(
    Meaning,
    st.just(Form.NUMBER_FIRST),
    st.sampled_from(NAMES),
    st.integers(0, 9).map(lambda number: (number,)),
    st.sampled_from([None, None, 2]),
)
names = st.builds(Meaning, st.just(Form.NAME), st.sampled_from(NAMES))
none = st.sampled_from(NAMES).map(lambda item: Meaning(Form.NONE, item, (0,)))
commands = st.sampled_from(
    [
        *("start_over", "say_again", "whats_left", "read_tally", "stand_by", "carry_on"),
        *("carry_on", "take_back", "addition", "recount", "yes", "yes", "no", "finish", "begin"),
    ]
).map(lambda command: Meaning(Form.COMMAND, command=command))


Utterance = tuple[Role, Meaning | str, Outcome, bool, bool]


@st.composite
def utterances(draw: st.DrawFn) -> Utterance:
    """Draw one utterance: who, what, and whether it is at once."""
    who = draw(st.sampled_from([Role.SCRUB, Role.SCRUB, Role.CIRCULATOR]))
    kinds = [counts, counts, bare, single, names, none, commands]
    right = st.just("right")  # the circulator's number, as it should be: filled in when played
    meaning = draw(st.one_of(right, right, *kinds) if who is Role.CIRCULATOR else st.one_of(*kinds))
    outcome = draw(st.sampled_from([Outcome.ACCEPTED] * 9 + [Outcome.UNSURE]))
    return who, meaning, outcome, draw(st.booleans()), draw(st.booleans())


talks = st.lists(utterances(), max_size=30)


@dataclass
class Talk:
    """A dialogue with everything that was said in it."""

    dialogue: Dialogue
    heard: list[tuple[Role, Heard]] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    replies: list[Reply | None] = field(default_factory=list)
    now: float = 0.0

    def take(self, step: Step) -> None:
        assert not (step.events and step.reply), "with events, the words come from the commit"
        reply = self.dialogue.commit(step.events) if step.events else step.reply
        self.events += step.events
        self.replies.append(reply)

    def say(self, utterance: Utterance) -> None:
        who, meaning, outcome, at_once, overlapping = utterance
        deadline = self.dialogue.next_deadline
        if not at_once and deadline is not None:
            self.now = max(self.now, deadline)
            self.take(self.dialogue.settle(self.now))
        start = self.now - 0.3 if overlapping and self.heard else self.now + 0.4
        self.now = max(self.now, start + 0.5)
        if meaning == "right":
            waiting = self.dialogue.ledger.waiting()
            call = self.dialogue.call
            total = self.dialogue.ledger.tally(*waiting[-1]).total if waiting else 0
            meaning = Meaning(Form.RUN, None, (call.counted if call else total,))
        channel = 0 if who is Role.SCRUB else 1
        reason = Reason.WEAK_MATCH if outcome is Outcome.UNSURE else None
        heard = Heard(channel, start, start + 0.5, outcome, meaning, "", reason=reason)
        self.heard.append((who, heard))
        one = not self.dialogue.ledger.told_apart
        self.take(
            self.dialogue.hear(replace(heard, channel=0) if one else heard, None if one else who)
        )


def talk_of(utterances: list[Utterance]) -> Talk:
    """Play random talk."""
    talk = Talk(Dialogue(SHEET, told_apart=True))
    talk.events.append(OPENED)
    talk.replies.append(talk.dialogue.commit((OPENED,)))
    for utterance in utterances:
        talk.say(utterance)
    talk.take(talk.dialogue.finish(talk.now + 1))
    return talk


@settings(max_examples=400, deadline=None)
@given(talks)
def test_the_ledger_equals_a_naive_model(utterances: list[Utterance]) -> None:
    """After every event, each item's count and state are what plain lists give."""
    talk = talk_of(utterances)
    naive, ledger = Naive(), Ledger()

    for event in talk.events:
        naive.see(event)
        ledger = apply(ledger, event)
        for item in NAMES:
            assert naive.counted(item) == ledger.tally(item).counted
            assert naive.state(item) == ledger.tally(item).state.value

    assert ledger == talk.dialogue.ledger == fold(talk.events)


@settings(max_examples=400, deadline=None)
@given(talks)
def test_nothing_is_confirmed_without_both_people(utterances: list[Utterance]) -> None:
    """Behind every confirmation stand the scrub's numbers and the circulator's own number."""
    talk = talk_of(utterances)
    lines = {event.line: event for event in talk.events if isinstance(event, LineStored)}

    for line in lines.values():
        called = [
            number
            for who, heard in talk.heard
            if who is Role.SCRUB and line.start <= heard.start and heard.end <= line.end
            if heard.outcome is Outcome.ACCEPTED
            for number in heard.meaning.numbers or (1,)
        ]
        at = 0
        for number in line.numbers:  # the stored run is a subsequence of what the scrub said
            at = called.index(number, at) + 1
    for event in talk.events:
        if isinstance(event, LineConfirmed):
            assert event.by is Role.CIRCULATOR
            assert event.number == lines[event.line].total
            assert any(
                who is Role.CIRCULATOR
                and heard.outcome is Outcome.ACCEPTED
                and heard.meaning.numbers == (event.number,)
                and lines[event.line].end <= heard.start
                and heard.end <= event.at
                for who, heard in talk.heard
            )


@settings(max_examples=400, deadline=None)
@given(talks)
def test_what_is_stored_keeps_the_rules(utterances: list[Utterance]) -> None:
    """Every stored line is a run from one or a total that may be stated, in whole packages."""
    for event in talk_of(utterances).events:
        if isinstance(event, LineStored):
            item = SHEET.item(event.item)
            whole = event.numbers == tuple(range(1, event.counted + 1))
            glance = event.form is Form.NUMBER_FIRST and event.counted <= SHEET.policy.glance
            assert (
                whole
                or (event.numbers == (event.counted,) and (item.stated or glance))
                or (event.numbers == (0,))
            )
            assert event.counted % (item.pack or 1) == 0
            assert event.counted == 0 or item.pieces in {1, event.pieces}
            assert event.expected == item.expect


@settings(max_examples=250, deadline=None)
@given(talks)
def test_the_ledger_equals_a_naive_model_under_other_policies(utterances: list[Utterance]) -> None:
    """One channel, whole groups counted again, and a yes that confirms: the fold still holds."""
    sheet = sheet_of(*ITEMS, policy={"interrupted": "group", "yes_confirms": True})
    talk = Talk(Dialogue(sheet, told_apart=False))
    talk.take(Step((OPENED.model_copy(update={"roles_told_apart": False}),)))
    for utterance in utterances:
        talk.say(utterance)
    talk.take(talk.dialogue.finish(talk.now + 1))
    naive = Naive()
    for event in talk.events:
        naive.see(event)

    assert talk.dialogue.ledger == fold(talk.events)
    for item in NAMES:
        tally = talk.dialogue.ledger.tally(item)
        assert (naive.counted(item), naive.state(item)) == (tally.counted, tally.state.value)


@settings(max_examples=150, deadline=None)
@given(talks, st.data())
def test_every_prefix_can_be_resumed(utterances: list[Utterance], data: st.DataObject) -> None:
    """A dialogue rebuilt from any part of the journal has the same ledger and can go on."""
    events = talk_of(utterances).events
    cut = data.draw(st.integers(1, len(events)))
    ledger = fold(event_from_dict(event_to_dict(event)) for event in events[:cut])

    talk = Talk(Dialogue(SHEET, told_apart=True, ledger=ledger), now=1000.0)
    opening = talk.dialogue.opening()
    for key in ledger.waiting():
        assert SHEET.item(key.item).name(ledger.tally(*key).total) in opening.text.lower()
    for utterance in utterances:
        talk.say(utterance)

    assert talk.dialogue.ledger == fold([*events[:cut], *talk.events])


@settings(max_examples=200, deadline=None)
@given(talks)
def test_events_survive_the_journal(utterances: list[Utterance]) -> None:
    """Every event that a dialogue makes reads back as itself."""
    for event in talk_of(utterances).events:
        assert event_from_dict(event_to_dict(event)) == event


@given(st.integers(1, 4), st.integers(1, 9), st.integers(1, 9))
def test_opposite_differences_never_cancel(off: int, blades: int, needles: int) -> None:
    """One line over and another short by as many are both flagged, though the sums agree."""
    sheet = sheet_of(
        {"id": "blade", "expect": blades},
        {"id": "needle", "expect": needles + off, "stated": True},
    )
    run = " ".join(str(number) for number in range(1, blades + off + 1))
    played = play(sheet, f"scrub: blade {run}", f"circ: {blades + off}")
    played.go(f"scrub: needle total {needles}", f"circ: {needles}")

    lines = compare(played.ledger)
    assert sum(line.counted or 0 for line in lines) == sum(line.expected or 0 for line in lines)
    assert [line.off for line in differing(played.ledger)] == [off, -off]
    assert all(Flag.DIFFERS_FROM_SHEET in line.flags for line in lines)


# Single rules of the fold


def stored(line: int = 1, item: str = "blade", counted: int = 2, **changes: Any) -> LineStored:
    """Make a stored line."""
    values = {
        "at": 1.0,
        "by": Role.SCRUB,
        "item": item,
        "numbers": tuple(range(1, counted + 1)),
        "start": 0.0,
        "end": 0.5,
        "line": line,
        "counted": counted,
        "total": counted,
        "expected": None,
        "form": Form.RUN,
    }
    return LineStored(**{**values, **changes})


def confirmed(line: int = 1, number: int = 2, by: Role | None = Role.CIRCULATOR) -> LineConfirmed:
    """Make a confirmation."""
    return LineConfirmed(at=2.0, by=by, item="blade", line=line, number=number)


def taken_back(**changes: Any) -> LineTakenBack:
    """Make a line taken back."""
    values = {
        "at": 3.0,
        "by": Role.SCRUB,
        "agreed": Role.CIRCULATOR,
        "item": "blade",
        "lines": (1,),
    }
    return LineTakenBack(**{**values, **changes})


@pytest.mark.parametrize(
    ("events", "what"),
    [
        ([stored()], "opened once"),
        ([OPENED, OPENED], "opened once"),
        ([OPENED, stored(item="spoon")], "not on the sheet"),
        ([OPENED, stored(line=2)], "has to"),
        ([OPENED, stored(), stored(line=1, item="probe")], "has to"),
        ([OPENED, stored(total=3)], "not the sum"),
        ([OPENED, stored(), stored(line=2)], "not the sum"),
        ([OPENED, stored(replaces=(1,))], "does not stand"),
        ([OPENED, confirmed()], "not the newest"),
        ([OPENED, stored(), confirmed(number=3)], "not the stored"),
        ([OPENED, stored(), confirmed(by=Role.SCRUB)], "only the circulator"),
        ([OPENED, stored(), confirmed(by=None)], "only the circulator"),
        ([OPENED, stored(), confirmed(), confirmed()], "does not wait"),
        ([OPENED, stored(), confirmed(line=2)], "not the newest"),
        ([OPENED, taken_back()], "does not stand"),
        ([OPENED, stored(), taken_back(agreed=None)], "both people"),
        ([OPENED, stored(), taken_back(agreed=Role.SCRUB)], "both people"),
        ([OPENED, RecountCalled(at=1, item="blade", lines=(1,), why=Why.ASKED)], "not stand"),
        ([OPENED, LineDisputed(at=1, item="blade", line=1, total=2, number=3)], "not the newest"),
    ],
)
def test_events_that_cannot_follow_are_refused(events: list[Event], what: str) -> None:
    """A journal that contradicts itself is never folded into a count."""
    with pytest.raises(JournalError, match=what):
        fold(events)


def test_a_disputed_line_cannot_be_confirmed() -> None:
    """What is to be counted again takes no confirmation."""
    disputed = LineDisputed(at=2, by=Role.CIRCULATOR, item="blade", line=1, total=2, number=3)

    with pytest.raises(JournalError, match="does not wait"):
        fold([OPENED, stored(), disputed, confirmed()])


def test_a_package_set_aside_takes_its_stored_part_along() -> None:
    """A line that turns out to be part of a wrong package no longer stands."""
    aside = PackageSetAside(
        at=2, item="gauze", numbers=(1, 2, 3, 4, 5), start=0, end=1, held=5, pack=4, replaces=(1,)
    )
    ledger = fold([OPENED, stored(item="gauze", counted=4), aside])

    assert ledger.tally("gauze").counted is None
    assert ledger.tally("gauze").aside == (5,)
    assert ledger.flags("gauze") == (Flag.PACKAGE_SET_ASIDE,)


def test_standing_by_is_part_of_the_state() -> None:
    """A case that stood by when it stopped still does when it goes on."""
    assert fold([OPENED, StoodBy(at=1)]).standing_by
    assert not fold([OPENED, StoodBy(at=1), CarriedOn(at=2)]).standing_by


def test_a_place_has_its_own_tally() -> None:
    """The same item counted at two places is two tallies, in a count that goes place by place."""
    closing = CountOpened(
        at=1.0,
        number=2,
        count="closing",
        count_kind=CountKind.CLOSING,
        title="closing count",
        items=NAMES,
        places=("field", "mayo"),
    )
    begun = [OPENED, CountFinished(at=1.0), closing]
    ledger = fold([*begun, stored(place="field"), stored(line=2, counted=3, place="mayo")])

    assert ledger.tally("blade", "field").counted == 2
    assert ledger.tally("blade", "mayo").counted == 3
    assert ledger.tally("blade").counted is None
    assert compare_key(ledger, Key("blade", "field")).counted == 2
    for place in (None, "floor"):
        with pytest.raises(JournalError, match="no place of this count"):
            fold([*begun, stored(place=place)])


def test_the_first_record_is_read_years_later() -> None:
    """A record of another version is refused by its kind, in one line."""
    with pytest.raises(JournalError, match="'item_dropped'") as refused:
        event_from_dict({"kind": "item_dropped", "at": 1.0})
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    "broken",
    [{}, {"kind": "stood_by"}, {"kind": "stood_by", "at": 1.0, "spoon": 1}, {"kind": None}],
)
def test_broken_records_are_refused(broken: dict[str, Any]) -> None:
    """Missing and unknown fields are an error, never a guess."""
    with pytest.raises(JournalError):
        event_from_dict(broken)


def test_every_flag_has_a_meaning() -> None:
    """The table for the docs is whole."""
    assert set(MEANINGS) == set(Flag)
    assert set(Flag) > LASTING


def test_the_other_role() -> None:
    """There are two people; nobody knows the other of an unknown one."""
    assert other(Role.SCRUB) is Role.CIRCULATOR
    assert other(Role.CIRCULATOR) is Role.SCRUB
    assert other(None) is None


def test_keys_come_in_the_sheets_order() -> None:
    """Tables list lines as the sheet does, waiting lines as they were stored."""
    played = Play(SHEET).go("scrub: probe one two", "scrub: blade one two", "(wait)")

    assert [key.item for key in played.ledger.keys(State.WAITING)] == ["blade", "probe"]
    assert [key.item for key in played.ledger.waiting()] == ["probe", "blade"]
    assert [key.item for key in played.ledger.left()] == ["gauze", "needle", "clip"]
