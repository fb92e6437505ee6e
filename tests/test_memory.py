"""Memory goes back to the system after a long utterance, where the C library can do it."""

import ctypes
import subprocess
import sys
from collections.abc import Iterator

import pytest

from voicecount.hear.embedded import memory

HOLES = """
import sys
from pathlib import Path
from voicecount.hear.embedded.memory import give_back

def resident():
    return int(Path("/proc/self/statm").read_text().split()[1])

blocks = [bytearray(4000) for _ in range(50_000)]
kept = blocks[::500]
full = resident()
del blocks
give_back()
print(full - resident())
"""


@pytest.fixture(autouse=True)
def fresh() -> Iterator[None]:
    """Look for the function anew."""
    memory._found.cache_clear()
    yield
    memory._found.cache_clear()


@pytest.mark.skipif(not hasattr(ctypes.CDLL(None), "malloc_trim"), reason="no glibc")
def test_free_memory_between_used_memory_goes_back() -> None:
    """200 MB in small pieces, of which every 500th stays: nearly all of it goes back."""
    found = subprocess.run(
        [sys.executable, "-c", HOLES], capture_output=True, check=True, text=True
    )

    assert int(found.stdout) > 0.8 * 50_000


def test_nothing_happens_where_the_c_library_has_no_such_function(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As on other systems."""
    asked: list[object] = []

    def nothing(name: object) -> object:
        asked.append(name)
        return object()

    monkeypatch.setattr(ctypes, "CDLL", nothing)
    memory.give_back()
    memory.keep_apart()

    assert asked == [None, None]


APART = """
import ctypes
from voicecount.hear.embedded.memory import keep_apart

libc = ctypes.CDLL(None)
libc.malloc.restype = ctypes.c_void_p
libc.free.argtypes = [ctypes.c_void_p]
libc.sbrk.restype = ctypes.c_void_p
keep_apart()
libc.free(libc.malloc(20_000_000))  # from here on glibc would let this size among small things
before = libc.sbrk(0)
libc.malloc(10_000_000)
print(libc.sbrk(0) - before)
"""


@pytest.mark.skipif(not hasattr(ctypes.CDLL(None), "mallopt"), reason="no glibc")
def test_large_arrays_never_lie_among_small_things() -> None:
    """After a larger one was freed, 10 MB still do not make the heap grow."""
    found = subprocess.run(
        [sys.executable, "-c", APART], capture_output=True, check=True, text=True
    )

    assert int(found.stdout) < 1_000_000
