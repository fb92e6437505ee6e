"""The partner of a drill, in typed words: what it says, and when."""

from typing import Any

import pytest
from drilling import SHEET, Practice, drill
from test_pure_middle import FORBIDDEN, reach

from voicecount.drill.session import ENDED, SILENT, End, Limits, Session
from voicecount.reasons import Reason

FIVE = "one two three four five"


def event(kind: str, item: str, says: str = "Something.", **more: Any) -> dict[str, Any]:
    """Give a planted event."""
    return {"kind": kind, "item": item, "says": says, **more}


def test_the_scene_comes_first_and_a_line_is_read_back_as_it_was_called() -> None:
    """What is read back is what the student called, whatever lies there."""
    practice = Practice(drill(("lap_sponge", 5), ("clip", 3)))
    right = [*practice.say("lap sponge one two three four five"), *practice.wait(3.0)]
    wrong = [*practice.say("towel clip one two"), *practice.wait(3.0)]

    assert practice.spoken[0].words == "A table."
    assert right == ["Five lap sponges."]
    assert wrong == ["Two towel clips."]
    assert practice.cues == ["lap_sponge.read_back", "clip.read_back"]


@pytest.mark.parametrize("called", ["one two three", "one two three four five six seven", "one"])
def test_the_partner_waits_as_long_whatever_was_called(called: str) -> None:
    """Nothing tells the student how many lie there: neither words nor the time they come at."""
    practice = Practice(drill(("lap_sponge", 3), ("clip", 3)))
    practice.say(f"lap sponge {called}")
    spoken_at = practice.now
    practice.wait(4.0)

    assert round(practice.spoken[1].start - spoken_at, 1) == pytest.approx(2.1)


def test_a_run_goes_on_after_a_breath_and_after_it_was_read_back() -> None:
    """Numbers that go on where the run stands belong to it."""
    practice = Practice(drill(("lap_sponge", 5), ("clip", 3)))
    practice.say("lap sponge one two")
    assert practice.wait(1.0) == []
    practice.say("three")
    assert practice.wait(3.0) == ["Three lap sponges."]
    practice.say("four five")
    assert practice.wait(3.0) == ["Five lap sponges."]


def test_a_line_that_is_begun_again_is_read_back_as_it_was_called_last() -> None:
    """A false start costs nothing, with or without the name."""
    practice = Practice(drill(("lap_sponge", 5), ("clip", 3)))
    practice.say("lap sponge one two four")
    practice.say("one two three")
    assert practice.wait(3.0) == ["Three lap sponges."]
    practice.say("towel clip one two")
    practice.say("towel clip one two three")
    assert practice.wait(3.0)[0] == "Three towel clips."


def test_lines_may_come_in_any_order_and_twice() -> None:
    """The session follows along; the order is the judge's business."""
    practice = Practice(drill(("lap_sponge", 5), ("clip", 3)))
    practice.say("towel clip one two three")
    practice.say(f"lap sponge {FIVE}")
    practice.wait(3.0)
    practice.say("towel clip one two")
    practice.wait(3.0)

    assert practice.words == ["Three towel clips.", "Five lap sponges.", "Two towel clips."]


def test_an_item_that_does_not_lie_there_is_read_back_too() -> None:
    """The partner does not tell that it is not expected."""
    practice = Practice(drill(("lap_sponge", 5)))
    practice.say("towel clip one two")

    assert practice.wait(3.0) == ["Two towel clips."]
    assert not practice.session.over


def test_a_student_alone_with_the_table_hears_nothing_back() -> None:
    """Without a partner nothing is read back; the drill still ends."""
    practice = Practice(drill(("lap_sponge", 5), partner=False))
    practice.say(f"lap sponge {FIVE}")

    assert practice.wait(8.0) == [ENDED]


@pytest.mark.parametrize(
    ("said", "back"),
    [
        ("suture needle total twelve", "Twelve suture needles."),
        ("two towel clips", "Two towel clips."),
        ("lap sponge none", "Lap sponges, none."),
        ("lap sponge one", "One lap sponge."),
    ],
)
def test_every_way_of_telling_a_number_is_read_back(said: str, back: str) -> None:
    """Stated totals, numbers before names, and none."""
    practice = Practice(drill(("needle", 12), ("clip", 2)))
    practice.say(said)

    assert practice.wait(3.0) == [back]


