"""Bring the recorded people that some tests listen to; nothing of them is in this repository.

    python tests/recordings.py

Debian's packages asterisk-core-sounds-en-g722 (one professional speaker, CC BY-SA 3.0) and
pocketsphinx-testdata (BSD-2) are downloaded and unpacked into .cache/recordings, without root and
without installing them. Where that cannot be done, the tests are skipped and say so.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import av
import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

VARIABLE = "VOICECOUNT_RECORDINGS"
CACHE = Path(__file__).parent.parent / ".cache" / "recordings"
PACKAGES = ("asterisk-core-sounds-en-g722", "pocketsphinx-testdata")
DIGITS = "asterisk/sounds/en_US_f_Allison/digits"
SPHINX = "pocketsphinx/test/data"
MISSING = (
    "optional: recorded people are not here; 'python tests/recordings.py' brings them on Debian"
)
Samples = NDArray[np.float32]


def folder(inside: str) -> Path | None:
    """Find a folder of recordings: in the variable's place, installed, or fetched before."""
    places = [Path(os.environ[VARIABLE])] if VARIABLE in os.environ else []
    for place in (*places, Path("/usr/share"), CACHE / "usr/share"):
        if (place / inside).is_dir():
            return place / inside
    return None


def read(path: Path) -> Samples:
    """Read a recording as mono sound at 16 kHz: G.722, headerless 16-bit, or WAV."""
    if path.suffix == ".g722":
        with av.open(str(path), format="g722") as container:
            parts = [frame.to_ndarray()[0] for frame in container.decode(audio=0)]
        return np.asarray(np.concatenate(parts) / 32768, np.float32)
    if path.suffix == ".raw":
        return np.asarray(np.fromfile(path, "<i2") / 32768, np.float32)
    sound, rate = soundfile.read(path, dtype="float32")
    return np.asarray(soxr.resample(sound, rate, 16_000), np.float32)


def fetch() -> str:
    """Bring both packages; gives what happened in one line."""
    if folder(DIGITS) and folder(SPHINX):
        return "recorded people: here already"
    if not (shutil.which("apt-get") and shutil.which("dpkg-deb")):
        return "recorded people: no apt-get here; the tests that need them are skipped"
    state = CACHE / "apt"
    for part in ("lists/partial", "archives/partial"):
        (state / part).mkdir(parents=True, exist_ok=True)
    options = [f"-oDir::State::Lists={state / 'lists'}", f"-oDir::Cache={state}"]
    options += ["-oDebug::NoLocking=1", "-oAPT::Sandbox::User=", "-oAPT::Update::Error-Mode=any"]
    for command in (["update"], ["download", *PACKAGES]):
        done = subprocess.run(
            ["apt-get", "-q", *options, *command],
            cwd=state,
            capture_output=True,
            text=True,
            check=False,
            timeout=240,
        )
        if done.returncode:
            why = (done.stderr.strip().splitlines() or ["no reason given"])[-1]
            return f"recorded people: apt-get {command[0]} failed ({why}); their tests are skipped"
    for package in state.glob("*.deb"):
        subprocess.run(["dpkg-deb", "-x", str(package), str(CACHE)], check=True)
    shutil.rmtree(state)
    return "recorded people: fetched"


def main() -> None:
    """Fetch, and never fail."""
    try:
        said = fetch()
    except (OSError, subprocess.SubprocessError) as problem:
        said = f"recorded people: {problem}; the tests that need them are skipped"
    print(said, file=sys.stderr)


if __name__ == "__main__":
    main()
