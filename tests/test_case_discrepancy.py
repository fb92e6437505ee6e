"""A difference, in typed words: said at once, walked through, and closed by both people only.

The steps and their order are a union of published ones: closing pauses, surgeon and team told,
both recount, search, the person in charge told, imaging (open nursing course on surgical counting;
US hospital policies; WHO Guidelines for Safe Surgery 2009, from memory).
"""

import pytest
from cases import (
    BOTH_AGREE,
    CASE,
    DONE,
    LAPS,
    NEEDLES,
    NEEDLES_AT,
    SHORT,
    TIPS,
    TWO_COUNTS,
    WHOLE,
    begun,
    called,
    case_of,
    closed,
    of_kind,
    placed,
    recounted,
    short,
    told,
    walked,
)
from playing import Play

from voicecount.count.events import CountResult
from voicecount.count.tally import State


def steps(played: Play) -> list[tuple[str, str]]:
    """Give what was done, in its order, with its answer."""
    return [(event.step.value, event.answer) for event in of_kind(played, "step_told")]


# Said at once, and until it is closed


def test_a_difference_is_said_at_once() -> None:
    """Item, number, expected, short or over, when and where it was as expected last; then a pause.

    Source: say it aloud at once, closing pauses (open nursing course on surgical counting).
    """
    sheet = TWO_COUNTS
    played = begun(sheet, "circ: begin the closing count", *placed(sheet, {**WHOLE, **NEEDLES_AT}))
    played.go("circ: the count is finished")
    played.now += 25 * 60
    played.go("circ: begin the final count", *placed(sheet, {"lap": (0, 0, 7, 2)}))

    assert played.said == (
        "Confirmed. Lap sponges, nine. Expected, ten. One short. Last as expected in the closing "
        "count, twenty five, two five, minutes ago: on the field, three; on the back table, seven. "
        "Closing pauses. Then say: that has been done."
    )
    assert played.last.tone


def test_an_open_difference_is_told_until_it_is_closed() -> None:
    """What is left, the end of a count, a relief and the end of the case all name it."""
    played = recounted()
    played.go("circ: what is left to count")
    assert "Open: lap sponges, one short." in played.said
    told(played, "a break for the scrub", agreed="yes that is right", by="scrub")
    assert "Open: lap sponges, one short." in played.said
    played.go(*placed(CASE, NEEDLES_AT), "circ: the count is finished")
    assert "Open: lap sponges, one short. Closing count finished. Not reconciled." in played.said
    played.go("circ: close the record now")
    assert "Open: lap sponges, one short." in played.said


def test_a_case_can_only_end_with_it_aloud_and_in_the_record() -> None:
    """Both may end the case with a difference open: it is said before and after, and recorded."""
    played = recounted().go("circ: close the record now")
    assert not played.ledger.closed
    played.go("scrub: yes that is right")

    (end,) = of_kind(played, "case_closed")
    assert end.open == (1,)
    assert "Open: lap sponges, one short." in played.said
    assert of_kind(played, "count_finished")[-1].result is CountResult.DIFFERS


# The steps


def test_steps_come_in_their_order_and_are_announced() -> None:
    """Each step is announced and waits for a voice, before the next one is."""
    played = recounted()
    asked = [played.said]
    for place in CASE.policy.search:
        assert place is not None
        played.go("circ: nothing found there")
        asked.append(played.said)
    for words in (DONE, DONE, "circ: nothing seen on the image", "circ: read by the radiologist"):
        played.go(words)
        asked.append(played.said)

    assert asked == [
        (
            "Confirmed. Lap sponges, nine. Expected, ten. One short. Search the wound. Then say: "
            "nothing found there, or: the missing one is found."
        ),
        *(
            f"Search {where}. Then say: nothing found there, or: the missing one is found."
            for where in (
                *("the drapes", "the field", "the Mayo stand", "the back table"),
                *("what was counted off", "the waste", "the linen", "the floor"),
            )
        ),
        "Tell the person in charge. Then say: that has been done.",
        "Imaging, as local policy says. Then say: that has been done, or: that cannot be done.",
        (
            "What is seen on the image? Say: nothing seen on the image; or: it is seen on the "
            "image; or: the image is uncertain."
        ),
        "Who read it? Say: read by the radiologist; or: read by the surgeon.",
        "Say: the missing one is found; or: it stays missing; or: we can explain it.",
    ]
    assert [name for name, _ in steps(played)] == [
        *("pause", "tell", "recount"),
        *["search"] * 9,
        *("charge", "image"),
    ]
    places = [event.where for event in of_kind(played, "step_told") if event.step == "search"]
    assert tuple(places) == CASE.policy.search


