"""Two recognisers that must agree, with fakes."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from playing import sheet_of

from voicecount.hear.agree import AgreeingRecognisers
from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.sound.frame import Utterance
from voicecount.testing.recogniser import FakeRecogniser
from voicecount.words.grammar import build_grammar
from voicecount.words.meaning import Form, Meaning

GRAMMAR = build_grammar(sheet_of({"id": "gauze", "say": ["gauze"]}))
SOUND = Utterance(0, 0.0, 1.0, np.zeros(16_000, np.float32), 0.0)
FIVE, NINE = (Meaning(Form.RUN, None, (n,)) for n in (5, 9))


def answer(outcome: Outcome, meaning: Meaning | None, reason: Reason | None = None) -> Heard:
    """Make an answer."""
    return Heard(0, 0.0, 1.0, outcome, meaning, "five", reason=reason, latency_ms=10.0)


ACCEPTED = answer(Outcome.ACCEPTED, FIVE)
OTHER = answer(Outcome.ACCEPTED, NINE)
UNSURE = answer(Outcome.UNSURE, FIVE, Reason.CLOSE_CALL)
IGNORED = answer(Outcome.IGNORED, None, Reason.NOT_FOR_US)


def both(first: Heard, second: Heard) -> Heard:
    """Hear with two recognisers."""
    return AgreeingRecognisers(FakeRecogniser([first]), FakeRecogniser([second])).hear(
        SOUND, GRAMMAR
    )


def test_what_both_accept_alike_is_accepted() -> None:
    """The first one's words stay, and the time of both is told."""
    assert both(ACCEPTED, replace(ACCEPTED, text="5")) == replace(ACCEPTED, latency_ms=20.0)


@pytest.mark.parametrize("second", [OTHER, UNSURE, IGNORED])
def test_anything_else_is_asked_for_again(second: Heard) -> None:
    """Another number, doubt, or no speech for us by the second one is a reason to ask."""
    heard = both(ACCEPTED, second)

    assert (heard.outcome, heard.reason) == (Outcome.UNSURE, Reason.ENGINES_DIFFER)


@pytest.mark.parametrize("second", [ACCEPTED, OTHER, UNSURE, IGNORED])
def test_the_first_ones_doubt_stays(second: Heard) -> None:
    """What the first one asks about is asked about for its own reason."""
    assert both(UNSURE, second).reason is Reason.CLOSE_CALL
    assert both(UNSURE, second).outcome is Outcome.UNSURE


def test_talk_is_not_heard_twice() -> None:
    """What the first one takes as talk is ignored, and costs no second hearing."""
    second = FakeRecogniser([ACCEPTED])
    heard = AgreeingRecognisers(FakeRecogniser([IGNORED]), second).hear(SOUND, GRAMMAR)

    assert heard == IGNORED
    assert second.utterances == []


def test_nothing_is_accepted_but_what_both_accept() -> None:
    """Of all pairs of answers, one is accepted where both are, with one meaning."""
    answers = (ACCEPTED, OTHER, UNSURE, IGNORED)
    taken = [
        (first, second)
        for first, second in product(answers, answers)
        if both(first, second).outcome is Outcome.ACCEPTED
    ]

    assert taken == [(ACCEPTED, ACCEPTED), (OTHER, OTHER)]


def test_the_record_names_both() -> None:
    """The record tells which two recognisers heard."""
    pair = AgreeingRecognisers(FakeRecogniser([]), FakeRecogniser([]))

    assert pair.name == "fake recogniser agreeing with fake recogniser"
