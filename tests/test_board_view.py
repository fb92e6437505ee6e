"""What the board shows of every state: who speaks next, the open line, what differs.

What it may never say is the project's own promise: it records, two people decide.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest
from board_rig import board_of, known, now
from cases import (
    CASE,
    CLOSING,
    DONE,
    FINAL,
    INITIAL,
    LAPS,
    NEEDLES,
    WHOLE,
    begun,
    called,
    case_of,
    placed,
    short,
)
from playing import Play
from test_account import BASE, CIRC, SCRUB, SHORT, WAIVED, count, differs, finished, incident, line
from test_unison import together

from voicecount.board import page, words
from voicecount.board.follow import Known
from voicecount.board.turn import last_number
from voicecount.board.view import Board, board
from voicecount.count.events import (
    CaseClosed,
    CountFinished,
    CountWaived,
    Difference,
    DiscrepancyClosed,
    Event,
    Incident,
    LineRefused,
    LineTakenBack,
    RecountCalled,
    Settled,
    Step,
    StepTold,
    StoodBy,
    Why,
)
from voicecount.count.ledger import Ledger
from voicecount.count.tally import State
from voicecount.sheet.plan import CountKind
from voicecount.show.tally import STATES
from voicecount.words.numbers import in_words

SHEET = case_of(LAPS, NEEDLES, plan=(INITIAL, CLOSING, FINAL))
ONE_TO_TEN = "scrub: lap sponge one two three four five"
BOTH: dict[str, Any] = {"by": SCRUB, "agreed": CIRC}
CLOSED = CaseClosed(at=14.0, due=("uterus", "closing", "final"), **BOTH)
NOBODY_YET = "Do not go by this board. Count on by your own policy"


def play(*script: str, told_apart: bool = True) -> Play:
    return Play(SHEET, told_apart).go(*script)


def row(shown: Board, item: str) -> Any:
    return next(one for group in shown.groups for one in group.rows if one.item == item)


def shown_line(shown: Board) -> tuple[str, str, str, str]:
    assert shown.line is not None
    return shown.line.item, shown.line.number, shown.line.state, shown.line.heard


def voice(text: str, at: float = 99.0, **fields: Any) -> dict[str, Any]:
    return {"role": "scrub", "text": text, "item": None, "at": at, **fields}


def reply(kind: str, role: str | None = None, at: float = 0.0, **fields: Any) -> dict[str, Any]:
    said = {"text": "Some words.", "kind": kind, "next": role, "at": at, "spoken": True}
    return {"said": said | fields}


# Whether anybody is heard


def test_every_way_of_being_heard() -> None:
    """One code each, the gravest first; each has words and a shape of its own."""
    stood = [*BASE, StoodBy(at=10.0)]
    cases: list[tuple[str, Sequence[Event], dict[str, Any] | None, dict[str, Any]]] = [
        ("hears", BASE, now(), {}),
        ("partly", BASE, now(unheard=[None]), {}),
        ("speaks", BASE, now(speaking=True), {}),
        ("stands_by", stood, now(), {}),
        ("slow", BASE, now(), {"slow": 3}),
        ("slow", BASE, now(speaking=True), {"slow": 3}),
        ("deaf", BASE, now(hears=False), {"slow": 3}),
        ("deaf", stood, now(hears=False, speaking=True), {}),
        ("gone", BASE, None, {}),
        ("deaf", BASE, now(unheard=["circulator", "scrub"]), {}),
        ("unread", BASE, now(), {"trouble": "a.vcj, line 4: its content does not fit its hash"}),
        ("unread", [*BASE, CLOSED], None, {"trouble": "a.vcj: there is no such journal"}),
        ("ended", [*BASE, CLOSED], None, {}),
        ("ended", [*BASE, CLOSED], now(hears=False), {}),
    ]
    for code, events, moment, more in cases:
        shown = board(known(events, moment, **more))
        assert (shown.hears, shown.hears_words) == (code, words.HEARS[code])
        if code in words.NEXT:
            assert (shown.next.who, shown.next.what) == words.NEXT[code]
    assert {code for code, *_ in cases} == set(words.HEARS) == set(words.SIGNS)
    assert len(set(words.HEARS.values())) == len(words.HEARS)


def test_an_assistant_that_is_late() -> None:
    """Nobody has to speak before it has answered; for how long it has not is told."""
    shown = board(known(BASE, now(**reply("question", "scrub")), slow=3))
    assert (shown.next.who, shown.next.what) == (
        "The assistant",
        "Wait. It has not answered for 3 s",
    )
    assert (shown.fresh, shown.silent) == (True, "")


def test_nobody_is_told_to_go_on_without_an_assistant() -> None:
    """When it is gone, the board sends people back to their own policy, and says for how long."""
    shown = board(known(BASE, None, silent=3.4))
    assert (shown.next.who, shown.next.what) == ("Nobody", NOBODY_YET)
    assert (shown.silent, shown.fresh) == ("No sign of life for 3 s", False)
    assert board(known(BASE, None, silent=float("inf"))).silent == words.silent(float("inf"))
    assert "since this board was started" in words.silent(float("inf"))


def test_words_that_are_not_fresh_are_not_shown() -> None:
    """Without the assistant only what is in the record stands in the open line."""
    told = now(partial=voice("lap sponge nine", item="lap"))
    events = play(ONE_TO_TEN, "(wait)").events
    assert shown_line(board(known(events, told)))[:3] == ("lap sponge", "9", "calling")
    stale = board(known(events, told, trouble="x"))
    assert shown_line(stale) == ("lap sponge", "5", "waiting", "")


# Who speaks next


@pytest.mark.parametrize("told_apart", [True, False])
def test_who_speaks_next_in_a_count(*, told_apart: bool) -> None:
    """The scrub calls, the circulator says the number; either where nobody tells them apart.

    Source: the scrub counts aloud, the circulator sees and says the number (AORN, from memory).
    """
    scrub, circ = ("Scrub", "Circulator") if told_apart else ("Either of you", "Either of you")
    caller, answerer = ("scrub", "circ") if told_apart else ("one", "one")
    played = play(told_apart=told_apart)
    steps = [
        ([], (scrub, "Call lap sponge")),
        ([f"{caller}: lap sponge one two three four five", "(wait)"], (circ, "Say the number")),
        ([f"{answerer}: five"], (scrub, "Call suture needle")),
        ([f"{caller}: suture needle four", "(wait)"], (circ, "Say the number")),
        ([f"{answerer}: four"], (scrub, words.FINISH)),
        (["circ: the count is finished" if told_apart else "one: the count is finished"], None),
    ]
    for script, told in steps:
        found = board_of(played.go(*script).events).next
        if told is not None:
            assert (found.who, found.what) == told
    after = board_of(played.events).next
    assert (after.who, after.what) == (
        "Nobody",
        "Next on the plan: closing count",
    )


@pytest.mark.parametrize(
    ("kind", "role", "who"),
    [
        *(("question", "scrub", "Scrub"), ("question", "circulator", "Circulator")),
        *(("alert", "scrub", "Scrub"), ("question", None, "Either of you")),
    ],
)
def test_who_answers(kind: str, role: str | None, who: str) -> None:
    """After a question or an alert, whoever was asked."""
    found = board_of(play(ONE_TO_TEN, "(wait)").events, **reply(kind, role))
    what = "Answer what was asked" if kind == "question" else "Do what it asked for"
    assert (found.next.who, found.next.what) == (who, what)
    assert found.said is not None
    assert found.said.alert is (kind == "alert")


def test_an_alert_that_asks_nothing_leaves_the_line_waiting() -> None:
    """As that it is too loud, or that a microphone is silent."""
    found = board_of(play(ONE_TO_TEN, "(wait)").events, **reply("alert", None)).next
    assert (found.who, found.what) == ("Circulator", "Say the number")


def test_an_addition_of_which_nothing_is_called() -> None:
    """It is not finished: what is added is called first; then it may be."""
    more = count(2, count_kind=CountKind.ADDITION, count="addition", title="addition", places=())
    assert board_of([*BASE, more]).next.what == words.CALL_ADDED
    added = board_of([*BASE, more, *line(4, "lap", 5)], **reply("readback", None)).next
    assert added.what in {words.SAY_NUMBER, words.FINISH}


@pytest.mark.parametrize("kind", ["readback", "answer", "notice"])
def test_a_line_that_waits_is_confirmed_next(kind: str) -> None:
    found = board_of(play(ONE_TO_TEN, "(wait)").events, **reply(kind, "circulator")).next
    assert (found.who, found.what) == ("Circulator", "Say the number")


def test_it_speaks() -> None:
    """While it speaks nobody is heard, whatever is open."""
    found = board_of(play().events, speaking=True).next
    assert found.who == "The assistant"


def test_before_any_record() -> None:
    """Without a case there is no count, no line, and nobody is asked for anything."""
    shown = board(replace(known(BASE, now()), ledger=Ledger(), events=0, records=0))
    assert (shown.title, shown.count, shown.line, shown.groups) == ("", words.NO_COUNT, None, ())
    assert (shown.next.who, shown.next.what) == ("Nobody", words.NO_COUNT)
    nothing = board(Known(Ledger(), 0, 0, "0" * 8, None, None, None, float("inf")))
    assert (nothing.fresh, nothing.hears) == (False, "gone")


# The open line


def test_how_a_line_comes_about() -> None:
    """Due, being called, heard, stored, said by both, to be counted again: one code each."""
    played = play()
    assert shown_line(board_of(played.events)) == ("lap sponge", "", "due", "")
    text = "lap sponge one two"
    calling = board_of(played.events, partial=voice(text, item="lap"))
    assert shown_line(calling) == ("lap sponge", "2", "calling", text)
    over = voice("lap sponge one two three", item="lap", outcome="accepted")
    assert shown_line(board_of(played.events, heard=over))[:3] == ("lap sponge", "3", "heard")
    played.go(ONE_TO_TEN, "(wait)")
    assert shown_line(board_of(played.events)) == ("lap sponge", "5", "waiting", "")
    played.go("circ: five")
    assert shown_line(board_of(played.events))[:3] == ("lap sponge", "5", "confirmed")
    recount = RecountCalled(at=90.0, by=CIRC, item="lap", lines=(1,), why=Why.ASKED)
    again = board_of([*played.events, recount])
    assert shown_line(again)[:3] == ("lap sponge", "", "recount")
    assert (row(again, "lap").state, again.next.what) == ("recount", "Call lap sponge")
    taken = LineTakenBack(at=91.0, item="lap", lines=(1,), **BOTH)
    back = [*played.events, taken]
    assert shown_line(board_of(back))[:3] == ("lap sponge", "", "due")
    assert shown_line(board_of(back, partial=voice("lap one", item="lap")))[1:3] == ("1", "calling")
    assert set(words.TITLES) == set(words.LINE)
    assert set(words.LINE) == {
        *("due", "calling", "heard", "waiting", "confirmed", "recount", "differs"),
    }


@pytest.mark.parametrize(
    "said",
    [
        {"partial": voice("nine", role="circulator")},
        {"heard": voice("nine", role="circulator", outcome="accepted")},
        {"heard": voice("lap sponge nine", item="lap", outcome="unsure")},
        {"heard": voice("lap sponge nine", item="lap", at=0.1, outcome="accepted")},
        {
            "heard": voice("lap sponge nine", item="lap", outcome="accepted"),
            **reply("alert", at=99),
        },
        {"partial": voice("carry on counting")},
        {"partial": voice("nine", item="of another sheet")},
        {"partial": voice("")},
    ],
    ids=str,
)
def test_what_is_not_in_the_open_line(said: dict[str, Any]) -> None:
    """The circulator's words, what is not sure, old or answered already, and no line at all."""
    events = play(ONE_TO_TEN, "(wait)").events
    assert shown_line(board_of(events, **said)) == ("lap sponge", "5", "waiting", "")


