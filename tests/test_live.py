"""A live room on fakes: the sound check by voice, noise that is watched, notes that are kept."""

from collections import deque
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from playing import Play, sheet_of

from voicecount.commands.journals import CODEC
from voicecount.commands.script import ScriptRecogniser, Typed
from voicecount.count.events import Event, MicrophoneChanged, NoiseChanged, SoundChecked
from voicecount.count.ledger import fold
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.errors import VoiceError
from voicecount.hear.heard import Heard, Outcome
from voicecount.hear.port import Recogniser
from voicecount.keep.journal import Journal
from voicecount.keep.reading import load_whole_part
from voicecount.keep.settings import Spoken
from voicecount.live import (
    SENTENCE,
    STRICTER,
    MicrophoneNotes,
    Note,
    Watched,
    check_sound,
    manner,
    microphone_note,
    noted,
    record_turn,
    told_to_stop,
)
from voicecount.reasons import Reason
from voicecount.room import TOLD_APART, Room
from voicecount.sheet.load import load_sheet
from voicecount.sound.findings import ChannelSound, Noise, SoundCheck
from voicecount.sound.frame import RATE, Frame, Utterance
from voicecount.sound.gate import Noticed
from voicecount.sound.moments import Moment, Quiet
from voicecount.sound.watchdog import Change, Code, Health
from voicecount.speak.port import Clip
from voicecount.speak.tone import RATE as TONE_RATE
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply, ReplyKind
from voicecount.testing.sound import FakeSource
from voicecount.testing.voice import FakeSpeaker, FakeVoice
from voicecount.words.commands import COMMANDS, HUSH
from voicecount.words.grammar import build_grammar
from voicecount.words.grammars import Grammars
from voicecount.words.vocabulary import Vocabulary

SHEET = load_sheet(Path(__file__).parent.parent / "grammars" / "first_try.yaml")
Sound = NDArray[np.float32]


def noise(seconds: float, level: float, channels: int = 2, seed: int = 0) -> Sound:
    """Make white noise with an RMS of ``level`` dB."""
    rng = np.random.default_rng(seed)
    sound = rng.normal(0, 10 ** (level / 20), (round(seconds * RATE), channels))
    return sound.astype(np.float32)


class Scripted:
    """A source that gives prepared sounds one after the other, each until its reader stops."""

    channels = 2

    def __init__(self, *turns: Sound) -> None:
        self._turns = deque(turns)

    def frames(self) -> Iterator[Frame]:
        yield from FakeSource(self._turns.popleft()).frames()


class Notes:
    """An observer that keeps what was said and stored."""

    def __init__(self) -> None:
        self.said: list[str] = []
        self.kept: list[Event] = []

    def partial(self, heard: Heard, role: Role | None) -> None: ...

    def heard(self, heard: Heard, role: Role | None) -> None: ...

    def stored(self, event: Event) -> None:
        self.kept.append(event)

    def replied(self, _at: float, reply: Reply) -> None:
        self.said.append(reply.text)

    def unspoken(self, at: float, reply: Reply, error: VoiceError) -> None: ...


def open_room(
    path: Path, notes: Notes, *, recogniser: Recogniser | None = None, **more: object
) -> tuple[Room, Journal[Event]]:
    """Open a room over a new journal, spoken by fakes."""
    first = open_case(SHEET, at=0, software="t", recogniser="t", voice="t", told_apart=True)
    journal = Journal.create(path, first, CODEC)
    room = Room(
        Dialogue(SHEET, told_apart=True),
        journal,
        recogniser or ScriptRecogniser(),
        Grammars(lambda vocabulary: build_grammar(SHEET, vocabulary)),
        roles=TOLD_APART,
        voice=FakeVoice(),
        speaker=FakeSpeaker(),
        observers=[notes],
        **more,  # type: ignore[arg-type]
    )
    room.open()
    return room, journal


def test_a_note_is_kept_before_it_is_said(tmp_path: Path) -> None:
    """A change of the microphone is a record of its own, told aloud, and changes no line."""
    notes = Notes()
    room, journal = open_room(tmp_path / "a.vcj", notes)
    note = microphone_note(Change(Code.GONE, 3.0, None, 0.9), 5.0)
    with journal:
        room.note(note.event, note.reply)
    kept = load_whole_part(tmp_path / "a.vcj", CODEC).events

    assert kept[-1] == MicrophoneChanged(at=5.0, state="gone", seconds=0.9)
    assert notes.kept[-1] == kept[-1]
    assert notes.said[-1] == "The microphone is gone. Nothing is heard. I keep trying."
    assert fold(kept).left() == fold(kept[:1]).left()


