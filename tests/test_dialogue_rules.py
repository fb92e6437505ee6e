"""Every rule of counting a line, in typed words.

Sizes and habits used here: gauze in tens, lap sponges and dissecting sponges in fives; ties without
a needle are not counted; a suction tip can be one item in two pieces; an electrode tip and its
scratch pad are two lines; printed needle totals may be stated (all: common practice, no source).
"""

import pytest
from playing import Play, play, sheet_of

from voicecount.count.events import LineConfirmed, LineRefused, LineStored, PackageSetAside
from voicecount.count.roles import Role
from voicecount.count.tally import State
from voicecount.talk.reply import ReplyKind
from voicecount.words.numbers import in_words

TEN = "one two three four five six seven eight nine ten"
FIVE = "one two three four five"
ITEMS = (
    {"id": "gauze", "pack": 10, "expect": 20},
    {"id": "lap-sponge", "pack": 5, "expect": 10},
    {"id": "dissector", "pack": 5, "expect": 5},
    {"id": "needle", "group": "sharps", "expect": 12, "stated": True},
    {"id": "blade", "group": "sharps", "expect": 2},
    {"id": "vessel-loop", "group": "miscellaneous", "expect": 2},
    {"id": "electrode-tip", "group": "miscellaneous", "expect": 1},
    {"id": "scratch-pad", "group": "miscellaneous", "expect": 1},
    {"id": "suction-tip", "group": "miscellaneous", "expect": 1, "pieces": 2},
    {"id": "towel-clip", "group": "instruments", "expect": 15},
    {"id": "clamp", "group": "instruments", "expect": 6},
    {"id": "probe", "group": "instruments"},
)
TIE = {"id": "tie", "say": ["tie"], "note": "Ties without a needle are not counted."}
SHEET = sheet_of(*ITEMS, not_counted=[TIE])


def policy(**changes: object) -> Play:
    """Start a case under another policy."""
    return Play(sheet_of(*ITEMS, not_counted=[TIE], policy=changes))


# Cadence


@pytest.mark.parametrize(
    ("call", "said"),
    [
        ("clamp one two three five", "After three I heard five."),
        ("clamp one two two three", "I heard two twice."),
        ("clamp one two three two", "After three I heard two."),
        ("clamp one two three one two", "After three I heard one."),
        ("clamp two three four", "I heard two first."),
    ],
)
def test_a_broken_run_is_not_stored(call: str, said: str) -> None:
    """A broken run is named at the place where it broke, nothing is stored, a recount is asked."""
    played = play(SHEET, f"scrub: {call}")

    assert played.said == f"{said} Count clamps again, from one."
    assert played.last.speak_next is Role.SCRUB
    assert played.last.tone
    assert played.counted("clamp") is None
    assert isinstance(played.events[-1], LineRefused)


def test_a_run_that_breaks_in_its_second_part_is_refused_as_a_whole() -> None:
    """A number skipped across a breath is found: the parts are one run."""
    played = play(SHEET, "scrub: clamp one two three", "+scrub: five six")

    assert played.said.startswith("After three I heard five.")
    assert played.events[-1].numbers == (1, 2, 3, 5, 6)
    assert played.counted("clamp") is None


def test_after_a_refusal_the_item_need_not_be_named() -> None:
    """A run alone from one is the recount that was asked for."""
    played = play(SHEET, "scrub: clamp one two four", "scrub: one two three four five six")

    assert played.said == "Clamps, six."
    assert played.counted("clamp") == 6


def test_a_recount_that_does_not_start_at_one_is_refused_too() -> None:
    """Going on where the fault was does not mend a run."""
    played = play(SHEET, "scrub: clamp one two four", "scrub: three four five six")

    assert played.said == "I heard three first. Count clamps again, from one."
    assert played.counted("clamp") is None


# One line, from call to confirmation


def test_a_line_is_stored_then_read_then_confirmed() -> None:
    """The stored line is read back; the circulator's number confirms it."""
    played = play(SHEET, "scrub: blade one two")

    assert played.said == "Blades, two."
    assert played.last.kind is ReplyKind.READBACK
    assert played.last.speak_next is Role.CIRCULATOR
    assert played.state("blade") is State.WAITING

    played.go("circ: two")

    assert played.said == "Blades, two, confirmed."
    assert played.state("blade") is State.CONFIRMED
    stored, confirmed = played.events[-2:]
    assert isinstance(stored, LineStored)
    assert isinstance(confirmed, LineConfirmed)
    assert (stored.by, stored.numbers, stored.counted, stored.expected) == (
        Role.SCRUB,
        (1, 2),
        2,
        2,
    )
    assert (confirmed.by, confirmed.number) == (Role.CIRCULATOR, 2)


@pytest.mark.parametrize("words", ["two", "two blades", "blades two", "blade total two", "yes two"])
def test_the_number_confirms_with_or_without_the_name(words: str) -> None:
    """The circulator may say the number alone or with the item's name."""
    played = play(SHEET, "scrub: blade one two", f"circ: {words}")

    assert played.state("blade") is State.CONFIRMED


def test_yes_alone_asks_for_the_number() -> None:
    """A yes does not confirm, because it repeats nothing (TeamSTEPPS check-back)."""
    played = play(SHEET, "scrub: blade one two", "circ: yes")

    assert played.said == "Circulator, say the number."
    assert played.last.kind is ReplyKind.QUESTION
    assert played.state("blade") is State.WAITING


def test_yes_confirms_where_the_policy_says_so() -> None:
    """A sheet's policy can let a yes confirm; the record then holds no number."""
    played = policy(yes_confirms=True).go("scrub: blade one two", "circ: yes that is right")

    assert played.state("blade") is State.CONFIRMED
    assert played.events[-1].number is None


