"""The dialogue as the room uses it: steps, commits, time, and going on after a stop."""

from dataclasses import replace

import pytest
from playing import Play, play, sheet_of

from voicecount.count.events import LineStored, StoodBy, event_from_dict, event_to_dict
from voicecount.count.ledger import Ledger, fold
from voicecount.count.roles import Role
from voicecount.count.tally import State
from voicecount.errors import JournalError
from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply, ReplyKind, Step
from voicecount.talk.scene import join
from voicecount.words.meaning import Form, Meaning

SHEET = sheet_of(
    {"id": "gauze", "pack": 10, "expect": 10},
    {"id": "lap-sponge", "pack": 5, "expect": 10},
    {"id": "blade", "group": "sharps", "expect": 2},
    {"id": "needle", "group": "sharps", "expect": 12, "stated": True},
    {"id": "suction-tip", "group": "miscellaneous", "expect": 1, "pieces": 2},
    {"id": "clamp", "group": "instruments", "expect": 4},
    not_counted=[{"id": "tie", "say": ["tie"]}],
)
ONE_TIP = "Suction tip, one, in two pieces."
TEN = "one two three four five six seven eight nine ten"


def heard(start: float, *numbers: int, item: str | None = None, channel: int = 0) -> Heard:
    """Make an accepted utterance of half a second."""
    meaning = Meaning(Form.RUN, item, numbers)
    return Heard(channel, start, start + 0.5, Outcome.ACCEPTED, meaning, "")


def test_a_whole_count() -> None:
    """A small count from its first line to its end, with everything that is said."""
    played = play(
        SHEET,
        f"scrub: gauze, {TEN}",
        "circ: ten",
        "scrub: lap sponges, one, two, three, four, five",
        "circ: five",
        "scrub: one, two, three, four, five",
        "circ: ten lap sponges",
        "scrub: blade, one, three",
        "scrub: one, two",
        "circ: two",
        "scrub: needle, total twelve",
        "circ: eleven",
        "scrub: needle, total twelve",
        "circ: twelve",
        "scrub: one suction tip, two pieces",
        "circ: one",
        "scrub: clamp, one, two, three, four",
        "circ: four",
        "circ: the count is finished",
    )

    assert played.texts == [
        "A test. Begin with gauze.",
        "Gauze, ten.",
        "Gauze, ten, confirmed.",
        "Lap sponges, five.",
        "Lap sponges, five, confirmed.",
        "Lap sponges, five more. Together ten.",
        "Lap sponges, ten, confirmed.",
        "After one I heard three. Count blades again, from one.",
        "Blades, two.",
        "Blades, two, confirmed.",
        "Needles, twelve.",
        "Needles. Stored twelve. Heard eleven. Count all needles again, from one.",
        "Needles, counted again, twelve.",
        "Needles, twelve, confirmed.",
        "Suction tip, one, in two pieces.",
        "Suction tip, one, confirmed.",
        "Clamps, four.",
        "Clamps, four, confirmed.",
        "Lines confirmed: six of six. The two of you decide.",
    ]
    assert {played.state(item.id) for item in SHEET.items} == {State.CONFIRMED}


# Steps and commits


def test_a_step_with_events_says_nothing_by_itself() -> None:
    """Nothing is acknowledged before it is stored: the words come from the commit."""
    played = Play(SHEET).go("scrub: blade one two")
    step = played.dialogue.settle(played.now + 5)

    assert [event.kind for event in step.events] == ["line_stored"]
    assert step.reply is None
    assert played.dialogue.ledger.tally("blade").counted is None

    reply = played.dialogue.commit(step.events)
    assert reply == Reply("Blades, two.", ReplyKind.READBACK, Role.CIRCULATOR)
    assert played.dialogue.ledger.tally("blade").counted == 2


def test_what_could_not_be_stored_has_not_happened() -> None:
    """If the journal fails and nothing is committed, the dialogue stands where it stood."""
    played = Play(SHEET).go("scrub: blade one two")
    before = played.dialogue.next_deadline
    played.dialogue.settle(played.now + 5)

    assert played.dialogue.next_deadline == before
    assert played.dialogue.settle(played.now + 5).events != ()


