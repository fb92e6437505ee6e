"""``voicecount board``: the wall board of one journal, until a key stops it."""

import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from voicecount.board.address import Address
from voicecount.board.now import NowTeller
from voicecount.board.serve import serve
from voicecount.commands.journals import CODEC
from voicecount.keep.clock import SystemClock
from voicecount.keep.now import NowFile
from voicecount.show.console import notice

_read = os.read
_BESIDE = "VOICECOUNT_BOARD_BESIDE"
"""Set for a board that another command began: it ends with that command's end of its input."""


def board(journal: Path, address: Address) -> None:
    """Serve the board."""
    left = threading.Event()
    if os.environ.get(_BESIDE) == "1":
        threading.Thread(target=_wait_for_end, args=(left,), daemon=True).start()
    serve(journal, CODEC, address, notice, wanted=lambda: not left.is_set())


def _wait_for_end(left: threading.Event) -> None:
    """Wait until whoever began this process is gone, also when it was killed."""
    while _read(0, 1):
        pass
    left.set()


@contextmanager
def told_now(journal: Path) -> Iterator[NowTeller]:
    """Tell boards what happens, for as long as the block lasts."""
    teller = NowTeller(NowFile(journal), SystemClock().monotonic)
    teller.start()
    try:
        yield teller
    finally:
        teller.close()


@contextmanager
def beside(journal: Path, address: Address | None) -> Iterator[None]:
    """Have a board in a process of its own, for as long as the block lasts; None has none."""
    if address is None:
        yield
        return
    command = [sys.executable, "-m", "voicecount", "board", str(journal)]
    command += [f"--listen={address.host}", f"--port={address.port}"]
    command += [f"--name={name}" for name in address.names]
    if address.token_file is not None:  # never the token itself: others see a command's arguments
        command.append(f"--token={address.token_file}")
    try:
        process = subprocess.Popen(  # noqa: S603 - our own program
            command, stdin=subprocess.PIPE, env={**os.environ, _BESIDE: "1"}
        )
    except OSError as error:
        notice(f"board: cannot be begun ({error.strerror or error}); the count goes on without it")
        yield
        return
    try:
        yield
    finally:
        process.terminate()
        if process.stdin is not None:  # pragma: no branch - it was asked for
            process.stdin.close()
        try:
            process.wait(5)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
