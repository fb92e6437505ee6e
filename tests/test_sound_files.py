"""Recordings as frames: formats, rates and widths, and every kind of file that must be refused."""

import io
import struct
import tracemalloc
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from voicecount.errors import RecordingError
from voicecount.sound.files import FRAME_SAMPLES, FileSource, probe
from voicecount.sound.frame import RATE, Frame
from voicecount.sound.pace import paced
from voicecount.sound.riff import wav_data


def tone(hertz: float, seconds: float, rate: int) -> NDArray[np.float32]:
    return (0.5 * np.sin(2 * np.pi * hertz * np.arange(int(seconds * rate)) / rate)).astype(
        np.float32
    )


def loudest_hertz(samples: NDArray[np.float32]) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(spectrum)) * RATE / len(samples)


def read(path: Path) -> NDArray[np.float32]:
    return np.concatenate([frame.samples for frame in FileSource(path).frames()])


def wav_bytes(seconds: float = 1.0, rate: int = 16_000) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, tone(440, seconds, rate), rate, format="WAV", subtype="PCM_16")
    return file.getvalue()


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize(
    ("name", "rate", "subtype"),
    [
        ("a.wav", 8_000, "PCM_16"),
        ("a.wav", 16_000, "PCM_16"),
        ("a.wav", 16_000, "PCM_U8"),
        ("a.wav", 22_050, "PCM_32"),
        ("a.wav", 44_100, "PCM_24"),
        ("a.wav", 48_000, "FLOAT"),
        ("a.flac", 16_000, "PCM_16"),
        ("a.flac", 44_100, "PCM_24"),
        ("a.aiff", 96_000, "PCM_16"),
        ("a.ogg", 24_000, "VORBIS"),
    ],
)
def test_every_format_rate_and_width_becomes_frames_at_one_rate(
    tmp_path: Path, name: str, rate: int, subtype: str, channels: int
) -> None:
    """Each channel keeps its own tone, its length, and its side."""
    hertz = (440.0, 1000.0)[:channels]
    sound = np.stack([tone(pitch, 1.5, rate) for pitch in hertz], axis=1)
    soundfile.write(tmp_path / name, sound, rate, subtype=subtype)

    source = FileSource(tmp_path / name)
    frames = list(source.frames())
    heard = np.concatenate([frame.samples for frame in frames])

    assert source.channels == channels
    assert heard.dtype == np.float32
    assert len(heard) == pytest.approx(1.5 * RATE, abs=2)
    for channel, pitch in enumerate(hertz):
        assert loudest_hertz(heard[:, channel]) == pytest.approx(pitch, abs=2)
        assert np.sqrt(np.mean(heard[:, channel] ** 2)) == pytest.approx(0.354, abs=0.01)
    assert not any(frame.lost for frame in frames)


def test_frames_follow_each_other_without_a_gap(tmp_path: Path) -> None:
    """Each frame starts where the one before ended; all but the last have the same length."""
    soundfile.write(tmp_path / "a.wav", tone(440, 2.7, 44_100), 44_100)

    frames = list(FileSource(tmp_path / "a.wav").frames())

    expected = 0.0
    for frame in frames:
        assert frame.start == pytest.approx(expected, abs=1e-9)
        expected += len(frame.samples) / RATE
    assert {len(frame.samples) for frame in frames[:-1]} == {FRAME_SAMPLES}


def test_resampling_in_blocks_is_resampling_at_once(tmp_path: Path) -> None:
    """Blocks leave no seam: the result is that of the reference library soxr on the whole."""
    sound = np.random.default_rng(3).normal(0, 0.1, 5 * 44_100).astype(np.float32)
    soundfile.write(tmp_path / "a.wav", sound, 44_100, subtype="FLOAT")

    heard = read(tmp_path / "a.wav")[:, 0]
    at_once = soxr.resample(sound, 44_100, RATE)

    assert len(heard) == pytest.approx(len(at_once), abs=1)
    shared = min(len(heard), len(at_once))
    assert np.max(np.abs(heard[:shared] - at_once[:shared])) < 1e-4


def test_probe_agrees_with_the_standard_library(tmp_path: Path) -> None:
    """Channels, rate and length are those that the reference reader ``wave`` finds."""
    soundfile.write(tmp_path / "a.wav", np.zeros((12_345, 2)), 22_050, subtype="PCM_16")
    with wave.open(str(tmp_path / "a.wav")) as reference:
        seconds = reference.getnframes() / reference.getframerate()
        expected = (reference.getnchannels(), reference.getframerate(), seconds)

    recording = probe(tmp_path / "a.wav")

    assert (recording.channels, recording.rate, recording.seconds) == expected


def test_a_long_recording_is_never_held_whole(tmp_path: Path) -> None:
    """Thirty minutes (115 MB as samples) pass through less than 4 MB of memory."""
    path = tmp_path / "long.wav"
    with soundfile.SoundFile(path, "w", 8_000, 1, subtype="PCM_16") as file:
        for _ in range(30):
            file.write(np.zeros(60 * 8_000, dtype=np.int16))
    tracemalloc.start()

    samples = sum(len(frame.samples) for frame in FileSource(path).frames())
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert samples == 30 * 60 * RATE
    assert peak < 4_000_000


def test_samples_that_are_no_numbers_are_silence_and_marked(tmp_path: Path) -> None:
    """A damaged float file gives no NaN to the recogniser, and says that sound was lost."""
    sound = tone(440, 1.0, RATE)
    sound[8_000:8_100] = np.nan
    soundfile.write(tmp_path / "a.wav", sound, RATE, subtype="FLOAT")

    frames = list(FileSource(tmp_path / "a.wav").frames())

    assert any(frame.lost for frame in frames)
    assert all(np.isfinite(frame.samples).all() for frame in frames)


