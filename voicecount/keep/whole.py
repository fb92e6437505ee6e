"""A file put in its place whole: a reader sees the old or the new one, never a part."""

import contextlib
import os
import tempfile
from pathlib import Path


def write_whole(path: Path, content: str | bytes, mode: int = 0o600) -> None:
    """Write beside, sync, then rename. OSError leaves the old file as it is, and no other."""
    data = content.encode() if isinstance(content, str) else content
    half = ""
    try:
        handle, half = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(half).chmod(mode)
        Path(half).replace(path)
    except BaseException:
        if half:
            with contextlib.suppress(OSError):
                Path(half).unlink()
        raise
