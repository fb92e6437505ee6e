"""A device as a source: rates, losses in numbers, absence and return, all on a fake card."""

import sys
import types
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from voicecount.errors import RecordingError
from voicecount.keep.clock import SystemClock
from voicecount.sound import choose, portaudio
from voicecount.sound.capture import Capture, MicrophoneCapture
from voicecount.sound.choose import Device
from voicecount.sound.device import DeviceSource, microphone
from voicecount.sound.frame import RATE, Frame
from voicecount.sound.playback import FileCapture
from voicecount.sound.portaudio import DeviceError
from voicecount.sound.segment import Segmenter
from voicecount.sound.timeline import Why
from voicecount.sound.watchdog import Change, Code, Health
from voicecount.testing.capture import CardClock, FakeCard

Sound = NDArray[np.float32]


def hiss(seconds: float, rate: int, channels: int = 1) -> Sound:
    """A microphone in a quiet room."""
    shape = (round(seconds * rate), channels)
    return np.random.default_rng(3).normal(0, 0.001, shape).astype(np.float32)


def sine(seconds: float, rate: int, hertz: float = 440.0) -> Sound:
    time = np.arange(round(seconds * rate)) / rate
    return (0.5 * np.sin(2 * np.pi * hertz * time)).astype(np.float32)


class Rig:
    """A fake card that is read as a source, on a fake clock."""

    def __init__(self, sound: Sound, rate: int, **card: Any) -> None:
        self.clock = CardClock()
        self.card = FakeCard(self.clock, sound, rate, **card)
        self.changes: list[Change] = []
        self.frames: list[Frame] = []
        self.source = DeviceSource(
            self.card.opener, self.card.sound.shape[1], self.clock, changed=self.changes.append
        )

    def read(self, until: float) -> list[Frame]:
        """Read everything until a time of the clock."""
        while self.clock.monotonic() < until:
            frame = self.source.read(0.1)
            if frame is not None:
                self.frames.append(frame)
        while (frame := self.source.read(0.0)) is not None:
            self.frames.append(frame)
        return self.frames

    def codes(self) -> list[Code]:
        return [change.code for change in self.changes]


def laid_out(frames: list[Frame], channel: int = 0) -> Sound:
    """The sound of frames at the places that they name; gaps are silence."""
    end = frames[-1].start + len(frames[-1].samples) / RATE
    sound = np.zeros(round(end * RATE) + 1, np.float32)
    for frame in frames:
        first = round(frame.start * RATE)
        sound[first : first + len(frame.samples)] = frame.samples[:, channel]
    return sound


def without_gaps(frames: list[Frame]) -> bool:
    return all(
        after.start == pytest.approx(before.start + len(before.samples) / RATE, abs=1e-6)
        for before, after in pairwise(frames)
    )