def test_words_without_an_item_are_never_put_to_another_one() -> None:
    """A run that goes on stands beside the item in hand; where nobody tells the two apart, it can
    be the number of whoever confirms, and is no open line at all."""
    events = play(ONE_TO_TEN, "(wait)").events
    going_on = board_of(events, partial=voice("six seven"))
    assert shown_line(going_on) == ("lap sponge", "7", "calling", "six seven")
    one = play("one: lap sponge one two three four five", "(wait)", told_apart=False)
    for name in ("partial", "heard"):
        said = voice("five", role=None, outcome="accepted")
        shown = board_of(one.events, **{name: said})
        assert shown_line(shown) == ("lap sponge", "5", "waiting", "")
    first = board_of(play().events, partial=voice("three"))
    assert shown_line(first) == ("", "3", "calling", "three")


def test_a_confirmed_line_is_told_as_confirmed() -> None:
    """It is no open line any more; which one comes next is told beside it."""
    played = play()
    assert titled(board_of(played.events)) == ("Next line", "")
    played.go(ONE_TO_TEN, "(wait)")
    assert titled(board_of(played.events)) == ("Open line", "")
    played.go("circ: five")
    assert titled(board_of(played.events)) == ("Confirmed line", "next: suture needle")
    again = board_of(played.events, partial=voice("suture needle one", item="needle"))
    assert titled(again) == ("Open line", "")
    played.go("scrub: suture needle four", "(wait)", "circ: four")
    assert titled(board_of(played.events)) == ("Confirmed line", "no further line is due")


