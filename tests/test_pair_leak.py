"""Two headsets that hear both people, each at a time of its own: every voice is on its own channel.

Two devices may bring one sound up to 50 ms apart (common practice, no source).
"""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import soundfile

from voicecount.sound.frame import RATE
from voicecount.sound.segment import utterances
from voicecount.testing.sound import FakeSource

RECORDING = Path(__file__).parent.parent / "audio_fixtures/caesarean.flac"
LEAK = 10 ** (-20 / 20)


@pytest.mark.parametrize("offset", [-0.05, -0.03, 0.0, 0.03, 0.05])
def test_a_voice_that_leaks_with_an_offset_is_not_heard_twice(offset: float) -> None:
    """A minute of the demo, the other person 20 dB weaker, sooner or later: the same utterances."""
    sound, _ = soundfile.read(RECORDING, dtype="float32", frames=60 * RATE)
    hiss = np.random.default_rng(1).normal(0, 1e-3, sound.shape)
    mixed = sound + LEAK * sound[:, ::-1]
    mixed[:, 1] = np.roll(mixed[:, 1], round(offset * RATE))
    heard = Counter(
        one.channel for one in utterances(FakeSource((mixed + hiss).astype(np.float32)))
    )
    alone = Counter(
        one.channel for one in utterances(FakeSource((sound + hiss).astype(np.float32)))
    )

    assert heard == alone