def test_the_words_come_from_the_stored_event() -> None:
    """What is read back is the record, even if it is not what was handed out."""
    played = Play(SHEET).go("scrub: blade one two")
    (event,) = played.dialogue.settle(played.now + 5).events
    assert isinstance(event, LineStored)
    other = event.model_copy(update={"numbers": (1, 2, 3), "counted": 3, "total": 3})

    reply = played.dialogue.commit((other,))

    assert reply is not None
    assert reply.text == "Blades, three. The sheet says two."
    assert played.dialogue.ledger.tally("blade").counted == 3


def test_a_commit_that_cannot_follow_is_an_error() -> None:
    """Events of another case are refused, and change nothing."""
    played = play(SHEET)
    before = played.dialogue.ledger

    with pytest.raises(JournalError):
        played.dialogue.commit((played.events[0],))
    assert played.dialogue.ledger == before


def test_the_first_commit_opens_the_case() -> None:
    """Nothing can be stored before the case is opened."""
    with pytest.raises(JournalError, match="opened once"):
        Dialogue(SHEET, told_apart=True).commit((StoodBy(at=0.0),))
    assert Dialogue(SHEET, told_apart=True).ledger == Ledger()


# Time


def test_the_deadline_comes_from_the_last_word() -> None:
    """A line stays open for the settle time after its last word, counted again at each part."""
    dialogue = Play(SHEET).dialogue
    assert dialogue.next_deadline is None

    dialogue.hear(heard(1.0, 1, 2, item="clamp"), Role.SCRUB)
    assert dialogue.next_deadline == 3.0

    dialogue.hear(heard(2.0, 3, 4), Role.SCRUB)
    assert dialogue.next_deadline == 4.0
    assert dialogue.settle(3.9) == Step()
    assert dialogue.settle(4.0).events != ()


def test_a_late_settling_is_stored_at_its_deadline() -> None:
    """However late time is told, and be it at the end of all time, the deadline is what counts."""
    dialogue = Play(SHEET).dialogue
    dialogue.hear(heard(1.0, 1, 2, item="blade"), Role.SCRUB)

    (event,) = dialogue.settle(float("inf")).events
    assert event.at == 3.0


def test_speech_after_the_deadline_settles_first() -> None:
    """If nobody told of the time, the next utterance does: the line is stored before it."""
    dialogue = Play(SHEET).dialogue
    dialogue.hear(heard(1.0, 1, 2, item="blade"), Role.SCRUB)
    step = dialogue.hear(heard(9.0, 2, channel=1), Role.CIRCULATOR)

    assert [event.kind for event in step.events] == ["line_stored", "line_confirmed"]
    reply = dialogue.commit(step.events)
    assert reply is not None
    assert reply.text == "Blades, two. Confirmed."


def test_a_question_after_a_late_settling_is_said_after_the_read_back() -> None:
    """A step can hold events and a question; both are said, in this order."""
    dialogue = Play(SHEET).dialogue
    dialogue.hear(heard(1.0, 1, 2, item="blade"), Role.SCRUB)
    step = dialogue.hear(heard(9.0, 7, 9), Role.SCRUB)

    assert step.reply is None
    reply = dialogue.commit(step.events)
    assert reply is not None
    assert reply.text == "Blades, two. Which item? Say its name, and count from one."
    assert reply.kind is ReplyKind.QUESTION


def test_the_end_of_the_sound_stores_what_is_in_hand() -> None:
    """A whole call is stored when the sound ends, and what is open is told."""
    played = Play(SHEET).go("scrub: blade one two")
    played.take(played.dialogue.finish(played.now))

    assert played.counted("blade") == 2
    assert played.said.startswith("Blades, two. Not confirmed: blades, two.")
    assert played.said.endswith("Lines confirmed: none of six. The two of you decide.")


@pytest.mark.parametrize(
    ("script", "event"),
    [
        (["scrub: lap sponge one two three"], "package_set_aside"),
        (["scrub: one suction tip"], "line_refused"),
        (["scrub: clamp one two", "+scrub?: three"], "line_refused"),
    ],
)
def test_the_end_of_the_sound_stores_nothing_unfinished(script: list[str], event: str) -> None:
    """A short package, missing pieces, or a part not understood are not made into a count."""
    played = Play(SHEET).go(*script)
    played.take(played.dialogue.finish(played.now))

    assert played.kinds == [event]
    assert "Not counted:" in played.said