def titled(shown: Board) -> tuple[str, str]:
    assert shown.line is not None
    return shown.line.title, shown.line.then


def outlined(shown: Board) -> list[str]:
    return [one.item for group in shown.groups for one in group.rows if one.current]


def test_the_row_of_the_line_in_hand_is_outlined() -> None:
    """The one that is being called, as soon as its name is said; else the one in the big line."""
    played = play()
    assert outlined(board_of(played.events)) == ["lap"]
    needle = voice("suture needle one two", item="needle")
    assert outlined(board_of(played.events, partial=needle)) == ["needle"]
    assert outlined(board_of(played.events, partial=voice("three"))) == []
    played.go(ONE_TO_TEN, "(wait)", "circ: five")
    assert outlined(board_of(played.events)) == ["lap"]
    assert outlined(board_of(played.events, partial=needle)) == ["needle"]
    heard = voice("suture needle one two", item="needle", outcome="accepted")
    assert outlined(board_of(played.events, heard=heard)) == ["needle"]
    stale = board(known(played.events, now(partial=needle), trouble="x"))
    assert outlined(stale) == ["lap"]
    assert outlined(board_of(begun(SHEET).events)) == []


def test_a_long_name_is_cut_and_never_its_place() -> None:
    """Whoever calls has to know where, however long the name is."""
    long = case_of(
        {"id": "lap", "say": ["very long name of an item " * 4], "pack": 5, "expect": 5},
        plan=(INITIAL, CLOSING, FINAL),
    )
    played = begun(long, "circ: begin the closing count")
    shown = board_of(played.events)
    for text in (shown.next.what, page.short(shown.next.what, 84)):
        assert text.startswith("Call very long name")
        assert text.endswith(f"…, {shown.place_names[0]}")
    said = voice("x one", item="lap", place="off_field")
    calling = board_of(played.events, partial=said).next.what
    assert calling.startswith("Calling very long name")
    assert page.short(calling, 84).endswith("…, off the field")


