"""Long texts of sheets, cut where they would push the rest off the board. Pure."""

from collections.abc import Callable
from functools import lru_cache

_Cut = Callable[[str, int], str]

LONGEST = 72
"""Characters of a text that are shown; a longer one is cut with a mark."""


def short(text: str, longest: int = LONGEST) -> str:
    """Cut a long text, with a mark; control characters become blanks."""
    plain = _plain(text)
    return plain if len(plain) <= longest else f"{plain[: longest - 1]}…"


def apart(text: str, longest: int, others: frozenset[str] = frozenset()) -> str:
    """Cut a long text so that it cannot be taken for one of some others, which may be it too.

    The end is cut off; where another one begins alike, the middle; where they end alike, too,
    what stands before the first letter in which they differ.
    """
    return text if len(text) <= longest and text.isprintable() else _apart(text, longest, others)


def parted(text: str) -> tuple[str, str]:
    """Part words into what has to be read from afar and what explains it; this may be empty."""
    for sign, colon, joint in ((": ", ":", ""), (" and ", "", "and ")):
        first, found, rest = text.partition(sign)
        if found:
            return first + colon, joint + rest
    return text, ""


@lru_cache(maxsize=4096)
def _apart(text: str, longest: int, others: frozenset[str]) -> str:
    plain = _plain(text)
    if len(plain) <= longest:
        return plain
    rivals = [other for one in others if (other := _plain(one)) != plain]
    alike = max((_alike(plain, one) for one in rivals), default=0)
    # The end tells most where the beginning is shared.
    ways: list[_Cut] = [_middle, short] if alike > longest // 2 else [short, _middle]
    ways.append(_from(alike))
    for way in ways:
        found = way(plain, longest)
        if all(way(one, longest) != found for one in rivals):
            return found
    return short(plain, longest)


def _alike(one: str, other: str) -> int:
    """Give how many characters two texts have in common at their beginning."""
    pairs = enumerate(zip(one, other, strict=False))
    return next((at for at, (a, b) in pairs if a != b), min(len(one), len(other)))


def _middle(text: str, longest: int) -> str:
    if len(text) <= longest:
        return text
    end = longest // 2
    return f"{text[: longest - end - 1]}…{text[-end:]}"


def _from(at: int) -> _Cut:
    def way(text: str, longest: int) -> str:
        begin = max(0, min(at, len(text)) - longest // 2)
        return f"…{short(text[begin:], longest - 1)}"

    return way


def _plain(text: str) -> str:
    return "".join(one if one.isprintable() else " " for one in text)