def test_the_scrubs_yes_never_confirms() -> None:
    """One person cannot do both halves, whatever the policy."""
    played = policy(yes_confirms=True).go("scrub: blade one two", "scrub: yes")

    assert played.state("blade") is State.WAITING
    assert played.said == "Circulator, say the number."


def test_the_scrubs_own_number_never_confirms() -> None:
    """The scrub repeating the number is reminded that the circulator has to say it."""
    played = play(SHEET, "scrub: blade one two", "scrub: two")

    assert played.said == "Circulator, say the number."
    assert played.state("blade") is State.WAITING


def test_another_number_starts_a_recount() -> None:
    """A different number is never taken; both numbers are told, and nobody is blamed."""
    played = play(SHEET, "scrub: blade one two", "circ: three")

    assert played.said == "Blades. Stored two. Heard three. Count all blades again, from one."
    assert played.state("blade") is State.RECOUNT

    played.go("circ: two blades")
    assert played.said == "Blades come again first. The scrub counts from one."

    played.go("scrub: blade one two three", "circ: three")
    assert played.texts[-2:] == [
        "Blades, counted again, three. The sheet says two.",
        "Blades, three, confirmed.",
    ]
    assert played.flags("blade") == {"disputed", "recounted", "differs_from_sheet"}


def test_a_plain_no_starts_a_recount() -> None:
    """A no of the circulator is a dispute without a number."""
    played = play(SHEET, "scrub: blade one two", "circ: no that is not right")

    assert played.said == "Blades. Stored two. Count all blades again, from one."
    assert played.state("blade") is State.RECOUNT


def test_silence_never_confirms() -> None:
    """However much time passes, an unconfirmed line stays unconfirmed."""
    played = play(SHEET, "scrub: blade one two", *["(wait)"] * 5, "(finish)")

    assert played.flags("blade") == {"not_confirmed"}
    assert "Not confirmed: blades, two." in played.said


def test_a_run_does_not_confirm() -> None:
    """The circulator confirms with one number; a run could be the scrub's voice again."""
    played = play(SHEET, "scrub: blade one two", "circ: one two")

    assert played.said == "Circulator, say the number."
    assert played.state("blade") is State.WAITING


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("two", "No line waits for a number."),
        ("yes", "No line waits for a number."),
        ("no", "No line waits for a number."),
        ("two blades", "No count of blades is stored. The scrub calls it first."),
        ("one two three", "The scrub calls the lines. The circulator says the number."),
        ("clamp one two three", "The scrub calls the lines. The circulator says the number."),
    ],
)
def test_the_circulator_calls_no_lines(words: str, said: str) -> None:
    """What the circulator says of a line that does not wait is asked about, never stored."""
    played = play(SHEET, f"circ: {words}")

    assert played.said == said
    assert played.kinds == []


def test_a_number_for_a_confirmed_line_changes_nothing() -> None:
    """The same number is told back; another one is asked about."""
    played = play(SHEET, "scrub: blade one two", "circ: two", "circ: two blades")
    assert played.said == "Blades, two, confirmed."

    played.go("circ: three blades")
    assert played.said == "Blades, two, confirmed. To count it again, say: that is a recount."
    assert played.state("blade") is State.CONFIRMED


def test_a_number_said_before_the_line_was_stored_counts_once_it_is() -> None:
    """The circulator may be quick: the number is kept, and confirms when the line is stored."""
    played = play(SHEET, "scrub: blade one two", "+circ: two")

    assert played.said == "Blades, two. Confirmed."
    assert played.kinds == ["line_stored", "line_confirmed"]


def test_a_quick_number_that_differs_is_asked_for_again() -> None:
    """A quick number may have come before the scrub was done, so it disputes nothing."""
    played = play(SHEET, "scrub: clamp one two three", "+circ: three", "+scrub: four five six")

    assert played.said == "Clamps, six."
    assert played.state("clamp") is State.WAITING


def test_the_circulator_can_confirm_an_earlier_line_by_name() -> None:
    """With the name, any line that waits is confirmed; the other one waits on and is read."""
    played = play(
        SHEET,
        "scrub: blade one two",
        "scrub: clamp one two three four five six",
        "circ: two blades",
    )

    assert played.said == "Blades, two, confirmed. Clamps, six, still waits."
    assert played.state("blade") is State.CONFIRMED
    assert played.state("clamp") is State.WAITING

    played.go("circ: six")
    assert played.state("clamp") is State.CONFIRMED


def test_a_scrub_who_goes_on_leaves_the_line_waiting() -> None:
    """The next line is taken, and the earlier one is told of in the same breath."""
    played = play(SHEET, "scrub: blade one two", "scrub: vessel loop one two")

    assert played.said == "Blades, two, still waits. Vessel loops, two."
    assert played.state("blade") is State.WAITING


def test_a_bare_number_belongs_to_the_line_read_last() -> None:
    """A number alone confirms the line read last and no other."""
    played = play(SHEET, "scrub: blade one two", "scrub: vessel loop one two", "circ: two")

    assert played.state("vessel-loop") is State.CONFIRMED
    assert played.state("blade") is State.WAITING
    assert played.said == "Vessel loops, two, confirmed. Blades, two, still waits."


def test_a_bare_number_of_an_earlier_line_is_asked_about() -> None:
    """A number that fits an earlier line but not the one read last starts no recount."""
    played = play(SHEET, "scrub: blade one two", "scrub: probe one two three", "circ: two")

    assert played.said == "Say the name with the number."
    assert played.state("probe") is State.WAITING


def test_a_bare_number_that_fits_the_line_and_the_call_is_asked_about() -> None:
    """A number that could belong to the line read last or to the call in hand confirms neither."""
    played = play(SHEET, "scrub: blade one two", "scrub: vessel loop one two", "+circ: two")

    assert "Say the name with the number." in played.texts
    assert played.kinds == ["line_stored", "line_stored"]


