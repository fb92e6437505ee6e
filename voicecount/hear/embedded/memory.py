"""Memory that an utterance took, back to the system.

Its many small arrays leave holes that the C library keeps for later; over hours a process would
grow by them to what the worst moment ever needed.
"""

import ctypes
from functools import cache


def give_back() -> None:
    """Give free memory back; does nothing where the C library cannot. Takes some 15 ms."""
    trim = _trim()
    if trim is not None:
        trim(0)


@cache
def _trim() -> "ctypes._NamedFuncPointer | None":
    """Find glibc's ``malloc_trim``; other C libraries have none, and need none as much."""
    try:
        found = ctypes.CDLL(None).malloc_trim
    except (AttributeError, OSError, TypeError):  # TypeError: Windows wants a name
        return None
    found.argtypes = [ctypes.c_size_t]
    found.restype = ctypes.c_int
    return found