def test_the_order_of_steps_is_the_hospitals() -> None:
    """A policy with other steps and places is walked in that order, and needs no others.

    Source: practice differs; recount before telling (US hospital quiz against WHO, from memory).
    """
    sheet = case_of(policy={"steps": ["recount", "tell", "search"], "search": ["floor"]})
    played = short(sheet)
    assert "Both count again. Next, lap sponges, on the field." in played.said
    played.go(*placed(sheet, SHORT))
    assert played.said.endswith("Tell the surgeon and the team. Then say: that has been done.")
    played.go(DONE)
    assert played.said.startswith("Search the floor.")
    played.go("circ: nothing found there", "circ: it stays missing")
    assert played.said.startswith("What was decided?")


@pytest.mark.parametrize(
    "words",
    [
        *("circ: nothing found there", "circ: it stays missing", "circ: we can explain it"),
        *("circ: yes that is right", "scrub: ten", "circ: ten", "circ?: that has been done"),
    ],
)
def test_no_other_words_pass_a_step(words: str) -> None:
    """While closing has not paused, no search, no outcome, no number and no doubt passes it."""
    played = short().go(words)

    assert steps(played) == []
    assert list(played.ledger.discrepancies) == [1]


def test_a_recount_is_done_by_counting() -> None:
    """Nobody can say that the recount is done: every place of the line is called again.

    Source: full recount of the item by both (WHO 2009, from memory).
    """
    played = short().go(DONE, DONE, DONE)
    assert [name for name, _ in steps(played)] == ["pause", "tell"]
    assert {key.item for key in played.ledger.keys(State.RECOUNT)} == {"lap"}
    assert of_kind(played, "recount_called")[-1].why == "differs"


def test_a_step_that_is_not_possible_is_in_the_record() -> None:
    """A step can be told as not done; it stays in the record as such."""
    played = short().go("circ: that cannot be done")

    assert steps(played) == [("pause", "not_done")]
    assert of_kind(played, "step_told")[0].reason == "other_reason"


@pytest.mark.parametrize(
    ("answer", "code"),
    [
        ("nothing seen on the image", "nothing_seen"),
        ("it is seen on the image", "item_seen"),
        ("the image is uncertain", "not_certain"),
    ],
)
@pytest.mark.parametrize("reader", ["radiologist", "surgeon"])
def test_imaging_has_its_result_and_its_reader(answer: str, code: str, reader: str) -> None:
    """What is seen and who read it are asked for and kept.

    Source: read by a radiologist, or the surgeon if there is none (a US hospital policy).
    """
    played = walked(recounted()).go(DONE, DONE, f"circ: {answer}", f"circ: read by the {reader}")
    image = of_kind(played, "step_told")[-1]

    assert (image.step, image.answer, image.reader) == ("image", code, reader)


@pytest.mark.parametrize(
    ("answer", "code"),
    [
        ("the patient is too ill for it", "too_ill"),
        ("it is too small to be seen", "too_small"),
        ("the surgeon has declined", "surgeon_declined"),
        ("for another reason", "other_reason"),
    ],
)
def test_no_image_has_its_reason(answer: str, code: str) -> None:
    """An image that is not taken has its reason.

    Source: small needles may not show (a US hospital policy); as soon as stable (WHO, from memory).
    """
    played = walked(recounted()).go(DONE, "circ: that cannot be done", f"circ: {answer}")
    image = of_kind(played, "step_told")[-1]

    assert (image.step, image.answer, image.reason) == ("image", "not_done", code)


def test_what_is_over_is_not_searched_for() -> None:
    """An item too many is counted again and told, but not looked for and not seen on images.

    Source: an extra item is a discrepancy as well: the first count may be wrong (AORN FAQ 2015).
    """
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, {"lap": (4, 0, 7, 0)}))
    played.go(DONE, DONE, *placed(CASE, {"lap": (4, 0, 7, 0)}), DONE)

    assert [name for name, _ in steps(played)] == ["pause", "tell", "recount", "charge"]
    assert played.said.startswith("Say: we can explain it;")
    played.go("circ: we have found it")
    assert played.said == "No difference is open."


# Differences of places, pieces, and several at a time


def test_a_short_place_is_walked_through_too() -> None:
    """Fewer counted off than passed off is searched for, and closed by both when it is found."""
    played = told(begun(), "passing them off the field", "lap sponges five", agreed="five")
    played.go("circ: begin the closing count", *placed(CASE, {"lap": (3, 0, 3, 4)}), DONE, DONE)
    played.go(*placed(CASE, {"lap": (2, 0, 3, 5)}), *BOTH_AGREE)

    assert [event.settled for event in closed(played)] == ["recounted"]
    assert played.ledger.discrepancies == {}


