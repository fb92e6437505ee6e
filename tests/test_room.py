"""The room with fakes: order of keeping and speaking, deadlines, failures, resuming."""

import errno
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
import soxr

from voicecount.commands.journals import CODEC, check_resumable
from voicecount.commands.script import Script, ScriptRecogniser, read_script
from voicecount.count.events import Event, LineConfirmed, LineStored
from voicecount.count.ledger import Ledger, fold
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.errors import StorageError, VoiceError
from voicecount.hear.port import Heard, Outcome, Recogniser
from voicecount.keep.clock import StoppableClock
from voicecount.keep.files import Disk, SystemDisk
from voicecount.keep.journal import Journal
from voicecount.keep.reading import load_whole_part
from voicecount.keep.witness import spoken
from voicecount.reasons import Reason
from voicecount.room import NOT_TOLD_APART, TOLD_APART, Room
from voicecount.sheet.load import load_sheet
from voicecount.sound.frame import RATE, Utterance
from voicecount.sound.moments import Moment, Partial, Quiet, moments, shifted
from voicecount.speak.embedded import EmbeddedVoice
from voicecount.speak.port import Clip, Speaker
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply, ReplyKind, Step
from voicecount.testing.clock import FakeClock
from voicecount.testing.disk import FaultyDisk
from voicecount.testing.recogniser import FakeRecogniser
from voicecount.testing.sound import FakeSource
from voicecount.testing.voice import FakeSpeaker, FakeVoice
from voicecount.words.grammar import build_grammar
from voicecount.words.grammars import Grammars
from voicecount.words.graph import Grammar
from voicecount.words.meaning import Form, Meaning

SHEET = load_sheet(Path(__file__).parent.parent / "grammars" / "first_try.yaml")
GRAMMARS = Grammars(lambda vocabulary: build_grammar(SHEET, vocabulary))

COUNT = """
0 scrub: gauze, one two three four five six seven eight nine ten
8 circulator: ten
12 scrub: lap sponge one two four
18 scrub: lap sponge one two three four five
24 circulator: four
30 scrub: lap sponge one two three four five
36 circulator: five
40 circulator: did you see the game last night
44 scrub: one marking pen two pieces
48 circulator: one
52 scrub: suture needles total four
57 circulator: four
"""


class Notes:
    """An observer that keeps what it is told, in order."""

    def __init__(self) -> None:
        self.all: list[tuple[str, object]] = []

    def partial(self, heard: Heard, role: Role | None) -> None:
        self.all.append(("partial", (heard.text, role)))

    def heard(self, heard: Heard, role: Role | None) -> None:
        self.all.append(("heard", (heard.text, role)))

    def stored(self, event: Event) -> None:
        self.all.append(("stored", event))

    def replied(self, at: float, reply: Reply) -> None:
        self.all.append(("replied", (at, reply.text)))

    def unspoken(self, at: float, reply: Reply, error: VoiceError) -> None:
        self.all.append(("unspoken", (at, reply.text, error)))

    def kinds(self) -> list[str]:
        return [kind for kind, _ in self.all]

    def replies(self) -> list[tuple[float, str]]:
        return [what for kind, what in self.all if kind == "replied"]  # type: ignore[misc]


class Setting:
    """A room over a new or resumed journal in a folder."""

    def __init__(
        self,
        folder: Path,
        recogniser: Recogniser,
        *,
        told_apart: bool = True,
        voice: FakeVoice | None = None,
        speaker: Speaker | None = None,
        disk: Disk | None = None,
        ahead: Callable[[str], None] | None = None,
    ) -> None:
        self.path = folder / "case.vcj"
        ledger = None
        if self.path.exists():
            self.journal = Journal.open(self.path, CODEC, disk=disk)
            ledger = check_resumable(self.path, self.journal.events, SHEET)
        else:
            first = open_case(
                SHEET, at=0, software="t", recogniser="t", voice="t", told_apart=told_apart
            )
            self.journal = Journal.create(self.path, first, CODEC, disk=disk)
        self.resumed = ledger is not None
        self.dialogue = Dialogue(SHEET, told_apart=told_apart, ledger=ledger)
        self.notes = Notes()
        self.room = Room(
            self.dialogue,
            self.journal,
            recogniser,
            GRAMMARS,
            roles=TOLD_APART if told_apart else NOT_TOLD_APART,
            voice=voice,
            speaker=speaker,
            observers=[self.notes],
            ahead=ahead,
        )

    def run(self, stream: Sequence[Moment] | Iterator[Moment]) -> Ledger:
        with self.journal:
            last = max(event.at for event in self.journal.events)
            if self.resumed:
                self.room.reopen(last)
            else:
                self.room.open()
            self.room.run(stream, after=last)
        return self.dialogue.ledger

    def kept(self) -> tuple[Event, ...]:
        with Journal.open(self.path, CODEC) as journal:
            return journal.events


def script(tmp_path: Path, text: str) -> Script:
    path = tmp_path / "script.txt"
    path.write_text(text)
    return read_script(path)


def utterance(start: float, end: float, channel: int = 0) -> Utterance:
    return Utterance(channel, start, end, np.zeros(0, np.float32), offset=start)


def heard(start: float, end: float, meaning: Meaning, channel: int = 0) -> Heard:
    return Heard(channel, start, end, Outcome.ACCEPTED, meaning, "as typed")


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
