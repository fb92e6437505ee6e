"""``voicecount run`` with a recording in the place of the microphone, and with fake devices."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from voicecount.cli import main
from voicecount.commands import ears as ears_module
from voicecount.commands import run as run_module
from voicecount.commands.ears import Ears, Wanted
from voicecount.commands.journals import CODEC
from voicecount.count.events import CaseOpened, LineStored, SoundChecked
from voicecount.count.roles import Role
from voicecount.errors import VoicecountError
from voicecount.hear.heard import Heard, Outcome
from voicecount.keep.clock import Clock, SystemClock
from voicecount.keep.reading import load_whole_part
from voicecount.keep.settings import Settings, Spoken, read_settings, write_settings
from voicecount.live import Watched
from voicecount.sound.choose import Device
from voicecount.sound.device import DeviceSource
from voicecount.sound.findings import ChannelSound, Finding, Noise, Problem, SoundCheck
from voicecount.sound.frame import RATE, Utterance
from voicecount.sound.gate import Echo
from voicecount.sound.playback import FileCapture
from voicecount.sound.portaudio import DeviceError
from voicecount.sound.room_sound import RoomSound
from voicecount.speak.port import Clip
from voicecount.testing.sound import FakeSource
from voicecount.testing.voice import FakeVoice
from voicecount.words.grammar import Grammar
from voicecount.words.meaning import Form, Meaning

ROOT = Path(__file__).parent.parent
SHEET = str(ROOT / "grammars/first_try.yaml")


class Hearing:
    """A recogniser that hears a towel clip in every utterance."""

    name = "fake"
    factor = 1.0

    def be_stricter(self, factor: float) -> None:
        self.factor = factor

    def hear(self, utterance: Utterance, _grammar: Grammar) -> Heard:
        meaning = Meaning(Form.RUN, "towel_clip", (1, 2))
        span = (utterance.channel, utterance.start, utterance.end)
        return Heard(*span, Outcome.ACCEPTED, meaning, "towel clip one two")


class Fast(SystemClock):
    """The machine's clock, six times as fast."""

    def monotonic(self) -> float:
        return 6 * super().monotonic()

    def sleep(self, seconds: float) -> None:
        super().sleep(seconds / 6)


