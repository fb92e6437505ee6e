"""Memory that an utterance took, back to the system.

Its many small arrays leave holes that the C library keeps for later; over hours a process would
grow by them to what the worst moment ever needed.
"""

import ctypes
from functools import cache

_TRIM, _APART, _ARENAS = -1, -3, -8
"""``M_TRIM_THRESHOLD``, ``M_MMAP_THRESHOLD`` and ``M_ARENA_MAX`` of glibc's ``mallopt``."""
_LARGE = 1 << 20
_KEPT = 1 << 28


def keep_apart() -> None:
    """Let arrays of a megabyte and more never lie among small things; once, before any is made.

    Else glibc lets ever larger ones among them after the first was freed, and the holes of these
    are what a process grows by over hours. Does nothing where the C library cannot.
    """
    settle = _found("mallopt", ctypes.c_int, ctypes.c_int)
    if settle is not None:
        settle(_APART, _LARGE)
        settle(_TRIM, _KEPT)  # a fixed size above ends glibc's own choice of this one, a slow end
        settle(_ARENAS, 4)


def give_back() -> None:
    """Give free memory back; does nothing where the C library cannot. Takes some 15 ms."""
    trim = _found("malloc_trim", ctypes.c_size_t)
    if trim is not None:
        trim(0)


@cache
def _found(name: str, *types: type) -> "ctypes._NamedFuncPointer | None":
    """Find one of glibc's own functions; other C libraries have none, and need none as much."""
    try:
        found: ctypes._NamedFuncPointer = getattr(ctypes.CDLL(None), name)
    except (AttributeError, OSError, TypeError):  # TypeError: Windows wants a name
        return None
    found.argtypes = list(types)
    found.restype = ctypes.c_int
    return found