@pytest.mark.parametrize("code", list(Code))
def test_every_change_of_a_microphone_has_words(code: Code) -> None:
    """Silent, heard again, gone, back: each is told, and what stops hearing is urgent."""
    note = microphone_note(Change(code, 1.0, 0, 2.0), 1.0)

    assert note.text.endswith(".")
    assert note.urgent is (code in {Code.GONE, Code.SILENT})


def test_notes_come_before_the_next_moment() -> None:
    """What was noted while a moment was awaited is handed on first, in its order."""
    waiting: deque[Note] = deque()
    order: list[str] = []

    def stream() -> Iterator[Moment]:
        yield Quiet(1.0)
        waiting.append(microphone_note(Change(Code.BACK, 1.0, None, 2.0), 1.0))
        yield Quiet(2.0)

    moments = noted(stream(), [waiting], lambda note: order.append(note.text[:18]))
    order.extend(str(moment.until) for moment in moments if isinstance(moment, Quiet))

    assert order == ["1.0", "The microphone is ", "2.0"]


def test_who_speaks_meanwhile_is_asked_again_once(tmp_path: Path) -> None:
    """A person who spoke into the assistant's voice is asked to say it again, and not for ever."""
    person = Noticed(Utterance(1, 0.1, 0.6, np.zeros(1, np.float32), 0.0), goes_on=False)
    waiting = [[person], [person], []]
    notes = Notes()
    _, journal = open_room(
        tmp_path / "a.vcj", notes, meanwhile=lambda: waiting.pop(0) if waiting else []
    )
    journal.close()

    assert notes.said[-1] == "You spoke while I did. Say that again."
    assert notes.said.count("You spoke while I did. Say that again.") == 1


@pytest.mark.parametrize(("start", "asked"), [(0.2, 1), (3.0, 2)])
def test_words_that_the_voice_cut_in_two_are_asked_for_once(
    tmp_path: Path, start: float, asked: int
) -> None:
    """What was heard of them before the voice began is lost sound: no second question for it.

    Sound that is lost at another time is asked for in its own right.
    """
    person = Noticed(Utterance(0, 1.0, 1.6, np.zeros(1, np.float32), 0.9), goes_on=False)
    waiting = [[person]]
    notes = Notes()

    class Lost(ScriptRecogniser):
        def hear(self, utterance: Utterance, _grammar: object) -> Heard:
            span = (utterance.channel, utterance.start, utterance.end)
            return Heard(*span, Outcome.UNSURE, None, "", reason=Reason.SOUND_LOST)

    room, journal = open_room(
        tmp_path / "a.vcj",
        notes,
        recogniser=Lost(),
        meanwhile=lambda: waiting.pop(0) if waiting else [],
    )
    with journal:
        room.run([Utterance(0, start, start + 0.7, np.zeros(1, np.float32), start)])

    assert sum("Say that again" in text for text in notes.said) == asked


def test_a_turn_is_recorded_until_the_person_is_quiet(speech: Sound) -> None:
    """The recording of a turn ends soon after the voice, a silent one after its longest time."""
    quiet = noise(10, -70)
    turn = np.concatenate((noise(1, -70), speech + noise(len(speech) / RATE, -70)[: len(speech)]))
    found = record_turn(Scripted(np.concatenate((turn, quiet))))

    assert len(turn) < len(found) < len(turn) + 3 * RATE
    assert len(record_turn(Scripted(noise(30, -70)))) == pytest.approx(20 * RATE, abs=RATE)


@pytest.fixture(scope="module")
def speech() -> Sound:
    """Eight seconds of the demo's scrub person on the first channel, weaker on the second."""
    import soundfile  # noqa: PLC0415

    path = Path(__file__).parent.parent / "audio_fixtures" / "caesarean.flac"
    sound, _ = soundfile.read(path, start=RATE, frames=4 * RATE, dtype="float32")
    return np.asarray(np.stack([sound[:, 0], 0.05 * sound[:, 0]], axis=1), np.float32)


