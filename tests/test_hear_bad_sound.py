"""Bad sound through the command line and the real recogniser: an error of one line, or a code."""

import json
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import soxr
from numpy.typing import NDArray

from voicecount.cli import main
from voicecount.hear.embedded import encoder, packaged
from voicecount.reasons import Reason
from voicecount.sound.frame import RATE

ROOT = Path(__file__).parent.parent
SHEET, RECORDING = ROOT / "grammars/caesarean.yaml", ROOT / "audio_fixtures/caesarean.flac"
CALL = ("gauze", list(range(1, 11)))
"""The first call of the demo's script: X-ray gauze, from one to ten."""

SKIPPED = ("lap_sponge", [1, 2, 3, 5])
"""A later call of it: lap sponges, one, two, three, five."""

Samples = NDArray[np.float32]
Hear = Callable[..., list[dict[str, Any]]]

pytestmark = pytest.mark.audio


@lru_cache(maxsize=2)
def call(first: float = 0.0, last: float = 6.4) -> Samples:
    """Cut a call out of the demo's recording, the first one unless told, with silence around it."""
    sound, rate = soundfile.read(RECORDING, dtype="float32", always_2d=True)
    assert rate == RATE
    return np.asarray(sound[int(first * RATE) : int(last * RATE), 0], np.float32)