def test_the_end_without_anything() -> None:
    """A recording of silence ends with what is left."""
    played = Play(SHEET).go("(finish)")

    assert played.said == (
        "Not counted: gauze, lap sponges, blades, needles, suction tips, clamps. "
        "Lines confirmed: none of six. The two of you decide."
    )


# Going on after a stop


def resumed(played: Play) -> Play:
    """Rebuild a dialogue from the events of another one."""
    ledger = fold(event_from_dict(event_to_dict(event)) for event in played.events)
    return Play(played.sheet, played.told_apart, ledger_before=ledger, now=played.now + 60)


def test_a_resumed_count_reads_what_waits() -> None:
    """After a kill, the line that waits is read again, and its number confirms it."""
    again = resumed(play(SHEET, "scrub: blade one two"))
    assert again.said == (
        "Going on with A test. Not counted: gauze, lap sponges. Next, needles. "
        "Blades, two, still waits."
    )
    assert again.last.speak_next is Role.CIRCULATOR

    again.go("circ: two")
    assert again.state("blade") is State.CONFIRMED


def test_a_resumed_count_reads_all_that_waits() -> None:
    """Several lines that wait are listed; a bare number belongs to the one read last."""
    again = resumed(play(SHEET, "scrub: blade one two", "scrub: clamp one two three four"))
    assert again.said == (
        "Going on with A test. Next, gauze. Not confirmed: blades, two. Clamps, four, still waits."
    )

    again.go("circ: two blades", "circ: four")
    assert again.state("blade") is again.state("clamp") is State.CONFIRMED


def test_a_resumed_count_knows_what_is_to_be_counted_again() -> None:
    """A recount that was due still is."""
    again = resumed(play(SHEET, "scrub: blade one two", "circ: three"))
    assert again.said == (
        "Going on with A test. Count again, from one: blades. "
        "Not counted: gauze, lap sponges. Next, needles."
    )

    again.go("scrub: one two", "circ: two")
    assert again.counted("blade") == 2
    assert again.state("blade") is State.CONFIRMED


def test_a_resumed_count_still_stands_by() -> None:
    """A stand-by outlives the program."""
    again = resumed(play(SHEET, "scrub: stand by please"))
    assert "Standing by." in again.said

    again.go("scrub: blade one two", "(wait)")
    assert again.counted("blade") is None


def test_a_resumed_count_goes_on_with_packages() -> None:
    """A further package after a resume still adds to the first one."""
    again = resumed(play(SHEET, "scrub: lap sponge one two three four five", "circ: five"))
    again.go("scrub: one two three four five", "circ: ten")

    assert again.counted("lap-sponge") == 10
    assert again.state("lap-sponge") is State.CONFIRMED


def test_a_call_in_hand_is_not_kept() -> None:
    """What nobody acknowledged is not in the record, and is called again."""
    played = Play(SHEET).go("scrub: blade one two")

    assert resumed(played).counted("blade") is None


# Ends of questions


def test_ignored_speech_changes_nothing() -> None:
    """Talk in the room is not answered, and joins nothing."""
    dialogue = Play(SHEET).dialogue
    dialogue.hear(heard(1.0, 1, 2, item="clamp"), Role.SCRUB)
    talk = replace(heard(1.7, 3), outcome=Outcome.IGNORED, meaning=None, reason=Reason.NOT_FOR_US)

    assert dialogue.hear(talk, Role.SCRUB) == Step()
    assert dialogue.call is not None
    assert dialogue.call.numbers == (1, 2)


