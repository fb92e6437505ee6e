"""A board's server as a process: it ends when it is told to, and says in one line why it cannot be.

Sources: POSIX signals (SIGTERM asks a process to end), RFC 9112 9.5 (a server ends slow
connections), OWASP Denial of Service Cheat Sheet (slow requests, limits).
"""

import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any
from urllib.request import HTTPCookieProcessor, ProxyHandler, build_opener

import pytest
from board_rig import WHOLE
from board_server import Server, all_of, head_of, run_board, serving

from voicecount.board import head as board_head
from voicecount.board import serve as board_serve
from voicecount.board.hub import MOST_VIEWERS
from voicecount.board.serve import Address, serve
from voicecount.cli import main
from voicecount.commands.board import beside
from voicecount.commands.journals import CODEC
from voicecount.errors import UsageError

ENDS_WITHIN = 6.0
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="optional: no signals on Windows")


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    path = tmp_path / "a.vcj"
    shutil.copy(WHOLE, path)
    return path


@pytest.fixture
def server(journal: Path) -> Iterator[Server]:
    with serving(journal) as found:
        yield found


# Ending


@POSIX
@pytest.mark.parametrize("sign", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_with_viewers(server: Server, sign: signal.Signals) -> None:
    """With some who watch, one who never reads, one in the middle of asking, and one idle."""
    with ExitStack() as stack:
        watching = [stack.enter_context(server.watch()) for _ in range(5)]
        idle = stack.enter_context(server.connect())
        half = stack.enter_context(server.connect())
        half.sendall(b"GET / HTTP/1.1\r\nHost: 127")
        kept = stack.enter_context(server.connect())
        kept.sendall(b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        assert kept.recv(4096).startswith(b"HTTP/1.1 200")
        server.process.send_signal(sign)
        code = server.process.wait(ENDS_WITHIN)
        assert code in {-signal.SIGTERM, 130}
        for one in [*watching[1:], idle, half, kept]:
            try:
                all_of(one)  # each of them is let go
            except ConnectionResetError:
                continue
    assert not any("Traceback" in line for line in server.told)


@POSIX
def test_it_ends_when_the_disk_hangs(journal: Path, tmp_path: Path) -> None:
    """The loop stuck for good, and a look that never comes back: still it ends."""
    code = f"""
import os, sys, time
from pathlib import Path
from voicecount.board import follow, serve as s, app
from voicecount.commands.journals import CODEC
real = follow.Following.look
looks = 0
def look(self):
    global looks
    looks += 1
    if looks > 1:
        Path({str(tmp_path / "stuck")!r}).write_text("x")
        time.sleep(600)
    return real(self)
follow.Following.look = look
def stuck(self):
    time.sleep(600)
app.BoardApp.end = stuck
s.serve(Path(sys.argv[1]), CODEC, s.Address(port=0), print)
"""
    with subprocess.Popen([sys.executable, "-c", code, str(journal)]) as process:
        until = time.monotonic() + 30
        while not (tmp_path / "stuck").exists():
            assert time.monotonic() < until
            time.sleep(0.02)
        process.terminate()
        assert process.wait(ENDS_WITHIN) == 128 + signal.SIGTERM


def test_it_ends_with_the_command_beside_which_it_was_begun(journal: Path) -> None:
    """Also when that command was killed and could tell it nothing."""
    code = (
        "import sys, time\nfrom pathlib import Path\nfrom voicecount.board.serve import Address\n"
        "from voicecount.commands.board import beside\n"
        "with beside(Path(sys.argv[1]), Address(port=0)):\n    time.sleep(600)\n"
    )
    command = [sys.executable, "-c", code, str(journal)]
    with subprocess.Popen(command, stderr=subprocess.PIPE) as process:
        assert process.stderr is not None
        told = process.stderr.readline().decode()
        port = int(told.strip().rpartition(":")[2])
        watching = socket.create_connection(("127.0.0.1", port), timeout=15)
        with watching:
            watching.sendall(b"GET /changes HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            assert watching.recv(4096)
            process.kill()
            all_of(watching)
        process.stderr.read()  # its end: the board, which has it too, is gone
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port), timeout=5)


def test_beside(journal: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """It lasts as long as the block; without an address there is none."""
    with beside(journal, None):
        pass
    assert capfd.readouterr().err == ""
    with beside(journal, Address(port=0, names=("board.example",))):
        until = time.monotonic() + 30
        told = ""
        while "http://" not in told:
            assert time.monotonic() < until
            told += capfd.readouterr().err
            time.sleep(0.05)
        port = int(told.strip().rpartition(":")[2])
        with socket.create_connection(("127.0.0.1", port), timeout=15) as found:
            found.sendall(b"GET /health HTTP/1.0\r\nHost: board.example\r\n\r\n")
            assert all_of(found).startswith(b"HTTP/1.1 200")
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port), timeout=5)


