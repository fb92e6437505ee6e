"""Vosk while somebody still speaks: each sample is heard once, and nothing is taken."""

from collections.abc import Sequence

import numpy as np
import pytest
from vosk_rig import SCALPEL_AND_GAUZE, FakeModel, english, knows_all_but, korean, spoken
from vosk_rig import utterance as sounding

from voicecount.commands.keyboard import EarsAndKeyboard
from voicecount.hear.agree import AgreeingRecognisers
from voicecount.hear.heard import Heard, Outcome
from voicecount.hear.port import Cautious, Follower
from voicecount.hear.vosk_engine import VoskRecogniser
from voicecount.reasons import Reason
from voicecount.sound.frame import RATE, Samples, Utterance
from voicecount.testing.recogniser import FakeRecogniser


class FakeStream:
    """Gives a word more with each half second that is fed."""

    def __init__(self, words: Sequence[str]) -> None:
        self._words = words
        self.fed: list[int] = []

    def feed(self, samples: Samples) -> list[str]:
        self.fed.append(len(samples))
        return list(self._words[: sum(self.fed[1:]) // (RATE // 2)])


class StreamingModel(FakeModel):
    """Keeps the streams that were begun."""

    def __init__(self, words: str, *, missing: str = "") -> None:
        super().__init__(("gauze one two three", 0.0))
        self._missing = missing
        self._words = words.split()
        self.streams: list[FakeStream] = []

    def knows(self, word: str) -> bool:
        return knows_all_but(self._missing)(word)

    def stream(self, phrases: Sequence[str]) -> FakeStream:
        assert "gauze" in phrases
        self.streams.append(FakeStream(self._words))
        return self.streams[-1]


def part(seconds: float, offset: float = 10.0) -> Utterance:
    """An utterance as far as it has come."""
    sound = np.full(round(seconds * RATE), 0.1, np.float32)
    return Utterance(0, offset + 0.2, offset + seconds, sound, offset)


def test_each_sample_is_heard_once() -> None:
    """Grown or shorter by its silence, an open utterance is fed only what is new of it."""
    model = StreamingModel("gauze one two three")
    recogniser = VoskRecogniser(model=model)
    shown = [recogniser.follow(part(end), english()) for end in (0.5, 1.0, 0.9, 1.0, 2.0)]

    assert [heard.text for heard in shown] == [
        *("gauze", "gauze one", "gauze one", "gauze one", "gauze one two three"),
    ]
    (stream,) = model.streams
    assert stream.fed == [RATE // 2, RATE // 2, RATE // 2, RATE]
    for heard in shown:
        assert (heard.outcome, heard.reason) == (Outcome.UNSURE, Reason.STILL_OPEN)
        assert heard.meaning is None


def test_another_utterance_begins_afresh() -> None:
    """So does another grammar; nothing of one is shown in the next."""
    model = StreamingModel("gauze one two three")
    recogniser = VoskRecogniser(model=model)
    recogniser.follow(part(2.0), english())
    assert recogniser.follow(part(0.5, offset=20.0), english()).text == "gauze"
    assert len(model.streams) == 2


def test_respelled_and_unknown_words() -> None:
    """Our own words are shown, never a respelling; what is on no list is not shown at all."""
    model = StreamingModel("[unk] one")
    assert VoskRecogniser(model=model).follow(part(1.0), english()).text == ""

    lacking = StreamingModel("", missing="bulldog")
    recogniser = VoskRecogniser(model=lacking)
    (spelling,) = [one for one in recogniser.prepare(english()) if one.word == "bulldog"]
    assert spelling.respelling is not None
    lacking._words = [*spelling.respelling.words, "clip"]
    assert recogniser.follow(part(5.0), english()).text == "bulldog clip"


def test_following_changes_no_answer() -> None:
    """The final answer comes from the whole, decoded by itself."""
    model = StreamingModel("gauze nine")
    recogniser = VoskRecogniser(model=model)
    before = recogniser.hear(sounding(), english())
    recogniser.follow(part(2.0), english())
    after = recogniser.hear(sounding(), english())

    assert (before.meaning, before.margin) == (after.meaning, after.margin)


def test_in_noise_the_margin_is_wider() -> None:
    """A tenth of the wrong numbers costs 2.3 nats of margin, and only as long as it is noisy."""
    model = FakeModel(("gauze one two three", 0), ("gauze one two", -5))
    recogniser = VoskRecogniser(model=model)
    outcomes = []
    for factor in (1.0, 0.1, 0.0, 1.0):
        recogniser.be_stricter(factor)
        outcomes.append(recogniser.hear(sounding(), english()).outcome)

    assert outcomes == [Outcome.ACCEPTED, Outcome.UNSURE, Outcome.UNSURE, Outcome.ACCEPTED]


def test_in_noise_an_answer_without_a_rival_is_asked_about_too() -> None:
    """Where there is no other answer, it has to be as much nearer to free speech."""
    recogniser = VoskRecogniser(model=FakeModel(("gauze one two three", 0), free=14.0))
    outcomes = []
    for factor in (1.0, 0.2):
        recogniser.be_stricter(factor)
        outcomes.append(recogniser.hear(sounding(), english()).outcome)

    assert outcomes == [Outcome.ACCEPTED, Outcome.UNSURE]


class Following(FakeRecogniser):
    """Follows, and keeps how strict it was told to be."""

    def __init__(self, text: str) -> None:
        super().__init__([])
        self._text = text
        self.factor = 1.0

    def follow(self, so_far: Utterance, _grammar: object) -> Heard:
        span = (so_far.channel, so_far.start, so_far.end)
        return Heard(*span, Outcome.UNSURE, None, self._text, reason=Reason.STILL_OPEN)

    def be_stricter(self, factor: float) -> None:
        self.factor = factor


def test_of_two_that_must_agree_the_first_that_can_is_shown() -> None:
    """Words are shown as they come where one of them can follow; else nothing is shown yet."""
    plain = FakeRecogniser([])
    for first, second, shown in (
        (Following("a"), Following("b"), "a"),
        (plain, Following("b"), "b"),
        (plain, plain, ""),
    ):
        pair = AgreeingRecognisers(first, second)
        heard = pair.follow(part(1.0), english())
        assert isinstance(pair, Follower)
        assert (heard.text, heard.reason) == (shown, Reason.STILL_OPEN)


def test_both_become_stricter() -> None:
    """In noise, each of the two that can asks more often."""
    one, other = Following("a"), Following("b")
    for pair in (AgreeingRecognisers(one, other), AgreeingRecognisers(one, FakeRecogniser([]))):
        assert isinstance(pair, Cautious)
        pair.be_stricter(0.5)

    assert (one.factor, other.factor) == (0.5, 0.5)


def test_beside_a_keyboard_the_ears_still_follow() -> None:
    """With typed lines, too, spoken ones are shown as they come."""
    for ears, shown in ((Following("a"), "a"), (FakeRecogniser([]), "")):
        both = EarsAndKeyboard(ears)
        assert isinstance(both, Follower)
        assert both.follow(part(1.0), english()).text == shown


@pytest.mark.audio
def test_a_real_model_shows_words_before_the_end() -> None:
    """The Korean model shows the name and the number while more is still to come, in order."""
    whole = spoken("메스 제로")
    ends = range(RATE // 5, len(whole.samples) + 1, RATE // 5)
    shown = [
        korean()
        .follow(Utterance(0, 5.0, 4.5 + end / RATE, whole.samples[:end], 4.5), SCALPEL_AND_GAUZE)
        .text
        for end in ends
    ]

    assert shown[-1] == "메스 제로"
    assert "메스" in shown[:-2]
    first = next(at for at, text in enumerate(shown) if text.startswith("메스"))
    assert first * 0.2 + 4.7 < whole.end
