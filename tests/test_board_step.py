"""What the board shows while a difference is walked through: the step, and what is missing.

Every case is played with the assistant's own dialogue, so that the board is held against what is
said. The steps are those of test_case_discrepancy.py.
"""

from collections.abc import Mapping
from typing import Any

import pytest
from board_rig import WALK, board_of, known, now
from cases import (
    BOTH_AGREE,
    CASE,
    DONE,
    LAPS,
    NEEDLES_AT,
    SHORT,
    TIPS,
    WHOLE,
    begun,
    called,
    case_of,
    placed,
    recounted,
    short,
    told,
    walked,
)
from playing import Play

from voicecount.board import words
from voicecount.board.moment import fits
from voicecount.board.view import Board, board
from voicecount.count.events import Step
from voicecount.words.places import BY_ID

STAND_BY = ("circ: stand by please", "circ: carry on counting")
PAUSE = ("Either of you", "Pause closing, then say so")
SEARCH = ("Either of you", "Search the wound and say so")
LONGEST_LINE, LINES = 17, 2
"""Characters that a line of the instruction has on a wall, and how many lines there are."""


def shown(played: Play, **fields: Any) -> Board:
    """Give the board after what the assistant said last."""
    last = played.spoken[-1]
    role = last.speak_next.value if last.speak_next is not None else None
    said = {"text": last.text, "kind": last.kind.value, "next": role, "at": 0.0, "spoken": True}
    policy = played.sheet.policy
    walk = {"steps": list(policy.steps), "search": list(policy.search)}
    return board_of(played.events, **({"said": said, "walk": walk} | fields))


def asked(found: Board) -> tuple[str, str]:
    return found.next.who, found.next.what


def beside(found: Board) -> tuple[str, str, str, str, str]:
    line = found.line
    assert line is not None
    return line.title, line.item, line.place, line.number, line.words


def test_every_step_is_told_to_either_of_them() -> None:
    """In the policy's order, each as the assistant asks for it; the item stands beside it."""
    played = short()
    seen = []

    def look() -> None:
        found = shown(played)
        assert beside(found)[:4] == ("Difference", "lap sponge", "", "9 of 10")
        assert found.line is not None
        assert "next:" not in found.line.then
        seen.append((asked(found), beside(found)[4], found.line.then))

    for script in ((), (DONE,), (DONE, *placed(CASE, SHORT))):
        played.go(*script)
        look()
    for _ in CASE.policy.search[1:]:
        played.go("circ: nothing found there")
        look()
    image = ("circ: nothing seen on the image", "circ: read by the radiologist")
    for script in (("circ: nothing found there",), (DONE,), (DONE, *image)):
        played.go(*script)
        look()
    where = [BY_ID[place].label for place in CASE.policy.search]
    search = [
        f"Search {'' if place == 'off the field' else 'the '}{place} and say so" for place in where
    ]
    due = "1 short: a step is due"
    steps = [words.STEPS[Step.PAUSE], words.STEPS[Step.TELL]]
    later = [words.STEPS[Step.CHARGE], words.STEPS[Step.IMAGE]]
    either = "Either of you"
    assert seen == [
        *(((either, what), due, "") for what in steps),
        *(((either, what), due, words.SEARCHED) for what in search),
        *(((either, what), due, "") for what in later),
        ((either, words.HOW_IT_ENDS), "1 short: both of you have to close it", words.ENDS_SHORT),
    ]


def test_the_words_of_a_step_are_those_that_the_assistant_knows() -> None:
    """Whoever says what the board proposes is understood."""
    played = recounted()
    assert "nothing found there" in words.SEARCHED
    played.go("circ: nothing found there")
    assert "Search the drapes" in played.said
    for text in (words.ENDS_SHORT, words.ENDS_OVER):
        for phrase in text.removeprefix("say: ").split(", or: "):
            spoken = recounted().go(f"circ: {phrase}").spoken
            assert spoken[-1].text != recounted().said, phrase


