"""What a WAV file promises and what it holds: readers of sound hide the difference.

Source: the chunk layout of RIFF/WAVE and of RF64 (EBU Tech 3306).
"""

import struct
from dataclasses import dataclass
from typing import BinaryIO

_UNKNOWN = 0xFFFFFFFF
"""A size not written yet, or, in RF64, one that is written elsewhere."""


@dataclass(frozen=True)
class WavData:
    """The data chunk of a WAV file."""

    promised: int | None
    """Bytes of sound by the header; None where the writer never filled it in."""
    found: int
    """Bytes from the start of the sound to the end of the file, or of the promise."""
    bytes_a_second: int
    """Zero where the header gives no format."""

    @property
    def whole(self) -> bool:
        """Whether all of the promised sound is there."""
        return self.promised is not None and self.found >= self.promised


def wav_data(file: BinaryIO) -> WavData | None:
    """Read the chunks of a WAV file up to its sound; None if it is no WAV, or holds no sound."""
    file.seek(0, 2)
    length = file.tell()
    file.seek(0)
    head = file.read(12)
    if head[:4] not in {b"RIFF", b"RIFX", b"RF64"} or head[8:12] != b"WAVE":
        return None
    order = ">" if head[:4] == b"RIFX" else "<"
    long_size: int | None = None
    rate = 0
    while len(chunk := file.read(8)) == 8:
        name, size = struct.unpack(f"{order}4sI", chunk)
        start = file.tell()
        if name == b"data":
            return _data(head[:4], size, length - start, long_size, rate)
        if name == b"ds64" and len(body := file.read(16)) == 16:
            long_size = struct.unpack("<QQ", body)[1]
        elif name == b"fmt " and len(body := file.read(16)) == 16:
            rate = struct.unpack(f"{order}HHIIHH", body)[3]
        file.seek(start + size + size % 2)
    return None


def _data(kind: bytes, size: int, left: int, long_size: int | None, rate: int) -> WavData:
    if kind == b"RF64" and size == _UNKNOWN:
        promised = long_size
    elif size == _UNKNOWN or (size == 0 and left > 0):
        promised = None
    else:
        promised = size
    found = left if promised is None else min(left, promised)
    return WavData(promised, found, rate)
