"""A stream as moments: utterances, the quiet between them, and open utterances as they grow."""

import numpy as np
import pytest

from voicecount.sound import moments as moments_module
from voicecount.sound.frame import RATE, Frame, Utterance
from voicecount.sound.moments import Partial, Quiet, moments, shifted
from voicecount.sound.speech import Reach
from voicecount.testing.sound import FakeSource


def utterance(start: float, end: float, channel: int = 0) -> Utterance:
    return Utterance(channel, start, end, np.zeros(1, np.float32), start)


class FakeSegmenter:
    """Channel 0 speaks from 1.0 to 2.0, known to have ended at 2.8; channel 1 from 1.5 to 4.0."""

    def __init__(self, _channels: int) -> None:
        self.now = 0.0

    def feed(self, frame: Frame) -> list[Utterance]:
        before, self.now = self.now, frame.start + len(frame.samples) / RATE
        ends = [(2.8, utterance(1.0, 2.0)), (4.8, utterance(1.5, 4.0, channel=1))]
        return [found for known, found in ends if before < known <= self.now]

    def reach(self, channel: int) -> Reach | None:
        start, known = ((1.0, 2.8), (1.5, 4.8))[channel]
        return Reach(start, self.now, self.now) if start + 0.1 <= self.now < known else None

    def flush(self) -> list[Utterance]:
        return []


def test_quiet_never_passes_a_voice_that_has_begun(monkeypatch: pytest.MonkeyPatch) -> None:
    """``Quiet`` stays before whatever is being said, and goes on once nobody speaks."""
    monkeypatch.setattr(moments_module, "Segmenter", FakeSegmenter)
    source = FakeSource(np.zeros((6 * RATE, 2), np.float32), frame=1600)
    found = list(moments(source))
    promised = float("-inf")
    for moment in found:
        if isinstance(moment, Quiet):
            promised = max(promised, moment.until)
        else:
            assert moment.start >= promised
    ends = [moment.end for moment in found if isinstance(moment, Utterance)]
    untils = [moment.until for moment in found if isinstance(moment, Quiet)]

    assert ends == [2.0, 4.0]
    assert untils[-2] == pytest.approx(5.7)
    assert untils[-1] == float("inf")


def test_partials_come_as_the_voice_grows_and_once_it_is_whole(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """An open utterance is given every half second of it, and once after its tail of silence."""

    class Growing:
        """One utterance from 1.0 s, voiced to 2.2 s, closed at 3.0 s."""

        def __init__(self, _channels: int) -> None:
            self.now = 0.0

        def feed(self, frame: Frame) -> list[Utterance]:
            before, self.now = self.now, frame.start + len(frame.samples) / RATE
            return [self.so_far(2.2)] if before < 3.0 <= self.now else []

        def so_far(self, end: float) -> Utterance:
            sound = np.zeros(round(1000 * min(self.now, end + 0.4)), np.float32)
            return Utterance(0, 1.0, end, sound, 0.5)

        def partial(self, _channel: int) -> Utterance | None:
            return self.so_far(min(self.now, 2.2)) if 1.2 < self.now < 3.0 else None

        def reach(self, channel: int) -> Reach | None:
            so_far = self.partial(channel)
            end = None if so_far is None else so_far.offset + len(so_far.samples) / RATE
            return None if so_far is None or end is None else Reach(1.0, so_far.end, end)

        def flush(self) -> list[Utterance]:
            return []

    monkeypatch.setattr(moments_module, "Segmenter", Growing)
    source = FakeSource(np.zeros((4 * RATE, 1), np.float32), frame=1600)
    given = [one for one in moments(source, partial_every=0.5) if isinstance(one, Partial)]

    assert [round(one.utterance.end, 1) for one in given] == [1.5, 2.0, 2.2]
    assert [one.whole for one in given] == [False, False, True]
    assert not [one for one in moments(source) if isinstance(one, Partial)]
    late = moments(source, partial_every=0.5, now=lambda: 10.0)
    assert not [one for one in late if isinstance(one, Partial)]


def test_a_partial_is_put_later_with_its_stream() -> None:
    """After a resume with another recording, open utterances lie as much later as all others."""
    partial = Partial(Utterance(0, 1.0, 2.0, np.zeros(1, np.float32), 0.5), whole=True)
    (later,) = shifted([partial], 10.0)

    assert isinstance(later, Partial)
    assert (later.utterance.start, later.utterance.offset, later.whole) == (11.0, 10.5, True)