@pytest.mark.parametrize("what", ["stand by", "asked", "none", "readback"])
def test_a_step_does_not_vanish_behind_other_words(what: str) -> None:
    """It comes from the record: also after a stand-by, an answer, with nothing said at all."""
    for played, step in ((short(), PAUSE), (recounted(), SEARCH)):
        fields: dict[str, Any] = {}
        if what == "stand by":
            played.go(*STAND_BY)
            assert played.said == "Listening."
        elif what == "asked":
            played.go("circ: what is left to count")
        elif what == "none":
            fields = {"said": None}
        else:
            said = {"text": "x", "kind": "readback", "next": "scrub", "at": 0.0, "spoken": True}
            fields = {"said": said}
        found = shown(played, **fields)
        assert asked(found) == step
        assert beside(found)[0] == "Difference"


def test_while_both_count_again_the_lines_go_on() -> None:
    """The line in hand, and which one comes next, as in any count."""
    played = short().go(DONE, DONE)
    found = shown(played)
    assert asked(found) == ("Scrub", "Call lap sponge, field")
    assert beside(found)[:3] == ("Open line", "lap sponge", "field")
    played.go(*called(CASE, "lap", 3, "field"))
    found = shown(played)
    assert asked(found) == ("Scrub", "Call lap sponge, Mayo stand")
    assert found.line is not None
    assert found.line.then == "next: lap sponge, Mayo stand"
    played.go("scrub: lap sponge on the mayo stand none", "(wait)")
    assert asked(shown(played)) == ("Circulator", "Say the number")


def test_what_a_recount_came_to_is_closed_by_both() -> None:
    """Numbers that agree close nothing: both are asked, after a stand-by too."""
    played = short().go(DONE, DONE, *placed(CASE, WHOLE))
    for script in ((), STAND_BY):
        found = shown(played.go(*script))
        assert asked(found) == ("Both of you", words.AGREE)
        assert beside(found) == (
            *("Difference", "lap sponge", "", "10 of 10"),
            "counted again: both of you have to close it",
        )
    played.go(BOTH_AGREE[0])
    assert asked(shown(played)) == ("Circulator", words.ANSWER)
    played.go(BOTH_AGREE[1])
    found = shown(played)
    assert asked(found) == ("Scrub", "Call suture needle, field")
    assert beside(found)[0] == "Confirmed line"
    alone = begun(told_apart=False)
    alone.go("one: begin the closing count")
    assert asked(shown(alone)) == ("Either of you", "Call lap sponge, field")


def test_words_that_are_not_at_their_end_come_before_a_step() -> None:
    """A line that is called, waits, or was disputed a moment ago; then the step again."""
    played = recounted()
    partial = {"role": "scrub", "text": "suture needle two", "item": "needle", "at": 9e9}
    found = shown(played, partial=partial)
    assert asked(found) == ("Scrub", "Calling suture needle")
    assert beside(found)[0] == "Open line"
    played.go("scrub: suture needle on the field two", "(wait)")
    assert asked(shown(played)) == ("Circulator", "Say the number")
    played.go("circ: six")
    assert asked(shown(played)) == ("Scrub", "Count again: suture needle, field")
    played.go(*called(CASE, "needle", 2, "field"))
    assert asked(shown(played)) == SEARCH


def test_what_is_asked_comes_before_a_step() -> None:
    """A question of a form is answered first; what differs stays beside it."""
    found = shown(recounted().go("circ: the missing one is found"))
    assert asked(found) == ("Circulator", words.ANSWER)
    assert beside(found)[0] == "Difference"


def test_the_oldest_difference_is_walked_through() -> None:
    """As the assistant does, until both close it; then the next one."""
    both = {"lap": (3, 0, 6, 0), "needle": (0, 0, 3, 0)}
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, both))
    assert beside(shown(played))[1:4] == ("lap sponge", "", "9 of 10")
    told(played, "we have found it", "on the floor", "one", agreed="one")
    found = shown(played)
    assert beside(found)[1:4] == ("suture needle", "", "3 of 4")
    assert asked(found) == PAUSE


