"""``voicecount board``: the wall board of one journal, until a key stops it."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from voicecount.board.now import NowTeller
from voicecount.board.serve import Address, serve
from voicecount.commands.journals import CODEC
from voicecount.keep.clock import SystemClock
from voicecount.keep.now import NowFile
from voicecount.show.console import notice


def board(journal: Path, address: Address) -> None:
    """Serve the board."""
    serve(journal, CODEC, address, notice)


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
    command += ["--listen", address.host, "--port", str(address.port)]
    for name in address.names:
        command += ["--name", name]
    process = subprocess.Popen(command, stdin=subprocess.DEVNULL)  # noqa: S603 - our own program
    try:
        yield
    finally:
        process.terminate()
        try:
            process.wait(5)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
