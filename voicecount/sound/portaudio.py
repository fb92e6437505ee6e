"""The sound library, loaded where sound is, and its list of devices, made anew where it may be.

PortAudio takes its list of devices once, when it starts. A device that was unplugged and comes
back is found only after a restart of the library, and a restart ends every open stream; so streams
are counted, and the library restarts only while none is open.
"""

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from voicecount.errors import VoicecountError

_lock = threading.Lock()
_streams = 0
_ASIDE_SECONDS = 2.0


class DeviceError(VoicecountError):
    """A microphone or loudspeaker cannot be found or opened."""


def load() -> Any:
    """Give the module sounddevice; DeviceError, one line, where PortAudio cannot be loaded."""
    try:
        import sounddevice  # noqa: PLC0415 - needs PortAudio, which only live sound needs
    except (ImportError, OSError) as error:
        raise DeviceError(
            f"the sound library PortAudio cannot be loaded ({one_line(error)}); install it, or "
            "give a sound file instead of a microphone"
        ) from error
    return sounddevice


@contextmanager
def stream() -> Iterator[None]:
    """Keep the library from being restarted while a stream is open."""
    opened()
    try:
        yield
    finally:
        closed()


def opened() -> None:
    """Count a stream that opens."""
    global _streams  # noqa: PLW0603 - the library itself is one for the whole process
    with _lock:
        _streams += 1


def closed() -> None:
    """Count a stream that has closed."""
    global _streams  # noqa: PLW0603 - see above
    with _lock:
        _streams -= 1


def refresh() -> bool:
    """Take the list of devices anew; False, and nothing done, while a stream is open."""
    sounddevice = load()
    with _lock:
        if _streams:
            return False
        with quiet():
            sounddevice._terminate()  # noqa: SLF001 - the library's only way to see new devices
            sounddevice._initialize()  # noqa: SLF001 - see above
    return True


@contextmanager
def quiet() -> Iterator[None]:
    """Keep what the system's sound libraries write about devices off the screen.

    They write to the process's standard error directly, at every attempt to open what is gone.
    """
    try:
        kept = os.dup(2)
    except OSError:  # no standard error: nothing to keep quiet
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


def aside(do: Callable[[], None]) -> None:
    """Do something with a stream that may be dead, without waiting for ever: some drivers hang."""
    doing = threading.Thread(target=do, daemon=True)
    doing.start()
    doing.join(_ASIDE_SECONDS)


def one_line(error: BaseException) -> str:
    """Give the text of an error without line breaks."""
    return " ".join(str(error).split())