# Runs that go on


def test_a_run_goes_on_after_a_breath() -> None:
    """A bare run that goes on from the last number joins the line."""
    played = play(SHEET, "scrub: clamp one two three", "+scrub: four five six")

    assert played.said == "Clamps, six."
    assert played.kinds == ["line_stored"]


def test_a_run_goes_on_after_it_was_stored() -> None:
    """As long as nobody has confirmed it, a stored line can go on; it is read again."""
    played = play(SHEET, "scrub: clamp one two three", "scrub: four five six", "circ: six")

    assert played.texts[1:] == [
        "Clamps, three. The sheet says six.",
        "Clamps, six.",
        "Clamps, six, confirmed.",
    ]
    assert played.events[2].replaces == (1,)
    assert played.flags("clamp") == set()


def test_a_run_does_not_go_on_once_confirmed() -> None:
    """After the confirmation a bare number needs its item."""
    played = play(SHEET, "scrub: clamp one two three", "circ: three", "scrub: four five six")

    assert played.said == "Which item? Say its name, and count from one."
    assert played.counted("clamp") == 3


def test_a_broken_continuation_takes_the_whole_line_back_to_one() -> None:
    """A stored run whose continuation is refused is not whole: all of it is counted again."""
    played = play(SHEET, "scrub: clamp one two three", "scrub: four six")

    assert played.said == "After four I heard six. Count clamps again, from one."
    assert played.state("clamp") is State.RECOUNT

    played.go("scrub: one two three four five six", "(wait)")
    assert played.counted("clamp") == 6
    assert played.said == "Clamps, counted again, six."


def test_a_name_waits_for_its_run() -> None:
    """A name, a breath, and the run are one call."""
    played = play(SHEET, "scrub: clamp", "+scrub: one two three four five six")

    assert played.texts[1:] == ["Clamps, six."]


def test_a_name_alone_is_no_count() -> None:
    """A name with no numbers is asked about."""
    played = play(SHEET, "scrub: clamp")

    assert played.said == "How many clamps? Count from one."
    assert played.kinds == []


def test_a_bare_run_after_nothing_needs_its_item() -> None:
    """Numbers that belong to nothing are asked about."""
    played = play(SHEET, "scrub: one two three")

    assert played.said == "Which item? Say its name, and count from one."


def test_a_bare_run_after_a_line_without_packages_needs_its_item() -> None:
    """Only packages go on from one without a name: here the next name may have been missed."""
    played = play(SHEET, "scrub: clamp one two", "circ: two", "scrub: one two")

    assert played.said == "Which item? Say its name, and count from one."
    assert played.counted("clamp") == 2


def test_a_long_run_is_taken() -> None:
    """A run has no length limit of its own."""
    words = [in_words(number) for number in range(1, 61)]
    played = play(SHEET, f"scrub: probe {' '.join(words[:30])}", f"+scrub: {' '.join(words[30:])}")

    assert played.said == "Probes, sixty, six zero."
    assert played.counted("probe") == 60


def test_the_same_utterance_twice_counts_once() -> None:
    """An utterance that arrives twice is taken once."""
    played = Play(SHEET).go("scrub: clamp one two three")
    heard = played.dialogue._scene.heard[0]
    step = played.dialogue.hear(heard, Role.SCRUB)

    assert step.events == ()
    assert step.reply is None
    assert played.go("(wait)").counted("clamp") == 3


# Packages


def test_a_further_package_says_the_sum() -> None:
    """A further run from one is a further package; the circulator confirms the sum."""
    played = play(SHEET, f"scrub: gauze {TEN}", "circ: ten", f"scrub: {TEN}")
    assert played.said == "Gauze, ten more. Together twenty."

    played.go("circ: ten")
    assert played.said == "Circulator, all gauze together. Say that number."
    assert played.state("gauze") is State.WAITING

    played.go("circ: twenty")
    assert played.said == "Gauze, twenty, confirmed."
    assert played.flags("gauze") == {"further_package"}


def test_a_further_package_at_once() -> None:
    """A whole package in hand is stored when the next one begins."""
    played = play(SHEET, f"scrub: lap sponge {FIVE}", f"+scrub: {FIVE}", "circ: ten")

    assert played.texts[1:] == [
        "Lap sponges, five.",
        "Lap sponges, five more. Together ten.",
        "Lap sponges, ten, confirmed.",
    ]


def test_a_further_package_at_once_by_name() -> None:
    """The same with the name said again."""
    played = play(SHEET, f"scrub: lap sponge {FIVE}", f"+scrub: lap sponge {FIVE}")

    assert played.said == "Lap sponges, five more. Together ten."


def test_a_further_package_that_goes_on() -> None:
    """A further package stored and not confirmed can go on to the next whole package."""
    played = play(SHEET, f"scrub: lap sponge {FIVE}", "circ: five", f"scrub: {FIVE}")
    played.go("scrub: six seven eight nine ten", "circ: fifteen")

    assert played.texts[-2:] == [
        "Lap sponges, ten more. Together fifteen, one five. The sheet says ten.",
        "Lap sponges, fifteen, one five, confirmed.",
    ]


def test_two_packages_in_one_run() -> None:
    """A run over a whole multiple of the package is taken."""
    played = play(SHEET, f"scrub: lap sponge {FIVE} six seven eight nine ten")

    assert played.said == "Lap sponges, ten."


@pytest.mark.parametrize(("run", "held"), [("one two three four", 4), (f"{FIVE} six", 6)])
def test_a_package_with_another_number_is_set_aside(run: str, held: int) -> None:
    """A package that does not hold its number is set aside whole (WHO, AORN: from memory)."""
    played = play(SHEET, f"scrub: lap sponge {run}")

    assert "Set the whole package aside. None of it is counted." in played.said
    assert played.counted("lap-sponge") is None
    assert played.flags("lap-sponge") == {"package_set_aside"}
    assert isinstance(played.events[-1], PackageSetAside)
    assert (played.events[-1].held, played.events[-1].pack) == (held, 5)


