"""A board's server as a process: it ends when it is told to, and says in one line why it cannot be.

Sources: POSIX signals (SIGTERM asks a process to end), RFC 9112 9.5 (a server ends slow
connections), OWASP Denial of Service Cheat Sheet (slow requests, limits).
"""

import os
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

from voicecount.board import address as board_address
from voicecount.board import head as board_head
from voicecount.board.address import Address
from voicecount.board.hub import MOST_VIEWERS
from voicecount.board.kept_token import kept_token
from voicecount.board.serve import serve
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
from voicecount.board import address as a, follow, serve as s, app
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
s.serve(Path(sys.argv[1]), CODEC, a.Address(port=0), print)
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
        "import sys, time\nfrom pathlib import Path\nfrom voicecount.board.address import Address\n"
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


def test_beside(journal: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """It lasts as long as the block; without an address there is none."""
    with beside(journal, None):
        pass
    assert capfd.readouterr().err == ""
    file = tmp_path / "token"
    with beside(journal, Address(port=0, names=("board.example",), token_file=file)):
        until = time.monotonic() + 30
        told = ""
        while "http://" not in told:
            assert time.monotonic() < until
            told += capfd.readouterr().err
            time.sleep(0.05)
        port = int(told.strip().rpartition(":")[2].partition("/")[0])
        token = kept_token(file)
        assert token_in(told.strip()) == token
        cookie = f"Cookie: voicecount_board_{port}={token}"
        with socket.create_connection(("127.0.0.1", port), timeout=15) as found:
            found.sendall(
                f"GET /health HTTP/1.0\r\nHost: board.example\r\n{cookie}\r\n\r\n".encode()
            )
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
            ((str(journal), "--port", port), "perhaps the board of another case; end that one"),
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

    listening = board_address.listen
    with pytest.MonkeyPatch.context() as patch, ExitStack() as stack:
        patch.setattr(board_address, "listen", lambda one: stack.enter_context(listening(one)))
        with pytest.raises(Told) as found:
            serve(journal, CODEC, address, tell)
    return str(found.value)


def token_in(line: str) -> str:
    """Give the token of an address that was told; empty where there is none."""
    return line.partition("/?token=")[2].split(" ")[0]


def test_the_network_needs_a_token(journal: Path) -> None:
    """Told once with the address, long enough not to be guessed, another one each time.

    Source: OWASP Session Management Cheat Sheet: at least 64 bits of entropy; here 18 bytes.
    """
    seen = {told_of(journal, Address("0.0.0.0", 0)) for _ in range(5)}  # noqa: S104 - of a test
    tokens = {token_in(line) for line in seen}
    assert len(tokens) == 5
    assert all(len(token) == 24 for token in tokens)


@pytest.mark.parametrize(
    ("address", "start", "local"),
    [
        (Address(port=0), "http://127.0.0.1:", True),
        (Address("localhost", 0), "http://localhost:", True),
        (Address("127.0.0.2", 0), "http://127.0.0.2:", True),
        (Address("127.1", 0), "http://127.0.0.1:", True),
        (Address("::1", 0), "http://[::1]:", True),
        (Address("[::1]", 0), "http://[::1]:", True),
        (Address(port=0, names=("board.example",)), "http://127.0.0.1:", True),
        (Address("0.0.0.0", 0, ("board.example",)), "http://board.example:", False),  # noqa: S104
        (Address("0", 0, ("board.example",)), "http://board.example:", False),
        (Address("::", 0, ("fd00::7",)), "http://[fd00::7]:", False),
        (Address("::0", 0, ("[FD00:0::7]",)), "http://[fd00::7]:", False),
    ],
)
def test_the_address_to_open(journal: Path, address: Address, start: str, *, local: bool) -> None:
    """What is told can be opened: it is listened on, or named; only the network needs a token."""
    try:
        told = told_of(journal, address)
    except UsageError:
        pytest.skip(f"this machine has no {address.host}")
    assert told.startswith(f"board: {start}")
    assert ("token" in told) is not local
    with board_address.listen(address) as listening:
        names = board_address.hosts(address, listening)
    assert names[0] in start
    assert "0.0.0.0" not in names  # noqa: S104 - of no machine
    assert "[::]" not in names
    assert "localhost" in names


def test_a_name_of_this_machine_that_the_network_reaches(
    journal: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether a token is needed hangs on the socket, not on the name: a table may say anything."""
    real = socket.getaddrinfo
    table = {"localhost": "0.0.0.0", "theatre": "127.0.0.1"}  # noqa: S104 - of a test

    def looked_up(host: str, *more: Any, **named: Any) -> Any:
        return real(table.get(host, host), *more, **named)

    monkeypatch.setattr(socket, "getaddrinfo", looked_up)
    assert token_in(told_of(journal, Address("localhost", 0)))
    assert not token_in(told_of(journal, Address("theatre", 0)))


class One:
    """An address of an interface."""

    def __init__(self, address: str, family: int) -> None:
        self.address, self.family = address, family


FOUND = {
    "lo": [One("127.0.0.1", socket.AF_INET), One("::1", socket.AF_INET6)],
    "a": [
        One("169.254.3.4", socket.AF_INET),
        One("02:00:00:00:00:01", -1),
        One("fd00::7", socket.AF_INET6),
        One("fe80::1%a", socket.AF_INET6),
    ],
    "b": [One("10.1.1.5", socket.AF_INET), One("10.1.1.6", socket.AF_INET)],
}


def test_own_addresses_without_a_way_out(journal: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A network of the house's own has no way out: what is told is this machine's address on it."""

    def no_way(*_: object) -> None:
        raise OSError(101, "Network is unreachable")

    def not_told() -> Any:
        raise PermissionError

    monkeypatch.setattr(socket.socket, "connect", no_way)
    monkeypatch.setattr(board_address.psutil, "net_if_addrs", lambda: FOUND)
    assert board_address.own_addresses() == ["10.1.1.5", "10.1.1.6", "169.254.3.4", "fd00::7"]
    told = told_of(journal, Address("0.0.0.0", 0))  # noqa: S104 - of a test
    assert told.startswith("board: http://10.1.1.5:")
    assert told.endswith(" (also by 10.1.1.6, 169.254.3.4, [fd00::7])")
    monkeypatch.setattr(board_address.psutil, "net_if_addrs", not_told)
    assert board_address.own_addresses() == []
    told = told_of(journal, Address("0.0.0.0", 0))  # noqa: S104 - of a test
    assert told.startswith("board: http://127.0.0.1:")


class Bound:
    """A socket that listens on an address."""

    def __init__(self, address: str) -> None:
        self.address = address

    def getsockname(self) -> tuple[str, int]:
        return self.address, 8460


@pytest.mark.parametrize(
    ("address", "names"),
    [
        (Address("fd00::7"), ("[fd00::7]", "own")),
        (Address("10.1.1.5", names=("Board.Example",)), ("board.example", "10.1.1.5", "own")),
        (Address("fe80::1%eth0"), ("own", "[fe80::1]")),  # browsers open none of these
    ],
)
def test_the_names_of_a_network_board(
    monkeypatch: pytest.MonkeyPatch, address: Address, names: tuple[str, ...]
) -> None:
    """The names that were given, the address, and the machine's own; the first is told."""
    monkeypatch.setattr(socket, "gethostname", lambda: "own")
    bound: Any = Bound(address.host)
    assert board_address.hosts(address, bound) == names
    assert not board_address.is_local(bound)


@pytest.mark.skipif(sys.platform != "linux", reason="optional: needs interfaces by name")
def test_a_link_local_address_keeps_its_interface() -> None:
    """RFC 4007, 11: such an address means something only together with its interface."""
    found = [
        one.address
        for interface in board_address.psutil.net_if_addrs().values()
        for one in interface
        if one.family == socket.AF_INET6 and one.address.startswith("fe80:")
    ]
    if not found:
        pytest.skip("this machine has no such address")
    with board_address.listen(Address(found[0], 0)) as listening:
        assert listening.getsockname()[3] == socket.if_nametoindex(found[0].partition("%")[2])


def test_every_address_of_this_machine_opens_it(journal: Path) -> None:
    """Listening on all, it is opened by whichever address the request came to; by no other name."""
    with serving(journal, "--listen", "0.0.0.0") as server:  # noqa: S104 - of a test
        for name in ("127.0.0.1", "127.0.0.2", "127.3.2.1"):
            wrong = ("10.9.8.7", "0.0.0.0", "board.example")  # noqa: S104 - asked for
            for host, status in ((name, 303), ("localhost", 303), *((one, 421) for one in wrong)):
                with socket.create_connection((name, server.port), timeout=15) as found:
                    ask = f"GET {server.query} HTTP/1.0\r\nHost: {host}:{server.port}\r\n\r\n"
                    found.sendall(ask.encode())
                    assert head_of(all_of(found))[0] == status, (name, host)
    try:
        server = Server(journal, "--listen", "::")
    except AssertionError:
        pytest.skip("this machine has no IPv6")
    try:
        for name, host in (("127.0.0.2", "127.0.0.2"), ("::1", "[::1]"), ("::1", "[0::1]")):
            with socket.create_connection((name, server.port), timeout=15) as found:
                found.sendall(f"GET {server.query} HTTP/1.0\r\nHost: {host}\r\n\r\n".encode())
                assert head_of(all_of(found))[0] == 303
    finally:
        server.end()


# A token that is kept


def test_a_kept_token(journal: Path, tmp_path: Path) -> None:
    """Made once, for its owner only; the cookie of a tablet is good for the next board, too."""
    file = tmp_path / "token"
    arguments = ("--listen", "0.0.0.0", "--name", "127.0.0.1", "--token", str(file))  # noqa: S104
    with serving(journal, *arguments) as server:
        port, query = str(server.port), server.query
        cookie = dict(head_of(server.get(query))[1])["set-cookie"].partition(";")[0]
        assert head_of(server.get("/", f"Cookie: {cookie}"))[0] == 200
    if sys.platform != "win32":
        assert file.stat().st_mode & 0o777 == 0o600
    assert token_in(query) == file.read_text().strip()
    other = tmp_path / "b.vcj"
    other.write_bytes(b"")
    with serving(other, *arguments, "--port", port) as server:
        assert server.query == query
        answer = server.get("/", f"Cookie: {cookie}")
        assert head_of(answer)[0] == 200
        assert b"sponge" not in answer, "nothing of the last case"
        assert head_of(server.get("/"))[0] == 401
        until = time.monotonic() + 10
        while len(server.told) < 2:
            assert time.monotonic() < until
            time.sleep(0.02)
        assert server.told[1:] == [
            "voicecount: board: b.vcj is empty; the board waits until a case is kept in it"
        ]
    with serving(journal, "--token", str(file)) as server:  # asked for here, too, once it is given
        assert head_of(server.get("/"))[0] == 401
        assert head_of(server.get(query))[0] == 303


@pytest.mark.parametrize("content", ["a" * 22, "a" * 200 + "\n", "Az09-_.~" * 3 + "\r\n"])
def test_what_is_a_token(tmp_path: Path, content: str) -> None:
    file = tmp_path / "token"
    file.write_bytes(content.encode())
    file.chmod(0o600)
    assert kept_token(file) == content.strip()


@pytest.mark.parametrize(
    "content",
    [
        *(
            "",
            "\n",
            "a" * 21,
            "a" * 201,
            "a" * 5000,
            "a" * 30 + "&x",
            "a" * 30 + " ",
            " " + "a" * 30,
        ),
        *(
            "a" * 30 + "\n\n",
            "a" * 30 + "\nb",
            "a" * 30 + ";",
            "é" * 30,
            "a" * 30 + "%41",
            "a\0" * 20,
        ),
    ],
)
def test_what_is_no_token(tmp_path: Path, content: str) -> None:
    """Too short to be safe, or what an address or a cookie changes: refused, and left as it is."""
    file = tmp_path / "token"
    file.write_bytes(content.encode())
    file.chmod(0o600)
    with pytest.raises(UsageError, match=r"it holds no token for the board .*remove this one"):
        kept_token(file)
    assert file.read_bytes() == content.encode()


@POSIX
@pytest.mark.parametrize("mode", [0o640, 0o604, 0o620, 0o601, 0o644, 0o660, 0o777])
def test_a_token_that_others_may_know(tmp_path: Path, mode: int) -> None:
    file = tmp_path / "token"
    file.write_text("a" * 24)
    file.chmod(mode)
    with pytest.raises(UsageError, match=r"others than its owner may read or change it.*remove it"):
        kept_token(file)


@POSIX
def test_where_no_token_can_be_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No such folder, a folder, a pipe, a link to nothing, a file of another user: one line."""
    with pytest.raises(UsageError, match=r"cannot keep the board's token \(No such file"):
        kept_token(tmp_path / "none" / "token")
    link = tmp_path / "link"
    link.symlink_to(tmp_path / "nothing")
    with pytest.raises(UsageError, match=r"cannot keep the board's token \(File exists"):
        kept_token(link)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe, 0o600)
    for path in (tmp_path, pipe):
        with pytest.raises(UsageError, match="it is not a file"):
            kept_token(path)
    file = tmp_path / "token"
    assert kept_token(file) == kept_token(file)
    monkeypatch.setattr(os, "geteuid", lambda: file.stat().st_uid + 1)
    with pytest.raises(UsageError, match="it belongs to another user"):
        kept_token(file)


@pytest.mark.parametrize(
    "command",
    [
        ("board", "a.vcj"),
        ("run", "sheet.yaml", "--board"),
        ("demo", "--board"),
        ("replay", "--sheet", "sheet.yaml", "a.wav", "--board"),
        ("resume", "a.vcj", "--sheet", "sheet.yaml", "--board"),
    ],
)
def test_wrong_addresses_are_told_before_a_count(
    journal: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    command: tuple[str, ...],
) -> None:
    """By every command with a board, in one line and before anything else: nothing was begun."""
    monkeypatch.chdir(journal.parent)
    monkeypatch.setattr(board_address, "listen", None)  # what is not refused fails, never waits
    (journal.parent / "known").write_text("a" * 24)
    (journal.parent / "known").chmod(0o644)
    cases = [
        (("--listen", ""), "the address after --listen is empty"),
        (("--listen", " "), "the address after --listen is empty"),
        (("--token", "none/token"), "cannot keep the board's token"),
        *(
            (("--token", "known"), "others than its owner may read")
            for _ in range(sys.platform != "win32")
        ),
    ]
    names = ["", " ", "bad name/x", "a\nb", "a:b", "a:80", "http://a", "a/", "a.", ".a", "a..b"]
    names += ["-a", "a" * 64, "a." * 126 + "aa", "thé.local", "256.1.1.1", "127.1", "a.1", "0x7f"]
    names += ["[::1", "fe80::1%a"]
    cases += [((f"--name={name}",), "is no name of a machine") for name in names]
    for more, why in cases:
        assert main([*command, *more]) == 2, more
        told = capsys.readouterr().err.splitlines()
        assert len(told) == 1, told
        assert why in told[0], more


def test_names_that_may_be_given() -> None:
    names = ("a", "theatre4.local", "THEATRE_4", "a-b.c-d", "1a", "10.0.0.1", "::1", "[fd00::1]")
    assert Address(names=names).names == names
    assert Address(names=("a." * 126 + "a",)).names


@pytest.mark.parametrize(
    "more",
    [("--listen", "0.0.0.0"), ("--port", "1"), ("--name", "a"), ("--token", "a")],  # noqa: S104
)
def test_a_board_that_was_not_asked_for(
    capsys: pytest.CaptureFixture[str], more: tuple[str, str]
) -> None:
    """Where it would listen, without the board itself, is a slip that is told."""
    assert main(["demo", *more]) == 2
    assert "are for a board; add --board" in capsys.readouterr().err


def test_what_is_no_journal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "hello.txt"
    file.write_text("hello")
    assert main(["board", str(file), "--port", "0"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "it is no journal, or a damaged one (line 1: it is not JSON); name a journal" in line


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
        "import sys\nfrom pathlib import Path\n"
        "from voicecount.board import address as a, head, serve as s\n"
        "head.REQUEST_SECONDS = 0.6\nfrom voicecount.commands.journals import CODEC\n"
        "s.serve(Path(sys.argv[1]), CODEC, a.Address(port=0), lambda x: print(x, flush=True))\n"
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