@pytest.mark.parametrize("swapped", [False, True])
def test_the_sound_check_finds_whose_channel_is_whose(speech: Sound, swapped: bool) -> None:
    """Each is asked by name; whoever is heard best on a channel has it, whichever it is."""
    asked: list[str] = []
    scrub, circulator = speech, speech[:, ::-1]
    turns = (circulator, scrub) if swapped else (scrub, circulator)
    padded = [
        np.concatenate((noise(1, -65), turn + noise(4, -65)[: len(turn)], noise(4, -65)))
        for turn in turns
    ]
    found = check_sound(Scripted(*padded), asked.append)

    assert [SENTENCE in text for text in asked] == [True, True]
    assert ["scrub" in asked[0], "circulator" in asked[1]] == [True, True]
    assert found.channel_of == (
        {"scrub": 1, "circulator": 0} if swapped else {"scrub": 0, "circulator": 1}
    )
    assert found.go
    event = SoundChecked.of(found, 1.0)
    assert {row.who for row in event.channels} == set(Role)


def checked() -> SoundCheck:
    """A sound check in which both voices stood at -25 dB."""
    rows = [
        ChannelSound(channel=channel, who=who, speech=-25.0, floor=-60.0, clipped=0.0, leak=None)
        for channel, who in enumerate(("scrub", "circulator"))
    ]
    return SoundCheck(tuple(rows), (), {"scrub": 0, "circulator": 1})


def test_noise_is_noted_when_it_comes_and_when_it_goes() -> None:
    """Loud noise becomes a note with its event; more is asked then; quiet becomes a note again."""
    sound = np.concatenate((noise(6, -60), noise(8, -34, seed=1), noise(20, -60, seed=2)))
    watched = Watched(FakeSource(sound), lambda: False)
    watched.begin(checked())
    states = []
    for _ in watched.frames():
        while watched.notes:
            note = watched.notes.popleft()
            assert isinstance(note.event, NoiseChanged)
            states.append(note.event.state)

    assert states[0] in {Noise.LOUD, Noise.TOO_LOUD}
    assert states[-1] is Noise.FINE
    assert STRICTER[Noise.TOO_LOUD] < STRICTER[Noise.LOUD] < STRICTER[Noise.FINE] == 1.0


def test_without_a_sound_check_no_noise_is_watched() -> None:
    """Noise means nothing without a voice to hold it against; frames pass as they are."""
    watched = Watched(FakeSource(noise(3, -20)), lambda: False)
    frames = list(watched.frames())

    assert not watched.notes
    assert sum(len(frame.samples) for frame in frames) == 3 * RATE


@pytest.mark.parametrize(
    ("spoken", "notice", "readback"),
    [
        (Spoken.ALL, (False, True), (False, True)),
        (Spoken.NEEDED, (False, False), (False, True)),
        (Spoken.TONES, (False, False), (True, False)),
    ],
)
def test_how_much_is_spoken(
    spoken: Spoken, notice: tuple[bool, bool], readback: tuple[bool, bool]
) -> None:
    """Everything, only what somebody answers or asked for, or a tone to look at the screen."""
    how = manner(spoken)

    assert how(Reply("Listening.", ReplyKind.NOTICE)) == notice
    assert how(Reply("Gauze, ten.", ReplyKind.READBACK)) == readback


def test_a_tone_takes_the_place_of_the_words(tmp_path: Path) -> None:
    """With tones only, a read-back is one tone; the words are on the screen."""
    notes = Notes()
    room, journal = open_room(tmp_path / "a.vcj", notes, manner=manner(Spoken.TONES))
    speaker = room._speaker
    assert isinstance(speaker, FakeSpeaker)
    before = len(speaker.played)
    with journal:
        room.run([script_line("scrub", 0, "towel clip one two"), Quiet(float("inf"))])

    assert any(text.startswith("Towel clips, two.") for text in notes.said)
    assert 1 <= len(speaker.played) - before <= 2