# In unison


def test_both_count_at_the_same_time() -> None:
    """Source: Great Ormond Street Hospital, guideline "Surgical count": audibly and in unison."""
    played = Play(case_of(LAPS, NEEDLES, plan=(INITIAL, CLOSING), policy={"in_unison": True}))

    def told(**fields: Any) -> tuple[str, str]:
        found = board_of(played.events, together=True, **fields).next
        return found.who, found.what

    assert told() == ("Both of you", "Count together: lap sponge")
    calling = voice("lap sponge one two", item="lap")
    assert told(partial=calling) == ("Both of you", "Calling lap sponge")
    together(played, "lap sponge one two three four five", "lap sponge one two three four six")
    assert isinstance(played.events[-1], LineRefused)
    refused = played.spoken[-1]
    asked = reply(refused.kind.value, refused.speak_next)
    assert told(**asked) == ("Both of you", "Do what it asked for")
    together(played, "lap sponge one two three four five", "lap sponge one two three four five")
    confirmed = played.spoken[-1]
    asked = reply(confirmed.kind.value, confirmed.speak_next)
    assert told(**asked) == ("Both of you", "Count together: suture needle")
    assert titled(board_of(played.events, together=True))[0] == "Confirmed line"
    assert told(**reply("question", "scrub")) == ("Scrub", "Answer what was asked")
    together(played, "suture needle one two three four", "one two three four")
    assert told() == ("Either of you", words.FINISH)
    alone = board_of(play(told_apart=False).events, together=True).next
    assert (alone.who, alone.what) == ("Either of you", "Call lap sponge")


