"""A whole drill with a recording in the student's place; the student's sound and its times."""

import os
import signal
import subprocess
import sys
import textwrap
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile
from drilling import SHEET, drill
from made_student import MadeStudent

from voicecount.drill import tape as tape_module
from voicecount.drill.attempt import Attempt, Said
from voicecount.drill.hearing import Hearing
from voicecount.drill.live import Objections, Room, hold
from voicecount.drill.load import Loaded
from voicecount.drill.session import END, SCENE, Limits, Session
from voicecount.drill.stand_in import StandIn
from voicecount.drill.store import Attempts, AttemptsError, Head, Kept, State
from voicecount.drill.tape import Tape, Taped, copied, mend
from voicecount.drill.vocabulary import vocabulary
from voicecount.errors import VoiceError
from voicecount.hear.heard import Heard, Outcome
from voicecount.rehearse.voices import disguised, load_engine
from voicecount.sound.frame import RATE, Frame, Utterance
from voicecount.speak.port import Clip, Voice
from voicecount.testing.clock import FakeClock
from voicecount.testing.sound import FakeSource
from voicecount.testing.voice import FakeSpeaker, FakeVoice
from voicecount.words.grammar import Grammar, build_grammar
from voicecount.words.meaning import Form, Meaning

TALK = "Excuse me, could you move the light a little?"


def begun(folder: Path) -> Kept:
    """Begin an attempt."""
    head = Head.begun("anna", "x", "X", "ab", datetime(2026, 3, 2, tzinfo=UTC))
    return Attempts(folder / "attempts").new(head)


def noise(seconds: float, level: float = 0.1) -> np.ndarray:
    """Give noise."""
    sound = np.random.default_rng(0).standard_normal(round(seconds * RATE))
    return (level * sound).astype(np.float32)


class Watching:
    """Keeps what a drill shows."""

    def __init__(self) -> None:
        self.heard_: list[Heard] = []
        self.unspoken_: list[str] = []

    def heard(self, heard: Heard) -> None:
        self.heard_.append(heard)

    def said(self, said: Said) -> None:
        assert said.end == said.start

    def unspoken(self, said: Said, error: VoiceError) -> None:
        self.unspoken_.append(said.cue)
        assert error


@pytest.mark.audio
def test_a_whole_drill_with_an_interruption(tmp_path: Path) -> None:
    """The partner talks into the run soon after its number, and the line is begun again.

    A student with a made voice, the real recogniser, and the partner's real voice.
    """
    from voicecount.hear.embedded.adapter import EmbeddedRecogniser  # noqa: PLC0415 - slow
    from voicecount.speak.embedded import EmbeddedVoice  # noqa: PLC0415 - slow

    student = MadeStudent(disguised(load_engine(), pace=1.0, size=1.13)).wait(1.0)
    student.speak("lap sponge", "one", "two", "three", "four").wait(2.0)
    student.speak("lap sponge", "one", "two", "three", "four", "five").wait(4.0)
    student.speak("towel clip", "one", "two").wait(4.0)
    talk = {"kind": "interruption", "item": "lap_sponge", "after": 3, "says": TALK}
    practised = drill(("lap_sponge", 5), ("clip", 2), events=[talk])
    loaded = Loaded(practised, SHEET, Path("x.yaml"), Path("small.sheet.yaml"))
    grammar = build_grammar(SHEET, vocabulary(practised, SHEET))
    recogniser = EmbeddedRecogniser.load()
    stand_in = StandIn(student.write(tmp_path / "student.wav"))
    kept = begun(tmp_path)
    room = Room(stand_in, stand_in.now, stand_in, EmbeddedVoice.load(), recogniser, grammar)
    session = Session(practised, SHEET, grammar=grammar)
    attempt = hold(session, Hearing(loaded, recogniser, grammar), room, kept)
    cues = {said.cue: said for said in attempt.said}
    three = student.ends[3]
    scene = cues[SCENE]

    assert list(cues) == [
        *(SCENE, "lap_sponge.interruption", "lap_sponge.read_back", "clip.read_back", END)
    ]
    assert [cues[cue].words for cue in list(cues)[2:4]] == ["Five lap sponges.", "Two towel clips."]
    assert three[0] == "three"
    # before "five" of the run could have been said, and not before "three" was over
    said_into = cues["lap_sponge.interruption"].start - scene.end - three[1]
    assert 0.0 < said_into < 1.5
    numbers = [one.heard.meaning.numbers for one in attempt.sayings if one.heard.meaning]
    assert (1, 2, 3, 4, 5) in numbers
    assert numbers[-1] == (1, 2)

    # The recording is on the stream's time: the voice is where it was heard, silence in the cues.
    sound, rate = soundfile.read(kept.sound, dtype="float32")
    assert rate == RATE
    assert len(sound) == pytest.approx(attempt.seconds * RATE, abs=RATE / 2000)
    for said in attempt.said[:-1]:
        part = sound[round(said.start * RATE) : round(said.end * RATE)]
        assert not part.any(), said
    source, _ = soundfile.read(tmp_path / "student.wav", dtype="float32")
    first = round(scene.end * RATE)
    assert np.array_equal(sound[first : first + RATE], source[:RATE])
    assert kept.said() == attempt.said
    assert kept.state is State.BROKEN_OFF  # whoever called keeps the attempt


