"""Times of words: on sound whose edges are known, and on a recorded person.

Source of the recordings: Debian's asterisk-core-sounds-en-g722 (numbers said by one professional
speaker, CC BY-SA 3.0). Each file holds one number, so that joined ones begin at known times.
"""

import numpy as np
import pytest
from recordings import DIGITS, MISSING, folder

from benchmarks.drill_timing import run
from voicecount.drill.word_times import on_the_sound
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.heard import Word
from voicecount.sound.frame import RATE, Utterance

Span = tuple[float, float]


def sounding(spans: list[Span], noise_db: float = -80.0, seconds: float = 4.0) -> Utterance:
    """Give an utterance ten seconds into a stream that sounds in these spans of its own time."""
    time = np.arange(round(seconds * RATE)) / RATE
    on = np.any([(time >= first) & (time < last) for first, last in spans], axis=0)
    tone = np.where(on, 0.1 * np.sin(2 * np.pi * 300 * time), 0.0)
    hiss = np.random.default_rng(1).normal(0, 10 ** (noise_db / 20), len(time))
    sound = np.asarray(tone + hiss, np.float32)
    return Utterance(0, 10.5, 10.0 + seconds - 0.4, sound, 10.0)


def spans(words: tuple[Word, ...]) -> list[Span]:
    """Give the times of words in the utterance's own time."""
    return [(round(word.start - 10, 2), round(word.end - 10, 2)) for word in words]


@pytest.mark.parametrize("noise_db", [-80.0, -38.0])
def test_words_between_pauses_take_the_edges_of_their_sound(noise_db: float) -> None:
    """A word marked late and too short begins and ends with its sound, in quiet and at 15 dB."""
    marked = (Word("one", 10.62, 10.8), Word("two", 11.7, 11.9))

    assert spans(on_the_sound(marked, sounding([(0.5, 1.0), (1.6, 2.2)], noise_db))) == [
        (0.5, 1.0),
        (1.6, 2.2),
    ]


def test_words_without_a_pause_share_their_sound() -> None:
    """The first begins and the last ends with the sound; between, the usual delay is taken off."""
    marked = (Word("one", 10.6, 10.9), Word("two", 11.1, 11.3), Word("three", 11.5, 11.7))

    assert spans(on_the_sound(marked, sounding([(0.5, 2.0)]))) == [
        (0.5, 1.01),
        (1.01, 1.41),
        (1.41, 2.0),
    ]


def test_a_closure_is_no_pause_and_a_click_no_word() -> None:
    """Silence of 80 ms inside "eight" parts nothing; a click before a word does not begin it."""
    marked = (Word("eight", 10.9, 11.1),)

    assert spans(on_the_sound(marked, sounding([(0.4, 0.42), (0.8, 1.0), (1.08, 1.3)]))) == [
        (0.8, 1.3)
    ]


def test_a_word_where_nothing_sounds_keeps_its_place() -> None:
    """A mark in silence is moved by the usual delay only; words stay in order and never empty."""
    marked = (Word("one", 12.5, 12.7), Word("two", 12.55, 12.6))
    found = spans(on_the_sound(marked, sounding([(0.5, 1.0)])))

    assert found[0] == (2.41, 2.46)
    assert found[1][0] >= found[0][1]
    assert found[1][1] > found[1][0]


def test_nothing_to_move() -> None:
    """Without words, or without sound, nothing happens."""
    silent = Utterance(0, 10.0, 11.0, np.zeros(0, np.float32), 10.0)

    assert on_the_sound((), sounding([(0.5, 1.0)])) == ()
    assert on_the_sound((Word("one", 10.0, 10.5),), silent) == (Word("one", 10.0, 10.5),)


@pytest.mark.audio
def test_a_persons_numbers_are_placed_and_paced() -> None:
    """Of joined recordings onsets lie within 60 ms in the median, and each pace within 5 %."""
    place = folder(DIGITS)
    if place is None:
        pytest.skip(MISSING)
    timed = run(place, 8, 3, EmbeddedRecogniser.load())
    right = [one for one in timed if one.right]
    errors = [abs(error) for one in right for error in one.errors]

    assert len(right) >= 7
    assert np.median(errors) <= 0.06
    assert all(abs(one.pace) <= 0.05 for one in right)
