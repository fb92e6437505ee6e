"""Voices: a text becomes sound that is there, or one line says why not."""

import os
import shutil
import subprocess
import sys
import textwrap
import threading
import time
import types
from collections.abc import Callable
from importlib.metadata import distribution
from pathlib import Path
from typing import Any, Self

import numpy as np
import pytest
import soundfile

from voicecount.errors import ModelError, VoiceError
from voicecount.sound import choose as devices
from voicecount.sound.choose import Device
from voicecount.speak import embedded, player
from voicecount.speak.choose import FallbackVoice, choose_voice, default_kind
from voicecount.speak.embedded import EmbeddedVoice, check_sha256
from voicecount.speak.phrases import NUMBER_PAUSE, SENTENCE_PAUSE, phrases, with_commas
from voicecount.speak.player import DeviceSpeaker, FileSpeaker, SilentSpeaker
from voicecount.speak.port import Clip, Voice
from voicecount.speak.system import SystemVoice
from voicecount.testing.voice import FakeVoice


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Gauze, ten.", ["Gauze,", "ten."]),
        ("Gauze, fifteen, one five.", ["Gauze,", "fifteen,", "one five."]),
        ("After three I heard five.", ["After,", "three,", "I heard,", "five."]),
        ("Say it again. Gauze?", ["Say it again.", "Gauze?"]),
        ("Twenty-one needles", ["Twenty-one,", "needles."]),
        ("one hundred twelve gauze", ["one hundred twelve,", "gauze."]),
        ("12 gauze", ["12,", "gauze."]),
        ("", []),
        (" , . ", []),
    ],
)
def test_numbers_stand_alone_between_pauses(text: str, expected: list[str]) -> None:
    """A sentence is cut at its marks and around every number."""
    assert [phrase.text for phrase in phrases(text)] == expected


def test_every_number_has_its_pauses() -> None:
    """At least the number's pause stands before and after a number in a sentence."""
    first, number, last = phrases("I have three so far. ")

    assert number.number
    assert first.pause == number.pause == NUMBER_PAUSE
    assert last.pause == 0.0


def test_sentences_are_further_apart() -> None:
    """Between two sentences the pause is the longest, and none follows the last word."""
    assert [phrase.pause for phrase in phrases("Not stored. Again.")] == [SENTENCE_PAUSE, 0.0]


def test_a_name_that_holds_a_number_stays_whole() -> None:
    """A name given as one that belongs together is not pulled apart at its number word."""
    assert with_commas("Ten blade, two.", ["ten blade"]) == "Ten blade, two."
    assert with_commas("Ten blade, two.") == "Ten, blade, two."


@pytest.fixture(scope="module")
def voice() -> EmbeddedVoice:
    return EmbeddedVoice.load()


def longest_pause(clip: Clip, threshold: float = 0.005) -> float:
    """Seconds of the longest silence between two sounds."""
    loud = np.flatnonzero(np.abs(clip.samples) > threshold)
    return float(np.diff(loud).max()) / clip.rate


@pytest.mark.audio
def test_the_voice_keeps_nothing_of_a_long_text(voice: EmbeddedVoice) -> None:
    """Its model has no arena, which would hold what the longest phrase ever needed."""
    assert not voice._engine.sess.get_session_options().enable_cpu_mem_arena


@pytest.mark.audio
def test_the_embedded_voice_speaks(voice: EmbeddedVoice) -> None:
    """It gives audible sound at 24 kHz within full scale, the same every time."""
    clip = voice.speak("Gauze, ten.")

    assert clip.rate == 24_000
    assert 0.8 < clip.seconds < 3.0
    assert 0.05 < float(np.abs(clip.samples).max()) <= 1.0
    assert np.array_equal(clip.samples, voice.speak("Gauze, ten.").samples)
    assert voice.name == f"embedded (hibari-tts {distribution('hibari-tts').version})"


