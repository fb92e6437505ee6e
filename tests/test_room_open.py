"""What the room does before an utterance has ended: it shows, keeps answers, foresees words."""

from pathlib import Path

import numpy as np
from room_rig import Setting

from voicecount.hear.port import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.sound.frame import Utterance
from voicecount.sound.moments import Partial, Quiet
from voicecount.testing.voice import FakeSpeaker, FakeVoice
from voicecount.words.graph import Grammar
from voicecount.words.meaning import Form, Meaning


def test_an_open_utterance_is_shown_and_its_answer_kept(tmp_path: Path) -> None:
    """Partial answers reach people as they come; one that was whole is not heard a second time."""
    asked: list[int] = []

    class Listening:
        name = "listening"

        def hear(self, utterance: Utterance, _grammar: Grammar) -> Heard:
            asked.append(len(utterance.samples))
            numbers = (1,) if len(utterance.samples) < 200 else (1, 2)
            meaning = Meaning(Form.RUN, "towel_clip", numbers)
            span = (utterance.channel, utterance.start, utterance.end)
            return Heard(*span, Outcome.ACCEPTED, meaning, f"towel clip {len(numbers)}")

    def so_far(samples: int, end: float) -> Utterance:
        return Utterance(0, 1.0, end, np.zeros(samples, np.float32), 0.5)

    stream = [
        Partial(so_far(100, 1.5), whole=False),
        Partial(so_far(200, 2.0), whole=True),
        so_far(200, 2.0),
        Quiet(float("inf")),
    ]
    setting = Setting(tmp_path, Listening())
    ledger = setting.run(stream)
    kinds = [kind for kind in setting.notes.kinds() if kind in {"partial", "heard"}]

    assert asked == [100, 200]
    assert kinds == ["partial", "partial", "heard"]
    assert ledger.tally("towel_clip").counted == 2


def test_a_whole_partial_that_goes_on_is_heard_again(tmp_path: Path) -> None:
    """When the voice goes on after a pause, the final answer comes from all of it."""
    heard: list[int] = []

    class Listening:
        name = "listening"

        def hear(self, utterance: Utterance, _grammar: Grammar) -> Heard:
            heard.append(len(utterance.samples))
            meaning = Meaning(Form.RUN, "towel_clip", (1,))
            span = (utterance.channel, utterance.start, utterance.end)
            return Heard(*span, Outcome.ACCEPTED, meaning, "towel clip one")

    first = Utterance(0, 1.0, 2.0, np.zeros(200, np.float32), 0.5)
    longer = Utterance(0, 1.0, 3.0, np.zeros(300, np.float32), 0.5)
    Setting(tmp_path, Listening()).run([Partial(first, whole=True), longer, Quiet(float("inf"))])

    assert heard == [200, 300]


def test_what_will_be_said_is_made_ahead(tmp_path: Path) -> None:
    """The words after a whole utterance, and those after further silence, are told before."""
    told: list[str] = []

    class Listening:
        name = "listening"

        def hear(self, utterance: Utterance, _grammar: Grammar) -> Heard:
            circulator = utterance.channel == 1
            meaning = Meaning(Form.RUN, None if circulator else "towel_clip", (1,))
            span = (utterance.channel, utterance.start, utterance.end)
            return Heard(*span, Outcome.ACCEPTED, meaning, "one")

    call = Utterance(0, 1.0, 2.0, np.zeros(200, np.float32), 0.5)
    answer = Utterance(1, 8.0, 9.0, np.zeros(200, np.float32), 7.5)
    stream = [
        Partial(call, whole=True),
        *(call, Quiet(7.0)),
        Partial(answer, whole=True),
        *(answer, Quiet(float("inf"))),
    ]
    voice = FakeVoice()
    setting = Setting(tmp_path, Listening(), voice=voice, speaker=FakeSpeaker(), ahead=told.append)
    setting.run(stream)

    assert told
    assert set(told) <= set(voice.said)


def test_a_follower_is_asked_only_while_an_utterance_is_open(tmp_path: Path) -> None:
    """Words that are still being said are followed; the answer comes from the whole alone."""
    asked: list[str] = []

    class Both:
        name = "both"

        def follow(self, so_far: Utterance, _grammar: Grammar) -> Heard:
            asked.append(f"follow {len(so_far.samples)}")
            span = (so_far.channel, so_far.start, so_far.end)
            return Heard(*span, Outcome.UNSURE, None, "two", reason=Reason.STILL_OPEN)

        def hear(self, utterance: Utterance, _grammar: Grammar) -> Heard:
            asked.append(f"hear {len(utterance.samples)}")
            span = (utterance.channel, utterance.start, utterance.end)
            return Heard(*span, Outcome.IGNORED, None, "", reason=Reason.NOT_FOR_US)

    parts = [Utterance(0, 1.0, 1.0 + n / 100, np.zeros(n, np.float32), 0.5) for n in (50, 100)]
    setting = Setting(tmp_path, Both())
    setting.run([Partial(parts[0], False), Partial(parts[1], True), parts[1], Quiet(9.0)])

    assert asked == ["follow 50", "hear 100"]
