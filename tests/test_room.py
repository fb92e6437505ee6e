"""The room with fakes: order of keeping and speaking, deadlines, failures, resuming."""

import errno
from pathlib import Path

import numpy as np
import pytest
import soxr
from room_rig import COUNT, SHEET, Setting, heard, script, utterance

from voicecount.commands.journals import CODEC
from voicecount.commands.script import ScriptRecogniser
from voicecount.count.events import Event, LineConfirmed, LineStored
from voicecount.count.ledger import fold
from voicecount.count.roles import Role
from voicecount.errors import StorageError, VoiceError
from voicecount.hear.port import Heard, Outcome
from voicecount.keep.clock import StoppableClock
from voicecount.keep.files import SystemDisk
from voicecount.keep.reading import load_whole_part
from voicecount.keep.witness import spoken
from voicecount.reasons import Reason
from voicecount.sound.frame import RATE, Utterance
from voicecount.sound.moments import Quiet, moments, shifted
from voicecount.speak.embedded import EmbeddedVoice
from voicecount.speak.port import Clip
from voicecount.talk.reply import Reply, ReplyKind, Step
from voicecount.testing.clock import FakeClock
from voicecount.testing.disk import FaultyDisk
from voicecount.testing.recogniser import FakeRecogniser
from voicecount.testing.sound import FakeSource
from voicecount.testing.voice import FakeSpeaker, FakeVoice
from voicecount.words.graph import Grammar
from voicecount.words.meaning import Form, Meaning


def test_a_count_runs_from_words_to_the_ledger(tmp_path: Path) -> None:
    """Two lines, a skipped number, another number by the circulator: kept, told, confirmed."""
    count = script(tmp_path, COUNT)
    setting = Setting(tmp_path, ScriptRecogniser())
    ledger = setting.run(count.moments())

    assert {key.item: tally.counted for key, tally in ledger.tallies.items()} == {
        "gauze": 10,
        "lap_sponge": 5,
        "marking_pen": 1,
        "suture_needle": 4,
    }
    assert fold(setting.kept()) == ledger


def test_nothing_is_spoken_before_it_is_in_the_file(tmp_path: Path) -> None:
    """Whenever a sound is played, every event that observers know of is already synced."""
    count = script(tmp_path, COUNT)
    synced: list[int] = []

    class Watched(SystemDisk):
        def sync(self, fd: int) -> None:
            super().sync(fd)
            synced.append(self.size(fd))

    def check() -> None:
        events = [event for kind, event in setting.notes.all if kind == "stored"]
        lines = setting.path.read_bytes()[: synced[-1]].splitlines()
        assert setting.path.stat().st_size == synced[-1]
        assert len(lines) == 1 + len(events)

    voice = FakeVoice()
    speaker = FakeSpeaker(check)
    setting = Setting(tmp_path, ScriptRecogniser(), voice=voice, speaker=speaker, disk=Watched())
    setting.run(count.moments())

    assert [text for _, text in setting.notes.replies()] == voice.said
    assert len(speaker.played) >= len(voice.said) > 8


def test_what_is_read_back_is_what_was_stored(tmp_path: Path) -> None:
    """Each stored line is told to observers before its read-back, which names its total."""
    count = script(tmp_path, COUNT)
    setting = Setting(tmp_path, ScriptRecogniser())
    setting.run(count.moments())
    said = setting.notes.all
    for place, (kind, event) in enumerate(said):
        if kind == "stored" and isinstance(event, LineStored):
            words = {10: "ten", 5: "five", 1: "one", 4: "four"}[event.total]
            replies = [what for kind, what in said[place:] if kind == "replied"]
            assert words in str(replies[0])


def test_a_line_is_settled_at_its_deadline_before_a_later_utterance(tmp_path: Path) -> None:
    """The read-back stands between two utterances, at the time the line's pause was over."""
    count = script(tmp_path, "0 scrub: towel clip one two three four five six\n20 circulator: six")
    setting = Setting(tmp_path, ScriptRecogniser())
    setting.run(count.moments())
    end = count.lines[0].end

    assert setting.notes.kinds()[:5] == ["replied", "heard", "stored", "replied", "heard"]
    assert setting.notes.replies()[1][0] == pytest.approx(end + SHEET.policy.settle_seconds)


def test_an_utterance_that_began_before_the_deadline_joins_the_line(tmp_path: Path) -> None:
    """While somebody speaks the line stays open, however long it takes to hear them out."""
    six = heard(0, 2, Meaning(Form.RUN, "towel_clip", (1, 2, 3)))
    rest = heard(3, 9, Meaning(Form.RUN, None, (4, 5, 6)))
    setting = Setting(tmp_path, FakeRecogniser([six, rest]))
    stream = [Quiet(0), utterance(0, 2), Quiet(2.5), Quiet(3), utterance(3, 9), Quiet(99)]
    ledger = setting.run(stream)

    assert ledger.tally("towel_clip").counted == 6
    assert setting.notes.kinds() == ["replied", "heard", "heard", "stored", "replied", "replied"]