def test_a_line_that_waits_is_the_circulators_in_unison_too() -> None:
    """As after "none anywhere else": the circulator says none, nobody counts again."""
    found = board_of(play(ONE_TO_TEN, "(wait)").events, together=True).next
    assert (found.who, found.what) == ("Circulator", "Say the number")


def test_the_last_line_after_a_count() -> None:
    """When the count is over, it is told as the last one, and words change nothing in it."""
    shown = board_of(begun(SHEET).events, partial=voice("lap sponge one", item="lap"))
    assert shown.line is not None
    assert (shown.line.title, shown.line.then) == (words.LAST_LINE, "")
    assert shown_line(shown)[:3] == ("suture needle", "4", "confirmed")
    assert shown.left == ()


@pytest.mark.parametrize("n", [0, 1, 9, 10, 19, 20, 21, 99, 100, 101, 121, 199])
def test_the_number_of_words(n: int) -> None:
    """Every number as it is spoken, alone and at the end of a run, is its digits (num2words)."""
    num2words = pytest.importorskip("num2words").num2words
    assert last_number(in_words(n)) == str(n)
    spoken = num2words(n).replace("-", " ")
    if n:
        assert last_number(spoken) == str(n)
        assert last_number(f"lap sponges {spoken}") == str(n)


@pytest.mark.parametrize("text", ["", "lap sponge", "one in two pieces", "✕", "two lap sponges"])
def test_no_number_at_the_end(text: str) -> None:
    assert last_number(text) == ""


# Lines, places, differences


def test_the_states_of_a_row() -> None:
    """Nothing called, waiting, said by both, unlike the sheet: codes, with shapes and words."""
    played = play()
    assert row(board_of(played.events), "lap").state == "left"
    assert row(board_of(played.events), "lap").expected == "10"
    assert row(board_of(played.events), "lap").words == "not counted"
    assert board_of(played.events).left == ("lap sponge", "suture needle")
    played.go(ONE_TO_TEN, "(wait)")
    found = row(board_of(played.events), "lap")
    assert (found.state, found.counted, found.current) == ("waiting", "5", True)
    played.go("circ: five", "scrub: suture needle four", "(wait)", "circ: four")
    shown = board_of(played.events)
    assert (row(shown, "lap").state, row(shown, "lap").words) == ("unlike_sheet", "sheet says 10")
    assert row(shown, "needle").state == "confirmed"
    assert shown.left == ()
    assert set(words.ROW) == set(words.ROW_SIGNS)
    assert {state.value for state in State} < set(words.ROW)


def test_a_line_has_one_name_on_a_terminal_and_on_the_board() -> None:
    """How a line stands is told in the same words, with the same shape."""
    for state, told in STATES.items():
        assert f"{words.ROW_SIGNS[state.value]} {words.ROW[state.value]}" == told


def test_a_count_by_places() -> None:
    """Each place has its number; the sum stands only when every place has both people's."""
    played = begun(SHEET, "circ: begin the closing count")
    played.go(*placed(SHEET, {"lap": (3, 0, 7, 0)}))
    shown = board_of(played.events)
    found = row(shown, "lap")
    assert len(shown.place_names) == 4
    assert (found.places, found.counted) == (("3", "0", "7", "0"), "10")
    assert (found.expected, found.state) == ("10", "confirmed")
    needle = row(shown, "needle")
    assert (needle.places, needle.counted, needle.state) == (("-",) * 4, "-", "left")
    assert shown.count == "closing count"
    assert shown.line is not None
    assert shown.line.place == shown.place_names[-1]
    assert shown.next.what == f"Call suture needle, {shown.place_names[0]}"
    played.go("scrub: suture needle on the field one", "(wait)")
    half = row(board_of(played.events), "needle")
    assert (half.places[0], half.counted, half.state) == ("1", "-", "waiting")