def test_other_kinds_of_differences() -> None:
    """Too many, fewer off the field than were passed off, a piece: each by its own numbers."""
    over = {"lap": (4, 0, 7, 0)}
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, over))
    assert beside(shown(played))[3:] == ("11 of 10", "1 too many: a step is due")
    played.go(DONE, DONE, *placed(CASE, over), DONE)
    found = shown(played)
    assert asked(found) == ("Either of you", words.HOW_IT_ENDS)
    assert found.line is not None
    assert found.line.then == words.ENDS_OVER
    played = told(begun(), "passing them off the field", "lap sponges five", agreed="five")
    played.go("circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 3, 4)}))
    assert beside(shown(played))[1:4] == ("lap sponge", "off the field", "4 of 5")
    sheet = case_of(LAPS, TIPS)
    played = told(begun(sheet), "a piece is missing", "suction tip one", agreed="one")
    found = shown(played)
    assert asked(found) == PAUSE
    assert beside(found)[1:] == ("suction tip", "", "1 of 2", "1 piece short: a step is due")


def test_a_recount_outside_of_a_count_is_asked_for() -> None:
    """No line is open then: a count has to be begun, in the words that begin one."""
    sheet = case_of(policy={"steps": ["pause", "recount"]})
    played = begun(sheet, "circ: begin the closing count", *placed(sheet, SHORT))
    played.go(*placed(sheet, NEEDLES_AT), "circ: the count is finished", DONE)
    found = shown(played)
    assert "we want a count now" in played.said
    assert asked(found) == ("Either of you", words.WANT_COUNT)


def test_a_policy_without_steps() -> None:
    """Then both have to say how it ends, at once."""
    played = short(case_of(policy={"steps": []}))
    assert asked(shown(played)) == ("Either of you", words.HOW_IT_ENDS)


def test_a_board_that_does_not_know_the_policy_tells_how_to_hear_it() -> None:
    """And never that a line comes next."""
    found = shown(short(), walk=None)
    assert asked(found) == ("Either of you", words.ASK_STEP)
    assert beside(found)[4] == "1 short: not resolved"
    played = short().go(f"circ: {words.ASK_STEP.partition(': ')[2]}")
    assert "Closing pauses." in played.said


def test_a_difference_stays_beside_without_the_assistant() -> None:
    """Also when the board is not fresh, and after the record is closed."""
    stale = board(known(recounted().events, None, silent=3.0))
    assert beside(stale) == ("Difference", "lap sponge", "", "9 of 10", "1 short: not resolved")
    assert stale.next.who == "Nobody"
    ended = recounted().go("circ: close the record now", "scrub: yes that is right")
    assert ended.ledger.closed
    assert beside(board(known(ended.events, None)))[0] == "Difference"


def test_an_instruction_has_room_on_a_wall() -> None:
    """Two short lines of the largest letters."""
    every = [*words.STEPS.values(), words.WANT_COUNT, words.HOW_IT_ENDS, words.AGREE]
    every += [words.ASK_STEP, words.NOT_HEARD, *map(words.search, BY_ID)]
    for what in every:
        assert lines_of(what) <= LINES, what


def lines_of(text: str) -> int:
    lines, room = 1, LONGEST_LINE
    for word in text.split():
        room -= len(word)
        if room < 0:
            lines, room = lines + 1, LONGEST_LINE - len(word)
        room -= 1
    return lines


def test_lines_are_broken_as_by_hand() -> None:
    assert [lines_of(text) for text in ("a" * 17, "a" * 16 + " b", "a b c " * 7)] == [1, 2, 3]


@pytest.mark.parametrize(
    ("walk", "holds"),
    [
        (WALK, True),
        ({"steps": [], "search": []}, True),
        (None, True),
        ({"steps": ["dance"], "search": []}, False),
        ({"steps": [], "search": ["nowhere"]}, False),
        ({"steps": [["pause"]], "search": []}, False),
        ({"steps": "pause", "search": []}, False),
        ({"steps": []}, False),
        (["pause"], False),
    ],
)
def test_a_policy_of_another_shape_is_none(walk: object, *, holds: bool) -> None:
    """A moment that a board does not understand is not taken at all."""
    moment: Mapping[str, Any] = now(walk=walk)
    assert fits(moment) is holds


def test_a_walked_case_ends_at_its_outcome() -> None:
    """All places searched: the person in charge is told next, no place is searched twice."""
    found = shown(walked(recounted()))
    assert found.next.what == words.STEPS[Step.CHARGE]