@pytest.mark.audio
def test_the_embedded_voice_pauses_around_a_number(voice: EmbeddedVoice) -> None:
    """The silence before a number is at least as long as planned."""
    assert longest_pause(voice.speak("I heard five.")) >= NUMBER_PAUSE


@pytest.mark.audio
def test_the_embedded_voice_needs_no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Loading and speaking a name from no dictionary opens no socket."""

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr("socket.socket", refuse)
    assert EmbeddedVoice.load().speak("Zweetrup, two.").seconds > 0.5


@pytest.mark.audio
def test_an_empty_text_is_no_sound(voice: EmbeddedVoice) -> None:
    """Nothing to say is an error, not a silent success."""
    with pytest.raises(VoiceError, match="nothing to say"):
        voice.speak(" ")


@pytest.mark.parametrize("sound", [np.zeros(0), np.zeros(100), np.full(100, np.nan)])
def test_a_silent_engine_is_noticed(sound: Any) -> None:
    """A phrase without sound is an error, not a silent success."""
    silent = EmbeddedVoice(lambda *_, **__: sound, "0")
    with pytest.raises(VoiceError, match="made no sound"):
        silent.speak("Gauze.")


def test_altered_weights_are_refused(tmp_path: Path) -> None:
    """A file with other bytes, or none, is one line with what to do."""
    (tmp_path / "weights").write_bytes(b"abc")
    # FIPS 180-2, appendix B.1: the digest of "abc".
    check_sha256(
        tmp_path / "weights", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )
    with pytest.raises(ModelError, match="install voicecount again"):
        check_sha256(tmp_path / "weights", "0" * 64)
    with pytest.raises(ModelError, match="cannot be read"):
        check_sha256(tmp_path / "none", "0" * 64)


def test_a_missing_package_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without its package the embedded voice says which one is missing."""
    monkeypatch.setattr(embedded, "_PACKAGE", "no-such-package-of-ours")
    with pytest.raises(ModelError, match="no-such-package-of-ours is not installed"):
        EmbeddedVoice.load()


def stub(tmp_path: Path, body: str) -> list[str]:
    """A worker of the system voice that runs ``body`` with ``path`` and ``text``."""
    script = tmp_path / "stub.py"
    head = "import sys, os, time, wave, struct\npath = sys.argv[1]\ntext = sys.stdin.read()\n"
    script.write_text(head + textwrap.dedent(body))
    return [sys.executable, str(script)]


WRITE = """
    def write(values, rate=22050):
        with wave.open(path, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(rate)
            file.writeframes(struct.pack(f"<{len(values)}h", *values))
"""


def test_the_system_voice_reads_its_workers_file(tmp_path: Path) -> None:
    """The worker's sound comes back as it was written, whatever it prints."""
    worker = stub(tmp_path, WRITE + "    print('noise')\n    write([9000, -9000] * 4000)\n")
    clip = SystemVoice(worker=worker).speak("Gauze, ten.")

    assert clip.rate == 22050
    assert clip.samples.shape == (8000,)
    assert clip.samples.dtype == np.float32


def test_the_system_voice_gets_commas_around_numbers(tmp_path: Path) -> None:
    """The text that the worker is given pauses at its numbers."""
    seen = tmp_path / "seen"
    worker = stub(
        tmp_path, WRITE + f"    open({str(seen)!r}, 'w').write(text)\n    write([9] * 9)\n"
    )
    with pytest.raises(VoiceError):
        SystemVoice(worker=worker).speak("I heard five")

    assert seen.read_text() == "I heard, five."