def with_size(data: bytes, size: int) -> bytes:
    at = data.index(b"data") + 4
    return data[:at] + struct.pack("<I", size) + data[at + 4 :]


def of_rate(rate: int) -> bytes:
    return wav_bytes(0.2, rate)


def of_channels(channels: int) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, np.zeros((4_000, channels)), RATE, format="WAV")
    return file.getvalue()


def no_sound() -> bytes:
    file = io.BytesIO()
    soundfile.write(file, np.zeros(0), RATE, format="WAV")
    return file.getvalue()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        pytest.param(b"", "an empty file", id="empty"),
        pytest.param(b"gauze, one, two, three\n" * 50, "no sound that can be read", id="text"),
        pytest.param(b"RIFF\x00\x00\x00\x00WAVE", "no sound that can be read", id="header only"),
        pytest.param(b"fLaC" + b"\x00" * 100, "no sound that can be read", id="broken flac"),
        pytest.param(wav_bytes(2.0)[: 44 + 16_000], "0.5 s of 2.0 s are there", id="cut short"),
        pytest.param(with_size(wav_bytes(), 0), "writer was stopped", id="size 0"),
        pytest.param(
            with_size(wav_bytes(), 0xFFFFFFFF), "writer was stopped", id="size never written"
        ),
        pytest.param(of_channels(3), "3 channels", id="three channels"),
        pytest.param(of_rate(6_000), "6000 samples a second", id="rate too low"),
        pytest.param(no_sound(), "holds no sound", id="no sound"),
    ],
)
def test_what_is_no_whole_recording_is_refused_in_one_line(
    tmp_path: Path, content: bytes, words: str
) -> None:
    """The error names the file and what to do, before any frame is given."""
    path = tmp_path / "a.wav"
    path.write_bytes(content)

    with pytest.raises(RecordingError) as caught:
        FileSource(path)

    message = str(caught.value)
    assert words in message
    assert message.startswith(f"{path}: ")
    assert ";" in message
    assert "\n" not in message


@pytest.mark.parametrize("name", ["a.raw", "a.wav", "a", "a\x00b.wav"])
def test_a_file_of_another_kind_is_refused_whatever_its_name(tmp_path: Path, name: str) -> None:
    """Neither the ending .raw, no ending, nor an impossible name lead to another error."""
    if "\x00" not in name:
        (tmp_path / name).write_bytes(b"no sound at all " * 40)

    with pytest.raises(RecordingError):
        FileSource(tmp_path / name)


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    """Both are told apart."""
    with pytest.raises(RecordingError, match="no such file"):
        FileSource(tmp_path / "none.wav")
    with pytest.raises(RecordingError, match="a folder"):
        FileSource(tmp_path)


def test_a_file_without_permission_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The message says whom to ask; simulated, since an administrator may read everything."""
    (tmp_path / "a.wav").write_bytes(wav_bytes())

    def forbidden(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", forbidden)

    with pytest.raises(RecordingError, match="no permission"):
        FileSource(tmp_path / "a.wav")


def test_a_flac_file_that_is_cut_short_is_refused_on_the_way(tmp_path: Path) -> None:
    """What FLAC promises can be checked only while reading; no end is taken for the end."""
    noise = np.random.default_rng(0).normal(0, 0.1, 10 * RATE)
    soundfile.write(tmp_path / "whole.flac", noise, RATE)
    content = (tmp_path / "whole.flac").read_bytes()
    (tmp_path / "cut.flac").write_bytes(content[: len(content) // 2])

    with pytest.raises(RecordingError, match=r"cut short or damaged, .* of 10\.0 s"):
        list(FileSource(tmp_path / "cut.flac").frames())


WHOLE = wav_bytes(0.25)


@settings(deadline=None)
@given(st.integers(0, len(WHOLE) - 1))
def test_a_wav_file_cut_at_any_byte_is_refused(length: int) -> None:
    """No prefix of a WAV file passes for a whole one."""
    data = wav_data(io.BytesIO(WHOLE[:length]))

    assert data is None or not data.whole


@settings(deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    """Nothing that a file can hold leads to another kind of error in the header reader."""
    for head in (b"", b"RIFF\x00\x00\x00\x00WAVE", b"RF64\xff\xff\xff\xffWAVEds64"):
        data = wav_data(io.BytesIO(head + content))

        assert data is None or data.found >= 0


def test_the_sizes_of_the_long_form_are_read() -> None:
    """RF64 (EBU Tech 3306) keeps its size in another chunk: 0xFFFFFFFF is no mistake there."""
    file = io.BytesIO()
    soundfile.write(file, np.zeros(1_000), RATE, format="RF64", subtype="PCM_16")

    data = wav_data(file)

    assert data is not None
    assert data.whole
    assert data.promised == 2_000


class SteppedClock:
    """Moves only when told to sleep."""

    def __init__(self) -> None:
        self.now = 100.0
        self.slept: list[float] = []

    def monotonic(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.now += seconds


def test_a_paced_file_takes_as_long_as_its_sound(tmp_path: Path) -> None:
    """Each frame comes at its own end, and after a delay the listener is caught up with."""
    soundfile.write(tmp_path / "a.wav", tone(440, 1.0, RATE), RATE)
    clock = SteppedClock()
    source = paced(FileSource(tmp_path / "a.wav"), clock)
    came: list[tuple[Frame, float]] = []

    for frame in source.frames():
        came.append((frame, clock.now))
        if len(came) == 10:
            clock.now += 0.2

    assert source.channels == 1
    assert clock.now == pytest.approx(101.0)
    assert all(now >= 100.0 + frame.start + len(frame.samples) / RATE - 1e-9 for frame, now in came)
    assert came[12][1] == came[10][1]