def test_beside_one_that_does_not_end(journal: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A process that goes on in spite of being asked is killed."""
    done: list[str] = []

    class Stubborn:
        stdin = None

        def __init__(self, *_: Any, **__: Any) -> None: ...

        def terminate(self) -> None:
            done.append("asked")

        def wait(self, seconds: float | None = None) -> None:
            if seconds is not None:
                raise subprocess.TimeoutExpired("board", seconds)
            done.append("waited")

        def kill(self) -> None:
            done.append("killed")

    monkeypatch.setattr(subprocess, "Popen", Stubborn)
    with beside(journal, Address()):
        pass
    assert done == ["asked", "killed", "waited"]


# Where it cannot serve


def test_what_it_cannot_do_is_told_in_one_line(
    journal: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No such journal, a folder, a port in use, an address of another machine, no port at all."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        cases = [
            ((str(tmp_path / "none.vcj"),), "there is no such journal; check the name"),
            ((str(tmp_path),), "it is not a file; name a journal"),
            ((str(journal), "--port", port), "Address already in use"),
            ((str(journal), "--listen", "203.0.113.7"), "Cannot assign requested address"),
            ((str(journal), "--port", "70000"), "port"),
        ]
        for arguments, why in cases:
            code = main(["board", *arguments])
            told = capsys.readouterr().err.splitlines()
            assert code == 2, told
            assert len(told) == 1
            assert told[0].startswith("voicecount: ")
            assert why in told[0]
        # The same as a program: nothing but that line, no traceback.
        code, told = run_board(str(journal), "--port", port)
        assert (code, len(told)) == (2, 1)


@pytest.mark.parametrize("host", ["nowhere.invalid", "::g", "a" * 70, "a\0b", "256.1.1.1"])
def test_what_is_no_address(journal: Path, host: str) -> None:
    """One line, and no socket is left open (warnings are errors in these tests)."""
    with pytest.raises(
        UsageError, match=r"cannot listen on .*; give another one by --port"
    ) as error:
        serve(journal, CODEC, Address(host, 0), lambda _: None)
    assert "\n" not in str(error.value)


# Which names and whether with a token


class Told(Exception):  # noqa: N818 - no error: it ends the call where the address was told
    """What was told."""


def told_of(journal: Path, address: Address) -> str:
    """Give the address that is told, without serving."""

    def tell(line: str) -> None:
        raise Told(line)

    listening = board_serve._listen
    with pytest.MonkeyPatch.context() as patch, ExitStack() as stack:
        patch.setattr(board_serve, "_listen", lambda one: stack.enter_context(listening(one)))
        with pytest.raises(Told) as found:
            serve(journal, CODEC, address, tell)
    return str(found.value)


def test_the_network_needs_a_token(journal: Path) -> None:
    """Told once with the address, long enough not to be guessed, another one each time.

    Source: OWASP Session Management Cheat Sheet: at least 64 bits of entropy; here 18 bytes.
    """
    seen = {told_of(journal, Address("0.0.0.0", 0)) for _ in range(5)}  # noqa: S104 - of a test
    tokens = {line.partition("/?token=")[2] for line in seen}
    assert len(tokens) == 5
    assert all(len(token) == 24 for token in tokens)
    assert told_of(journal, Address("0.0.0.0", 0, token="abc")).endswith(  # noqa: S104, S106
        "/?token=abc"
    )


@pytest.mark.parametrize(
    ("address", "start"),
    [
        (Address(port=0), "board: http://127.0.0.1:"),
        (Address("localhost", 0), "board: http://localhost:"),
        (Address("127.0.0.2", 0), "board: http://127.0.0.2:"),
        (Address("::1", 0), "board: http://[::1]:"),
        (Address(port=0, names=("board.example",)), "board: http://127.0.0.1:"),
        (Address("0.0.0.0", 0, ("board.example",)), "board: http://board.example:"),  # noqa: S104
    ],
)
def test_the_address_to_open(journal: Path, address: Address, start: str) -> None:
    """What is told can be opened: it is listened on, or named; only the network needs a token."""
    try:
        told = told_of(journal, address)
    except UsageError:
        pytest.skip(f"this machine has no {address.host}")
    assert told.startswith(start)
    assert ("token" in told) is (not address.local)
    assert board_serve._hosts(address)[0] in start


def test_own_address_without_a_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """With no way out, the board names this machine only; it names the address it listens on."""

    def no_way(*_: object) -> None:
        raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(socket.socket, "connect", no_way)
    assert board_serve._own_address() == "127.0.0.1"
    hosts = board_serve._hosts(Address("fd00::7"))
    assert hosts == ("[fd00::7]", socket.gethostname())


def test_a_network_board_gives_nothing_without_its_token(journal: Path) -> None:
    """From the same machine, by its address; then with the token, by cookie."""
    with serving(journal, "--listen", "0.0.0.0", "--name", "127.0.0.1") as server:  # noqa: S104
        assert server.host == "127.0.0.1"
        for target in ("/", "/changes", "/health", "/static/board.js"):
            assert head_of(server.get(target))[0] == 401
        status, headers = head_of(server.get(server.query))
        found = dict(headers)
        assert (status, found["location"]) == (303, "/")
        cookie = found["set-cookie"].partition(";")[0]
        assert head_of(server.get("/", f"Cookie: {cookie}"))[0] == 200
        assert sum("token" in line for line in server.told) == 1


def test_two_boards_of_one_host_do_not_throw_each_other_out(journal: Path) -> None:
    """Outside: a client's cookies, the standard library's jar; like RFC 6265 it knows no ports."""
    opener = build_opener(ProxyHandler({}), HTTPCookieProcessor())
    network = ("--listen", "0.0.0.0", "--name", "127.0.0.1")  # noqa: S104
    with serving(journal, *network) as one, serving(journal, *network) as other:
        for server in (one, other):
            with opener.open(f"http://127.0.0.1:{server.port}{server.query}") as answer:
                assert answer.status == 200
        for server in (one, other):
            with opener.open(f"http://127.0.0.1:{server.port}/health") as answer:
                assert answer.status == 200


# Slow ones and many


def test_many_viewers_and_those_that_do_not_read(server: Server) -> None:
    """As many watch as may, none of them reads on: others are answered, a further one is told."""
    with ExitStack() as stack:
        watching = [stack.enter_context(server.watch()) for _ in range(MOST_VIEWERS)]
        assert head_of(server.get("/changes"))[0] == 503
        assert b'"viewers":64' in server.get("/health")
        watching[0].close()
        until = time.monotonic() + 10
        while b'"viewers":63' not in server.get("/health"):
            assert time.monotonic() < until
        stack.enter_context(server.watch())
        many = [stack.enter_context(server.connect()) for _ in range(board_head.MOST_CONNECTIONS)]
        answers = 0
        for one in many:
            try:
                one.sendall(b"GET /health HTTP/1.0\r\nHost: 127.0.0.1\r\n\r\n")
                answers += all_of(one).startswith(b"HTTP/1.1 200")
            except (ConnectionResetError, BrokenPipeError):
                continue
        assert 0 < answers < len(many)
        for one in many:
            one.close()
        assert head_of(server.get("/health"))[0] == 200


def test_slow_heads_are_closed(journal: Path) -> None:
    """Nothing, a part of a head, one byte after another, the same on a kept connection: closed."""
    code = (
        "import sys\nfrom pathlib import Path\nfrom voicecount.board import head, serve as s\n"
        "head.REQUEST_SECONDS = 0.6\nfrom voicecount.commands.journals import CODEC\n"
        "s.serve(Path(sys.argv[1]), CODEC, s.Address(port=0), lambda x: print(x, flush=True))\n"
    )
    command = [sys.executable, "-c", code, str(journal)]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        port = int(process.stdout.readline().decode().strip().rpartition(":")[2])
        whole = b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
        watching = socket.create_connection(("127.0.0.1", port), timeout=15)
        watching.sendall(b"GET /changes HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        for first, slow in ((b"", b""), (b"", whole[:-2]), (b"", whole), (whole, whole)):
            with socket.create_connection(("127.0.0.1", port), timeout=15) as found:
                if first:
                    found.sendall(first)
                    assert found.recv(4096).startswith(b"HTTP/1.1 200")
                began = time.monotonic()
                sent = 0
                try:
                    for at in range(len(slow) if slow != whole[:-2] else 1):
                        piece = slow[at : at + 1] if slow != whole[:-2] else slow
                        found.sendall(piece)
                        sent += len(piece)
                        time.sleep(0.05)
                    assert all_of(found) == b""
                except (ConnectionResetError, BrokenPipeError):
                    pass
                assert time.monotonic() - began < 10
                assert sent < len(whole)
        assert watching.recv(64)  # whoever watches is not closed by it
        watching.close()
        process.terminate()
        process.wait(ENDS_WITHIN)
