"""The embedded recogniser on a synthetic voice: what must not change its answer, and what must."""

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soxr
from hibari import Hibari

from voicecount.errors import ModelError
from voicecount.hear.embedded import encoder
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.embedded.graph import build_graph
from voicecount.hear.embedded.head import PhoneHead
from voicecount.hear.port import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet
from voicecount.sound.frame import RATE, Samples, Utterance
from voicecount.words.grammar import build_grammar
from voicecount.words.pronounce import Lexicon

pytestmark = pytest.mark.audio

SHEET: dict[str, Any] = {
    "title": "A few lines",
    "items": [
        {"id": "gauze", "group": "sponges", "say": ["gauze"], "expect": 10, "pack": 10},
        {"id": "loop", "group": "miscellaneous", "say": ["vessel loop"], "expect": 2},
        {"id": "kelly", "group": "instruments", "say": ["Kelly clamp"], "expect": 6},
    ],
}


@pytest.fixture(scope="module")
def recogniser() -> EmbeddedRecogniser:
    """Load the recogniser once."""
    return EmbeddedRecogniser.load()


@pytest.fixture(scope="module")
def voice() -> Hibari:
    """Load the voice once."""
    return Hibari()


def say(voice: Hibari, text: str) -> Samples:
    """Say something, with half a second of silence around it."""
    sound = soxr.resample(np.asarray(voice(text, seed=0), np.float32), 24_000, RATE)
    edge = np.zeros(RATE // 2, np.float32)
    return np.concatenate([edge, 0.5 * sound / np.abs(sound).max(), edge]).astype(np.float32)


def utterance(sound: Samples, **more: Any) -> Utterance:
    """Make an utterance that begins ten seconds into a stream."""
    end = 10.0 + len(sound) / RATE
    return replace(Utterance(0, 10.5, end - 0.5, sound, 10.0), **more)


def hear(recogniser: EmbeddedRecogniser, sound: Samples, sheet: dict[str, Any] = SHEET) -> Heard:
    """Hear a sound with a sheet."""
    return recogniser.hear(utterance(sound), build_grammar(Sheet.model_validate(sheet)))


def meant(heard: Heard) -> tuple[Outcome, str | None, tuple[int, ...]]:
    """Give the outcome, the item and the numbers."""
    meaning = heard.meaning
    return heard.outcome, meaning and meaning.item, meaning.numbers if meaning else ()


@pytest.mark.parametrize("gain_db", [-30, -12, 0, 5])
@pytest.mark.parametrize("silence", [0.0, 1.0])
def test_level_and_silence_do_not_matter(
    recogniser: EmbeddedRecogniser, voice: Hibari, gain_db: int, silence: float
) -> None:
    """The same words are heard loud or soft, with more silence around them or less."""
    edge = np.zeros(round(silence * RATE), np.float32)
    sound = np.concatenate([edge, say(voice, "Gauze, one, two, three, four."), edge])
    heard = hear(recogniser, sound * np.float32(10 ** (gain_db / 20)))

    assert meant(heard) == (Outcome.ACCEPTED, "gauze", (1, 2, 3, 4))


def test_what_is_expected_changes_nothing(recogniser: EmbeddedRecogniser, voice: Hibari) -> None:
    """Sheets that differ only in their expected numbers give the same answer, to the last digit."""
    sound = say(voice, "Kelly clamps, one, two, three, four, five.")
    other = {
        **SHEET,
        "items": [{**item, "expect": 5, "pack": None} for item in SHEET["items"]],
    }
    first, second = (replace(hear(recogniser, sound, s), latency_ms=0) for s in (SHEET, other))

    assert first == second
    assert meant(first) == (Outcome.ACCEPTED, "kelly", (1, 2, 3, 4, 5))


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("Gauze, one, two, four.", (1, 2, 4)),
        ("Gauze, one, two, two, three.", (1, 2, 2, 3)),
        ("Gauze, one, two, three, five, six.", (1, 2, 3, 5, 6)),
    ],
)
def test_faults_are_heard_as_they_are(
    recogniser: EmbeddedRecogniser, voice: Hibari, text: str, numbers: tuple[int, ...]
) -> None:
    """A skipped or repeated number is never smoothed into a run in order."""
    heard = hear(recogniser, say(voice, text))

    assert heard.meaning is not None
    assert heard.meaning.numbers == numbers