@pytest.mark.parametrize(
    ("body", "message"),
    [
        ("pass", "wrote no sound"),
        ("open(path, 'w').close()", "wrote no sound"),
        ("open(path, 'w').write('x' * 100)", "no sound"),
        (WRITE + "    write([0] * 9000)", "wrote silence"),
        (WRITE + "    write([])", "wrote silence"),
        (WRITE + "    write([9000] * 100)", "wrote silence"),
        ("sys.exit('engine missing')", "failed .engine missing"),
        ("os._exit(7)", "failed .exit code 7"),
    ],
)
def test_a_system_voice_that_gives_no_sound_is_an_error(
    tmp_path: Path, body: str, message: str
) -> None:
    """No file, an empty one, none of sound, silence, or a failed worker is one line each."""
    with pytest.raises(VoiceError, match=message) as caught:
        SystemVoice(worker=stub(tmp_path, body)).speak("Gauze.")

    assert "\n" not in str(caught.value)


@pytest.mark.skipif(os.name == "nt", reason="process groups are POSIX")
def test_a_hanging_system_voice_is_killed_with_its_children(tmp_path: Path) -> None:
    """After the limit the worker and what it started are gone, and one line says so."""
    pids = tmp_path / "pids"
    body = f"""
        import subprocess
        child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(600)"])
        open({str(pids)!r}, "w").write(f"{{os.getpid()}} {{child.pid}}")
        time.sleep(600)
    """
    with pytest.raises(VoiceError, match=r"no answer in 1\.5 seconds"):
        SystemVoice(worker=stub(tmp_path, body), limit=1.5).speak("Gauze.")
    until = time.monotonic() + 5
    while any(runs(int(pid)) for pid in pids.read_text().split()):
        assert time.monotonic() < until