def test_packages_are_read_back_together_after_the_last_one() -> None:
    """Two packages of ten are two runs from one, and one read-back."""
    practice = Practice(drill(("gauze", 20), ("clip", 1)))
    ten = "one two three four five six seven eight nine ten"
    practice.say(f"gauze {ten}")
    assert practice.wait(3.0) == []
    practice.say(ten)
    assert practice.wait(3.0) == ["Twenty gauze."]
    assert practice.cues == ["gauze.read_back"]


def test_packages_without_a_pause_between_are_two_runs_all_the_same() -> None:
    """A run from one after a whole package begins the next one."""
    practice = Practice(drill(("gauze", 20), ("clip", 1)))
    ten = "one two three four five six seven eight nine ten"
    practice.say(f"gauze {ten} {ten}")

    assert practice.wait(3.0) == ["Twenty gauze."]


def test_a_line_of_packages_that_is_called_again_is_not_added_up() -> None:
    """Calling all of it again takes the place of what was called."""
    practice = Practice(drill(("gauze", 20), ("clip", 1)))
    ten = "one two three four five six seven eight nine ten"
    for _ in range(2):
        practice.say(f"gauze {ten}")
        practice.wait(3.0)
        practice.say(ten)
        practice.wait(3.0)

    assert practice.words == ["Twenty gauze.", "Twenty gauze."]


def test_places_are_read_back_with_the_line() -> None:
    """A place may be said with the line, before it, or be the next one of that item."""
    table = (("lap_sponge", 2, "field"), ("lap_sponge", 3, "mayo"), ("lap_sponge", 0, "back_table"))
    practice = Practice(drill(*table, task="closing_count"))
    practice.say("on the mayo stand lap sponge one two three")
    practice.wait(3.0)
    practice.say("lap sponge one two")
    practice.wait(3.0)
    practice.say("on the back table")
    practice.say("lap sponge none")
    practice.wait(3.0)

    assert practice.words == [
        "On the mayo stand, three lap sponges.",
        "On the field, two lap sponges.",
        "On the back table, lap sponges, none.",
    ]


def test_the_partner_talks_into_a_run_after_the_number_that_is_planned() -> None:
    """It comes while the student still speaks, once, and the line is not read back before."""
    talk = event("interruption", "lap_sponge", "Hold on, the phone.", after=3)
    practice = Practice(drill(("lap_sponge", 5), ("clip", 1), events=[talk]))
    assert practice.session.may_interrupt
    assert practice.so_far("lap sponge one two") == []
    assert practice.so_far("lap sponge one two three") == ["Hold on, the phone."]
    assert practice.so_far("lap sponge one two three four") == []
    assert practice.wait(6.0) == []
    practice.say(f"lap sponge {FIVE}")
    assert practice.wait(3.0) == ["Five lap sponges."]
    assert practice.cues == ["lap_sponge.interruption", "lap_sponge.read_back"]
    assert not practice.session.may_interrupt


def test_a_run_that_goes_on_after_the_interruption_is_followed_too() -> None:
    """The partner does not insist on a new beginning."""
    talk = event("interruption", "lap_sponge", "Hold on.", after=3)
    practice = Practice(drill(("lap_sponge", 5), ("clip", 1), events=[talk]))
    practice.say("lap sponge one two three")
    practice.say("four five")

    assert practice.wait(3.0) == ["Five lap sponges."]


def test_a_number_of_a_run_in_pieces_is_counted_from_its_beginning() -> None:
    """The cue is found in a run that comes in several utterances, without its name."""
    talk = event("interruption", "lap_sponge", "Hold on.", after=4)
    practice = Practice(drill(("lap_sponge", 6), events=[talk]))
    practice.say("lap sponge one two")

    assert practice.so_far("three") == []
    assert practice.so_far("three four") == ["Hold on."]