@pytest.fixture
def hear(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Hear:
    """Write sound to a file, hear it by the command line, and give the answers."""

    def hear(sound: Samples, rate: int = RATE, **how: str) -> list[dict[str, Any]]:
        path = tmp_path / f"sound.{how.pop('suffix', 'wav')}"
        soundfile.write(path, sound, rate, **how)
        assert main(["hear", "--sheet", str(SHEET), "--json", str(path)]) == 0
        out, problems = capsys.readouterr()
        assert problems == ""
        answers = [json.loads(line) for line in out.splitlines()]
        for answer in answers:
            if answer["outcome"] == "accepted":
                assert answer["reason"] is None
            else:
                assert answer["reason"] in set(Reason)
        return answers

    return hear


@pytest.fixture
def call_file(tmp_path: Path) -> Path:
    """Write the first call to a file."""
    path = tmp_path / "call.wav"
    soundfile.write(path, call(), RATE)
    return path


def counts(answers: list[dict[str, Any]]) -> list[tuple[str, list[int]]]:
    """Give what was accepted."""
    return [(a["item"], a["numbers"]) for a in answers if a["outcome"] == "accepted"]


def refused(path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """Hear a file that cannot be used; give the one line that says so."""
    assert main(["hear", "--sheet", str(SHEET), "--json", str(path)]) == 2
    out, problem = capsys.readouterr()
    assert out == ""
    assert problem.startswith("voicecount: ")
    assert problem.count("\n") == 1
    assert "Traceback" not in problem
    return problem


def test_the_call_itself_is_heard(hear: Hear) -> None:
    """What the other tests spoil is heard right as it is."""
    assert counts(hear(call())) == [CALL]


def test_silence_says_nothing(hear: Hear) -> None:
    """Of digital silence it tells that there was no speech."""
    assert [a["reason"] for a in hear(np.zeros(10 * RATE, np.float32))] == [Reason.NO_SPEECH]


@pytest.mark.parametrize("power", [0.0, -0.5])
@pytest.mark.parametrize("level", [0.003, 0.1, 0.6])
def test_noise_is_never_a_count(hear: Hear, power: float, level: float) -> None:
    """White and pink noise, from soft to loud, is accepted as nothing."""
    rng = np.random.default_rng(3)
    spectrum = np.fft.rfft(rng.normal(0, 1, 10 * RATE))
    spectrum *= np.maximum(np.fft.rfftfreq(10 * RATE, 1 / RATE), 40.0) ** power
    noise = np.fft.irfft(spectrum)
    sound = (noise / np.abs(noise).max() * level).astype(np.float32)

    assert counts(hear(sound)) == []


@pytest.mark.parametrize(("rate", "subtype"), [(8_000, "PCM_16"), (44_100, "PCM_24")])
def test_other_rates_give_the_same_count_or_a_code(hear: Hear, rate: int, subtype: str) -> None:
    """At 8 kHz and at 44.1 kHz with 24 bits, the call is heard as it is, or asked for again."""
    sound = np.asarray(soxr.resample(call(), RATE, rate), np.float32)
    answers = hear(sound, rate, subtype=subtype)

    assert len(answers) == 1
    assert counts(answers) in ([CALL], [])
    if rate > RATE:
        assert counts(answers) == [CALL]


@pytest.mark.parametrize(("rate", "subtype"), [(8_000, "PCM_16"), (44_100, "PCM_24")])
def test_no_rate_fills_in_a_skipped_number(hear: Hear, rate: int, subtype: str) -> None:
    """A number that was skipped stays skipped, or the call is asked for again."""
    skipped = call(26.3, 30.0)
    assert counts(hear(skipped)) == [SKIPPED]

    sound = np.asarray(soxr.resample(skipped, RATE, rate), np.float32)
    assert counts(hear(sound, rate, subtype=subtype)) in ([SKIPPED], [])


@pytest.mark.parametrize("gain", [10.0, 30.0])
def test_a_clipped_call_is_right_or_refused(hear: Hear, gain: float) -> None:
    """A call that was cut at its loudest is never another count."""
    answers = hear(np.clip(call() * 10 ** (gain / 20), -1.0, 1.0))

    assert counts(answers) in ([CALL], [])
    if gain == 30.0:
        assert [answer["reason"] for answer in answers] == [Reason.CLIPPED]


def test_half_an_hour(hear: Hear) -> None:
    """Near the end of half an hour of faint hiss a call is heard, at its own time."""
    at = 1_780.0
    sound = np.zeros(1_800 * RATE, np.float32)
    sound[int(at * RATE) : int(at * RATE) + len(call())] = call()
    sound += np.random.default_rng(0).normal(0, 1e-4, len(sound)).astype(np.float32)
    answers = hear(sound, suffix="flac")

    assert counts(answers) == [CALL]
    assert answers[-1]["start"] == pytest.approx(at + 1.1, abs=0.5)
    assert answers[-1]["end"] == pytest.approx(at + 5.5, abs=0.5)


def test_three_channels_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three channels have no roles: it says which ones it takes."""
    path = tmp_path / "three.wav"
    soundfile.write(path, np.stack([call()] * 3, axis=1), RATE)

    assert "3 channels" in refused(path, capsys)


def test_what_is_no_sound_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A text and an empty file are named, with what to do."""
    text, empty = tmp_path / "text.wav", tmp_path / "empty.wav"
    text.write_text("one, two, three\n", encoding="utf-8")
    empty.touch()

    assert "no sound that can be read" in refused(text, capsys)
    assert "an empty file" in refused(empty, capsys)
    assert "no such file" in refused(tmp_path / "missing.wav", capsys)


def test_a_cut_file_is_refused_whole(call_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file whose header promises more than is there gives no count of its first half."""
    whole = call_file.read_bytes()
    call_file.write_bytes(whole[: len(whole) // 2])

    assert "cut short" in refused(call_file, capsys)


@pytest.fixture
def no_memory_of_weights() -> Any:
    """Let the weights be looked for anew, before and after."""
    encoder.weights_file.cache_clear()
    yield
    encoder.weights_file.cache_clear()


@pytest.mark.usefixtures("no_memory_of_weights")
def test_missing_weights_are_named(
    call_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without the package that carries the speech weights, one line says what to install."""
    monkeypatch.setattr(packaged, "find_spec", lambda _: None)

    assert "pip install moonshine-voice" in refused(call_file, capsys)


@pytest.mark.usefixtures("no_memory_of_weights")
def test_other_weights_are_not_used(
    call_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Weights that are not those that were measured are refused."""
    monkeypatch.setattr(encoder, "DIGESTS", dict.fromkeys(encoder.DIGESTS, "0" * 64))

    assert "is not the file that this version was measured with" in refused(call_file, capsys)