def pitch(clip: Clip) -> tuple[float, float]:
    """Hertz in the first and in the last third of a tone."""
    part = len(clip.samples) // 3
    thirds = [clip.samples[part // 4 : part], clip.samples[-part : -part // 4]]
    return (pitch_of(thirds[0], clip.rate), pitch_of(thirds[1], clip.rate))


def pitch_of(samples: Sound, rate: int) -> float:
    crossings = np.flatnonzero(np.diff(np.signbit(samples)))
    return float((len(crossings) - 1) / 2 / ((crossings[-1] - crossings[0]) / rate))


@pytest.mark.parametrize("spoken", list(Spoken))
def test_a_tone_tells_whether_anybody_is_listened_to(tmp_path: Path, spoken: Spoken) -> None:
    """However much is spoken, the tone falls at "stand by please" and rises at "carry on"."""
    room, journal = open_room(tmp_path / "a.vcj", Notes(), manner=manner(spoken))
    speaker = room._speaker
    assert isinstance(speaker, FakeSpeaker)
    before = len(speaker.played)
    lines = [(0, "stand by please"), (10, "carry on counting")]
    with journal:
        room.run([script_line("scrub", at, words) for at, words in lines])
    tones = [clip for clip in speaker.played[before:] if clip.rate == TONE_RATE][:2]
    falls, rises = map(pitch, tones)

    assert falls[0] > 1.05 * falls[1]
    assert rises[1] > 1.05 * rises[0]


@pytest.mark.parametrize(
    ("changes", "listens"),
    [
        ([(Code.GONE, None, Health.GONE), (Code.BACK, None, Health.OK)], [False, True]),
        (
            [
                (Code.GONE, 1, Health.SILENT),
                (Code.GONE, 0, Health.GONE),
                (Code.BACK, 0, Health.SILENT),
                (Code.BACK, 1, Health.OK),
            ],
            [None, False, True, None],
        ),
        ([(Code.SILENT, 0, Health.SILENT), (Code.HEARD, 0, Health.OK)], [None, None]),
    ],
)
def test_microphones_that_come_and_go_change_who_is_heard(
    changes: list[tuple[Code, int | None, Health]], listens: list[bool | None]
) -> None:
    """Only when the device is gone, or both of two, is nobody heard; which one is said else."""
    notes = MicrophoneNotes()
    found = [notes.note(Change(code, 3.0, ch, 0.9), 5.0, how, 2) for code, ch, how in changes]

    assert [note.reply.listens for note in found] == listens
    for (_, channel, _), note, heard in zip(changes, found, listens, strict=True):
        one = channel is not None and heard is None
        assert ("first" in note.text or "second" in note.text) == one


def test_of_one_channel_there_is_no_first_microphone() -> None:
    """Where there is one microphone with one channel, it is the microphone."""
    note = MicrophoneNotes().note(Change(Code.SILENT, 3.0, 0, 0.9), 5.0, Health.SILENT, 1)

    assert "first" not in note.text


def script_line(who: str, at: float, words: str) -> Utterance:
    """Give a typed line as an utterance."""
    channel = 0 if who == "scrub" else 1
    return Typed(channel, at, at + 1, np.zeros(0, np.float32), at, words=words)


def test_between_counts_a_lead_may_be_asked_for() -> None:
    """By policy, commands between counts need a lead phrase; in a count they do not."""
    lead = sheet_of({"id": "clamp", "expect": 2}, policy={"lead": "listen counter"})
    played = Play(lead).go("scrub: clamp one two", "(wait)", "circ: two")
    played.go("circ: the count is finished", "circ: begin the closing count")
    assert not played.ledger.counting
    played.go("circ: listen counter begin the closing count")

    assert played.ledger.counting
    assert played.ledger.count is not None
    assert played.ledger.count.id == "closing"


@pytest.mark.parametrize(
    ("words", "stops"), [("stop", True), ("stop talking please", True), ("gauze one two", False)]
)
def test_stop_cuts_the_voice_off(words: str, stops: bool) -> None:
    """Only the word for it stops the assistant's voice, not a count that is called into it."""
    grammar = build_grammar(SHEET, Vocabulary((*COMMANDS, HUSH)))
    told = told_to_stop(ScriptRecogniser(), grammar)

    assert told(script_line("scrub", 0.0, words)) is stops


def test_stop_is_no_command_at_other_times() -> None:
    """While the assistant is silent, "stop" means nothing: people say it in a room."""
    phrases = {p for c in Play(SHEET).dialogue.vocabulary.commands for p in c.phrases}

    assert phrases.isdisjoint(HUSH.phrases)