def test_words_that_the_partner_talked_into_are_not_asked_for() -> None:
    """The half word that is cut off by the partner is nobody's fault."""
    talk = event("interruption", "lap_sponge", "Hold on.", after=2)
    practice = Practice(drill(("lap_sponge", 5), events=[talk]))
    begun = practice.now
    practice.so_far("lap sponge one two")
    practice.now = begun
    assert practice.mumble(Reason.SOUND_LOST) == []
    assert practice.mumble(Reason.SOUND_LOST) == []
    practice.wait(2.0)
    assert practice.mumble() != []


def test_a_run_that_is_over_is_not_interrupted_any_more() -> None:
    """A cue that comes too late is left out, and the judge does not ask for it."""
    talk = event("interruption", "lap_sponge", "Hold on.", after=3)
    practice = Practice(drill(("lap_sponge", 5), events=[talk]))
    practice.say(f"lap sponge {FIVE}")

    assert practice.wait(3.0) == ["Five lap sponges."]


@pytest.mark.parametrize(
    ("objection", "back"),
    [
        ("no that is not right", ["Five lap sponges."]),
        ("five", ["Five lap sponges."]),
        ("lap sponge five", ["Five lap sponges."]),
        ("four", []),
        ("yes", []),
    ],
)
def test_a_misreading_is_put_right_where_the_student_objects(
    objection: str, back: list[str]
) -> None:
    """By the words or by the right number; whoever agrees to the wrong one is not taught."""
    misread = event("misread", "lap_sponge", "It was wrong.", number=4)
    practice = Practice(drill(("lap_sponge", 5), ("clip", 1), events=[misread]))
    practice.say(f"lap sponge {FIVE}")
    assert practice.wait(3.0) == ["Four lap sponges."]
    assert practice.say(objection) == back
    assert practice.wait(5.0) == []
    assert practice.cues[0] == "lap_sponge.misread"


def test_a_misreading_is_another_number_than_the_student_called() -> None:
    """Where the student called the very number that was to be misread, another one is read."""
    misread = event("misread", "lap_sponge", "It was wrong.", number=4)
    practice = Practice(drill(("lap_sponge", 5), ("clip", 1), events=[misread]))
    practice.say("lap sponge one two three four")

    assert practice.wait(3.0) == ["Three lap sponges."]


def test_a_misreading_that_nobody_objects_to_is_passed_over() -> None:
    """After its time, or when the student goes on, the drill goes on as well."""
    misread = event("misread", "lap_sponge", "It was wrong.", number=4, within=5)
    practice = Practice(drill(("lap_sponge", 5), ("clip", 1), events=[misread]))
    practice.say(f"lap sponge {FIVE}")
    practice.wait(3.0)
    practice.say("towel clip one")

    assert practice.wait(8.0) == ["One towel clip.", ENDED]
    assert practice.session.ended is End.DONE


def test_an_event_is_told_after_the_line_and_its_answer_is_taken() -> None:
    """The partner tells of a dropped needle once the line is read back."""
    dropped = event("dropped", "lap_sponge", "A sponge is on the floor.")
    practice = Practice(drill(("lap_sponge", 5), events=[dropped]))
    practice.say(f"lap sponge {FIVE}")
    assert practice.wait(3.0) == ["Five lap sponges.", "A sponge is on the floor."]
    assert practice.wait(3.0) == []
    assert practice.say("something was dropped") == []
    assert practice.wait(5.0) == [ENDED]


def test_an_event_without_an_answer_is_passed_over_after_its_time() -> None:
    """Silence is no answer; the drill ends all the same."""
    dropped = event("dropped", "lap_sponge", "A sponge is on the floor.", within=6)
    practice = Practice(drill(("lap_sponge", 5), events=[dropped]))
    practice.say(f"lap sponge {FIVE}")
    practice.wait(3.0)

    assert practice.wait(5.0) == []
    assert practice.wait(8.0) == [ENDED]


def test_what_is_brought_comes_before_its_line() -> None:
    """The addition is opened when the partner brings something, before the line is called."""
    brought = event("brought", "lap_sponge", "Five more lap sponges for you.")
    practice = Practice(drill(("lap_sponge", 5), task="addition", events=[brought]))
    assert practice.words == ["Five more lap sponges for you."]
    assert practice.say("add to the count") == []
    practice.say(f"lap sponge {FIVE}")
    assert practice.wait(3.0) == ["Five lap sponges."]