def test_the_scrub_goes_on_after_a_package_was_set_aside() -> None:
    """The next package counts from one, and the one set aside never comes in."""
    played = play(SHEET, f"scrub: lap sponge {FIVE}", "circ: five", "scrub: one two three four")
    assert played.said.endswith("Lap sponges at five.")

    played.go(f"scrub: {FIVE}", "circ: ten")
    assert played.counted("lap-sponge") == 10
    assert played.state("lap-sponge") is State.CONFIRMED


def test_a_package_that_goes_on_past_its_number_is_set_aside_whole() -> None:
    """A run that goes on past a stored package was one package with too many."""
    played = play(SHEET, f"scrub: lap sponge {FIVE}", "scrub: six")

    assert played.said.startswith("A package of lap sponges with six, not five.")
    assert played.counted("lap-sponge") is None


def test_a_short_package_stays_open_longer() -> None:
    """While a package is short of its number, the hand may still be at it."""
    played = Play(SHEET).go("scrub: lap sponge one two three")
    assert played.dialogue.next_deadline == pytest.approx(played.now + 4.0)

    played.go("+scrub: four five")
    assert played.dialogue.next_deadline == pytest.approx(played.now + 1.5)


def test_packages_to_come_are_told_only_when_another_item_is_called() -> None:
    """Missing whole packages are no difference until the scrub goes on."""
    played = play(SHEET, f"scrub: gauze {TEN}", "circ: ten", f"scrub: dissector {FIVE}")

    assert played.texts[1] == "Gauze, ten."
    assert played.said == "Gauze at ten. The sheet says twenty. Dissectors, five."
    assert "differs_from_sheet" in played.flags("gauze")


def test_a_refused_further_package_is_counted_again_alone() -> None:
    """Only the package in hand is counted again; the first one stands."""
    played = play(SHEET, f"scrub: gauze {TEN}", "circ: ten", "scrub: one two four")
    assert played.said == "After two I heard four. Count that package again, from one."

    played.go(f"scrub: {TEN}", "circ: twenty")
    assert played.counted("gauze") == 20


def test_a_disputed_sum_is_counted_again_from_the_first_package() -> None:
    """A dispute of the sum brings all packages back: the first again, then the further ones."""
    played = play(SHEET, f"scrub: lap sponge {FIVE}", f"scrub: {FIVE}", "circ: nine")
    assert played.state("lap-sponge") is State.RECOUNT

    played.go(f"scrub: {FIVE}", "(wait)")
    assert played.counted("lap-sponge") == 5

    played.go(f"scrub: {FIVE}", "circ: ten")
    assert played.counted("lap-sponge") == 10
    assert played.state("lap-sponge") is State.CONFIRMED


def test_an_unconfirmed_line_is_no_package_number() -> None:
    """A package item stated as one number is counted one by one all the same."""
    played = play(SHEET, "scrub: ten gauze")

    assert played.said == "Count gauze one by one, from one."


# Addition or recount


def test_a_line_called_again_later_is_asked_about() -> None:
    """Nobody guesses whether a second call adds or counts again."""
    played = play(SHEET, "scrub: blade one two", "circ: two", "scrub: clamp one", "circ: one")
    played.go("scrub: blade one", "(wait)")

    assert played.said == "Blades at two. Addition, or recount?"
    assert played.counted("blade") == 2


@pytest.mark.parametrize(
    ("answer", "said", "counted", "flag"),
    [
        ("that is an addition", "Blades, one added. Together three.", 3, "addition"),
        ("that is a recount", "Blade, counted again, one.", 1, "recounted"),
    ],
)
def test_the_answer_decides(answer: str, said: str, counted: int, flag: str) -> None:
    """Addition adds, recount replaces; either needs the circulator's number again."""
    played = play(SHEET, "scrub: blade one two", "circ: two", "scrub: clamp one", "circ: one")
    played.go("scrub: blade one", f"scrub: {answer}")

    assert played.said.startswith(said)
    assert played.counted("blade") == counted
    assert played.state("blade") is State.WAITING
    assert flag in played.flags("blade")


def test_the_answer_may_come_first() -> None:
    """Said before the call, it saves the question."""
    played = play(SHEET, "scrub: blade one two", "circ: two", "scrub: that is an addition")
    assert played.said == "Call the addition, with its name."

    played.go("scrub: blade one", "circ: three")
    assert played.counted("blade") == 3


def test_an_answer_said_first_holds_for_one_call() -> None:
    """The next second call is asked about again."""
    played = play(SHEET, "scrub: blade one two", "circ: two", "scrub: that is an addition")
    played.go("scrub: blade one", "circ: three", "scrub: blade one two", "(wait)")

    assert played.said == "Blades at three. Addition, or recount?"


def test_a_question_left_open_stores_nothing() -> None:
    """Going on without an answer refuses the call, aloud and in the record."""
    played = play(SHEET, "scrub: blade one two", "circ: two", "scrub: clamp one", "circ: one")
    played.go("scrub: blade one", "scrub: vessel loop one two", "(wait)")

    assert "Blades, the last call is not stored. Addition, or recount, was open." in played.texts
    assert played.counted("blade") == 2
    assert played.counted("vessel-loop") == 2


def test_the_same_line_said_again_is_a_recount() -> None:
    """A call repeated word for word before it is confirmed asks nothing."""
    played = play(SHEET, "scrub: blade one two", "scrub: blade one two")

    assert played.said == "Blades, counted again, two."
    assert played.counted("blade") == 2


def test_another_count_of_the_line_just_stored_is_asked_about() -> None:
    """A call of the same line with another number could be either."""
    played = play(SHEET, "scrub: blade one two", "scrub: blade one two three")

    assert played.said == "Blades at two. Addition, or recount?"