@pytest.mark.parametrize("rate", [8_000, 16_000, 44_100, 48_000, 96_000])
def test_any_rate_becomes_one(rate: int) -> None:
    """A tone stays the same tone at the same time, whatever the device's own rate."""
    rig = Rig(sine(3.0, rate), rate)
    frames = rig.read(3.0)
    sound, expected = laid_out(frames), sine(3.0, RATE)
    whole = slice(RATE // 2, 2 * RATE)

    assert without_gaps(frames)
    assert not any(frame.lost for frame in frames)
    assert len(sound) / RATE == pytest.approx(3.0, abs=0.13)  # the filter holds some back
    assert np.abs(sound[whole] - expected[whole]).max() < 0.01
    assert rig.source.account.delivered == pytest.approx(3.0, abs=0.03)
    assert rig.source.account.missing == 0.0


def test_two_channels_stay_apart() -> None:
    """Each channel of a device comes out as itself."""
    sound = np.stack((sine(2.0, 48_000, 300.0), sine(2.0, 48_000, 800.0)), axis=1)
    frames = Rig(sound, 48_000).read(2.0)
    for channel, hertz in enumerate((300.0, 800.0)):
        spectrum = np.abs(np.fft.rfft(laid_out(frames, channel)[: RATE * 3 // 2]))
        assert np.argmax(spectrum) / 1.5 == pytest.approx(hertz, abs=1.0)


def test_the_place_of_sound_is_the_same_at_every_rate() -> None:
    """A click stands at its own time, to a millisecond, after resampling (the filter's delay)."""
    for rate in (44_100, 48_000):
        sound = np.zeros(2 * rate, np.float32)
        sound[rate] = 1.0
        found = laid_out(Rig(sound, rate).read(2.0))
        assert np.argmax(np.abs(found)) / RATE == pytest.approx(1.0, abs=0.001)


@pytest.mark.parametrize("reported", [True, False])
@pytest.mark.parametrize("seconds", [0.1, 0.35, 2.0])
def test_lost_sound_is_marked_where_it_is_missing(seconds: float, reported: bool) -> None:
    """Sound lost in the device shows as a gap of its length at its place, told or found."""
    rig = Rig(hiss(9.0, 44_100), 44_100)
    rig.card.lose(3.0, seconds, reported=reported)
    frames = rig.read(8.0)
    [first_lost] = [frame for frame in frames if frame.lost]
    before = [frame for frame in frames if frame.start < first_lost.start]
    gap = first_lost.start - (before[-1].start + len(before[-1].samples) / RATE)
    account = rig.source.account

    assert gap == pytest.approx(seconds, abs=0.025)
    assert first_lost.start == pytest.approx(3.0 + seconds, abs=0.03)
    assert account.missing == pytest.approx(seconds, abs=0.025)
    assert [missing.seconds > 0 for missing in account.latest].count(True) == 1
    assert account.delivered + account.missing == pytest.approx(rig.source.now(), abs=0.05)


def test_a_reported_loss_too_short_to_measure_is_marked() -> None:
    """The device's word is enough: the frame is marked, its length entered as nothing."""
    rig = Rig(hiss(4.0, 48_000), 48_000)
    rig.card.lose(2.0, 0.005)
    frames = rig.read(4.0)

    assert [round(frame.start, 1) for frame in frames if frame.lost] == [2.0]
    assert rig.source.account.times[Why.OVERFLOW] == 1
    assert rig.source.account.missing == 0.0


def test_short_losses_that_nobody_reports_are_found_when_they_add_up() -> None:
    """Ten times 20 ms are found in full, though each alone is too short to be sure of."""
    rig = Rig(hiss(12.0, 48_000), 48_000)
    for second in range(1, 11):
        rig.card.lose(float(second), 0.02, reported=False)
    frames = rig.read(12.0)

    assert any(frame.lost for frame in frames)
    assert rig.source.account.missing == pytest.approx(0.2, abs=0.07)


def test_a_busy_machine_loses_nothing() -> None:
    """Blocks that come late, all at once, are no loss and stand at their own times."""
    sound = sine(4.0, 48_000)
    rig = Rig(sound, 48_000)
    rig.card.stall(1.0, 1.6)
    frames = rig.read(4.0)
    whole = slice(RATE // 2, 3 * RATE)

    assert not any(frame.lost for frame in frames)
    assert without_gaps(frames)
    assert np.abs(laid_out(frames)[whole] - sine(4.0, RATE)[whole]).max() < 0.01


@pytest.mark.parametrize("slow", [-0.0002, 0.0002])
def test_a_clock_that_is_off_is_no_loss(slow: float) -> None:
    """A sound card off by 200 in a million (twice the usual limit) loses nothing in five minutes.

    And the stream's time stays with the clock.
    """
    rig = Rig(hiss(310.0, 16_000), 16_000, slow=slow, block=0.05)
    while rig.clock.monotonic() < 300.0:
        rig.clock.advance(0.5)
        rig.read(rig.clock.monotonic() + 0.01)

    assert rig.source.account.missing == 0.0
    assert rig.frames[-1].start == pytest.approx(rig.source.now(), abs=0.2)


def test_a_reader_that_is_too_far_behind_is_counted() -> None:
    """What the queue could not hold is missing to the sample, and marked."""
    clock = CardClock()
    card = FakeCard(clock, hiss(10.0, 48_000), 48_000)
    source = DeviceSource(card.opener, 1, clock, queue_seconds=2.0)
    source.open()
    clock.advance(5.0)
    frames = []
    while clock.monotonic() < 8.0:
        frames += [frame for frame in [source.read(0.05)] if frame is not None]

    assert [round(frame.start, 2) for frame in frames if frame.lost] == [5.0]
    assert source.account.seconds[Why.QUEUE] == pytest.approx(3.0, abs=1e-6)
    assert source.account.missing == pytest.approx(3.0, abs=1e-6)


def test_a_reader_that_is_busy_loses_nothing() -> None:
    """While a word is being recognised the sound waits."""
    rig = Rig(hiss(10.0, 48_000), 48_000)
    rig.read(2.0)
    rig.clock.advance(4.0)
    frames = rig.read(9.0)

    assert not any(frame.lost for frame in frames)
    assert without_gaps(frames)
    assert rig.changes == []


def test_a_vanished_device_is_told_within_a_second_and_comes_back_by_itself() -> None:
    """Gone, tried again and again, back; the stream's time went on and the gap is marked."""
    rig = Rig(hiss(20.0, 44_100), 44_100)
    rig.card.unplug(3.0, 9.0)
    frames = rig.read(15.0)
    gone, back = rig.changes
    [first_lost] = [frame for frame in frames if frame.lost]

    assert (gone.code, back.code) == (Code.GONE, Code.BACK)
    assert gone.at - 3.0 < 1.0
    assert back.at - 9.0 < 1.0
    assert first_lost.start == pytest.approx(9.0, abs=1.0)
    assert rig.source.account.seconds[Why.GONE] == pytest.approx(6.0, abs=1.0)
    assert rig.card.opened > 5
    assert rig.source.health is Health.OK
    assert frames[-1].start == pytest.approx(15.0, abs=0.2)


def test_no_frame_comes_while_the_device_is_gone() -> None:
    """Nobody's silence is made up: without a device there is no frame, so no quiet either."""
    rig = Rig(hiss(20.0, 44_100), 44_100)
    rig.card.unplug(3.0, 9.0)
    frames = rig.read(8.9)

    assert rig.source.health is Health.GONE
    assert frames[-1].start + len(frames[-1].samples) / RATE <= 3.0


def test_whoever_reads_has_a_turn_when_the_device_changes() -> None:
    """An empty frame comes with the news, at the time reached, and moves no time on."""
    rig = Rig(hiss(20.0, 44_100), 44_100)
    rig.card.unplug(3.0, 9.0)
    frames = iter(rig.source.frames())
    seen = [next(frames) for _ in range(3)]
    while not rig.changes:
        seen.append(next(frames))
    *_, last, news = seen

    assert len(news.samples) == 0
    assert news.start == last.start + len(last.samples) / RATE
    assert not news.lost
    assert rig.clock.monotonic() < 4.0
    segmenter = Segmenter(1)
    assert [segmenter.feed(frame) for frame in seen] == [[]] * len(seen)


def test_a_device_that_refuses_to_open_again_is_tried_until_it_does() -> None:
    """Back on its plug but refusing for a while: it goes on when it can."""
    rig = Rig(hiss(20.0, 16_000), 16_000)
    rig.card.unplug(2.0, 4.0)
    rig.card.refuse(4.0, 8.0)
    rig.read(12.0)

    assert rig.codes() == [Code.GONE, Code.BACK]
    assert 8.0 <= rig.changes[1].at < 9.0


def test_a_device_that_is_slow_to_begin_is_given_time() -> None:
    """Opened anew, a device that needs two seconds for its first block is not closed before."""
    rig = Rig(hiss(20.0, 16_000), 16_000)
    rig.card.unplug(2.0, 4.0)
    rig.card.stall(4.0, 6.0)
    rig.read(12.0)

    assert rig.codes() == [Code.GONE, Code.BACK]
    assert rig.changes[1].at == pytest.approx(6.0, abs=0.1)


def test_another_rate_after_the_return_is_no_matter() -> None:
    """The device may come back at another rate: sound and times stay right."""
    clock = CardClock()
    cards = [FakeCard(clock, sine(20.0, rate), rate) for rate in (44_100, 48_000)]
    cards[0].unplug(2.0, 99.0)
    captures = iter([cards[0].opener, cards[0].opener, *[cards[1].opener] * 9])

    def opener() -> Capture:
        return next(captures)()

    source = DeviceSource(opener, 1, clock)
    frames = []
    while clock.monotonic() < 6.0:
        frames += [frame for frame in [source.read(0.05)] if frame is not None]
    sound = laid_out(frames)
    spectrum = np.abs(np.fft.rfft(sound[4 * RATE : 5 * RATE]))

    assert np.argmax(spectrum) == 440
    assert frames[-1].start == pytest.approx(6.0, abs=0.1)


def test_a_device_that_cannot_be_opened_at_first_is_an_error() -> None:
    """Before anything was heard the error is raised, in one line, not waited for."""
    rig = Rig(hiss(5.0, 16_000), 16_000)
    rig.card.refuse(0.0, 9.0)
    with pytest.raises(DeviceError):
        next(rig.source.frames())


def test_a_dead_channel_is_told() -> None:
    """Exact zeros on one channel are told within a second, with the channel, and its return."""
    rig = Rig(hiss(8.0, 48_000, 2), 48_000)
    rig.card.mute(2.0, 5.0, channel=1)
    frames = rig.read(8.0)

    assert [(change.code, change.channel) for change in rig.changes] == [
        (Code.SILENT, 1),
        (Code.HEARD, 1),
    ]
    assert rig.changes[0].at - 2.0 < 1.0
    assert not any(frame.lost for frame in frames)


def test_samples_that_are_no_numbers_are_marked() -> None:
    """A damaged stretch is silent, marked, and counted."""
    sound = hiss(4.0, 16_000)
    sound[32_000:33_600] = np.nan
    rig = Rig(sound, 16_000)
    frames = rig.read(4.0)

    assert all(np.isfinite(frame.samples).all() for frame in frames)
    assert {round(frame.start, 1) for frame in frames if frame.lost} <= {2.0, 2.1}
    assert any(frame.lost for frame in frames)
    assert rig.source.account.seconds[Why.DAMAGED] == pytest.approx(0.1, abs=0.001)


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["lose", "lose unreported", "unplug", "stall"]),
        st.floats(0.1, 2.5),
        st.floats(0.5, 2.0),
    ),
    max_size=6,
)


@example([("unplug", 0.875, 0.5), ("unplug", 0.5, 0.5)], 8_000)  # gone again when just back
@settings(max_examples=40, deadline=None)
@given(STEPS, st.sampled_from([8_000, 11_025, 16_000]))
def test_all_sound_is_accounted_for(script: list[tuple[str, float, float]], rate: int) -> None:
    """Whatever a device does, what came and what is missing are the time that has passed.

    And no frame goes back in time, and every gap between two frames is marked.
    """
    now, plan = 1.0, []
    for kind, length, pause in script:
        plan.append((kind, now, length))
        now += length + pause
    end = now + 2.0
    rig = Rig(hiss(end + 1, rate), rate)
    for kind, at, length in plan:
        if kind == "unplug":
            rig.card.unplug(at, at + length)
        elif kind == "stall":
            rig.card.stall(at, at + length)
        else:
            rig.card.lose(at, length, reported=kind == "lose")
    frames = rig.read(end)
    account = rig.source.account

    assert account.delivered + account.missing == pytest.approx(end, abs=0.35)
    handed_on = sum(len(frame.samples) for frame in frames) / RATE
    assert handed_on == pytest.approx(account.delivered, abs=0.16)  # the filter holds some
    for before, after in pairwise(frames):
        gap = after.start - (before.start + len(before.samples) / RATE)
        assert gap > -0.002
        assert after.lost or gap < 0.002


@pytest.mark.audio
def test_an_utterance_with_a_hole_in_it_is_marked_lost() -> None:
    """What a person said across an overflow reaches the recogniser as lost, never as whole."""
    from hibari import Hibari  # noqa: PLC0415 - the voice is loaded only here

    words = np.asarray(Hibari()("gauze, one, two, three, four, five", seed=0), np.float32)
    quiet = hiss(2.0, 24_000)[:, 0]
    sound = np.concatenate((quiet, words, quiet))
    marks = {}
    for hole in (None, 2.0 + len(words) / 48_000, 0.5):
        rig = Rig(sound, 24_000)
        if hole is not None:
            rig.card.lose(hole, 0.12)
        segmenter = Segmenter(1)
        ended = [
            utterance
            for frame in rig.read(len(sound) / 24_000)
            for utterance in segmenter.feed(frame)
        ]
        marks[hole] = [utterance.lost for utterance in [*ended, *segmenter.flush()]]

    assert list(marks.values()) == [[False], [True], [False]]


def test_a_file_takes_the_place_of_a_microphone(tmp_path: Path) -> None:
    """A file at its own rate comes through the same port, at the speed of life, and ends."""
    soundfile.write(tmp_path / "talk.wav", sine(0.5, 44_100), 44_100)
    clock = SystemClock()
    source = DeviceSource(lambda: FileCapture(tmp_path / "talk.wav", clock), 1, clock)
    begun = clock.monotonic()
    frames = list(source.frames())

    assert clock.monotonic() - begun >= 0.5
    assert sum(len(frame.samples) for frame in frames) == pytest.approx(RATE / 2, abs=2)
    assert source.ended
    assert source.read(0.0) is None


def test_a_file_that_is_no_sound_is_an_error(tmp_path: Path) -> None:
    """A file that cannot be used is told as everywhere: RecordingError, one line."""
    (tmp_path / "talk.wav").write_bytes(b"no sound")
    with pytest.raises(RecordingError):
        FileCapture(tmp_path / "talk.wav", SystemClock())


def test_a_file_can_be_let_go(tmp_path: Path) -> None:
    """Closed early, the file delivers nothing more and the source has ended."""
    soundfile.write(tmp_path / "talk.wav", sine(30.0, 8_000), 8_000)
    clock = SystemClock()
    source = DeviceSource(lambda: FileCapture(tmp_path / "talk.wav", clock), 1, clock)
    assert source.read(2.0) is not None
    source.close()
    while source.read(0.0) is not None:
        pass

    assert source.ended


DESK = Device(0, "Desk microphone", "ALSA", 2, 44_100)
HEADSET = Device(1, "Headset left", "ALSA", 1, 16_000, default=True)
OTHER = Device(2, "Headset right", "ALSA", 1, 16_000)
TWIN = Device(3, "Desk microphone", "JACK", 2, 48_000)
ALL = (DESK, HEADSET, OTHER, TWIN)


@pytest.mark.parametrize(
    ("part", "device"),
    [
        ("left", HEADSET),
        ("RIGHT", OTHER),
        (None, HEADSET),
        ("desk microphone (jack)", TWIN),
        ("desk", DESK),
        (" jack ", TWIN),
    ],
)
def test_a_device_is_chosen_by_a_part_of_its_name(part: str | None, device: Device) -> None:
    """Any part that fits one device alone, in any case; without one, the system's own.

    Of one device that two sound systems offer, the one of the system's own.
    """
    assert choose.choose(ALL, part) == device


def test_a_whole_name_wins_over_longer_ones() -> None:
    """A name that is part of another one can still be chosen."""
    short, longer = Device(0, "Mic", "A", 1, 8000), Device(1, "Mic 2", "A", 1, 8000)

    assert choose.choose((longer, short), "mic") == short


@pytest.mark.parametrize(
    ("devices", "part", "message"),
    [
        (ALL, "headset", r'fits 2 devices, "Headset left \(ALSA\)" and "Headset right \(ALSA\)"'),
        ((DESK, TWIN), "desk microphone", r"fits 2 devices.*JACK"),
        (ALL, "lapel", r'no microphone is named "lapel"; choose "Desk microphone \(ALSA\)" or'),
        (ALL, "", "fits 4 devices"),
        ((), "lapel", "has no microphone; connect one"),
        ((DESK,), None, "names no microphone of its own; choose"),
    ],
)
def test_an_unclear_choice_names_the_candidates(
    devices: tuple[Device, ...], part: str | None, message: str
) -> None:
    """None or several that fit is one line with the names to choose from."""
    with pytest.raises(DeviceError, match=message) as caught:
        choose.choose(devices, part)

    assert "\n" not in str(caught.value)


class FakeLibrary(types.ModuleType):
    """What sounddevice offers, as far as it is used here."""

    class PortAudioError(Exception):
        pass

    def __init__(self) -> None:
        super().__init__("sounddevice")
        self.calls: list[str] = []
        self.failing = ""
        self.callback: Callable[..., None] = lambda *_: None
        self.default = types.SimpleNamespace(hostapi=0)

    def query_hostapis(self) -> list[dict[str, Any]]:
        return [{"name": "ALSA", "default_input_device": 1, "default_output_device": 0}]

    def query_devices(self) -> list[dict[str, Any]]:
        if self.failing == "list":
            raise self.PortAudioError("no\nserver")
        names = [("Loudspeaker", 0, 2), ("Headset", 1, 1)]
        return [
            {
                "index": index,
                "name": name,
                "hostapi": 0,
                "max_input_channels": ins,
                "max_output_channels": outs,
                "default_samplerate": 44100.0,
            }
            for index, (name, ins, outs) in enumerate(names)
        ]

    def InputStream(self, **options: Any) -> "FakeLibrary":  # noqa: N802 - the library's name
        if self.failing == "open":
            raise self.PortAudioError("Device\nunavailable")
        self.calls.append(f"open {options['device']} {options['samplerate']}")
        self.callback = options["callback"]
        return self

    def start(self) -> None:
        if self.failing == "start":
            raise self.PortAudioError("Device unavailable")
        self.calls.append("start")

    def close(self, *, ignore_errors: bool) -> None:
        assert ignore_errors
        self.calls.append("close")

    def _terminate(self) -> None:
        self.calls.append("terminate")

    def _initialize(self) -> None:
        self.calls.append("initialize")


@pytest.fixture
def library(monkeypatch: pytest.MonkeyPatch) -> Iterator[FakeLibrary]:
    fake = FakeLibrary()
    monkeypatch.setitem(sys.modules, "sounddevice", fake)
    yield fake
    assert portaudio.refresh()  # no stream was left open


def test_devices_are_listed_by_what_they_can_do(library: FakeLibrary) -> None:
    """Microphones record and loudspeakers play; the system's own is known."""
    assert [(device.name, device.default) for device in choose.microphones()] == [("Headset", True)]
    assert [device.label for device in choose.loudspeakers()] == [
        "Loudspeaker (ALSA)",
        "Headset (ALSA)",
    ]
    library.failing = "list"
    with pytest.raises(DeviceError, match=r"cannot be listed \(no server\)"):
        choose.microphones()


def test_a_microphone_is_opened_at_its_own_rate(library: FakeLibrary) -> None:
    """The callback hands on a copy of each block with its flag and time, and nothing else."""
    clock = CardClock()
    source = microphone("head", 1, clock)
    source.open()
    block = np.random.default_rng(1).normal(0, 0.1, (882, 1)).astype(np.float32)
    for number in range(40):
        clock.advance(0.02)
        status = types.SimpleNamespace(input_overflow=number == 20)
        library.callback(block, 882, None, status)
    block[:] = np.nan  # the library uses its memory again
    frames = list(iter(lambda: source.read(0.0), None))
    source.close()

    assert library.calls == ["terminate", "initialize", "open 1 44100", "start", "close"]
    assert [round(frame.start, 2) for frame in frames if frame.lost] == [0.4]
    assert source.account.times[Why.OVERFLOW] == 1
    assert source.account.times[Why.DAMAGED] == 0


@pytest.mark.parametrize("failing", ["open", "start"])
def test_a_microphone_that_is_taken_is_an_error(library: FakeLibrary, failing: str) -> None:
    """It is one line with the name and what to do, and nothing stays open."""
    library.failing = failing
    with pytest.raises(DeviceError, match=r"Headset \(ALSA\) cannot be opened .*unavailable"):
        microphone("head", 1, CardClock()).open()

    assert library.calls.count("start") == 0


def test_two_channels_of_a_one_channel_microphone_are_refused() -> None:
    """Two people cannot be told apart on one channel: said before anything is opened."""
    with pytest.raises(DeviceError, match="has 1 channel where 2 are needed"):
        MicrophoneCapture(HEADSET, 2, CardClock())


def test_the_list_of_devices_waits_for_open_streams(library: FakeLibrary) -> None:
    """A restart of the library would end what is being played: it is not done then."""
    with portaudio.stream():
        assert not portaudio.refresh()
    assert library.calls == []
    assert portaudio.refresh()


def test_without_portaudio_one_line_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine without the library is told what to do."""
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(DeviceError, match="PortAudio cannot be loaded"):
        choose.microphones()
