"""The text decoder's spelling: text to the numbers of its pieces, and back.

The file in the wheel lists 32,768 pieces, each as its length (one byte, or two from 128 up) and
its bytes. The order of the list is the order in which pieces were joined when it was made, so text
is split by joining the earliest known pair again and again (byte-pair encoding).
"""

from functools import lru_cache
from itertools import pairwise
from pathlib import Path

BEGIN, END = 1, 2
_SPACE = "▁"


def read_pieces(path: Path) -> list[bytes]:
    """Read the file."""
    data, at = path.read_bytes(), 0
    pieces = []
    while at < len(data):
        size = data[at]
        at += 1
        if size >= 128:
            size = (data[at] << 7) + size - 128
            at += 1
        pieces.append(data[at : at + size])
        at += size
    return pieces


class Pieces:
    """Text and pieces."""

    def __init__(self, path: Path) -> None:
        self._bytes = read_pieces(path)
        self._numbers = {
            piece.decode(): number
            for number, piece in enumerate(self._bytes)
            if number > END and _is_text(piece)
        }
        self.split = lru_cache(maxsize=4096)(self._split)

    def _split(self, text: str) -> tuple[int, ...]:
        """Give the numbers of a text's pieces; a letter that is no piece is left out."""
        parts = [part for part in _SPACE + text.replace(" ", _SPACE) if part in self._numbers]
        while len(parts) > 1:
            pairs = [
                (self._numbers.get(a + b, 1 << 30), at) for at, (a, b) in enumerate(pairwise(parts))
            ]
            best, at = min(pairs)
            if best == 1 << 30:
                break
            parts[at : at + 2] = [parts[at] + parts[at + 1]]
        return tuple(self._numbers[part] for part in parts)

    def join(self, numbers: list[int]) -> str:
        """Give the text of pieces."""
        data = b"".join(self._bytes[number] for number in numbers if number > END)
        return data.decode(errors="replace").replace(_SPACE, " ").strip()


def _is_text(piece: bytes) -> bool:
    try:
        piece.decode()
    except UnicodeDecodeError:
        return False
    return bool(piece) and not piece.startswith(b"<")
