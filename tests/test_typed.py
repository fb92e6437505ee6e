"""The typed recogniser: what is taken, what is asked again, what is left alone."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicecount.hear.heard import Heard, Outcome
from voicecount.hear.typed import TypedRecogniser
from voicecount.reasons import Reason
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.words.grammar import build_grammar
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import NUMBER_WORDS, words_of

GRAMMAR = build_grammar(load_sheet(Path(__file__).parent.parent / "grammars" / "laparotomy.yaml"))
TYPED = TypedRecogniser()


def heard(text: str) -> Heard:
    """Understand a text with the long sheet."""
    return TYPED.understand(text, GRAMMAR)


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("gauze, one, two, three", Meaning(Form.RUN, "gauze", (1, 2, 3))),
        ("Gauze 1 2 3.", Meaning(Form.RUN, "gauze", (1, 2, 3))),
        ("10", Meaning(Form.RUN, None, (10,))),
        ("2 vessel loops", Meaning(Form.NUMBER_FIRST, "vessel_loop", (2,))),
        ("suture needles, total of 12", Meaning(Form.TOTAL, "suture_needle", (12,))),
        ("one Balfour, four pieces", Meaning(Form.NUMBER_FIRST, "balfour", (1,), 4)),
        ("X-ray gauze none", Meaning(Form.NONE, "gauze", (0,))),
        ("free ties, one, two", Meaning(Form.NOT_COUNTED, "tie", (1, 2))),
        ("Start this line over!", Meaning(Form.COMMAND, command="start_over")),
        ("what's left to count?", Meaning(Form.COMMAND, command="whats_left")),
        ("number ten blade one two", Meaning(Form.RUN, "number_ten_blade", (1, 2))),
    ],
)
def test_taken(text: str, meaning: Meaning) -> None:
    """What the sheet allows is taken, digits and all."""
    answer = heard(text)

    assert (answer.outcome, answer.reason, answer.meaning) == (Outcome.ACCEPTED, None, meaning)


@pytest.mark.parametrize(
    ("text", "meaning", "understood"),
    [
        ("gauz 1 2", Meaning(Form.RUN, "gauze", (1, 2)), "gauze one two"),
        ("2 vesel loops", Meaning(Form.NUMBER_FIRST, "vessel_loop", (2,)), "two vessel loops"),
        (
            "numbr ten blade one",
            Meaning(Form.RUN, "number_ten_blade", (1,)),
            "number ten blade one",
        ),
        ("no peanots", Meaning(Form.NONE, "dissecting_sponge", (0,)), "no peanuts"),
        (
            "1 balfor 4 pieces",
            Meaning(Form.NUMBER_FIRST, "balfour", (1,), 4),
            "one balfour four pieces",
        ),
    ],
)
def test_misspelled_names(text: str, meaning: Meaning, understood: str) -> None:
    """A misspelled name that is near one line and far from the others is taken for it."""
    answer = heard(text)

    assert (answer.outcome, answer.meaning, answer.text) == (
        Outcome.ACCEPTED,
        meaning,
        understood,
    )


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("gauze", Reason.NO_NUMBER),
        ("none", Reason.NO_ITEM),
        ("total twelve", Reason.NO_ITEM),
        ("frobnicator one two three", Reason.UNKNOWN_NAME),
        ("two frobnicators", Reason.UNKNOWN_NAME),
        ("Kelly one two", Reason.UNCLEAR_NAME),
        ("needles twelve", Reason.UNCLEAR_NAME),
        ("gauze one two um three", Reason.NOT_A_COUNT),
        ("one two um three", Reason.NOT_A_COUNT),
        ("gauze one to three", Reason.NOT_A_COUNT),
        ("gauze one too", Reason.NOT_A_COUNT),
        ("gauze won two", Reason.NOT_A_COUNT),
        ("gauze one two three fore", Reason.NOT_A_COUNT),
        ("gauze one two three lap sponge one two", Reason.NOT_A_COUNT),
        ("gauze twoo three four", Reason.NOT_A_COUNT),
        ("gauze 250", Reason.NOT_A_COUNT),
        ("mosquito clip one", Reason.NOT_A_COUNT),
        ("start this lin over", Reason.NOT_A_COUNT),
    ],
)
def test_asked_again(text: str, reason: Reason) -> None:
    """What was meant for us, but is no whole count, is never repaired: it has to be said again."""
    answer = heard(text)

    assert (answer.outcome, answer.reason) == (Outcome.UNSURE, reason)
    assert answer.text == " ".join(words_of(text))


def test_a_misspelled_name_alone_needs_its_number() -> None:
    """A name alone is no count, misspelled or not."""
    answer = heard("gauz")

    assert (answer.outcome, answer.reason, answer.text) == (
        Outcome.UNSURE,
        Reason.NO_NUMBER,
        "gauze",
    )


def test_near_two_names_is_unclear() -> None:
    """A name that is as near to one line as to another is given to neither."""
    items = [
        {"id": f"i{at}", "group": "instruments", "say": [f"{side} hand clamp"]}
        for at, side in enumerate(("left", "heft"))
    ]
    grammar = build_grammar(Sheet.model_validate({"title": "t", "items": items}))
    answer = TYPED.understand("deft hand clamp one two", grammar)

    assert (answer.outcome, answer.reason) == (Outcome.UNSURE, Reason.UNCLEAR_NAME)
    assert answer.text == "deft hand clamp one two"


@pytest.mark.parametrize(
    "text",
    [
        "pass me the gauze please",
        "hand me two of those please",
        "we need two more minutes",
        "two minutes please",
        "the patient is ten years old",
        "can you turn the music down",
        "how was your weekend",
        "that is right",
        "what time is it",
        "say again",
    ],
)
def test_talk(text: str) -> None:
    """Plain talk in the room is left alone."""
    answer = heard(text)

    assert (answer.outcome, answer.reason) == (Outcome.IGNORED, Reason.NOT_FOR_US)
    assert answer.meaning is None


@pytest.mark.parametrize("text", ["", "  ", "...!"])
def test_nothing(text: str) -> None:
    """No words are no speech."""
    answer = heard(text)

    assert (answer.outcome, answer.reason, answer.text) == (
        Outcome.IGNORED,
        Reason.NO_SPEECH,
        "",
    )


def test_two_readings_are_a_close_call() -> None:
    """On a sheet that was never checked, words with two meanings are asked again."""
    items = [
        {"id": f"i{at}", "group": "sharps", "say": [name]}
        for at, name in enumerate(("blade", "ten blade"))
    ]
    grammar = build_grammar(Sheet.model_validate({"title": "t", "items": items}))
    answer = TYPED.understand("ten blade", grammar)

    assert (answer.outcome, answer.reason) == (Outcome.UNSURE, Reason.CLOSE_CALL)


def test_place_is_kept_and_there_are_no_scores() -> None:
    """Channel and times are passed through; typed words have no times, margin or ratio."""
    answer = TYPED.understand("ten", GRAMMAR, channel=1, start=2.0, end=3.5)

    assert (answer.channel, answer.start, answer.end) == (1, 2.0, 3.5)
    assert (answer.words, answer.margin, answer.ratio) == (None, None, None)
    assert TYPED.name.startswith("typed ")


WORDS = st.sampled_from(
    [
        *("gauze", "gauz", "lap", "sponge", "kelly", "curved", "number", "ten", "blade", "one"),
        *("two", "three", "twenty", "to", "for", "um", "none", "no", "total", "in", "pieces"),
        *("fifteen", "fiften", "frobnicator", "250", "yes", "please"),
    ]
)


@given(st.lists(WORDS, max_size=7).map(" ".join))
def test_never_another_number(text: str) -> None:
    """Whatever is taken holds exactly the number words that were typed, in their order."""
    answer = heard(text)
    typed = [word for word in words_of(text) if word in NUMBER_WORDS]

    assert (answer.outcome is Outcome.ACCEPTED) == (answer.reason is None)
    if answer.outcome is Outcome.ACCEPTED:
        assert [word for word in answer.text.split() if word in NUMBER_WORDS] == typed
        assert answer.meaning is not None
        assert answer.meaning.form is not Form.NAME