def test_a_recording_stands_still_while_the_partner_speaks(tmp_path: Path) -> None:
    """What is played takes its time on the stream, in silence; nothing of the recording is lost."""
    sound = noise(1.0)
    path = tmp_path / "r.wav"
    soundfile.write(path, sound, RATE, "FLOAT")
    stand_in = StandIn(path)
    frames = stand_in.frames()
    first = next(frames)
    stand_in.play(Clip(np.ones(500, np.float32), 1000))
    assert stand_in.now() == pytest.approx(0.5 + 512 / RATE)
    taken = [first, *(next(frames) for _ in range(60))]
    heard = np.concatenate([frame.samples[:, 0] for frame in taken])
    whole = np.concatenate([sound[:512], np.zeros(RATE // 2, np.float32), sound[512:]])

    assert np.allclose(heard[: len(whole)], whole, atol=1e-6)
    assert not heard[len(whole) :].any()
    assert [frame.start for frame in taken if frame.lost] == [512 / RATE]
    starts = np.cumsum([0, *(len(frame.samples) for frame in taken[:-1])]) / RATE
    assert [frame.start for frame in taken] == pytest.approx(list(starts))


def test_a_recording_keeps_the_speed_of_life(tmp_path: Path) -> None:
    """With a clock no frame comes before it would have been heard."""
    path = tmp_path / "r.wav"
    soundfile.write(path, noise(1.0), RATE)
    clock = FakeClock()
    frames = StandIn(path, clock).frames()
    ends = []
    for _ in range(20):
        frame = next(frames)
        ends.append((clock.monotonic(), frame.start + len(frame.samples) / RATE))

    assert [at for at, _ in ends] == pytest.approx([end for _, end in ends])


def meant(command: str | None = None, numbers: tuple[int, ...] = ()) -> Meaning:
    form = Form.COMMAND if command else Form.RUN
    return Meaning(form, None, numbers, command=command)


class Hears:
    """A recogniser that hears the same in everything; it cannot follow."""

    name = "fake"

    def __init__(self, meaning: Meaning, outcome: Outcome = Outcome.ACCEPTED) -> None:
        self._meaning = meaning
        self._outcome = outcome

    def hear(self, utterance: Utterance, _grammar: Grammar) -> Heard:
        span = (utterance.channel, utterance.start, utterance.end)
        return Heard(*span, self._outcome, self._meaning, "words")


def held(
    tmp_path: Path, recogniser: Hears, *, voice: Voice | None, speaker: FakeSpeaker, said_into: bool
) -> tuple[Attempt, Watching, Kept]:
    """Hold a confirming drill of one line on a second of silence."""
    practised = drill(("clip", 2), task="confirm")
    loaded = Loaded(practised, SHEET, Path("x.yaml"), Path("y.yaml"))
    grammar = build_grammar(SHEET, vocabulary(practised, SHEET))
    watching = Watching()
    objections = Objections(recogniser, grammar)
    if said_into:
        sound = noise(0.5)
        objections.stops(Utterance(0, 0.1, 0.4, sound, 0.0))
    room = Room(
        FakeSource(np.zeros(RATE, np.float32)),
        lambda: 0.0,
        speaker,
        voice,
        recogniser,
        grammar,
        [watching],
        objections,
    )
    kept = begun(tmp_path)
    session = Session(practised, SHEET, grammar=grammar, limits=Limits(silence=60.0))
    attempt = hold(session, Hearing(loaded, recogniser, grammar), room, kept)
    return attempt, watching, kept


def test_sound_that_ends_ends_the_drill(tmp_path: Path) -> None:
    """What is due in the silence that follows is still said, then the end."""
    speaker = FakeSpeaker()
    attempt, _, kept = held(
        tmp_path, Hears(meant("yes")), voice=FakeVoice(), speaker=speaker, said_into=False
    )

    assert [said.cue for said in attempt.said] == [SCENE, "clip.call", "clip.call", END]
    assert len(speaker.played) == 4
    assert attempt.seconds == pytest.approx(1.0)
    assert soundfile.info(kept.sound).frames == RATE


def test_words_that_cannot_be_spoken_are_told_and_shown(tmp_path: Path) -> None:
    """A loudspeaker that fails does not end the drill; the words have to be read."""
    attempt, watching, _ = held(
        tmp_path,
        Hears(meant("yes")),
        voice=FakeVoice(),
        speaker=FakeSpeaker(failing=True),
        said_into=False,
    )

    assert watching.unspoken_ == [said.cue for said in attempt.said]


def test_without_a_voice_the_words_are_only_shown(tmp_path: Path) -> None:
    """Nothing is played."""
    speaker = FakeSpeaker()
    attempt, watching, _ = held(
        tmp_path, Hears(meant("yes")), voice=None, speaker=speaker, said_into=False
    )

    assert speaker.played == []
    assert watching.unspoken_ == []
    assert len(attempt.said) == 4


def test_an_objection_into_the_partners_voice_is_taken(tmp_path: Path) -> None:
    """It is answered, and judged, although the partner still spoke."""
    attempt, watching, _ = held(
        tmp_path, Hears(meant("yes")), voice=FakeVoice(), speaker=FakeSpeaker(), said_into=True
    )

    assert [heard.start for heard in watching.heard_] == [0.1]
    assert [saying.heard.start for saying in attempt.sayings] == [0.1]
    assert [said.cue for said in attempt.said] == [SCENE, "clip.call", END]


@pytest.mark.parametrize(
    ("meaning", "outcome", "stops"),
    [
        (meant("no"), Outcome.ACCEPTED, True),
        (meant("no"), Outcome.UNSURE, False),
        (meant(numbers=(2,)), Outcome.ACCEPTED, False),
    ],
)
def test_only_a_plain_command_stops_the_partner(
    meaning: Meaning, outcome: Outcome, stops: bool
) -> None:
    """Numbers are not taken from two voices at once; each objection is given once."""
    grammar = build_grammar(SHEET)
    objections = Objections(Hears(meaning, outcome), grammar)
    utterance = Utterance(0, 0.1, 0.4, noise(0.5), 0.0)

    assert objections.stops(utterance) is stops
    assert objections.take() == ([utterance] if stops else [])
    assert objections.take() == []


def frame(start: float, *samples: float) -> Frame:
    """Give a frame."""
    return Frame(start, np.array(samples, np.float32)[:, np.newaxis])


def test_the_sound_is_recorded_at_its_time(tmp_path: Path) -> None:
    """A gap is silence, what comes twice is kept once, two channels are put together."""
    path = tmp_path / "s.flac"
    with Tape(path) as tape:
        source = FakeSource(np.full((4, 2), 0.5, np.float32), frame=2)
        list(Taped(source, tape).frames())
        tape.add(frame(8 / RATE, 0.25, 0.25))
        tape.add(frame(9 / RATE, 0.125, 0.125))
        assert tape.seconds == 11 / RATE
    sound, rate = soundfile.read(path, dtype="float32")

    assert rate == RATE
    assert list(sound) == [0.5] * 4 + [0.0] * 4 + [0.25, 0.25, 0.125]
    assert Taped(source, tape).channels == 2


def test_a_recording_is_never_written_over(tmp_path: Path) -> None:
    """A file that is there stays as it is."""
    path = tmp_path / "s.flac"
    path.write_bytes(b"mine")
    with pytest.raises(AttemptsError, match="cannot be written"):
        Tape(path)
    assert path.read_bytes() == b"mine"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
def test_a_full_disk_ends_the_recording_with_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What libsndfile tells when nothing more can be written is one line, with what to do."""

    class Full:
        def write(self, _: object) -> None:
            raise soundfile.LibsndfileError(2)

        def close(self) -> None:
            raise soundfile.LibsndfileError(2)

    monkeypatch.setattr(tape_module.soundfile, "SoundFile", lambda *_, **__: Full())
    tape = Tape(tmp_path / "s.flac")
    for go in (lambda: tape.add(frame(0.0, 0.5)), tape.close):
        with pytest.raises(AttemptsError, match="what was recorded before is kept") as told:
            go()
        assert len(str(told.value).splitlines()) == 1


KILLED = """
    import os, sys
    import numpy as np
    from pathlib import Path
    from voicecount.drill.store import read_kept
    from voicecount.drill.tape import Tape
    from voicecount.sound.frame import RATE, Frame
    kept = read_kept(Path(sys.argv[1]))
    sound = (0.1 * np.random.default_rng(0).standard_normal(3 * RATE)).astype(np.float32)
    with kept.running(), Tape(kept.sound) as tape:
        for at in range(0, len(sound), 512):
            tape.add(Frame(at / RATE, sound[at : at + 512, np.newaxis]))
        print("ready", flush=True)
        sys.stdin.read()
"""


def test_a_killed_drill_leaves_what_was_recorded(tmp_path: Path) -> None:
    """It is listed as broken off, and what was recorded can be read but for its last moment."""
    kept = begun(tmp_path)
    command = [sys.executable, "-c", textwrap.dedent(KILLED), str(kept.path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as drilling:
        assert drilling.stdout is not None
        assert drilling.stdout.readline() == b"ready\n"
        running = kept.state
        os.kill(drilling.pid, signal.SIGKILL)
    seconds = mend(kept.sound)
    sound, _ = soundfile.read(kept.sound, dtype="float32")

    assert running is State.RUNS
    assert kept.state is State.BROKEN_OFF
    assert 2.0 < seconds < 3.0  # handed to the system every half second, in blocks of a quarter
    assert len(sound) == round(seconds * RATE)
    assert np.allclose(sound, noise(3.0)[: len(sound)], atol=2**-15)
    assert sorted(path.name for path in kept.path.iterdir()) == [
        ".voicecount-attempt",
        "sound.flac",
    ]


def test_what_was_never_recorded_cannot_be_mended(tmp_path: Path) -> None:
    """One line for a file that is not there, is no sound, or holds none."""
    for data in (None, b"", b"no sound"):
        path = tmp_path / "s.flac"
        if data is not None:
            path.write_bytes(data)
        with pytest.raises(AttemptsError, match="broken off too soon"):
            mend(path)
    with Tape(tmp_path / "empty.flac"):
        pass
    with pytest.raises(AttemptsError, match="broken off too soon"):
        mend(tmp_path / "empty.flac")


@pytest.mark.parametrize(("channels", "rate"), [(1, 8_000), (2, 44_100)])
def test_a_recording_is_kept_with_its_times(tmp_path: Path, channels: int, rate: int) -> None:
    """Rate and channels stay; damaged samples become silence, and nothing is written over."""
    sound = np.tile(noise(1.0)[:rate, np.newaxis], (1, channels))
    sound[5] = np.nan
    soundfile.write(tmp_path / "r.wav", sound, rate, "FLOAT")
    copied(tmp_path / "r.wav", tmp_path / "s.flac")
    found, found_rate = soundfile.read(tmp_path / "s.flac", dtype="float32", always_2d=True)

    assert found_rate == rate
    assert np.allclose(found, np.nan_to_num(sound), atol=2**-15)
    with pytest.raises(AttemptsError, match="cannot be written"):
        copied(tmp_path / "r.wav", tmp_path / "s.flac")
