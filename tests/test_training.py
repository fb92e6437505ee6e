"""What the phone head is trained on: texts by seed, targets that exist, rooms that keep the voice.

Needs no torch and no voice. Source for the number words: the package num2words.
"""

import random
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from num2words import num2words

from training.calibrate import limits, read
from training.rooms import treat
from training.speakers import SPEAKERS
from training.texts import TALK, make_text, number_words, vocabulary
from voicecount.words.pronounce import PHONES, Lexicon


def texts(seed: int, count: int = 300) -> list[tuple[tuple[str, ...], ...]]:
    """Draw texts."""
    rng = random.Random(seed)  # noqa: S311
    return [make_text(rng, vocabulary()).groups for _ in range(count)]


def test_the_same_seed_gives_the_same_texts() -> None:
    """Training texts are repeatable, and another seed gives others."""
    assert texts(5) == texts(5)
    assert texts(5) != texts(6)


def test_every_word_has_phones_that_the_head_knows() -> None:
    """No target lies outside the 39 phones, and none is empty."""
    lexicon = Lexicon()
    for groups in texts(7):
        for word in (word for group in groups for word in group):
            phones = lexicon.pronounce(word)[0]
            assert phones, word
            assert set(phones) <= set(PHONES), word


@pytest.mark.parametrize("value", range(200))
def test_number_words_are_those_of_num2words(value: int) -> None:
    """The numbers that the voices say are spelled as the library spells them."""
    spelled = num2words(value).replace("-", " ").replace(" and ", " ")
    assert " ".join(number_words(value)) == spelled


def test_some_texts_say_a_number_twice_in_a_row() -> None:
    """Doubled numbers are there to be learned: at least one text in twenty."""
    doubled = sum(any(one == other for one, other in pairwise(groups)) for groups in texts(8))
    assert doubled >= 15


def test_no_speaker_serves_two_parts() -> None:
    """Who trains is never heard in tuning, and neither of them in the test."""
    everyone = [name for part in SPEAKERS.values() for name in part]
    assert len(everyone) == len(set(everyone)) == 28


def test_training_and_benchmark_share_no_talk() -> None:
    """No sentence of the training's talk is in the benchmark."""
    from benchmarks.phrases import TALK as MEASURED  # noqa: PLC0415

    assert not set(TALK) & {sentence for part in MEASURED.values() for sentence in part}


def test_a_room_keeps_a_voice_finite_and_no_louder_than_full_scale() -> None:
    """Noise, echo and level never break the sound, and the same seed gives the same room."""
    tone = np.sin(np.arange(16_000) * 0.1).astype(np.float32)
    for seed in range(20):
        sound = treat(tone, np.random.default_rng(seed), [tone])
        assert np.isfinite(sound).all()
        assert len(sound) > 0.8 * len(tone)
        assert 0.001 < float(np.sqrt((sound**2).mean())) < 0.7
        assert np.array_equal(sound, treat(tone, np.random.default_rng(seed), [tone]))


def test_a_limit_gives_its_rate_and_no_more() -> None:
    """Accepting up to a rate's limit gives that many wrong on average, as probabilities say."""
    probability = np.random.default_rng(4).beta(0.4, 6.0, 4000)
    table = limits(probability)

    for rate, limit in table:
        taken = probability[probability <= limit]
        assert not taken.size or 1000 * taken.mean() <= rate + 1e-9
        more = np.sort(probability)[: taken.size + 1]
        assert more.size == taken.size or 1000 * more.mean() > rate
    assert [rate for rate, _ in table] == sorted(rate for rate, _ in table)


def test_evidence_without_signs_is_left_out(tmp_path: Path) -> None:
    """A clip that was refused before it was judged teaches nothing."""
    path = tmp_path / "evidence.jsonl"
    path.write_text('{"signs": {"lead": 1.0}}\n{"signs": null}\n{}\n')

    assert read([path]) == [{"signs": {"lead": 1.0}}]
