"""In unison: both count aloud at the same time, and a line is stored only when both agree.

Source: Great Ormond Street Hospital, guideline "Surgical count": audibly and in unison.
"""

import pytest
from playing import WHO, Play, sheet_of

from voicecount.count.events import LineConfirmed, LineRefused, Refusal
from voicecount.count.tally import State
from voicecount.hear.typed import TypedRecogniser
from voicecount.words.grammar import build_grammar

FIVE = "one two three four five"
ITEMS = (
    {"id": "lap", "pack": 5, "expect": 10},
    {"id": "clamp", "group": "instruments", "expect": 2},
)


def case(*, told_apart: bool = True) -> Play:
    """Begin a case whose policy is to count in unison."""
    return Play(sheet_of(*ITEMS, policy={"in_unison": True}), told_apart)


def together(
    played: Play, scrub: str | None, circ: str | None, *, later: float = 0.1, first: str = "scrub"
) -> Play:
    """Let both speak at the same time, the circulator a little later; then let it settle."""
    played.wait()
    start = played.now + 0.5
    turns = [("scrub", scrub, 0.0), ("circ", circ, later)]
    turns.sort(key=lambda turn: turn[0] != first)
    ends = []
    for who, text, after in turns:
        if text is None:
            continue
        channel, role = WHO[who]
        end = start + after + 0.3 * len(text.split())
        ends.append(end)
        grammar = build_grammar(played.sheet, played.dialogue.vocabulary)
        heard = TypedRecogniser().understand(
            text, grammar, channel=channel, start=start + after, end=end
        )
        played.take(played.dialogue.hear(heard, role))
    played.now = max(ends)
    played.wait()
    return played


@pytest.mark.parametrize("first", ["scrub", "circ"])
def test_a_line_that_both_count_is_stored_and_confirmed(first: str) -> None:
    """Both counted the same: one line, confirmed by the circulator's own count."""
    played = together(case(), f"lap {FIVE}", f"lap {FIVE}", first=first)

    assert played.state("lap") is State.CONFIRMED
    (confirmed,) = [event for event in played.events if isinstance(event, LineConfirmed)]
    assert confirmed.unison
    assert played.said == "Laps, five. Confirmed."


def test_the_name_may_be_said_by_one() -> None:
    """The circulator may count along without the name."""
    played = together(case(), "clamp one two", "one two")

    assert played.state("clamp") is State.CONFIRMED


def test_a_further_package_is_counted_by_both() -> None:
    """The second package of five makes ten, given by both."""
    played = together(case(), f"lap {FIVE}", f"lap {FIVE}")
    together(played, FIVE, FIVE)

    assert played.counted("lap") == 10
    assert played.state("lap") is State.CONFIRMED


@pytest.mark.parametrize(
    ("scrub", "circ"),
    [
        ("clamp one two", "clamp one two three"),
        ("clamp one two", "clamp one"),
        ("clamp one two", "lap one two"),
        ("clamp one two", "one three"),
        ("clamp one two", None),
    ],
)
def test_two_tallies_that_differ_are_not_stored(scrub: str, circ: str | None) -> None:
    """Another number, another item, a broken run, or silence: nothing is stored, both again."""
    played = together(case(), scrub, circ)

    assert played.counted("clamp") is None
    (refused,) = [event for event in played.events if isinstance(event, LineRefused)]
    assert refused.refusal is Refusal.NOT_IN_UNISON
    assert "Both count again" in played.said


def test_what_was_counted_before_is_no_count_of_both() -> None:
    """The circulator's numbers have to overlap with the scrub's in time."""
    played = case()
    together(played, None, "clamp one two")
    played.now += 5
    together(played, "clamp one two", None)

    assert played.counted("clamp") is None


def test_a_refused_run_forgets_what_the_other_counted() -> None:
    """After a broken run of the scrub, an old count of the circulator confirms nothing."""
    played = together(case(), "clamp one three", "clamp one two")
    together(played, "clamp one two", None)

    assert played.counted("clamp") is None


def test_the_circulator_alone_is_told_who_calls() -> None:
    """A name alone from the circulator begins nothing."""
    played = together(case(), None, "clamp")

    assert played.kinds == []


def test_none_elsewhere_is_given_by_both() -> None:
    """In a count with places, what is nowhere else is confirmed by the circulator's none."""
    played = together(case(), f"lap {FIVE}", f"lap {FIVE}")
    together(played, "clamp one two", "clamp one two")
    played.go("scrub: the count is finished", "scrub: we want a count now")
    together(played, "lap on the field one two three", "lap on the field one two three")
    played.go("scrub: none anywhere else", "circ: none")

    assert [key.place for key in played.ledger.keys(State.CONFIRMED)] == [
        "field",
        "mayo",
        "back_table",
        "off_field",
    ]


def test_one_channel_counts_as_usual() -> None:
    """Without a channel for each, two voices cannot be told apart: the number confirms."""
    played = case(told_apart=False).go(f"one: lap {FIVE}", "(wait)", "one: five")

    assert played.state("lap") is State.CONFIRMED