def test_a_name_alone_is_asked_for_its_numbers_after_a_while() -> None:
    """A pause after the name is allowed; then the partner asks, and does not say how many."""
    practice = Practice(drill(("lap_sponge", 5)))
    assert practice.say("lap sponge") == []
    assert practice.wait(5.0) == []
    assert practice.wait(2.0) == ["How many lap sponges? Count from one."]
    practice.say(FIVE)
    assert practice.wait(3.0) == ["Five lap sponges."]


def test_a_name_before_its_run_is_one_line() -> None:
    """A breath between the name and the numbers changes nothing."""
    practice = Practice(drill(("lap_sponge", 5), ("clip", 2)))
    practice.say("lap sponge one two")
    practice.say("towel clip")
    practice.say("one two")

    assert practice.wait(3.0) == ["Two towel clips."]
    assert practice.words == ["Two lap sponges.", "Two towel clips."]


def test_what_was_not_understood_is_asked_for_and_the_line_stays_in_hand() -> None:
    """A run is not read back across a gap; it goes on when the student says it again."""
    practice = Practice(drill(("lap_sponge", 5)))
    practice.say("lap sponge one two")
    (asked,) = practice.mumble()
    assert "again" in asked
    assert practice.wait(5.0) == []
    practice.say("three four five")
    assert practice.wait(3.0) == ["Five lap sponges."]
    assert practice.cues == ["say_again", "lap_sponge.read_back"]


def test_numbers_that_belong_to_no_line_are_asked_about() -> None:
    """A bare run before any name could be of anything."""
    practice = Practice(drill(("lap_sponge", 5)))

    assert practice.say("one two three") != []
    assert practice.cues == ["say_again"]


@pytest.mark.parametrize("words", ["take that line back", "no that is not right"])
def test_a_line_can_be_taken_back_and_called_again(words: str) -> None:
    """The line counts as open again: the drill does not end over it."""
    practice = Practice(drill(("lap_sponge", 5)))
    practice.say("lap sponge one two three four")
    practice.wait(3.0)
    assert practice.say(words) == ["Lap sponges, again from one."]
    assert practice.wait(10.0) == []
    practice.say(FIVE)
    assert practice.wait(3.0) == ["Five lap sponges."]
    assert practice.wait(5.0) == [ENDED]


def test_a_line_in_hand_can_be_started_over() -> None:
    """The numbers so far are dropped, and the name stays in hand."""
    practice = Practice(drill(("lap_sponge", 5), ("clip", 1)))
    practice.say("lap sponge one two four")
    assert practice.say("start this line over") == ["Lap sponges, again from one."]
    practice.say(FIVE)
    assert practice.wait(3.0) == ["Five lap sponges."]


def test_the_last_words_are_said_again_when_asked_for() -> None:
    """The same words come once more."""
    practice = Practice(drill(("lap_sponge", 5), ("clip", 1)))
    practice.say(f"lap sponge {FIVE}")
    practice.wait(3.0)

    assert practice.say("say that again") == ["Five lap sponges."]


def test_the_student_may_end_the_drill() -> None:
    """A line in hand is read back first; what was left out is left out."""
    practice = Practice(drill(("lap_sponge", 5), ("clip", 3)))
    practice.say("lap sponge one two")

    assert practice.say("the count is finished") == ["Two lap sponges.", ENDED]
    assert practice.session.ended is End.FINISHED
    assert practice.say("towel clip one") == practice.wait(9.0) == practice.so_far("one") == []


def test_a_long_silence_ends_the_drill_and_says_so() -> None:
    """After so many seconds, and not before."""
    practice = Practice(drill(("lap_sponge", 5)), Limits(silence=20.0))

    assert practice.wait(19.0) == []
    assert practice.wait(2.0) == [SILENT]
    assert practice.session.ended is End.SILENCE