# Pieces


@pytest.mark.parametrize(
    "call", ["one suction tip two pieces", "suction tip one, two pieces", "suction tip two pieces"]
)
def test_pieces_are_stored_with_the_line(call: str) -> None:
    """An item that comes apart is called with its pieces."""
    played = play(SHEET, f"scrub: {call}", "circ: one")

    assert played.texts[1:] == [
        "Suction tip, one, in two pieces.",
        "Suction tip, one, confirmed.",
    ]
    assert played.events[1].pieces == 2


def test_missing_pieces_are_asked_for() -> None:
    """Without its pieces the line waits for them."""
    played = play(SHEET, "scrub: one suction tip")
    assert played.said == "How many pieces has the suction tip?"
    assert played.kinds == []

    played.go("scrub: two pieces", "(wait)")
    assert played.said == "Suction tip, one, in two pieces."


@pytest.mark.parametrize("answer", ["two", "suction tip one, two pieces"])
def test_pieces_may_be_answered_in_several_ways(answer: str) -> None:
    """The number alone or the whole line again answers the question."""
    played = play(SHEET, "scrub: suction tip one", f"scrub: {answer}")

    assert played.said == "Suction tip, one, in two pieces."


def test_pieces_never_said_store_nothing() -> None:
    """Going on without the pieces refuses the line."""
    played = play(SHEET, "scrub: one suction tip", "scrub: blade one two")

    assert "Suction tip is not stored. Call it with its pieces." in played.texts
    assert played.counted("suction-tip") is None


@pytest.mark.parametrize(
    "call",
    ["one suction tip three pieces", "suction tip one, one piece", "blade one two, two pieces"],
)
def test_a_wrong_number_of_pieces_is_not_stored(call: str) -> None:
    """The pieces heard and those on the sheet are both told."""
    played = play(SHEET, f"scrub: {call}")

    assert "is not stored. Pieces heard:" in played.said
    assert played.kinds == ["line_refused"]


def test_a_confirmation_with_other_pieces_is_a_dispute() -> None:
    """The circulator may say the pieces too, and then they count."""
    played = play(SHEET, "scrub: one suction tip two pieces", "circ: one suction tip three pieces")

    assert played.state("suction-tip") is State.RECOUNT


def test_a_quick_confirmation_with_other_pieces_is_not_taken() -> None:
    """A number said early confirms only with the same pieces."""
    played = play(SHEET, "scrub: one suction tip two pieces", "+circ: one three pieces")

    assert played.state("suction-tip") is State.WAITING


def test_an_electrode_tip_and_its_scratch_pad_are_two_lines() -> None:
    """Each is called and confirmed for itself (common practice, no source)."""
    played = play(
        SHEET, "scrub: one electrode tip", "circ: one", "scrub: one scratch pad", "circ: one"
    )

    assert played.state("electrode-tip") is State.CONFIRMED
    assert played.state("scratch-pad") is State.CONFIRMED


# Stated totals


@pytest.mark.parametrize("call", ["needle total twelve", "needle twelve", "twelve needles"])
def test_a_printed_total_may_be_stated(call: str) -> None:
    """Where the sheet allows it, a total is taken, and marked as stated."""
    played = play(SHEET, f"scrub: {call}", "circ: twelve")

    assert played.state("needle") is State.CONFIRMED
    assert played.flags("needle") == {"stated"}


@pytest.mark.parametrize("call", ["clamp total six", "clamp six", "six clamps", "five clamps"])
def test_other_totals_are_counted_one_by_one(call: str) -> None:
    """A total for a line that is counted one by one is not stored."""
    played = play(SHEET, f"scrub: {call}")

    assert played.said == "Count clamps one by one, from one."
    assert played.kinds == ["line_refused"]


def test_a_few_are_seen_at_a_glance() -> None:
    """A small number before its name is taken; how small is the policy's."""
    assert play(SHEET, "scrub: four clamps").counted("clamp") == 4
    assert policy(glance=2).go("scrub: four clamps", "(wait)").counted("clamp") is None


def test_none_is_a_count() -> None:
    """None is stored as zero, and zero confirms it."""
    played = play(SHEET, "scrub: no probes", "circ: zero")

    assert played.texts[1:] == ["Probes, none.", "Probes, none, confirmed."]
    assert played.counted("probe") == 0
    assert played.state("probe") is State.CONFIRMED


def test_none_by_the_circulator() -> None:
    """The circulator may say none with the name."""
    played = play(SHEET, "scrub: probe none", "circ: no probes")

    assert played.state("probe") is State.CONFIRMED


def test_zero_after_the_name_is_none() -> None:
    """A zero is never the start of a run."""
    played = play(SHEET, "scrub: probe zero")

    assert played.said == "Probes, none."


# The sheet


def test_a_difference_is_said_and_flagged_and_stored_as_counted() -> None:
    """The sheet's number never changes what was counted."""
    played = play(SHEET, "scrub: clamp one two three four five", "circ: five")

    assert played.texts[1] == "Clamps, five. The sheet says six."
    assert played.counted("clamp") == 5
    assert played.flags("clamp") == {"differs_from_sheet"}


def test_more_than_the_sheet_is_a_difference_too() -> None:
    """An item too many is told like any other difference (AORN FAQ 2015)."""
    played = play(SHEET, "scrub: blade one two three")

    assert played.said == "Blades, three. The sheet says two."


def test_two_opposite_differences_do_not_cancel() -> None:
    """One line over and one line short are both told, though the sum is right."""
    played = play(SHEET, "scrub: blade one", "circ: one", "scrub: vessel loop one two three")
    played.go("circ: three", "(finish)")

    assert "Not as on the sheet: blade, one, sheet two. vessel loops, three, sheet two" in (
        played.said.replace(";", ".")
    )
    assert "differs_from_sheet" in played.flags("blade") & played.flags("vessel-loop")


