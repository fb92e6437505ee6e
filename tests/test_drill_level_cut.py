"""Cutting by level: pauses that stand out although noise goes on in them."""

import numpy as np
import pytest

from voicecount.drill.level_cut import cut_at_long_pauses, cut_at_pauses
from voicecount.sound.frame import RATE, Utterance

Span = tuple[float, float]


def sounding(spans: list[Span], noise_db: float, *, cut: bool = False) -> Utterance:
    """Give 4 s of noise, ten seconds into a stream, with a loud tone in these spans."""
    time = np.arange(4 * RATE) / RATE
    on = np.any([(time >= first) & (time < last) for first, last in spans], axis=0)
    tone = np.where(on, 0.14 * np.sin(2 * np.pi * 300 * time), 0.0)
    noise = np.random.default_rng(1).normal(0, 10 ** (noise_db / 20), len(time))
    sound = np.asarray(tone + noise, np.float32)
    return Utterance(0, 10.4, 13.6, sound, 10.0, cut=cut)


def times(parts: list[Utterance]) -> list[Span]:
    """Give the times of parts from the start of the sound."""
    return [(part.start - 10, part.end - 10) for part in parts]


@pytest.mark.parametrize("noise_db", [-80.0, -40.0])
def test_every_pause_of_a_third_of_a_second_parts(noise_db: float) -> None:
    """Three sounds with pauses of 0.4 s are three parts, in quiet and with noise at 20 dB."""
    spans = [(0.5, 1.0), (1.4, 2.0), (2.4, 3.5)]
    parts = cut_at_pauses(sounding(spans, noise_db))

    assert np.ravel(times(parts)) == pytest.approx(np.ravel(spans), abs=0.05)
    for part, (first, last) in zip(parts, spans, strict=True):
        assert part.offset == pytest.approx(10 + first - 0.2, abs=0.05)
        assert len(part.samples) / RATE == pytest.approx(last - first + 0.4, abs=0.1)


def test_short_pauses_and_clicks_do_not_part() -> None:
    """A pause of 0.2 s is inside the words, and a click of 40 ms after a long one is no part."""
    whole = sounding([(0.5, 1.0), (1.2, 2.0), (3.0, 3.04)], -80.0)

    assert cut_at_pauses(whole) == [whole]


def test_nothing_to_cut() -> None:
    """Sound shorter than one step stays as it is."""
    short = Utterance(0, 1.0, 1.0, np.zeros(10, np.float32), 1.0)

    assert cut_at_pauses(short) == [short]


def test_only_the_ends_of_what_was_too_long_are_cut() -> None:
    """Words in the middle of an utterance that was handed on in pieces are whole."""
    parts = cut_at_pauses(sounding([(0.1, 1.0), (1.5, 2.0), (2.5, 3.9)], -80.0, cut=True))

    assert [part.cut for part in parts] == [True, False, True]


@pytest.mark.parametrize("noise_db", [-80.0, -40.0])
def test_long_pauses_part_lines(noise_db: float) -> None:
    """A pause of 0.8 s between pauses of 0.35 s parts two lines, each with its short pauses."""
    spans = [(0.3, 0.5), (0.85, 1.05), (1.4, 1.6), (2.4, 2.6), (2.95, 3.15), (3.5, 3.7)]
    parts = cut_at_long_pauses(sounding(spans, noise_db))

    assert np.ravel(times(parts)) == pytest.approx([0.3, 1.6, 2.4, 3.7], abs=0.05)


@pytest.mark.parametrize(
    "spans",
    [
        pytest.param([(0.3, 0.5), (0.85, 1.05), (1.9, 2.1), (2.45, 2.65)], id="too few to tell"),
        pytest.param(
            [(0.1, 0.3), (0.62, 0.8), (1.12, 1.3), (1.85, 2.0), (2.32, 2.5), (2.82, 3.0)],
            id="0.55 s is no breath",
        ),
        pytest.param(
            [(0.1, 0.3), (0.9, 1.1), (1.7, 1.9), (2.6, 2.8), (3.4, 3.6)], id="a slow count"
        ),
    ],
)
def test_usual_pauses_part_no_lines(spans: list[Span]) -> None:
    """Of few pauses none is long; nor is one that is short, or like the others."""
    whole = sounding(spans, -80.0)

    assert cut_at_long_pauses(whole) == [whole]
