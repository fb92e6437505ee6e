"""The board's server within this process: what cannot be seen from outside, and quick limits."""

import os
import re
import shutil
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Any

import pytest
from board_rig import WHOLE, now
from board_server import all_of, head_of

from voicecount.board import app as board_app
from voicecount.board import head as board_head
from voicecount.board import hub as board_hub
from voicecount.board import serve as board_serve
from voicecount.board.address import Address
from voicecount.board.app import BoardApp
from voicecount.board.guard import HEADERS
from voicecount.board.serve import serve
from voicecount.commands import board as board_command
from voicecount.commands.journals import CODEC
from voicecount.keep.now import NowFile

HEALTH = b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
CHANGES = b"GET /changes HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"


class Here:
    """A server in a thread of this process."""

    def __init__(self, work: Callable[[Callable[[str], None]], None]) -> None:
        self._told = threading.Event()
        self.ended = threading.Event()
        self.line = ""
        self.thread = threading.Thread(target=work, args=(self._tell,))
        self.thread.start()
        assert self._told.wait(20)
        self.port = int(self.line.rpartition(":")[2])

    def _tell(self, line: str) -> None:
        self.line = line
        self._told.set()

    def connect(self) -> socket.socket:
        """Open a connection."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=15)

    def ask(self, data: bytes) -> bytes:
        """Send bytes, end sending, and give the answer."""
        with self.connect() as found:
            found.sendall(data)
            found.shutdown(socket.SHUT_WR)
            return all_of(found)


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    path = tmp_path / "a.vcj"
    shutil.copy(WHOLE, path)
    return path


@pytest.fixture
def here(journal: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Here]:
    monkeypatch.setattr(board_head, "REQUEST_SECONDS", 0.4)
    monkeypatch.setattr(board_head, "MOST_CONNECTIONS", 4)
    ended = threading.Event()

    def work(tell: Callable[[str], None]) -> None:
        serve(journal, CODEC, Address(port=0), tell, wanted=lambda: not ended.is_set())

    found = Here(work)
    found.ended = ended
    yield found
    ended.set()
    found.thread.join(10)
    assert not found.thread.is_alive()


def first(found: socket.socket) -> bytes:
    """Read the beginning of an answer, up to the end of its head."""
    seen = b""
    while b"\r\n\r\n" not in seen:
        piece = found.recv(4096)
        assert piece
        seen += piece
    return seen


def test_it_ends_when_it_is_no_longer_wanted(here: Here) -> None:
    """Whoever watches is let go by a whole answer: its last chunk is there (RFC 9112, 7.1)."""
    with here.connect() as found:
        found.sendall(CHANGES)
        assert first(found).startswith(b"HTTP/1.1 200")
        here.ended.set()
        assert all_of(found).endswith(b"\r\n0\r\n\r\n")
    here.thread.join(10)
    assert not here.thread.is_alive()


def test_nothing_sent(here: Here) -> None:
    """A connection on which nothing comes is closed (OWASP Denial of Service Cheat Sheet)."""
    with here.connect() as found:
        assert all_of(found) == b""


def test_a_head_that_does_not_end(here: Here) -> None:
    """The first on a connection, or a later one, in one piece or in many."""
    for before in (b"", HEALTH):
        for pieces in ([HEALTH[:-2]], [HEALTH[at : at + 1] for at in range(30)]):
            with here.connect() as found:
                if before:
                    found.sendall(before)
                    assert first(found).startswith(b"HTTP/1.1 200")
                began = time.monotonic()
                try:
                    for piece in pieces:
                        found.sendall(piece)
                        time.sleep(0.03)
                except (BrokenPipeError, ConnectionResetError):
                    pass
                assert b"HTTP/1.1" not in all_of(found)
                assert time.monotonic() - began < 10


def test_one_who_watches_is_never_too_slow(here: Here) -> None:
    """An answer may last; only a question may not."""
    with here.connect() as found:
        found.sendall(CHANGES)
        began = time.monotonic()
        while time.monotonic() - began < 1.0:
            assert found.recv(65536)


def test_too_many_connections(here: Here) -> None:
    """A further one is closed at once; when one ends there is room again."""
    with ExitStack() as stack:
        for _ in range(board_head.MOST_CONNECTIONS):
            found = stack.enter_context(here.connect())
            found.sendall(CHANGES)
            assert first(found).startswith(b"HTTP/1.1 200")
        for _ in range(3):
            with here.connect() as one_more, suppress(BrokenPipeError, ConnectionResetError):
                one_more.sendall(HEALTH)
                assert all_of(one_more) == b""
        found.close()
        until = time.monotonic() + 10
        while not here.ask(HEALTH):
            assert time.monotonic() < until
            time.sleep(0.02)


def test_one_who_never_reads_holds_up_nobody(
    here: Here, journal: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its messages wait in its own place; others get the newest, and the end does not wait for it.

    Source: flow control of asyncio's transports (``pause_writing``, Python's documentation).
    """
    paused: list[object] = []
    real = board_head.HeadInTime.pause_writing

    def pause(self: board_head.HeadInTime) -> None:
        paused.append(self)
        real(self)

    monkeypatch.setattr(board_head.HeadInTime, "pause_writing", pause)
    monkeypatch.setattr(board_hub, "LOOK_SECONDS", 0.001)
    file = NowFile(journal)
    with here.connect() as reads, socket.socket() as never:
        never.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        never.connect(("127.0.0.1", here.port))
        for one in (never, reads):
            one.sendall(CHANGES)
        until = time.monotonic() + 15
        beat, seen = 0, b""
        while (not paused or beat < 200) and time.monotonic() < until:
            beat += 1
            said = {"text": f"<{beat}>" * 40, "kind": "notice", "at": 1.0, "spoken": True}
            file.write(now(beat=beat, said=said))
            seen = (seen + reads.recv(1 << 20))[-200_000:]
        assert paused, "its connection takes no more"
        last = f"&lt;{beat}&gt;".encode()
        while last not in seen:
            seen = (seen + reads.recv(1 << 20))[-200_000:]
        assert here.ask(HEALTH).startswith(b"HTTP/1.1 200")
        here.ended.set()
        here.thread.join(10)
        assert not here.thread.is_alive()
    file.close()