def test_lines_out_of_order_are_taken_and_noted() -> None:
    """A line called after one that stands later is flagged; nothing is asked."""
    played = play(SHEET, "scrub: blade one two", "circ: two", f"scrub: dissector {FIVE}")

    assert played.said == "Dissectors, five."
    assert "out_of_order" in played.flags("dissector")
    assert "out_of_order" not in played.flags("blade")


def test_sound_alike_numbers_are_read_digit_by_digit() -> None:
    """Fifteen could be fifty, so its digits are said too."""
    words = " ".join(in_words(number) for number in range(1, 16))
    played = play(SHEET, f"scrub: towel clip {words}", "circ: fifteen")

    assert played.texts[1:] == [
        "Towel clips, fifteen, one five.",
        "Towel clips, fifteen, one five, confirmed.",
    ]


def test_a_number_that_sounds_like_another_is_asked_back_by_its_digits() -> None:
    """The digits tell which of the two it is; the name that was said before still holds."""
    played = play(SHEET, "scrub~: needle fifty")
    assert played.said == "One five, or five zero? Say the digits."
    assert played.counted("needle") is None

    played.go("scrub: one five", "(wait)")
    assert played.said == "Needles, fifteen, one five. The sheet says twelve."
    assert played.counted("needle") == 15


@pytest.mark.parametrize("answer", ["fifteen one five", "one five"])
def test_the_circulator_too_is_asked_back_by_digits(answer: str) -> None:
    """A confirmation near the line is no confirmation; its digits are one."""
    words = " ".join(in_words(number) for number in range(1, 16))
    played = play(SHEET, f"scrub: towel clip {words}", "circ~: fifty")
    assert played.said == "One five, or five zero? Say the digits."
    assert played.state("towel-clip") is State.WAITING

    played.go(f"circ: {answer}")
    assert played.state("towel-clip") is State.CONFIRMED


def test_digits_that_were_not_asked_for_are_numbers() -> None:
    """Other digits, or digits that nobody asked for, are a run that skips."""
    played = play(SHEET, "scrub~: needle fifty", "scrub: one six")
    assert played.counted("needle") is None

    played = play(SHEET, "scrub~: needle fifty", "scrub: needle twelve", "scrub: clamp one five")
    assert played.said.startswith("After one I heard five.")
    assert played.counted("needle") == 12


def test_five_and_nine_are_not_asked_back_by_digits() -> None:
    """The digits of five and nine are five and nine; they are said again."""
    played = play(SHEET, "scrub~: needle nine")

    assert played.said == "That number sounds like another. Say that again."


# Interruptions


def test_stand_by_interrupts_the_line() -> None:
    """Nothing of a line that is interrupted is stored, and nothing is taken until carry on."""
    played = play(SHEET, "scrub: clamp one two", "+scrub: stand by please")
    assert played.said.startswith("Clamps stopped at two. Not stored.")

    played.go("scrub: blade one two", "(wait)")
    assert played.said.startswith("Standing by.")
    assert played.counted("blade") is None

    played.go("circ: carry on please")
    assert played.said == "Listening."

    played.go("scrub: one two three four five six", "circ: six")
    assert played.state("clamp") is State.CONFIRMED
    assert played.flags("clamp") == {"interrupted"}


def test_room_talk_during_a_stand_by_is_not_answered() -> None:
    """What is not understood while standing by is let go."""
    played = play(SHEET, "scrub: stand by please", "scrub?: clamp one two", "scrub: say that again")

    assert played.texts[1:] == ["Standing by. Nothing is taken until you say: carry on counting."]


def test_another_item_in_the_middle_interrupts_the_line() -> None:
    """A call cut off short of the sheet's number by another item is counted again."""
    played = play(SHEET, "scrub: clamp one two", "+scrub: blade one two")

    assert "Clamps stopped at two. Not stored. Count clamps again, from one." in played.texts
    assert played.said == "Blades, two."
    assert played.counted("clamp") is None


def test_another_item_in_the_middle_of_a_package_interrupts_it() -> None:
    """A package that is not whole is counted again too."""
    played = play(SHEET, "scrub: gauze one two three", "+scrub: blade one two")

    assert "Gauze stopped at three. Not stored. Count gauze again, from one." in played.texts


def test_a_line_that_is_whole_is_not_interrupted_by_the_next() -> None:
    """A quick scrub loses nothing: what is not short is stored when the next line begins."""
    played = play(SHEET, f"scrub: dissector {FIVE}", "+scrub: blade one two", "+scrub: one probe")

    assert [played.counted(item) for item in ("dissector", "blade", "probe")] == [5, 2, 1]


def test_the_group_starts_over_where_the_policy_says_so() -> None:
    """An interrupted group is counted again from its first line."""
    played = policy(interrupted="group").go(
        "scrub: blade one two", "circ: two", "scrub: needle twelve", "circ: twelve"
    )
    played.go("scrub: clamp one two", "+scrub: stand by please")
    assert played.state("blade") is State.CONFIRMED

    played.go("scrub: carry on please", "scrub: vessel loop one two", "circ: two")
    played.go("scrub: one electrode tip", "circ: one", "scrub: scratch pad")
    played.go("+scrub: one", "+circ: stand by please")

    assert played.state("vessel-loop") is State.RECOUNT
    assert played.state("electrode-tip") is State.RECOUNT
    assert "Count again, from one: vessel loops, electrode tips." in played.said

    played.go("scrub: carry on please", "scrub: vessel loop one two", "circ: two")
    assert played.state("vessel-loop") is State.CONFIRMED
    assert "interrupted" in played.flags("vessel-loop")


