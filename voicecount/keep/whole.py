"""A small text file put in its place whole: a reader sees the old or the new one, never a part."""

import contextlib
import os
import tempfile
from pathlib import Path


def write_whole(path: Path, text: str, mode: int = 0o600) -> None:
    """Write beside, sync, then rename. OSError leaves the old file as it is, and no other."""
    half = ""
    try:
        handle, half = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(half).chmod(mode)
        Path(half).replace(path)
    except OSError:
        if half:
            with contextlib.suppress(OSError):
                Path(half).unlink()
        raise