NUMBERED = 20_000
"""Bytes of each message."""


@pytest.fixture
def busy(
    journal: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[tuple[Here, list[int], BoardApp]]:
    """Have a board on which everything changes all the time, in messages with numbers."""
    monkeypatch.setattr(board_hub, "LOOK_SECONDS", 0.005)
    monkeypatch.setattr(board_head, "STALLED_SECONDS", 2.0)
    made = [0]
    apps: list[BoardApp] = []
    real = BoardApp.__init__

    def look(_: Any) -> bytes:
        made[0] += 1
        return b"<%08d>" % made[0] + b"." * NUMBERED

    def begin(self: BoardApp, *more: Any, **named: Any) -> None:
        real(self, *more, **named)
        apps.append(self)

    monkeypatch.setattr(board_app._Routes, "_look", look)
    monkeypatch.setattr(BoardApp, "__init__", begin)
    ended = threading.Event()

    def work(tell: Callable[[str], None]) -> None:
        serve(journal, CODEC, Address(port=0), tell, wanted=lambda: not ended.is_set())

    found = Here(work)
    yield found, made, apps[0]
    ended.set()
    found.thread.join(10)


def watch_slowly(here: Here) -> socket.socket:
    """Begin to watch, with little room for what comes."""
    found = socket.socket()
    found.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    found.settimeout(15)
    found.connect(("127.0.0.1", here.port))
    found.sendall(b"GET /changes HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    return found


def test_a_slow_viewer_is_shown_what_is_now(busy: tuple[Here, list[int], BoardApp]) -> None:
    """Whoever read nothing for a while gets little of that while, and then the newest.

    Source: Linux, tcp(7): a send buffer grows to megabytes by itself unless its size is set.
    """
    here, made, _ = busy
    with watch_slowly(here) as found:
        until = time.monotonic() + 1.0
        while time.monotonic() < until:
            time.sleep(0.05)
        newest = made[0]
        assert newest > 20
        seen = b""
        while not (numbers := re.findall(rb"<(\d{8})>", seen)) or int(numbers[-1]) < newest:
            seen += found.recv(65536)
        past = [int(number) for number in numbers if int(number) < newest]
        assert len(past) * NUMBERED < 400_000, past


def test_a_viewer_that_takes_nothing_is_let_go(busy: tuple[Here, list[int], BoardApp]) -> None:
    """Its place is given back; one who takes what comes keeps its own."""
    here, _, app = busy
    hub = app._routes.hub
    with watch_slowly(here) as gone, watch_slowly(here) as other:
        while hub.viewers < 2:
            time.sleep(0.02)
        until = time.monotonic() + 15
        while hub.viewers > 1:
            assert time.monotonic() < until
            assert other.recv(65536)
        until = time.monotonic() + 3
        while time.monotonic() < until:
            assert other.recv(65536)
        assert hub.viewers == 1
        all_of(gone)  # what was sent, and then the end


def test_a_viewer_that_is_gone_without_a_word(here: Here, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system lets go of what is not acknowledged in time (RFC 5482; Linux, tcp(7))."""
    if not hasattr(socket, "TCP_USER_TIMEOUT"):
        pytest.skip("this system has no such option")
    seen: list[int] = []
    real = board_head._keep_little

    def kept(transport: Any) -> None:
        real(transport)
        found = transport.get_extra_info("socket")
        seen.append(found.getsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT))

    monkeypatch.setattr(board_head, "_keep_little", kept)
    assert here.ask(HEALTH).startswith(b"HTTP/1.1 200")
    assert seen == [10_000]


def test_what_is_no_request(here: Here) -> None:
    """RFC 9110, 15.5.1: 400; with the headers of every answer, and its length."""
    answer = here.ask(b"what?\r\n\r\n")
    status, headers = head_of(answer)
    assert status == 400
    assert {(name.decode(), value.decode()) for name, value in HEADERS} <= set(headers)
    body = answer.partition(b"\r\n\r\n")[2]
    assert ("content-length", str(len(body))) in headers
    assert ("connection", "close") in headers


def test_a_signal_ends_it_for_certain(journal: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The process is ended by a timer that hangs on nothing, if the server does not."""
    timers: list[Any] = []

    class Timer:
        daemon = False

        def __init__(self, seconds: float, call: Callable[[int], None], values: Any) -> None:
            self.seconds, self.call, self.values = seconds, call, values

        def start(self) -> None:
            timers.append(self)

    monkeypatch.setattr(board_serve.threading, "Timer", Timer)
    found = board_serve._Server(
        board_serve.uvicorn.Config("none:none"),
        journal,
        lambda: True,  # type: ignore[arg-type]
    )
    found.handle_exit(signal.SIGTERM, None)
    assert found.should_exit
    (timer,) = timers
    assert (timer.call, timer.values) == (os._exit, (143,))
    assert (timer.daemon, timer.seconds < 6) == (True, True)


def test_the_command(journal: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By itself, the command serves until it is stopped."""
    monkeypatch.delenv(board_command._BESIDE, raising=False)
    seen: list[bool] = []

    def served(*_: Any, wanted: Callable[[], bool]) -> None:
        seen.append(wanted())

    monkeypatch.setattr(board_command, "serve", served)
    board_command.board(journal, Address(port=0))
    assert seen == [True]


def test_the_command_beside_another(journal: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Begun by another command, it ends with the end of its input."""
    monkeypatch.setenv(board_command._BESIDE, "1")
    ends = threading.Event()
    coming = iter([b"x", b"y"])

    def read(fd: int, _: int) -> bytes:
        assert fd == 0
        piece = next(coming, b"")
        if not piece:
            assert ends.wait(10)
        return piece

    monkeypatch.setattr(board_command, "_read", read)

    def start(tell: Callable[[str], None]) -> None:
        monkeypatch.setattr(board_command, "notice", tell)
        board_command.board(journal, Address(port=0))

    found = Here(start)
    assert found.ask(HEALTH).startswith(b"HTTP/1.1 200")
    ends.set()
    found.thread.join(10)
    assert not found.thread.is_alive()
