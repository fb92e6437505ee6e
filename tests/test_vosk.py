"""What becomes of an answer of the Vosk engine, with a fake model; a model that is not there."""

from pathlib import Path

import numpy as np
import pytest
from vosk_rig import RUN, FakeModel, english, utterance

from voicecount.errors import ModelError
from voicecount.hear.port import Outcome
from voicecount.hear.vosk_engine import VoskRecogniser
from voicecount.hear.vosk_model import MODEL_VARIABLE, Alternative, Timed, find_model
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet
from voicecount.sound.frame import RATE, Utterance
from voicecount.words.grammar import build_grammar


@pytest.mark.parametrize(
    ("answers", "free", "outcome", "reason"),
    [
        pytest.param([("gauze one two three", 0)], 0, "accepted", None, id="no rival"),
        pytest.param(
            [("gauze one two three", 0), ("gauze one two", -5)], 0, "accepted", None, id="far rival"
        ),
        pytest.param(
            [("gauze one two three", 0), ("gauze one two", -2)],
            0,
            "unsure",
            Reason.CLOSE_CALL,
            id="near rival",
        ),
        pytest.param(
            [("gauze one two three", 0), ("gauze gauze one two", -1)],
            0,
            "accepted",
            None,
            id="a rival that means nothing",
        ),
        pytest.param(
            [("gauze one two three", 0)], 20, "unsure", Reason.WEAK_MATCH, id="weaker than free"
        ),
        pytest.param(
            [("gauze one two three", 0)], 60, "ignored", Reason.NOT_FOR_US, id="talk by its sound"
        ),
        pytest.param([("gauze", 0)], 0, "unsure", Reason.NO_NUMBER, id="a name alone"),
        pytest.param([("say that again", 0)], 0, "accepted", None, id="a command"),
        pytest.param([("one two three", 0)], 0, "accepted", None, id="a run alone"),
        pytest.param([], 0, "ignored", Reason.NO_SPEECH, id="no answer"),
        pytest.param([("", 0)], 0, "ignored", Reason.NO_SPEECH, id="no words"),
        pytest.param(
            [("gauze one needle", 0)], 0, "unsure", Reason.NOT_A_COUNT, id="no whole reading"
        ),
        pytest.param([("that line is", 0)], 0, "ignored", Reason.NOT_FOR_US, id="scraps"),
        pytest.param(
            [("[unk] one two", 0)], 0, "unsure", Reason.UNKNOWN_NAME, id="an unknown name"
        ),
        pytest.param(
            [("gauze one [unk] two", 0)], 0, "ignored", Reason.NOT_FOR_US, id="unknown inside"
        ),
        pytest.param([("[unk]", 0)], 0, "ignored", Reason.NOT_FOR_US, id="unknown alone"),
    ],
)
def test_what_becomes_of_an_answer(
    answers: list[tuple[str, float]], free: float, outcome: str, reason: Reason | None
) -> None:
    """Only a whole reading that is far from others and near to free speech is accepted."""
    heard = VoskRecogniser(model=FakeModel(*answers, free=free)).hear(utterance(), english())

    assert (heard.outcome, heard.reason) == (Outcome(outcome), reason)
    assert heard.channel == 1


def test_an_answer_carries_words_with_times_margin_and_ratio() -> None:
    """Times are on the stream's clock, where the trimmed sound with its silence began."""
    model = FakeModel(("gauze one two three", 4.0), ("gauze one two", -6.0), free=5.0)
    heard = VoskRecogniser(model=model).hear(utterance(), english())

    assert heard.meaning == RUN
    assert heard.text == "gauze one two three"
    assert heard.margin == 10.0
    assert heard.ratio == -1.0
    assert heard.words is not None
    assert [word.text for word in heard.words] == ["gauze", "one", "two", "three"]
    assert heard.words[0].start == pytest.approx(10.0 + 1.0 - 0.5)
    assert heard.latency_ms > 0
    assert np.all(model.heard[0][: RATE // 2] == 0)


@pytest.mark.parametrize(
    ("sound", "reason"),
    [
        (utterance(lost=True), Reason.SOUND_LOST),
        (utterance(cut=True), Reason.TOO_LONG),
        (utterance(31.5), Reason.TOO_LONG),
        (utterance(level=3.0), Reason.CLIPPED),
    ],
)
def test_sound_that_cannot_be_trusted_is_asked_again(sound: Utterance, reason: Reason) -> None:
    """Whatever the words would be: lost, cut, overlong or clipped sound is not decoded."""
    model = FakeModel(("gauze one two three", 0.0))
    heard = VoskRecogniser(model=model).hear(sound, english())

    assert (heard.outcome, heard.reason, heard.meaning) == (Outcome.UNSURE, reason, None)
    assert model.heard == []


def test_word_lists_of_a_few_grammars_are_kept() -> None:
    """A sheet's list is made once; of many sheets only the last few are kept."""
    recogniser = VoskRecogniser(model=FakeModel(("", 0.0)))
    grammars = [
        build_grammar(
            Sheet.model_validate(
                {"title": name, "items": [{"id": name, "group": "sponges", "say": [name]}]}
            )
        )
        for name in ("gauze", "needle", "clip", "blade", "sponge", "towel")
    ]
    for grammar in grammars:
        first = recogniser.prepare(grammar)
        assert recogniser.prepare(grammar) is first

    assert len(recogniser._lists) == 4


def test_more_words_than_a_person_can_say_are_asked_again() -> None:
    """Ten numbers in half a second are no count."""
    model = FakeModel(("one", 0.0))
    words = tuple(
        Timed(word, 1 + at * 0.05, 1.04 + at * 0.05) for at, word in enumerate(["one"] * 10)
    )
    model._answers = [Alternative(words, 0.0)]

    assert VoskRecogniser(model=model).hear(utterance(), english()).reason is Reason.TOO_FAST


def test_a_model_that_is_not_there_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No folder, no model in it, and a model that takes no word list: each says what to do."""
    monkeypatch.setenv(MODEL_VARIABLE, str(tmp_path / "none"))
    assert find_model() == tmp_path / "none"
    assert find_model(tmp_path) == tmp_path
    with pytest.raises(ModelError, match="python -m models_fetch"):
        VoskRecogniser()
    with pytest.raises(ModelError, match=r"am/final\.mdl is missing"):
        VoskRecogniser(tmp_path)
    for name in ("am/final.mdl", "conf/mfcc.conf"):
        (tmp_path / name).parent.mkdir()
        (tmp_path / name).write_bytes(b"")
    with pytest.raises(ModelError, match="takes no word list"):
        VoskRecogniser(tmp_path)
    monkeypatch.delenv(MODEL_VARIABLE)
    assert find_model().parent.name == "models"


def test_a_missing_package_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without Vosk itself the message names the package and the way without it."""
    for name in ("am/final.mdl", "conf/mfcc.conf", "graph/HCLr.fst", "graph/Gr.fst"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"")
    monkeypatch.setitem(__import__("sys").modules, "vosk", None)

    with pytest.raises(ModelError, match="pip install vosk"):
        VoskRecogniser(tmp_path)