def test_a_place_that_is_named_while_it_is_called() -> None:
    """It stands in the open line and beside the name, not the place that was due."""
    played = begun(SHEET, "circ: begin the closing count")
    said = voice("lap sponge on the back table two", item="lap", place="back_table")
    shown = board_of(played.events, partial=said)
    assert shown.line is not None
    assert (shown.line.item, shown.line.place) == ("lap sponge", "back table")
    assert (shown.next.who, shown.next.what) == ("Scrub", "Calling lap sponge, back table")
    odd = board_of(played.events, partial=said | {"place": "nowhere"})
    assert odd.line is not None
    assert (odd.line.place, odd.next.what) == ("", "Calling lap sponge")


def test_a_count_that_leaves_an_item_out() -> None:
    shown = board_of([*BASE, count(items=("lap",))])
    assert row(shown, "needle").state == "outside"
    assert (row(shown, "needle").counted, row(shown, "needle").places) == ("", ())


def test_an_addition_is_expected_from_then_on() -> None:
    """What both gave on top, and told incidents, stand in a column of their own."""
    more = count(2, count_kind=CountKind.ADDITION, count="addition", title="addition", places=())
    shown = board_of([*BASE, more, *line(4, "lap", 5)])
    assert (row(shown, "lap").expected, row(shown, "lap").counted) == ("15", "5")
    assert (row(shown, "lap").change, shown.counted) == ("+5", "added now")
    needle = row(shown, "needle")
    assert (needle.state, needle.words, needle.change) == ("nothing", "nothing yet", "")
    stored = board_of([*BASE, more, line(4, "lap", 5)[0]])
    assert (row(stored, "lap").change, row(stored, "lap").expected) == ("", "10")
    over = [*BASE, more, *line(4, "lap", 5), finished(number=2, count="addition", at=20.0)]
    ended = board_of(over)
    assert (row(ended, "lap").change, row(ended, "lap").expected) == ("+5", "15")
    assert row(ended, "needle").words == "nothing added"
    shown = board_of([*BASE, incident(Incident.ADDED, 5), incident(Incident.HANDED_OVER, 2)])
    assert (row(shown, "lap").change, row(shown, "lap").expected) == ("+3", "13")
    fewer = board_of([*BASE, incident(Incident.HANDED_OVER, 2)])
    assert (row(fewer, "lap").change, row(fewer, "lap").expected) == ("-2", "8")


def test_a_sum_with_what_is_in_the_patient() -> None:
    """It has a column of its own, so that a row adds up as it stands."""
    placed_so = [*line(4, "lap", 3, "field"), *line(5, "lap", 5, "off_field")]
    hidden = [incident(Incident.TUCKED, 1), incident(Incident.PACKED, 1, site="pelvis")]
    shown = board_of([*BASE, *hidden, count(), *placed_so])
    found = row(shown, "lap")
    assert (found.places, found.inside, found.counted) == (("3", "5"), "2", "10")
    assert row(shown, "needle").inside == ""
    assert "in patient" in page.parts(shown)
    assert "in patient" not in page.parts(board_of(begun(SHEET).events))


def test_a_line_of_which_some_places_have_their_number() -> None:
    """It is not told as not counted; how many have it is told."""
    played = begun(SHEET, "circ: begin the closing count", *called(SHEET, "lap", 3, "field"))
    assert row(board_of(played.events), "lap").words == "1 of 4 places"
    played.go(*called(SHEET, "lap", 0, "mayo"))
    found = row(board_of(played.events), "lap")
    assert (found.state, found.words, found.counted) == ("part", "2 of 4 places", "-")
    assert board_of(played.events).left == ("lap sponge", "suture needle")
    assert "counted in part" in words.more({"part": 1})


