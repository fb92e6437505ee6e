"""The tone against what IEC 60601-1-8 gives to alarms, so that it cannot be taken for one.

The standard's figures stand in practice notes drawn from: a university's teaching page (groups of
3 and 3+2 pulses), makers' application notes (fundamental 150 to 1000 Hz, at least four components
within 15 dB up to 4 kHz), a chip's data sheet (pulses of 80 to 150 and 130 to 200 ms). The bounds
75 to 200 and 125 to 250 ms are from memory.
"""

import numpy as np
import pytest

from voicecount.speak.tone import RATE, Glide, tone

GLIDES = pytest.mark.parametrize("glide", list(Glide))


def pulses(glide: Glide) -> list[tuple[int, int]]:
    """First and last sample of each stretch above a tenth of the tone's peak, 10 ms apart."""
    samples = np.abs(tone(glide).samples)
    loud = np.flatnonzero(samples > 0.1 * samples.max())
    breaks = np.flatnonzero(np.diff(loud) > 0.01 * RATE)
    firsts = loud[np.concatenate(([0], breaks + 1))]
    lasts = loud[np.concatenate((breaks, [len(loud) - 1]))]
    return list(zip(firsts.tolist(), lasts.tolist(), strict=True))


@GLIDES
def test_the_tone_is_one_pulse(glide: Glide) -> None:
    """An alarm has 3 or 5 pulses, or two: the tone has one."""
    assert len(pulses(glide)) == 1


@GLIDES
def test_the_tone_is_longer_than_an_alarms_pulse(glide: Glide) -> None:
    """An alarm's pulse is on for at most 250 ms, the tone for longer, within half a second."""
    clip = tone(glide)

    assert 0.25 < clip.seconds <= 0.5


@GLIDES
def test_the_tone_has_no_alarms_spectrum(glide: Glide) -> None:
    """An alarm has four components or more within 15 dB and a fundamental of 150 to 1000 Hz."""
    clip = tone(glide)
    spectrum = np.abs(np.fft.rfft(clip.samples, n=8 * RATE))
    strong = np.flatnonzero(spectrum > spectrum.max() * 10 ** (-15 / 20)) / 8
    groups = np.split(strong, np.flatnonzero(np.diff(strong) > 50) + 1)

    assert len(groups) == 1
    assert strong.min() > 1000


@GLIDES
def test_the_tone_is_soft_and_starts_slowly(glide: Glide) -> None:
    """It stays more than 20 dB below full scale and takes over 50 ms to its loudest."""
    samples = np.abs(tone(glide).samples)

    assert samples.max() < 0.1
    assert int(samples.argmax()) > 0.05 * RATE
    assert samples[0] == 0
    assert samples[-1] < 0.001