def test_start_over_drops_the_call_in_hand() -> None:
    """The scrub may begin a line again."""
    played = play(SHEET, "scrub: clamp one two", "+scrub: start this line over")
    assert played.said == "Clamps, again from one."

    played.go("scrub: one two three four five six", "circ: six")
    assert played.state("clamp") is State.CONFIRMED
    assert played.counted("clamp") == 6


def test_naming_the_item_again_starts_its_line_over() -> None:
    """The name again and a run from one is a new start, without a question."""
    played = play(SHEET, "scrub: clamp one two", "+scrub: clamp one two three four five six")

    assert played.counted("clamp") == 6
    assert played.kinds == ["line_refused", "line_stored"]


def test_start_over_after_the_read_back() -> None:
    """A stored line that is not confirmed can be started over; the record keeps it."""
    played = play(SHEET, "scrub: clamp one two", "scrub: start this line over")
    assert played.said == "Count again, from one: clamps."

    played.go("scrub: one two three four five six", "circ: six")
    assert played.counted("clamp") == 6
    assert played.state("clamp") is State.CONFIRMED


def test_start_over_of_a_confirmed_line_is_asked_about() -> None:
    """What two people confirmed is not dropped by one phrase."""
    played = play(SHEET, "scrub: blade one two", "circ: two", "scrub: start this line over")

    assert played.said.endswith("To count it again, say: that is a recount.")
    assert played.state("blade") is State.CONFIRMED


# Taking back


def test_a_line_is_taken_back_by_both() -> None:
    """One asks, the other one agrees; the record names both."""
    played = play(SHEET, "scrub: blade one two", "circ: two", "scrub: take that line back")
    assert played.said == "Take back blades, two? The other one of you, say yes, or no."

    played.go("scrub: yes")
    assert played.said == "The other one of you has to say yes."
    assert played.counted("blade") == 2

    played.go("circ: yes that is right")
    assert played.said == "Blades, two, taken back."
    assert played.counted("blade") is None
    assert (played.events[-1].by, played.events[-1].agreed) == (Role.SCRUB, Role.CIRCULATOR)


def test_a_no_keeps_the_line() -> None:
    """Without agreement the line stays."""
    played = play(SHEET, "scrub: blade one two", "circ: two", "circ: take that line back")
    played.go("scrub: no")

    assert played.said == "Blades at two."
    assert played.state("blade") is State.CONFIRMED


def test_taking_back_needs_an_answer_at_once() -> None:
    """Going on with the count drops the question; a later yes takes nothing back."""
    played = play(SHEET, "scrub: blade one two", "circ: two", "scrub: take that line back")
    played.go("scrub: clamp one", "circ: yes")

    assert played.counted("blade") == 2


def test_a_confirmation_drops_the_question_of_taking_back() -> None:
    """A number said to the line keeps it; a yes after that takes nothing back."""
    played = play(SHEET, "scrub: blade one two", "scrub: take that line back", "circ: two")
    played.go("circ: yes")

    assert played.state("blade") is State.CONFIRMED


# Other commands and answers


def test_say_that_again_repeats_the_last_words() -> None:
    """The last reply is repeated as it was."""
    played = play(SHEET, "scrub: blade one two", "circ: say that again")

    assert played.texts[-2:] == ["Blades, two.", "Blades, two."]


def test_what_is_left_lists_what_is_open() -> None:
    """Waiting, differing and uncounted lines are told apart."""
    small = sheet_of(*ITEMS[4:6], ITEMS[10])
    played = play(small, "scrub: blade one", "scrub: what is left to count")

    assert played.said == (
        "Not confirmed: blade, one. Not as on the sheet: blade, one, sheet two. "
        "Not counted: vessel loops, clamps."
    )
    assert played.last.kind is ReplyKind.ANSWER


def test_the_tally_is_read_in_the_sheets_order() -> None:
    """Every stored line is read."""
    played = play(SHEET, "scrub: clamp one", "circ: one", "scrub: blade one two", "circ: two")
    played.go("circ: read me the tally")

    assert played.said == "Blades, two. Clamp, one."


def test_things_that_are_never_counted_get_an_answer() -> None:
    """The sheet's note is the answer, and no count comes of it."""
    played = play(SHEET, "scrub: three ties")

    assert played.said == "Ties without a needle are not counted."
    assert played.kinds == []


def test_begin_names_the_next_line() -> None:
    """Begin tells where the count begins."""
    assert play(SHEET, "circ: begin the count").said == "Next, gauze."


def test_finish_tells_what_is_open_and_decides_nothing() -> None:
    """The end of the count lists what is open, and leaves the decision to people."""
    small = sheet_of(*ITEMS[4:6])
    played = play(small, "scrub: blade one two", "circ: two", "circ: the count is finished")

    assert (
        played.said
        == "Not counted: vessel loops. Lines confirmed: one of two. The two of you decide."
    )
    assert played.ledger.finished
    assert (played.events[-1].left, played.events[-1].unconfirmed) == (("vessel-loop",), ())


# What was not understood


def test_counting_goes_on_after_a_finish() -> None:
    """A line stored after the count was called finished opens it again."""
    played = play(SHEET, "circ: the count is finished", "scrub: blade one two")

    assert not played.ledger.finished


def test_unsure_speech_is_asked_for_again() -> None:
    """The reason is told in words, and nothing is stored."""
    played = play(SHEET, "scrub?: blade one two")

    assert played.said == "That was not clear. Say that again."
    assert played.last.speak_next is Role.SCRUB
    assert played.kinds == []


def test_an_unsure_confirmation_leaves_the_line_waiting() -> None:
    """The circulator is asked again."""
    played = play(SHEET, "scrub: blade one two", "circ?: two")

    assert played.last.speak_next is Role.CIRCULATOR
    assert played.state("blade") is State.WAITING