def test_what_is_to_be_counted_again_is_still_to_call() -> None:
    """With places and without; its old number stands no more."""
    played = play(ONE_TO_TEN, "(wait)", "circ: five", "scrub: suture needle four", "(wait)")
    shown = board_of(played.go("circ: six").events)
    found = row(shown, "needle")
    assert (shown.left, found.counted, found.state) == (("suture needle",), "↻", "recount")
    assert row(shown, "lap").counted == "5"
    again = board_of(short().go(DONE, DONE).events)
    assert again.left == ("lap sponge", "suture needle")


def test_a_difference_closed_as_found_stays_told_in_its_row() -> None:
    """The lines still have their numbers; that both closed it is told until the next count."""
    gone = DiscrepancyClosed(at=13.0, discrepancy=1, settled=Settled.FOUND, n=1, **BOTH)
    found = row(board_of([*SHORT, differs(), gone]), "lap")
    assert (found.state, found.words) == ("found", "both say: found")
    assert (found.counted, found.expected) == ("9", "10")
    lost = DiscrepancyClosed(at=13.0, discrepancy=1, settled=Settled.NOT_FOUND, **BOTH)
    assert row(board_of([*SHORT, differs(), lost]), "lap").state == "differs"


def test_whose_microphone_is_not_heard() -> None:
    """It is told whose; nobody is asked for words that cannot be heard."""
    events = play(ONE_TO_TEN, "(wait)").events
    deaf = {"unheard": ["circulator"]}
    shown = board_of(events, **deaf)
    assert (shown.hears, shown.hears_words) == ("partly", "The circulator is not heard")
    assert (shown.next.who, shown.next.what) == ("Circulator", words.NOT_HEARD)
    other = board_of(events, unheard=["scrub"])
    assert (other.hears_words, other.next.what) == ("The scrub is not heard", "Say the number")
    both = board_of(short().go(DONE, DONE, *placed(CASE, WHOLE)).events, **deaf)
    assert (both.next.who, both.next.what) == ("Circulator", words.NOT_HEARD)
    either = board_of(short().events, **deaf)
    assert either.next.who == "Either of you"
    assert board_of(events, unheard=[None]).hears_words == words.HEARS["partly"]
    one = play("one: lap sponge one", told_apart=False)
    assert board_of(one.events, unheard=[None]).hears == "deaf"


def test_where_nobody_tells_the_two_apart() -> None:
    """No line waits for a circulator whom nobody knows."""
    alone = play("one: lap sponge one two three four five", "(wait)", told_apart=False)
    found = board_of(alone.events).line
    assert found is not None
    assert found.words == "stored; the other one has not said it"
    two = board_of(play(ONE_TO_TEN, "(wait)").events).line
    assert two is not None
    assert two.words == words.LINE["waiting"]


def test_a_record_that_cannot_be_read_says_nothing_of_the_assistant() -> None:
    """It may well be listening; its trouble ends as a sentence."""
    shown = board(known(BASE, now(), trouble="a.vcj, line 4: it is not JSON (from byte 10960)"))
    assert shown.hears_words == "The board cannot read the record"
    assert "assistant" not in f"{shown.next.who} {shown.next.what}".lower()
    assert shown.trouble.endswith("(from byte 10960).")
    assert "10960).</bdi>" in page.parts(shown)
    assert board_of(BASE).trouble == words.sentence("") == ""
    assert words.sentence("It ended.") == "It ended."


def test_no_line_is_no_zero() -> None:
    """ "None" is how zero is said."""
    more = count(2, count_kind=CountKind.ADDITION, count="addition", title="addition", places=())
    parts = page.parts(board_of([*BASE, more]))
    assert '<p class="item none">no line yet</p>' in parts
    assert ">none<" not in parts


def test_one_more_line() -> None:
    assert words.more({"left": 1}) == "1 more line: 1 not counted"
    assert words.more({"left": 1, "part": 2}).startswith("3 more lines: ")


def test_an_age_that_is_not_known_is_told() -> None:
    """As after a clock was set back; before any record there is none."""
    shown = board_of(BASE)
    assert 'data-unknown=""' in page.parts(shown)
    written = replace(shown, written="2026-03-02T08:00:00+00:00")
    assert 'data-unknown=", age not known"' in page.parts(written)