def test_words_have_their_times(recogniser: EmbeddedRecogniser, voice: Hibari) -> None:
    """Each word of joined recordings begins within 0.12 s of where it was put."""
    parts = [say(voice, f"{word}.")[RATE // 2 : -RATE // 2] for word in ("one", "two", "three")]
    sound, starts = np.zeros(RATE, np.float32), []
    for part in parts:
        loud = np.flatnonzero(np.abs(part) > 0.03 * np.abs(part).max())
        kept = part[loud[0] : loud[-1] + 1]
        starts.append(10.0 + len(sound) / RATE)
        sound = np.concatenate([sound, kept, np.zeros(round(0.4 * RATE), np.float32)])
    heard = hear(recogniser, np.concatenate([sound, np.zeros(RATE // 2, np.float32)]))

    assert heard.words is not None
    assert [word.text for word in heard.words] == ["one", "two", "three"]
    for word, start in zip(heard.words, starts, strict=True):
        assert abs(word.start - start) < 0.12
        assert word.start < word.end


@pytest.mark.parametrize("kind", ["white", "clicks", "hum"])
def test_noise_is_never_a_count(recogniser: EmbeddedRecogniser, kind: str) -> None:
    """Noise that reaches the recogniser is not accepted."""
    rng, n = np.random.default_rng(0), 2 * RATE
    sound = {
        "white": rng.normal(0, 0.1, n),
        "clicks": (rng.random(n) < 0.0005) * 0.9,
        "hum": 0.3 * np.sin(2 * np.pi * 100 * np.arange(n) / RATE),
    }[kind]

    assert hear(recogniser, sound.astype(np.float32)).outcome is not Outcome.ACCEPTED


def test_damaged_sound_is_refused_with_its_code(
    recogniser: EmbeddedRecogniser, voice: Hibari
) -> None:
    """Lost, overlong and clipped sound is asked for again, each with its reason."""
    sound, grammar = say(voice, "Gauze, one."), build_grammar(Sheet.model_validate(SHEET))
    clipped = np.clip(sound * 40, -1, 1).astype(np.float32)
    given = (utterance(sound, lost=True), utterance(sound, cut=True), utterance(clipped))
    answers = [recogniser.hear(one, grammar) for one in given]

    assert [a.outcome for a in answers] == [Outcome.UNSURE] * 3
    assert [a.reason for a in answers] == [Reason.SOUND_LOST, Reason.TOO_LONG, Reason.CLIPPED]


@pytest.mark.parametrize("text", ["Rib spreader, one, two.", "Are you ready for lunch?"])
def test_other_things_are_not_taken(
    recogniser: EmbeddedRecogniser, voice: Hibari, text: str
) -> None:
    """A count of something that is not on the sheet, or talk, is never accepted."""
    assert hear(recogniser, say(voice, text)).outcome is not Outcome.ACCEPTED


def test_a_sheets_own_sounds_make_a_name_hearable() -> None:
    """The search walks the sound that the sheet gives for a name, before the dictionary's."""
    line = {"id": "x", "group": "instruments", "say": ["zorbel"], "sounds": {"zorbel": "T AH L"}}
    grammar = build_grammar(Sheet.model_validate({**SHEET, "items": [line]}))
    graph = build_graph(grammar, Lexicon(dict(grammar.sounds)))
    ends = zip(graph.end_arc, graph.end_phones, strict=True)
    said = [phones for arc, phones in ends if arc.token.words == ("zorbel",)]

    assert said[0] == ("T", "AH", "L")
    assert len(set(said)) == 2


def test_the_same_sound_gives_the_same_answer(
    recogniser: EmbeddedRecogniser, voice: Hibari
) -> None:
    """Hearing keeps nothing from one utterance to the next."""
    sound = say(voice, "Two vessel loops.")
    first = replace(hear(recogniser, sound), latency_ms=0)
    hear(recogniser, say(voice, "Gauze, one."))

    assert replace(hear(recogniser, sound), latency_ms=0) == first


def test_altered_weights_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Weights that are not the measured ones, or cannot be read, are one line for a person."""
    monkeypatch.setitem(encoder.DIGESTS, "tokenizer.bin", "0" * 64)
    encoder.weights_file.cache_clear()
    with pytest.raises(ModelError, match="not the file") as altered:
        encoder.weights_file("tokenizer.bin")
    encoder.weights_file.cache_clear()
    broken = tmp_path / "head.npz"
    shutil.copy(encoder.weights_file("encoder_model.ort"), broken)
    with pytest.raises(ModelError, match="cannot be read") as unreadable:
        PhoneHead.load(broken)

    for error in (altered, unreadable):
        assert "\n" not in str(error.value)


def followed(
    recogniser: EmbeddedRecogniser, sound: Samples, offset: float, step: float = 0.4
) -> list[Heard]:
    """Follow a sound as it grows."""
    grammar = build_grammar(Sheet.model_validate(SHEET))
    ends = range(round(step * RATE), len(sound) + 1, round(step * RATE))
    parts = [utterance(sound[:end], offset=offset) for end in ends]
    return [recogniser.follow(part, grammar) for part in parts]


def test_words_are_followed_while_they_are_said(
    recogniser: EmbeddedRecogniser, voice: Hibari
) -> None:
    """Each number is shown within a second of its end, and none before it was said."""
    sound = say(voice, "Kelly clamp, one, two, three, four, five, six.")
    whole = hear(recogniser, sound)
    shown = followed(recogniser, sound, offset=10.0)

    assert whole.words is not None
    for place, word in enumerate(whole.words[2:], start=3):
        known = [heard for heard in shown if len(heard.text.split()) >= place]
        first = shown.index(known[0]) * 0.4 + 10.4
        assert word.start < first < word.end + 1.0
    assert shown[-1].text == "kelly clamp one two three four five six"
    assert {(heard.outcome, heard.reason) for heard in shown} == {
        (Outcome.UNSURE, Reason.STILL_OPEN)
    }
    assert all(heard.meaning is None for heard in shown)


def test_following_changes_no_answer(recogniser: EmbeddedRecogniser, voice: Hibari) -> None:
    """The final answer is that of a recogniser which followed nothing."""
    sound = say(voice, "Gauze, one, two, three.")
    before = hear(recogniser, sound)
    followed(recogniser, sound, offset=20.0)
    after = hear(recogniser, sound)

    assert replace(before, latency_ms=0) == replace(after, latency_ms=0)


def test_another_utterance_is_followed_afresh(
    recogniser: EmbeddedRecogniser, voice: Hibari
) -> None:
    """Nothing of one utterance is shown in the next."""
    followed(recogniser, say(voice, "Gauze, one, two, three."), offset=30.0)
    shown = followed(recogniser, say(voice, "Vessel loop, two."), offset=40.0)

    assert shown[-1].text == "vessel loop two"


def test_talk_is_not_shown_as_a_count(recogniser: EmbeddedRecogniser, voice: Hibari) -> None:
    """What is like nothing on the sheet gives no words to show."""
    sound = say(voice, "Did anybody see where she parked the car this morning?")

    assert {heard.text for heard in followed(recogniser, sound, offset=50.0)[3:]} == {""}