def test_nobody_is_hurried_who_asked_to_stand_by() -> None:
    """A silence that was announced does not end the drill; the next words end the announcement."""
    practice = Practice(drill(("lap_sponge", 5), ("clip", 1)), Limits(silence=20.0))
    practice.say("stand by for a moment")
    assert practice.wait(60.0) == []
    practice.say(f"lap sponge {FIVE}")
    assert practice.wait(3.0) == ["Five lap sponges."]
    assert practice.wait(21.0) == [SILENT]


def test_the_end_leaves_time_to_change_something() -> None:
    """After the last read-back the student may still go on with the run."""
    practice = Practice(drill(("lap_sponge", 5)))
    practice.say("lap sponge one two three four")
    practice.wait(4.5)
    practice.say("five")

    assert practice.wait(3.0) == ["Five lap sponges."]
    assert practice.wait(6.0) == [ENDED]


def test_in_a_confirming_drill_the_partner_calls_line_after_line() -> None:
    """Each line is called when the one before is answered, rightly or not."""
    practice = Practice(drill(("clip", 2), ("lap_sponge", 3), task="confirm"))
    assert practice.words == ["Towel clips, one, two."]
    assert practice.say("two") == ["Lap sponges, one, two, three."]
    assert practice.say("lap sponge four") == []
    assert practice.wait(5.0) == [ENDED]


def test_a_call_without_an_answer_is_repeated_once() -> None:
    """Then the partner goes on."""
    practice = Practice(drill(("clip", 2), ("lap_sponge", 3), task="confirm"))

    assert practice.wait(8.5) == ["Towel clips, one, two."]
    assert practice.wait(9.0) == ["Lap sponges, one, two, three."]
    assert practice.cues == ["clip.call", "clip.call", "lap_sponge.call"]


def test_a_yes_is_taken_and_a_no_has_the_line_called_again() -> None:
    """The judge tells that a yes has no number; the partner does not teach."""
    practice = Practice(drill(("clip", 2), ("lap_sponge", 3), task="confirm"))
    assert practice.say("no that is not right") == ["Towel clips, one, two."]
    assert practice.say("yes") == ["Lap sponges, one, two, three."]


@pytest.mark.parametrize("answer", ["no that is not right", "start this line over", "three"])
def test_a_miscounted_call_is_followed_by_a_right_one(answer: str) -> None:
    """Whatever the student says to it, the line is then called as it lies there."""
    event_ = event("miscount", "clip", "It went wrong.", run=[1, 2, 4])
    practice = Practice(drill(("clip", 3), task="confirm", events=[event_]))
    assert practice.words == ["Towel clips, one, two, four."]
    assert practice.say(answer) == ["Towel clips, one, two, three."]
    assert practice.cues == ["clip.miscount", "clip.call"]


def test_a_name_alone_is_no_answer_yet() -> None:
    """The number may still come."""
    practice = Practice(drill(("clip", 2), ("lap_sponge", 3), task="confirm"))
    assert practice.say("towel clip") == []
    assert practice.say("two") == ["Lap sponges, one, two, three."]


def test_a_number_that_sounds_like_another_is_an_answer_all_the_same() -> None:
    """A circulator is not asked for it once more; anything else that was unclear is."""
    practice = Practice(drill(("clip", 15), ("lap_sponge", 1), task="confirm"))
    (asked,) = practice.doubtful("fifteen", Reason.WEAK_MATCH)
    assert "again" in asked
    assert practice.doubtful("fifteen", Reason.SOUND_ALIKE) == ["Lap sponge, one."]


def test_talk_is_passed_over() -> None:
    """What was not meant for the drill is neither answered nor asked for."""
    practice = Practice(drill(("lap_sponge", 5)))

    assert practice.say("it will rain on us later I think") == []


def test_a_session_makes_its_own_grammar() -> None:
    """Without one it is made of the sheet and the drill's words."""
    session = Session(drill(("lap_sponge", 5)), SHEET)

    assert [speech.cue for speech in session.begin()] == ["scene"]


@pytest.mark.parametrize("module", ["session", "lines", "calls"])
def test_the_partner_is_pure(module: str) -> None:
    """It reaches no sound, clock, disk, network, thread or chance."""
    reached = reach(f"voicecount.drill.{module}")

    assert {name: by for name, by in reached.items() if name.split(".")[0] in FORBIDDEN} == {}