def test_a_difference_of_a_line() -> None:
    """It stands on top from its coming up to its end, by item, number and direction."""
    events = [*SHORT, differs()]
    shown = board_of(events)
    assert shown.differences == ("lap sponge: 1 short",)
    assert row(shown, "lap").state == "differs"
    played = board_of(short().events)
    assert played.differences == ("lap sponge: 1 short",)
    gone = DiscrepancyClosed(at=13.0, discrepancy=1, settled=Settled.FOUND, n=1, **BOTH)
    assert board_of([*events, gone]).differences == ()
    given_up = DiscrepancyClosed(at=13.0, discrepancy=1, settled=Settled.NOT_FOUND, **BOTH)
    assert board_of([*events, given_up]).differences == ("lap sponge: 1 not found",)
    over = CountFinished(at=14.0, number=2, count="closing", result=None)
    final = count(3, count_kind=CountKind.FINAL, count="final", title="final count")
    after = board_of([*events, given_up, over, final])
    assert after.differences == ("lap sponge: 1 not found",)  # for the whole case


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"counted": 8}, "lap sponge: 2 short"),
        ({"counted": 12}, "lap sponge: 2 too many"),
        ({"differs": Difference.PLACE, "counted": 1, "expected": 2}, "lap sponge off the field: 1"),
        (
            {"differs": Difference.PIECE, "item": "tip", "counted": 1, "expected": 2},
            "suction tip: 1",
        ),
    ],
)
def test_kinds_of_differences(fields: dict[str, Any], told: str) -> None:
    (one,) = board_of([*BASE, differs(**fields)]).differences
    assert one.startswith(told)


def test_counted_again_as_expected_is_still_open() -> None:
    """Agreeing numbers close nothing; two people do."""
    again = StepTold(at=12.0, by=CIRC, discrepancy=1, step=Step.RECOUNT, n=10)
    (one,) = board_of([*SHORT, differs(), again]).differences
    assert one == "lap sponge: counted again as expected; both of you have to close it"


def test_what_is_in_the_patient() -> None:
    """By item, number and site, and whether it is to come out."""
    packed = incident(Incident.PACKED, 2, site="pelvis", reason="later")
    shown = board_of([*BASE, incident(Incident.TUCKED, 1, site="upper_left"), packed])
    assert set(shown.inside) == {
        "1 lap sponge, upper left (tucked in, to come out)",
        "2 lap sponge, pelvis (left on purpose)",
    }
    nowhere = board_of([*BASE, incident(Incident.TUCKED, 1, site="not_said")])
    assert nowhere.inside == ("1 lap sponge (tucked in, to come out)",)


def test_after_a_count_and_a_waiver() -> None:
    """Between counts the next one of the plan is told; a waived one is no longer due."""
    shown = board_of(BASE)
    assert shown.count == "after the initial count"
    assert shown.next.what == "Next on the plan: uterine count"
    waived = CountWaived(**WAIVED | {"count": "uterus", "title": "uterine count"})
    assert board_of([*BASE, waived]).next.what.endswith("Next on the plan: closing count")
    none_left = [CountWaived(**WAIVED | {"count": one}) for one in ("uterus", "closing", "final")]
    assert board_of([*BASE, *none_left]).next.what == words.NO_COUNT


def test_a_closed_record() -> None:
    shown = board(known([*BASE, CLOSED], None))
    assert (shown.fresh, shown.hears, shown.silent) == (True, "ended", "")
    assert (shown.next.who, shown.next.what) == words.NEXT["ended"]
    assert shown.left == ()


def test_what_it_said_and_the_sound() -> None:
    """Words that could not be spoken are marked; no words are none; noise is told with its dB."""
    assert board_of(BASE).said is None
    assert board_of(BASE, **reply("notice", text="")).said is None
    shown = board_of(BASE, **reply("alert", spoken=False), noise={"state": "loud", "above": 8.4})
    assert shown.said is not None
    assert (shown.said.text, shown.said.alert, shown.said.spoken) == ("Some words.", True, False)
    assert shown.noise == "loud: more is asked again; voices 8 dB above it"
    assert board_of(BASE).noise == words.NO_NOISE