@pytest.mark.parametrize(
    ("script", "said"),
    [
        (["circ: say that again"], "A test. Begin with gauze."),
        (["scrub: start this line over"], "No line is open."),
        (["scrub: take that line back"], "No line is open."),
        (["scrub: carry on counting"], "Listening."),
        (["scrub: read the tally"], "Nothing is stored yet."),
        (["scrub: tie"], "Ties are not counted."),
        (["scrub: two pieces"], "Which item? Say its name, and count from one."),
        (["scrub: that is a recount"], "Call the recount, with its name."),
        (["scrub: clamp", "+scrub: start this line over"], "Count again, from one: clamps."),
        (
            ["scrub: one suction tip", "scrub: start this line over"],
            "Suction tips, again from one.",
        ),
        (["scrub: one suction tip", "scrub: three pieces"], None),
        (["scrub: clamp one two", "+scrub: no"], "Clamps, again from one."),
        (["scrub: clamp one two three four", "scrub: no"], "Count again, from one: clamps."),
        (["scrub: clamp one", "+scrub: clamp", "+scrub: two three four"], "Clamps, four."),
        (["scrub: suction tip", "+scrub: two pieces"], ONE_TIP),
        (["scrub: suction tip one", "+scrub: two pieces"], ONE_TIP),
        (["scrub: suction tip one", "+scrub: three pieces"], None),
        (["scrub: suction tip one", "+scrub: suction tip two pieces"], ONE_TIP),
        (["scrub: one suction tip two pieces", "+scrub: two, three pieces"], None),
        (["scrub: clamp one two", "+scrub: clamp three four"], "Clamps, four."),
        (["scrub: clamp one two", "scrub: clamp three four"], "Clamps, four."),
        (["scrub: clamp one two", "+scrub: take that line back"], "Clamps, again from one."),
    ],
)
def test_small_turns(script: list[str], said: str | None) -> None:
    """Commands and parts of calls where little is open."""
    played = play(SHEET, *script)

    if said is None:
        assert "Pieces heard: three. The sheet says two." in played.said
    else:
        assert played.said == said


@pytest.mark.parametrize("words", ["yes", "no", "clamp", "one two", "two", "three clamps"])
def test_the_circulator_does_not_disturb_a_call_in_hand(words: str) -> None:
    """While the scrub is at it, nothing the circulator says ends or changes the call."""
    played = play(SHEET, "scrub: clamp one two", f"+circ: {words}", "+scrub: three four")

    if words == "clamp":  # a name without a number is asked about, and no more
        assert "I heard no number. Say that again." in played.texts
    assert played.said == "Clamps, four."
    assert played.state("clamp") is State.WAITING


def test_a_held_call_goes_on() -> None:
    """While addition or recount is asked, the run in question may still go on."""
    played = play(SHEET, "scrub: clamp one", "circ: one", "scrub: blade one two", "circ: two")
    played.go("scrub: clamp one two", "scrub: three four", "scrub: that is a recount")

    assert played.counted("clamp") == 4
    assert played.said == "Clamps, counted again, four."


def test_a_held_call_that_breaks_is_refused() -> None:
    """Its numbers have to go on as any run does."""
    played = play(SHEET, "scrub: clamp one", "circ: one", "scrub: blade one two", "circ: two")
    played.go("scrub: clamp one two", "scrub: three five")

    assert played.said == "After three I heard five. Count clamps again, from one."
    assert played.counted("clamp") == 1


def test_a_number_for_a_held_call_repeats_the_question() -> None:
    """The circulator cannot confirm what is not stored yet."""
    played = play(SHEET, "scrub: clamp one", "circ: one", "scrub: blade one two", "circ: two")
    played.go("scrub: clamp one two", "circ: two clamps")

    assert played.said == "Clamp at one. Addition, or recount?"


def test_a_stand_by_keeps_the_question_open() -> None:
    """A question survives a stand-by."""
    played = play(SHEET, "scrub: clamp one", "circ: one", "scrub: blade one two", "circ: two")
    played.go("scrub: clamp one two", "scrub: stand by please", "circ: carry on please")
    played.go("scrub: that is an addition", "circ: three")

    assert played.counted("clamp") == 3
    assert played.state("clamp") is State.CONFIRMED


def test_an_interrupted_extension_takes_its_line_along() -> None:
    """A stored run that was going on when it was interrupted is counted again whole."""
    played = play(SHEET, "scrub: clamp one two", "scrub: three", "+scrub: stand by please")

    assert played.state("clamp") is State.RECOUNT
    played.go("circ: carry on please", "scrub: one two three four", "circ: four")
    assert played.counted("clamp") == 4


def test_a_line_due_again_is_told_when_the_scrub_goes_on() -> None:
    """A recount that was asked for is not forgotten."""
    played = play(SHEET, "scrub: blade one two", "circ: three", "scrub: clamp one two three four")

    assert played.said == "Count again, from one: blades. Clamps, four."