def runs(pid: int) -> bool:
    """Whether a process is there and no zombie."""
    answer = subprocess.run(["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, check=False)
    return answer.stdout.strip()[:1] not in {b"", b"Z"}


def test_a_worker_that_cannot_start_is_an_error() -> None:
    """A command that does not exist is one line."""
    with pytest.raises(VoiceError, match="could not be started"):
        SystemVoice(worker=["/no/such/program"]).speak("Gauze.")


@pytest.mark.audio
@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="needs espeak-ng")
def test_the_real_system_voice_speaks() -> None:
    """pyttsx3 with espeak-ng gives audible sound, twice in a row."""
    voice = SystemVoice()
    for text in ("Gauze, ten.", "Say it again."):
        clip = voice.speak(text)
        assert 0.5 < clip.seconds < 5.0
        assert float(np.abs(clip.samples).max()) > 0.05


def choose(kind: str | None, makers: dict[str, Any]) -> tuple[Voice | None, list[str]]:
    announced: list[str] = []
    return choose_voice(kind, announce=announced.append, makers=makers), announced


def missing() -> Voice:
    raise ModelError("weights are gone; install again")


def test_linux_speaks_with_the_embedded_voice() -> None:
    """The default is the embedded voice on Linux and the system's elsewhere."""
    assert default_kind("linux") == "embedded"
    assert default_kind("darwin") == default_kind("win32") == "system"


def test_no_voice_can_be_chosen() -> None:
    """``none`` is no voice at all."""
    assert choose("none", {}) == (None, [])


def test_a_voice_asked_for_by_name_has_no_second() -> None:
    """When the named voice cannot be had, the error is shown, not another voice."""
    with pytest.raises(ModelError):
        choose("embedded", {"embedded": missing, "system": FakeVoice})


def test_a_missing_default_voice_is_replaced_and_announced() -> None:
    """The other voice speaks instead, and one line says so."""
    first = default_kind()
    second = "system" if first == "embedded" else "embedded"
    voice, announced = choose(None, {first: missing, second: FakeVoice})

    assert voice is not None
    assert voice.speak("Gauze.").seconds > 0
    assert announced == ["weights are gone; install again; the fake voice voice speaks instead"]


def test_a_voice_that_fails_later_is_replaced_for_good_and_announced_once() -> None:
    """The failed text is spoken by the second voice, which stays."""
    first, second, announced = FakeVoice(failing=["bad"]), FakeVoice(), list[str]()
    voice = FallbackVoice(first, lambda: second, announced.append)
    for text in ("good", "bad", "good"):
        voice.speak(text)

    assert (first.said, second.said) == (["good"], ["bad", "good"])
    assert len(announced) == 1


def test_when_both_voices_fail_the_error_is_shown() -> None:
    """Nothing is spoken silently: the second failure is raised."""
    voice = FallbackVoice(FakeVoice(["bad"]), lambda: FakeVoice(["bad"]), lambda _: None)
    for _ in range(2):
        with pytest.raises(VoiceError):
            voice.speak("bad")


def test_spoken_clips_are_collected_in_a_file(tmp_path: Path) -> None:
    """The file holds all clips in order at the first one's rate."""
    with FileSpeaker(tmp_path / "said.wav") as speaker:
        speaker.play(Clip(np.full(800, 0.5, np.float32), 8000))
        speaker.play(Clip(np.full(1600, 0.25, np.float32), 16000))
    samples, rate = soundfile.read(tmp_path / "said.wav")

    assert rate == 8000
    assert len(samples) == 2 * 800 + 2 * 3200
    assert samples[400] == pytest.approx(0.5, abs=0.001)
    assert samples[4400] == pytest.approx(0.25, abs=0.02)


def test_a_file_that_cannot_be_written_is_an_error(tmp_path: Path) -> None:
    """A missing folder is one line; nothing said leaves no file."""
    FileSpeaker(tmp_path / "none.wav").close()
    speaker = FileSpeaker(tmp_path / "none" / "said.wav")
    speaker.play(Clip(np.ones(8, np.float32), 8000))
    with pytest.raises(VoiceError, match="choose another file"):
        speaker.close()

    assert list(tmp_path.iterdir()) == []


def test_the_silent_speaker_returns() -> None:
    """Playing to nowhere does nothing."""
    SilentSpeaker().play(Clip(np.ones(8, np.float32), 8000))


class FakeDevice(types.ModuleType):
    """What sounddevice offers, as far as it is used; notes the order of calls.

    It asks for 20 ms at a time in a thread of its own, as fast as it can; ``asked`` runs before
    each time, and ``stuck`` never asks.
    """

    class PortAudioError(Exception):
        pass

    class CallbackStop(Exception):  # noqa: N818 - the library's name
        pass

    def __init__(self, *, failing: bool = False, stuck: bool = False) -> None:
        super().__init__("sounddevice")
        self.failing = failing
        self.stuck = stuck
        self.calls: list[str] = []
        self.heard = np.zeros(0, np.float32)
        self.latency = 0.1
        self.asked: Callable[[], None] = lambda: None
        self.aborted = threading.Event()

    def query_devices(self, *_: object) -> dict[str, float]:
        if self.failing:
            raise self.PortAudioError("Error querying device -1")
        return {"default_samplerate": 48000.0}

    def OutputStream(self, **options: Any) -> Self:  # noqa: N802 - the library's name
        self.calls.append(f"open {options['samplerate']}")
        self.options = options
        self.heard = np.zeros(0, np.float32)
        self.aborted.clear()
        return self

    def start(self) -> None:
        self.calls.append("start")
        if not self.stuck:
            self.thread = threading.Thread(target=self.run)
            self.thread.start()

    def run(self) -> None:
        goes_on = True
        while goes_on and not self.aborted.is_set():
            self.asked()
            out = np.full((self.options["blocksize"], 1), np.nan, np.float32)
            try:
                self.options["callback"](out, len(out), None, None)
            except self.CallbackStop:
                goes_on = False
            self.heard = np.concatenate((self.heard, out[:, 0]))
        self.options["finished_callback"]()

    def abort(self) -> None:
        self.calls.append("abort")
        self.aborted.set()

    def close(self) -> None:
        self.calls.append("close")
        if not self.stuck:
            self.aborted.set()
            self.thread.join()


def test_the_device_plays_at_its_own_rate_to_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sound is resampled once; play returns when the device took as much silence as it may hold."""
    device = FakeDevice()
    monkeypatch.setitem(sys.modules, "sounddevice", device)
    speaker = DeviceSpeaker()
    speaker.play(Clip(np.ones(2400, np.float32), 24000))

    assert device.calls == ["open 48000", "start", "close"]
    assert len(device.heard) >= 4800 + 4800
    assert np.median(device.heard[:4800]) == pytest.approx(1.0, abs=0.01)
    assert not device.heard[4800:].any()
    assert not speaker.cut


def test_the_voice_can_be_cut_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped from another thread, nothing more is handed over and what waits is dropped.

    The next clip is whole again.
    """
    device = FakeDevice()
    monkeypatch.setitem(sys.modules, "sounddevice", device)
    speaker = DeviceSpeaker()

    def stop() -> None:
        if len(device.heard) == 9600:
            speaker.stop()
            device.aborted.wait(10.0)

    device.asked = stop
    speaker.play(Clip(np.ones(240_000, np.float32), 24000))

    assert device.calls == ["open 48000", "start", "abort", "close"]
    assert len(device.heard) < 12_000
    assert speaker.cut
    device.asked = lambda: None
    speaker.play(Clip(np.ones(2400, np.float32), 24000))
    assert device.calls[4:] == ["open 48000", "start", "close"]
    assert not speaker.cut


def test_a_device_that_takes_no_sound_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """A loudspeaker that is pulled out while it plays is one line, never a wait for ever."""
    device = FakeDevice(stuck=True)
    monkeypatch.setitem(sys.modules, "sounddevice", device)
    monkeypatch.setattr(player, "_PATIENCE_SECONDS", 0.05)
    with pytest.raises(VoiceError, match="takes no sound any more"):
        DeviceSpeaker().play(Clip(np.ones(8, np.float32), 8000))

    assert device.calls == ["open 48000", "start", "abort", "close"]


def test_a_stop_when_nothing_plays_stops_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """A stop that comes too late does not cut the next clip."""
    device = FakeDevice()
    monkeypatch.setitem(sys.modules, "sounddevice", device)
    speaker = DeviceSpeaker()
    speaker.stop()
    speaker.play(Clip(np.ones(8, np.float32), 8000))

    assert device.calls == ["open 48000", "start", "close"]
    assert not speaker.cut


def test_a_loudspeaker_is_found_by_name_at_every_clip(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its number may change between two clips; a name that is gone is one line."""
    device = FakeDevice()
    monkeypatch.setitem(sys.modules, "sounddevice", device)
    found = [Device(4, "Desk", "ALSA", 2, 16_000), Device(7, "Desk", "ALSA", 2, 16_000)]
    lists = iter([(found[0],), (found[1],), ()])
    monkeypatch.setattr(devices, "loudspeakers", lambda: next(lists))
    speaker = DeviceSpeaker("desk")
    numbers = []
    for _ in range(2):
        speaker.play(Clip(np.ones(8, np.float32), 8000))
        numbers.append(device.options["device"])

    assert numbers == [4, 7]
    assert device.options["samplerate"] == 16_000
    with pytest.raises(VoiceError, match="no loudspeaker; connect one"):
        speaker.play(Clip(np.ones(8, np.float32), 8000))


def test_a_missing_device_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a loudspeaker one line says what to do."""
    monkeypatch.setitem(sys.modules, "sounddevice", FakeDevice(failing=True))
    with pytest.raises(VoiceError, match="connect a loudspeaker"):
        DeviceSpeaker().play(Clip(np.ones(8, np.float32), 8000))


def test_sounddevice_is_loaded_only_where_sound_is_played() -> None:
    """Importing the player does not load PortAudio."""
    code = "import sys, voicecount.speak.player; sys.exit('sounddevice' in sys.modules)"

    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