def test_a_run_goes_on_over_an_unsure_part_that_is_said_again() -> None:
    """The part that was not clear is said again, and joins."""
    played = play(
        SHEET, "scrub: clamp one two three", "+scrub?: four five", "+scrub: four five six"
    )

    assert played.counted("clamp") == 6


def test_a_run_with_a_part_missing_is_not_stored() -> None:
    """If the unclear part does not come again, the line is counted again."""
    played = play(SHEET, "scrub: clamp one two three", "+scrub?: four five")

    assert played.said == ("Clamps, not stored: part of it was not clear. Count again, from one.")
    assert played.counted("clamp") is None


def test_the_circulators_number_settles_what_was_unclear() -> None:
    """If the circulator saw as many as were counted, the unclear sound was no part of the run."""
    played = play(SHEET, "scrub: clamp one two three", "+scrub??: mumble", "+circ: three")

    assert played.counted("clamp") == 3
    assert played.state("clamp") is State.CONFIRMED


def test_nothing_is_joined_across_a_name_that_may_have_been_missed() -> None:
    """After something wholly unclear, a bare run could belong to another item."""
    played = play(SHEET, "scrub: clamp one two", "+scrub??: mumble", "+scrub: three four")
    assert "Which item? Say its name, and count from one." in played.texts

    played.go("scrub: clamp one two three four five six", "(wait)")
    assert played.counted("clamp") == 6


def test_a_package_with_something_unclear_after_it_is_not_taken_as_whole() -> None:
    """An unclear number after a whole package may belong to it, so a new run breaks the line."""
    played = play(SHEET, f"scrub: lap sponge {FIVE}", "+scrub?: six", f"+scrub: {FIVE}")

    assert played.said == "After five I heard one. Count lap sponges again, from one."
    assert played.counted("lap-sponge") is None


def test_a_confirmation_does_not_make_up_for_a_name_that_was_missed() -> None:
    """Even when a package was confirmed since, the next bare run may be of another item."""
    played = play(SHEET, f"scrub: lap sponge {FIVE}", "+scrub??: mumble", "+circ: five")
    played.go(f"scrub: {FIVE}", "(wait)")

    assert played.said == "Which item? Say its name, and count from one."
    assert played.counted("lap-sponge") == 5


def test_a_further_package_needs_its_name_after_something_unclear() -> None:
    """A missed name must not put another item's run on top of a package."""
    played = play(SHEET, f"scrub: lap sponge {FIVE}", "circ: five", "scrub?: dissector")
    played.go(f"scrub: {FIVE}", "(wait)")

    assert played.counted("lap-sponge") == 5
    assert played.said == "Which item? Say its name, and count from one."


# Two channels, one voice


def test_a_voice_on_both_microphones_is_taken_once() -> None:
    """The scrub's own voice on the circulator's channel confirms nothing."""
    played = Play(SHEET)
    played.say("scrub: clamp one two three four five six")
    scrub = played.dialogue._scene.heard[0]
    for words in ("clamp one two three four five six", "six"):
        played.now = scrub.end - 0.3 * len(words.split()) - 0.3
        played.say(f"circ: {words}")
    played.go("(wait)")

    assert played.state("clamp") is State.WAITING
    assert played.said == "Clamps, six."


# One channel


def test_roles_come_from_the_turn_on_one_channel() -> None:
    """Calls and confirmations are told by their turn, and the record says so."""
    played = play(
        SHEET,
        "one: blade one two",
        "one: two",
        "one: two vessel loops",
        "one: two",
        told_apart=False,
    )

    assert played.state("blade") is State.CONFIRMED
    assert played.state("vessel-loop") is State.CONFIRMED
    assert "roles_not_told_apart" in played.flags("blade")
    assert played.events[0].roles_told_apart is False


def test_another_number_on_one_channel_is_a_dispute() -> None:
    """While a line waits, a single number is the circulator's."""
    played = play(SHEET, "one: blade one two", "one: three", told_apart=False)

    assert played.state("blade") is State.RECOUNT


def test_a_longer_run_on_one_channel_goes_on() -> None:
    """Several numbers that go on are the scrub's."""
    played = play(SHEET, "one: clamp one two three", "one: four five six", told_apart=False)

    assert played.counted("clamp") == 6


def test_a_quick_number_on_one_channel_confirms() -> None:
    """The number just counted, said once more after a breath, is the circulator's turn."""
    played = play(SHEET, "one: blade one two", "+one: two", "one: clamp one", told_apart=False)

    assert played.state("blade") is State.CONFIRMED


def test_pieces_on_one_channel() -> None:
    """The answer to a question about pieces is the scrub's."""
    played = play(SHEET, "one: one suction tip", "one: two", "one: one", told_apart=False)

    assert played.state("suction-tip") is State.CONFIRMED


def test_taking_back_on_one_channel() -> None:
    """Who says yes cannot be told; the record holds neither name."""
    played = play(SHEET, "one: blade one two", "one: take that line back", told_apart=False)
    played.go("one: yes")

    assert played.counted("blade") is None
    assert (played.events[-1].by, played.events[-1].agreed) == (None, None)


def test_an_item_over_what_can_be_said_is_refused() -> None:
    """A sum above the largest number that can be said cannot be confirmed, so it is not stored."""
    words = " ".join(in_words(number) for number in range(1, 121))
    big = sheet_of({"id": "patty", "pack": 10})
    played = play(big, f"scrub: patty {words}", f"scrub: patty {words}")

    assert played.counted("patty") == 120
    assert "cannot be confirmed by voice" in played.said


def test_a_spoken_finish_is_answered_once() -> None:
    """When the sound ends right after a spoken finish, the summary is not said again."""
    played = play(SHEET, "scrub: blade one two", "circ: two", "scrub: the count is finished")
    step = played.dialogue.finish(played.now)

    assert step.events == ()
    assert step.reply is None