def test_a_missing_piece_is_searched_for_and_not_recounted() -> None:
    """A piece is no line of the count: it is searched for, and found or not."""
    sheet = case_of(LAPS, TIPS)
    played = told(begun(sheet), "a piece is missing", "suction tip one", agreed="one")
    played.go(DONE, DONE)
    assert played.said.startswith("Search the wound.")
    told(played, "we have found it", "in the drapes", "one", agreed="one")

    assert [event.settled for event in closed(played)] == ["found"]


def test_several_differences_are_walked_through_one_after_the_other() -> None:
    """The oldest is brought to its end first; a line that is counted meanwhile opens its own."""
    both = {"lap": (3, 0, 6, 0), "needle": (0, 0, 3, 0)}
    played = begun(CASE, "circ: begin the closing count", *placed(CASE, both))
    assert list(played.ledger.discrepancies) == [1, 2]
    told(played, "we have found it", "on the floor", "one", agreed="one")

    assert [event.discrepancy for event in closed(played)] == [1]
    assert [one.item for one in played.ledger.discrepancies.values()] == ["needle"]
    assert "Closing pauses." in played.said


def test_not_found_is_not_covered_by_a_later_find() -> None:
    """A second difference of the same item that is found does not make the first one reconciled."""
    sheet = case_of(LAPS, {**TIPS, "expect": 2})
    played = begun(sheet, "circ: begin the closing count")
    played.go(*placed(sheet, {"tip": (0, 1, 0, 0)}))
    played = walked(played.go(DONE, DONE, *placed(sheet, {"tip": (0, 1, 0, 0)})))
    played.go(DONE, "circ: that cannot be done", "circ: for another reason")
    told(played, "it stays missing", "the surgeon will go on", agreed="yes that is right")
    told(played, "a piece is missing", "suction tip one", agreed="one")
    told(played, "we have found it", "on the floor", "one", agreed="one")
    played.go(*placed(sheet, {"lap": (3, 0, 7, 0)}), "circ: the count is finished")

    assert [event.settled for event in closed(played)] == ["not_found", "found"]
    assert of_kind(played, "count_finished")[-1].result is CountResult.DIFFERS


def test_a_difference_follows_what_is_expected() -> None:
    """An item cut while a difference is open never makes up for the one that is missing."""
    played = short()
    told(played, "something was cut", "lap sponge one", agreed="one")
    assert [one.off for one in played.ledger.discrepancies.values()] == [-1]
    played.go(*placed(CASE, WHOLE))

    assert "Lap sponges, ten. Expected, eleven. One short." in played.said
    assert [one.off for one in played.ledger.discrepancies.values()] == [-1]


def test_an_addition_does_not_hide_a_difference() -> None:
    """Sponges added after a count with a difference leave it one short, not five over."""
    played = short().go(*placed(CASE, NEEDLES_AT), "circ: the count is finished")
    played.go("scrub: add to the count", *called(CASE, "lap", 5), "circ: the count is finished")

    (open_,) = played.ledger.discrepancies.values()
    assert (open_.off, open_.expected) == (-1, 15)


def test_a_recount_after_the_end_of_a_count_is_a_count_of_its_own() -> None:
    """Once the count is over, the recount needs a count that is asked for, and is told so."""
    played = short().go(*placed(CASE, NEEDLES_AT), "circ: the count is finished", DONE, DONE)
    assert played.said == "Both count again. For that, say: we want a count now."
    played.go("circ: we want a count now", *placed(CASE, WHOLE), *BOTH_AGREE)

    assert [event.settled for event in closed(played)] == ["recounted"]


def test_one_channel_walks_through_a_difference() -> None:
    """Where one channel holds both voices the steps are the same, and yes has to be said twice."""
    script = [
        *("scrub: suture needles total four", "(wait)", "circ: four"),
        *("circ: the count is finished", "circ: begin the closing count"),
        *("scrub: suture needles on the field one two three", "(wait)", "circ: three"),
        *("scrub: none anywhere else", "circ: none", DONE, DONE, "circ: we have found it"),
        *("circ: on the floor", "circ: one", "circ: one"),
    ]
    one = [line.replace("scrub:", "one:").replace("circ:", "one:") for line in script]
    played = Play(case_of(NEEDLES), told_apart=False).go(*one)

    assert [event.settled for event in closed(played)] == ["found"]