@pytest.fixture(autouse=True)
def fakes(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Hear and speak by fakes, and remember nothing of this machine."""
    monkeypatch.setattr(run_module, "SystemClock", Fast)
    monkeypatch.setattr(run_module, "load_recogniser", lambda *_: Hearing())
    monkeypatch.setattr(run_module, "choose_voice", lambda *_, **__: FakeVoice())
    monkeypatch.setattr("voicecount.keep.settings.settings_path", lambda: tmp_path / "s.json")


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a short stretch of the demo: one call of the scrub person, and its confirmation."""
    path = tmp_path_factory.mktemp("run") / "short.wav"
    sound, rate = soundfile.read(
        ROOT / "audio_fixtures/caesarean.flac", frames=9 * RATE, dtype="float32"
    )
    soundfile.write(path, np.concatenate((sound, 0 * sound[: 2 * RATE])), rate)
    return path


def run(tmp_path: Path, *more: object) -> tuple[int, Path]:
    """Run the command with a journal of its own; the exit code and the journal."""
    journal = tmp_path / "case.vcj"
    return main(["run", SHEET, "--journal", str(journal), *map(str, more)]), journal


def test_a_recording_runs_through_the_whole_room(
    tmp_path: Path, recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is heard is stored and shown; the journal is that of any other case."""
    code, journal = run(tmp_path, "--from", recording, "--no-sound-check")
    events = load_whole_part(journal, CODEC).events
    out = capsys.readouterr().out

    assert code == 0
    assert isinstance(events[0], CaseOpened)
    assert [event.counted for event in events if isinstance(event, LineStored)] == [2]
    assert "Towel clips, two." in out
    assert str(journal) in out


def test_the_report_is_that_of_a_replay(
    tmp_path: Path, recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With --json there is one object at the end, and nothing else."""
    code, _ = run(tmp_path, "--from", recording, "--no-sound-check", "--json")
    report = json.loads(capsys.readouterr().out)

    assert code == 0
    assert report["items"]["towel_clip"]["counted"] == 2


def test_the_sound_check_comes_first_and_is_kept(
    tmp_path: Path, recording: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The check is repeated until nothing has to be put right, and its last result is a record."""
    results = [problem_check(), good_check()]
    monkeypatch.setattr(run_module, "check_sound", lambda *_: results.pop(0))
    _, journal = run(tmp_path, "--from", recording)
    checks = [e for e in load_whole_part(journal, CODEC).events if isinstance(e, SoundChecked)]

    assert not results
    assert [check.problems for check in checks] == [()]


def test_a_sound_check_that_never_passes_does_not_hold_up_the_case(
    tmp_path: Path, recording: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After three tries the case goes on, and the record says what was wrong."""
    asked = []
    monkeypatch.setattr(run_module, "check_sound", lambda *_: asked.append(1) or problem_check())
    _, journal = run(tmp_path, "--from", recording)
    (check,) = [e for e in load_whole_part(journal, CODEC).events if isinstance(e, SoundChecked)]

    assert len(asked) == run_module.CHECKS
    assert [found.stops for found in check.problems] == [True]


def rows() -> tuple[ChannelSound, ...]:
    return tuple(
        ChannelSound(channel, who, -25.0, -60.0, 0.0, None)
        for channel, who in ((1, "scrub"), (0, "circulator"))
    )


def good_check() -> SoundCheck:
    return SoundCheck(rows(), (), {"scrub": 1, "circulator": 0})


def problem_check() -> SoundCheck:
    return SoundCheck(rows(), (Problem(Finding.TOO_QUIET, 1, "scrub", stops=True),), {"scrub": 1})


def test_the_sound_check_tells_whose_channel_is_whose() -> None:
    """Roles come from the check, else from what is remembered, else left is the scrub's."""
    remembered = Settings(roles=(Role.CIRCULATOR, Role.SCRUB))
    usual = {0: Role.SCRUB, 1: Role.CIRCULATOR}
    other = {0: Role.CIRCULATOR, 1: Role.SCRUB}

    assert run_module._roles(Settings(), None) == usual
    assert run_module._roles(remembered, None) == other
    assert run_module._roles(Settings(), good_check()) == other
    assert run_module._roles(remembered, problem_check()) == other


def test_in_noise_fewer_wrong_numbers_are_allowed() -> None:
    """The recogniser is made stricter while it is loud, and as usual when it is quiet again."""
    hearing = Hearing()
    watched = Watched(FakeSource(np.zeros(0, np.float32)), lambda: False)

    class FakeRoom:
        def note(self, *_: Any) -> None:
            """Keep nothing."""

    keep = run_module.keeper(FakeRoom(), watched, hearing)  # type: ignore[arg-type]
    allowed = []
    for state in (Noise.TOO_LOUD, Noise.LOUD, Noise.FINE):
        watched.state = state
        keep(run_module.Note(SoundChecked.of(good_check(), 0.0), "x", urgent=False))
        allowed.append(hearing.factor)

    assert allowed == sorted(allowed)
    assert allowed[-1] == 1.0


def devices(*names: str, channels: int = 2) -> tuple[Device, ...]:
    return tuple(
        Device(at, name, "fake", channels, 48_000, default=not at) for at, name in enumerate(names)
    )


@pytest.mark.parametrize(
    ("names", "wanted", "told"),
    [
        ((), None, "microphone"),
        (("Inner", "USB A"), "xyz", "xyz"),
    ],
)
def test_a_microphone_that_is_not_there_is_one_line(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    names: tuple[str, ...],
    wanted: str | None,
    told: str,
) -> None:
    """Without the microphone that is meant, one line says what there is; nothing is begun."""
    monkeypatch.setattr(ears_module, "microphones", lambda: devices(*names))
    code, journal = run(tmp_path, *(["--microphone", wanted] if wanted else []))
    err = capsys.readouterr().err

    assert code == 2
    assert told in err
    assert len(err.splitlines()) == 1
    assert not journal.exists()


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--microphone", "Inner", "--microphone", "Inner"], "is chosen for both people"),
        (["--microphone", "Inner", "--microphone", "xyz"], "xyz"),
        (["--microphone", "Inner", "--microphone", "USB", "--one-channel"], "--one-channel"),
        (["--microphone", "a", "--microphone", "b", "--microphone", "c"], "once or twice"),
    ],
)
def test_two_microphones_that_do_not_go_together_are_one_line(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    more: list[str],
    told: str,
) -> None:
    """The same one twice, an unknown one, one channel of two, or three: nothing is begun."""
    monkeypatch.setattr(ears_module, "microphones", lambda: devices("Inner", "USB A"))
    code, journal = run(tmp_path, *more)
    err = capsys.readouterr().err

    assert code == 2
    assert told in err
    assert len(err.splitlines()) == 1
    assert not journal.exists()


def test_two_headsets_are_two_channels_and_remembered(
    tmp_path: Path, recording: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A microphone for each person: the case has two channels, and both names serve the next."""
    asked = with_devices(monkeypatch, recording, one_each=True)
    monkeypatch.setattr(ears_module, "measure", lambda *_: RoomSound(0.2, Echo((-30.0, -30.0))))
    both = ["--microphone", "Inner", "--microphone", "USB"]
    code, journal = run(tmp_path, "--no-sound-check", *both)
    opened = load_whole_part(journal, CODEC).events[0]
    journal.unlink()

    assert code == 0
    assert isinstance(opened, CaseOpened)
    assert opened.roles_told_apart
    assert read_settings().second_input_device is not None
    assert run(tmp_path, "--no-sound-check")[0] == 0
    assert len(asked) == 4
    assert asked[:2] == asked[2:]


def test_a_recording_that_is_none_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file without sound is told with its name."""
    wrong = tmp_path / "no.wav"
    wrong.write_text("nothing")
    code, _ = run(tmp_path, "--from", wrong)

    assert code == 2
    assert "no.wav" in capsys.readouterr().err


def test_the_devices_of_a_case_are_remembered(tmp_path: Path) -> None:
    """Names of microphone and loudspeaker are kept for the next case; a file is no device."""
    write_settings(Settings(spoken=Spoken.NEEDED))
    ears = Ears(None, None, None, "USB A", "Speaker", RoomSound(0.3, Echo((-20.0,))))  # type: ignore[arg-type]
    run_module._remember(
        read_settings(), run_module.Options(wanted=Wanted(from_file=tmp_path)), ears
    )
    assert read_settings().input_device is None
    run_module._remember(read_settings(), run_module.Options(), ears)

    kept = read_settings()
    assert (kept.input_device, kept.output_device, kept.room_tail) == ("USB A", "Speaker", 0.3)
    assert (kept.room_echo, kept.spoken) == ((-20.0,), Spoken.NEEDED)
    assert issubclass(DeviceError, VoicecountError)


def test_a_case_goes_on_after_a_stop(
    tmp_path: Path, recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same journal is written on, its times lie after the stop, and where it stands is told."""
    _, journal = run(tmp_path, "--from", recording, "--no-sound-check")
    before = load_whole_part(journal, CODEC).events
    capsys.readouterr()
    code, _ = run(tmp_path, "--from", recording, "--no-sound-check", "--resume")
    after = load_whole_part(journal, CODEC).events

    assert code == 0
    assert "Going on with First try." in capsys.readouterr().out
    assert after[: len(before)] == before
    assert len(after) > len(before)
    assert all(event.at >= before[-1].at for event in after[len(before) :])


def test_going_on_needs_a_journal(capsys: pytest.CaptureFixture[str], recording: Path) -> None:
    """Without the journal to go on with, one line says what is missing."""
    assert main(["run", SHEET, "--resume", "--from", str(recording)]) == 2
    assert "--journal" in capsys.readouterr().err


def test_going_on_needs_as_many_channels(
    tmp_path: Path, recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A journal of two channels is not gone on with by one microphone."""
    run(tmp_path, "--from", recording, "--no-sound-check")
    sound, rate = soundfile.read(recording, dtype="float32")
    soundfile.write(tmp_path / "one.wav", sound[:, 0], rate)
    code, _ = run(tmp_path, "--from", tmp_path / "one.wav", "--no-sound-check", "--resume")

    assert code == 2
    assert "was kept with two channels" in capsys.readouterr().err


class QuietLoudspeaker:
    """A loudspeaker that nobody hears."""

    cut = False

    def __init__(self, name: str) -> None:
        self.name = name

    def stop(self) -> None:
        """Do nothing."""

    def play(self, clip: Clip) -> None:
        """Play nothing."""


def with_devices(
    monkeypatch: pytest.MonkeyPatch, recording: Path, *, one_each: bool = False
) -> list[str]:
    """Put a recording behind a microphone's name; the names that were asked for.

    ``one_each``: each device gives its own channel of it.
    """
    asked: list[str] = []
    parts = []
    if one_each:
        sound, rate = soundfile.read(recording, dtype="float32")
        for channel in (0, 1):
            parts.append(recording.with_name(f"channel {channel}.wav"))
            soundfile.write(parts[-1], sound[:, channel], rate)

    def fake(part: str, channels: int, clock: Clock, *, changed: Any) -> DeviceSource:
        asked.append(part)
        capture = FileCapture(parts[part.startswith("USB")] if parts else recording, clock)
        assert channels == capture.channels
        return DeviceSource(lambda: capture, channels, clock, changed=changed)

    monkeypatch.setattr(ears_module, "microphones", lambda: devices("Inner", "USB A"))
    monkeypatch.setattr(ears_module, "loudspeakers", lambda: devices("Desk"))
    monkeypatch.setattr(ears_module, "microphone", fake)
    monkeypatch.setattr(ears_module, "DeviceSpeaker", QuietLoudspeaker)
    return asked


def test_a_case_with_devices_is_measured_and_remembered(
    tmp_path: Path, recording: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A room that was never measured is measured once; devices and room serve the next case."""
    asked = with_devices(monkeypatch, recording)
    measured: list[str] = []

    def measure(*_: Any) -> RoomSound:
        measured.append("once")
        return RoomSound(0.2, Echo((-30.0, -30.0)))

    monkeypatch.setattr(ears_module, "measure", measure)
    code, journal = run(tmp_path, "--no-sound-check", "--microphone", "usb", "--spoken", "needed")
    kept = read_settings()
    journal.unlink()
    assert code == 0
    assert run(tmp_path, "--no-sound-check")[0] == 0

    assert "USB A" in asked[0]
    assert asked[1] == asked[0]
    assert measured == ["once"]
    assert (kept.room_tail, kept.room_echo, kept.spoken) == (0.2, (-30.0, -30.0), Spoken.NEEDED)
    assert kept.output_device is not None


def test_a_room_that_cannot_be_measured_is_told(
    tmp_path: Path,
    recording: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Without a measure the case goes on with a careful guess, and one line says so."""
    with_devices(monkeypatch, recording)

    def measure(*_: Any) -> RoomSound:
        raise DeviceError("the room does not fall quiet")

    monkeypatch.setattr(ears_module, "measure", measure)
    code, _ = run(tmp_path, "--no-sound-check", "--microphone", "usb")

    assert code == 0
    assert "the room is not measured" in capsys.readouterr().err
    assert read_settings().room_tail is None