def test_the_end_of_the_sound_settles_what_is_open(tmp_path: Path) -> None:
    """A line called just before the recording ends is stored, and what is open is told."""
    six = heard(0, 2, Meaning(Form.RUN, "towel_clip", (1, 2, 3, 4, 5, 6)))
    setting = Setting(tmp_path, FakeRecogniser([six]))
    setting.run([utterance(0, 2)])

    assert [type(event) for event in setting.kept()[1:]] == [LineStored]
    assert len(setting.notes.replies()) == 3


def test_channels_give_the_roles(tmp_path: Path) -> None:
    """Left is the scrub and right the circulator; on one channel nobody is told apart."""
    meaning = Meaning(Form.COMMAND, command="say_again")
    for told_apart, expected in ((True, [Role.SCRUB, Role.CIRCULATOR]), (False, [None, None])):
        folder = tmp_path / str(told_apart)
        folder.mkdir()
        answers = [heard(0, 1, meaning), heard(2, 3, meaning, channel=1)]
        setting = Setting(folder, FakeRecogniser(answers), told_apart=told_apart)
        setting.run([utterance(0, 1), utterance(2, 3, channel=1)])
        roles = [what[1] for kind, what in setting.notes.all if kind == "heard"]  # type: ignore[index]
        assert roles == expected


def test_a_failed_disk_stops_the_count_and_is_said(tmp_path: Path) -> None:
    """Nothing is acknowledged that is not kept; the last words are to stop counting."""
    count = script(tmp_path, COUNT)
    voice = FakeVoice()
    disk = FaultyDisk("sync", 3, error=errno.ENOSPC)
    setting = Setting(tmp_path, ScriptRecogniser(), voice=voice, speaker=FakeSpeaker(), disk=disk)
    with pytest.raises(StorageError, match="No space left"):
        setting.run(count.moments())

    assert voice.said[-1] == "The record cannot be kept. Stop counting."
    assert not any("confirmed" in text for text in voice.said)
    assert setting.dialogue.ledger == fold(
        event for event in setting.kept() if not isinstance(event, LineConfirmed)
    )


def test_a_failed_voice_is_shown_and_the_count_goes_on(tmp_path: Path) -> None:
    """A reply that cannot be spoken is told to observers as unspoken; nothing else changes."""
    count = script(tmp_path, COUNT)
    setting = Setting(
        tmp_path, ScriptRecogniser(), voice=FakeVoice(), speaker=FakeSpeaker(failing=True)
    )
    ledger = setting.run(count.moments())

    assert setting.notes.kinds().count("unspoken") == setting.notes.kinds().count("replied")
    assert ledger.tally("gauze").counted == 10


def test_an_alert_that_could_not_be_spoken_is_said_with_the_next_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once the loudspeaker is back, what had to be heard is heard, once."""
    voice = FakeVoice()

    class Returning(FakeSpeaker):
        """Fails at the first clip after the opening words."""

        def play(self, clip: Clip) -> None:
            self._failing = len(voice.said) == 2
            super().play(clip)

    talk = Heard(0, 0, 1, Outcome.IGNORED, None, "", reason=Reason.NOT_FOR_US)
    setting = Setting(
        tmp_path, FakeRecogniser([talk] * 3), voice=voice, speaker=Returning(failing=True)
    )
    replies = iter(
        [
            Reply("They differ.", ReplyKind.ALERT),
            Reply("Gauze, ten.", ReplyKind.READBACK),
            Reply("Loop, two.", ReplyKind.READBACK),
        ]
    )
    monkeypatch.setattr(setting.dialogue, "hear", lambda *_: Step(reply=next(replies)))
    voice.said.append("opening")
    with setting.journal:
        setting.room.run([utterance(0, 1), utterance(2, 3), utterance(4, 5)])

    assert setting.notes.kinds().count("unspoken") == 1
    assert voice.said[1:5] == [
        "They differ.",
        "Gauze, ten.",
        "This could not be spoken before: They differ.",
        "Loop, two.",
    ]


def test_talk_in_the_room_is_shown_and_changes_nothing(tmp_path: Path) -> None:
    """What was not meant for the assistant is neither kept nor answered."""
    talk = Heard(0, 0, 1, Outcome.IGNORED, None, "", reason=Reason.NOT_FOR_US)
    setting = Setting(tmp_path, FakeRecogniser([talk]))
    setting.run([utterance(0, 1)])

    assert setting.notes.kinds() == ["replied", "heard", "replied"]
    assert len(setting.kept()) == 1


def test_the_tone_comes_before_the_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A reply with a tone plays two clips, the tone first."""
    speaker = FakeSpeaker()
    setting = Setting(tmp_path, FakeRecogniser([]), voice=FakeVoice(), speaker=speaker)
    reply = Reply("Again.", ReplyKind.QUESTION, tone=True)
    monkeypatch.setattr(setting.dialogue, "finish", lambda _: Step(reply=reply))
    setting.run([])
    *_, first, second = speaker.played

    assert first.seconds == pytest.approx(0.32)
    assert second.rate == 1000