def test_a_quick_confirmation_with_an_earlier_line_waiting() -> None:
    """The earlier line is told of once."""
    played = play(SHEET, "scrub: blade one two", "scrub: clamp one two three four", "+circ: four")

    assert played.said == "Blades, two, still waits. Clamps, four. Confirmed."
    played.go("circ: two")
    assert played.state("blade") is State.CONFIRMED


def test_an_older_line_waiting_is_read_after_a_quick_confirmation() -> None:
    """What was not told with the line just stored is read after it."""
    played = play(SHEET, "scrub: blade one two", "scrub: clamp one two three four", "circ: four")
    played.go("scrub: needle total twelve", "+circ: twelve", "(wait)")

    assert played.said == "Needles, twelve. Confirmed. Blades, two, still waits."


def test_an_unsure_voice_over_the_scrubs_is_let_go() -> None:
    """The circulator's channel, half hearing the scrub, asks nothing."""
    dialogue = Play(SHEET).dialogue
    dialogue.hear(heard(1.0, 1, 2, item="clamp"), Role.SCRUB)
    leak = replace(heard(1.1, 7, channel=1), outcome=Outcome.UNSURE, reason=Reason.WEAK_MATCH)

    assert dialogue.hear(leak, Role.CIRCULATOR) == Step()


def test_a_number_over_what_was_unclear_settles_nothing() -> None:
    """A number said while the scrub was still speaking does not clear up what was missed."""
    dialogue = Play(SHEET).dialogue
    dialogue.hear(heard(1.0, 1, 2, 3, item="clamp"), Role.SCRUB)
    unclear = replace(heard(2.0), outcome=Outcome.UNSURE, meaning=None, reason=Reason.WEAK_MATCH)
    dialogue.hear(unclear, Role.SCRUB)
    assert dialogue.next_deadline == 6.5

    dialogue.hear(heard(2.1, 3, channel=1), Role.CIRCULATOR)
    assert [event.kind for event in dialogue.settle(6.5).events] == ["line_refused"]


def test_both_may_speak_at_once_of_different_lines() -> None:
    """A confirmation by name over the scrub's next call is no echo of it."""
    dialogue = Play(SHEET).dialogue
    dialogue.hear(heard(1.0, 1, 2, item="blade"), Role.SCRUB)
    dialogue.commit(dialogue.settle(5.0).events)
    dialogue.hear(heard(6.0, 1, 2, 3, 4, item="clamp"), Role.SCRUB)
    step = dialogue.hear(heard(6.2, 2, item="blade", channel=1), Role.CIRCULATOR)

    assert [event.kind for event in step.events] == ["line_confirmed"]


def test_a_yes_said_into_the_scrubs_words_confirms_nothing() -> None:
    """Where a yes may confirm, it has to come after the words of the line."""
    sheet = SHEET.model_copy(
        update={"policy": SHEET.policy.model_copy(update={"yes_confirms": True})}
    )
    dialogue = Play(sheet).dialogue
    dialogue.hear(heard(1.0, 1, 2, item="blade"), Role.SCRUB)
    dialogue.commit(dialogue.settle(5.0).events)
    yes = replace(heard(1.3, channel=1), meaning=Meaning(Form.COMMAND, command="yes"))

    assert dialogue.hear(yes, Role.CIRCULATOR).events == ()


def test_a_number_said_into_the_scrubs_words_confirms_nothing() -> None:
    """A number that began before the words of the line were over is no answer to it."""
    dialogue = Play(SHEET).dialogue
    dialogue.hear(heard(1.0, 1, 2, item="blade"), Role.SCRUB)
    dialogue.commit(dialogue.settle(5.0).events)
    late = heard(1.3, 3, channel=1)

    assert dialogue.hear(replace(late, end=5.0), Role.CIRCULATOR) == Step()
    assert dialogue.ledger.tally("blade").state is State.WAITING


def test_joined_replies() -> None:
    """Several replies become one: the texts in order, the weightiest kind, the last speaker."""
    first = Reply("A.", ReplyKind.ALERT, Role.SCRUB, tone=True)
    second = Reply("B.", ReplyKind.READBACK, Role.CIRCULATOR)

    assert join((None, None)) is None
    assert join((first, None, second)) == Reply(
        "A. B.", ReplyKind.ALERT, Role.CIRCULATOR, tone=True
    )