@pytest.mark.parametrize("kept", range(1, 12))
def test_a_count_cut_off_after_any_record_ends_the_same_when_resumed(
    tmp_path: Path, kept: int
) -> None:
    """Resumed with the same recording, every line stands as it would have without the stop."""
    count = script(tmp_path, COUNT)
    whole = Setting(tmp_path, ScriptRecogniser()).run(count.moments())
    path = tmp_path / "case.vcj"
    lines = path.read_bytes().splitlines(keepends=True)
    assert len(lines) == 12
    path.write_bytes(b"".join(lines[:kept]) + lines[kept][:-9])
    setting = Setting(tmp_path, ScriptRecogniser())
    ledger = setting.run(count.moments())

    for item in SHEET.items:
        assert ledger.tally(item.id).counted == whole.tally(item.id).counted
        assert ledger.tally(item.id).state == whole.tally(item.id).state
    assert setting.kept()[:kept] == fold_input(lines[:kept])


def fold_input(lines: list[bytes]) -> tuple[Event, ...]:
    from voicecount.keep.reading import read  # noqa: PLC0415 - used only here

    return read(b"".join(lines), Path("case.vcj"), CODEC).events


@pytest.mark.audio
def test_real_speech_on_two_channels_is_cut_into_moments_in_order() -> None:
    """Two people in turn give one utterance each, on their channels, after quiet that held."""
    voice = EmbeddedVoice.load()
    stream = np.zeros((9 * RATE, 2), np.float32)
    for text, channel, at in (("Gauze, one, two, three.", 0, 1.0), ("Three.", 1, 6.0)):
        clip = voice.speak(text)
        sound = soxr.resample(clip.samples, clip.rate, RATE)
        first = round(at * RATE)
        stream[first : first + len(sound), channel] = sound
    promised = float("-inf")
    found = []
    for moment in moments(FakeSource(stream)):
        if isinstance(moment, Quiet):
            promised = max(promised, moment.until)
        else:
            assert moment.start >= promised
            found.append(moment)

    assert [(moment.channel, int(moment.start)) for moment in found] == [(0, 1), (1, 6)]
    assert found[0].end < found[1].start
    assert promised == float("inf")


def test_a_shifted_stream_keeps_its_distances() -> None:
    """After a resume with another recording all times lie later by the same amount."""
    quiet, spoken = shifted([Quiet(1.0), utterance(2.0, 3.0)], 10.0)

    assert quiet == Quiet(11.0)
    assert isinstance(spoken, Utterance)
    assert (spoken.start, spoken.end, spoken.offset) == (12.0, 13.0, 12.0)


def test_a_recordings_clock_stands_still_while_it_is_stopped() -> None:
    """Time spent in a stopped block is not counted, also when the block fails."""
    inner = FakeClock()
    clock = StoppableClock(inner)
    inner.advance(1)

    def fail() -> None:
        with clock.stopped():
            inner.advance(5)
            raise VoiceError("no sound; connect a loudspeaker")

    with pytest.raises(VoiceError):
        fail()
    clock.sleep(2)

    assert clock.monotonic() == pytest.approx(3)
    assert clock.wall() == inner.wall()


def test_a_change_of_people_is_witnessed_by_the_head(tmp_path: Path) -> None:
    """After a change the words for the first eight digits of that very record are spoken."""
    text = "0 scrub: a break for the circulator\n4 circulator: yes that is right\n"
    setting = Setting(tmp_path, ScriptRecogniser())
    setting.run(script(tmp_path, text).moments(None))
    (told,) = [words for _, words in setting.notes.replies() if "The record stands at" in words]
    reading = load_whole_part(setting.path, CODEC)
    (changed,) = [one for one in reading.records if one.kind == "people_changed"]

    assert told.endswith(f"The record stands at: {spoken(changed.hash)}. Write it down.")


def test_what_can_be_heard_follows_the_case(tmp_path: Path) -> None:
    """The grammar of each utterance is that of its moment: places only while a count has them."""
    given: list[Grammar] = []

    class Noting(ScriptRecogniser):
        def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
            given.append(grammar)
            return super().hear(utterance, grammar)

    text = "0 scrub: the count is finished\n4 scrub: we want a count now\n8 scrub: on the mayo\n"
    Setting(tmp_path, Noting()).run(script(tmp_path, text).moments(None))

    assert ["mayo" in grammar.words for grammar in given] == [False, False, True]
