"""Bytes as no client library sends them, to a real server: garbage, injections, ways to the disk.

Sources: RFC 9112 (3.2: exactly one Host, else 400; 2.2 and 5: what is no request; 6.3: both kinds
of length), OWASP "Path Traversal" and "HTTP Response Splitting", OWASP Testing Guide (request
smuggling).
"""

import shutil
from collections.abc import Iterator

import pytest
from board_rig import WHOLE
from board_server import Server, head_of, serving
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from voicecount.board import page
from voicecount.board.guard import HEADERS

HEAD = b"Host: 127.0.0.1\r\nConnection: close\r\n"
FEW = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
SECRETS = (b"root:x:", b"import asyncio", b"case_opened", b"voicecount/board", b"Traceback")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    journal = tmp_path_factory.mktemp("raw") / "a.vcj"
    shutil.copy(WHOLE, journal)
    with serving(journal) as found:
        yield found
        assert found.process.poll() is None, "it still runs after all of this"
        assert len(found.told) == 1, "and has told nothing but its address"


@pytest.fixture(scope="module")
def closed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server that asks for a token."""
    journal = tmp_path_factory.mktemp("closed") / "a.vcj"
    shutil.copy(WHOLE, journal)
    with serving(journal, "--listen", "0.0.0.0", "--name", "127.0.0.1") as found:  # noqa: S104
        yield found
        assert found.process.poll() is None


def checked(answer: bytes, *statuses: int) -> list[tuple[str, str]]:
    """Check one answer: its status, every header of ours once, nothing of the disk."""
    status, headers = head_of(answer)
    assert status in statuses, answer[:300]
    for name, value in HEADERS:
        assert [v for n, v in headers if n == name.decode()] == [value.decode()]
    for secret in SECRETS:
        assert secret not in answer
    assert all(name not in {"server", "date", "x-powered-by"} for name, _ in headers)
    return headers


@pytest.mark.parametrize(
    "data",
    [
        b"\r\n\r\n",
        b"garbage\r\n\r\n",
        b"GET\r\n\r\n",
        b"GET /\r\n\r\n",
        b"GET / HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + HEAD + b"Host: 127.0.0.1\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + HEAD + b"no colon\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + HEAD + b"x y: z\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + HEAD + b": empty\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + HEAD + b"x: \x00\r\n\r\n",
        b"GET /\x00 HTTP/1.1\r\n" + HEAD + b"\r\n",
        b"GET /\xc3\xa4 HTTP/1.1\r\n" + HEAD + b"\r\n",
        b"GET / x HTTP/1.1\r\n" + HEAD + b"\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\x00" * 64 + b"\r\n\r\n",
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"POST / HTTP/1.1\r\n" + HEAD + b"Content-Length: 1\r\nContent-Length: 2\r\n\r\nx",
        b"POST / HTTP/1.1\r\n" + HEAD + b"Content-Length: -1\r\n\r\nx",
        b"GET / HTTP/1.1\r\n" + HEAD + b"Transfer-Encoding: gzip\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + HEAD + b"x: " + b"a" * 40000,
        b"G" * 40000,
    ],
    ids=lambda data: repr(data[:24]),
)
def test_what_is_no_request(server: Server, data: bytes) -> None:
    """Refused, with every header, and the connection is closed."""
    headers = checked(server.raw(data), 400, 405, 413, 431, 501)
    assert ("connection", "close") in headers


@pytest.mark.parametrize(
    "lengths",
    [
        b"Content-Length: 5\r\n",
        b"Transfer-Encoding: chunked\r\n",
        b"Content-Length: 5\r\nTransfer-Encoding: chunked\r\n",
    ],
)
@pytest.mark.parametrize("method", [b"GET", b"POST"])
def test_a_body_does_not_become_a_second_request(
    server: Server, lengths: bytes, method: bytes
) -> None:
    """Whatever the two lengths say, what follows a body is not read (RFC 9112, 6.3: close)."""
    hidden = b"0\r\n\r\nGET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
    answer = server.raw(method + b" / HTTP/1.1\r\nHost: 127.0.0.1\r\n" + lengths + b"\r\n" + hidden)
    assert ("connection", "close") in checked(answer, 405, 413)
    assert answer.count(b"HTTP/1.1 ") == 1
    assert b'"records"' not in answer


@pytest.mark.parametrize(
    "target",
    [
        *("//", "//evil.example", "//evil.example/%2e%2e", "/static/..", "/static/../", "/.."),
        *("/static/../app.py", "/static/../../../../etc/passwd", "/static/./board.css"),
        *("/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static/%2e%2e%2f%2e%2e%2fcli.py"),
        *("/static/%252e%252e%252fapp.py", "/static/..%5c..%5capp.py", "/static/..\\app.py"),
        *("/static//etc/passwd", "/static/%2fetc%2fpasswd", "/static/board.css%00.js", "/%00"),
        *("/static/%c0%ae%c0%ae%c0%afapp.py", "/static/board.css/..", "/static/%0d%0ax:%20y"),
        *("/a.vcj", "/a.vcj.now", "/static/a.vcj", "/%0d%0aSet-Cookie:%20a=b", "/?/../../etc"),
        *("http://evil.example/", "http://127.0.0.1/health", "file:///etc/passwd", "*", "health"),
        *("/static/" + "a" * 400, "/static/%", "/static/%zz", "/static/%ff%fe", "/;/health"),
    ],
)
def test_ways_out_of_a_folder(server: Server, target: str) -> None:
    """As they are written, without a client that tidies them: nothing of the disk, no way on."""
    answer = server.get(target)
    headers = checked(answer, 200, 400, 404)
    assert not [name for name, _ in headers if name in {"location", "set-cookie", "x"}]
    body = answer.partition(b"\r\n\r\n")[2]
    if head_of(answer)[0] == 200:
        assert target == "/?/../../etc"
        assert body.startswith(b"<!doctype html>")
    else:
        assert len(body) < 60


@pytest.mark.parametrize("where", ["path", "query", "host", "cookie", "token"])
@pytest.mark.parametrize("line", ["\r\n", "\n", "\r", "%0d%0a", "%0D%0A%20", "\x0b", "\x85"])
def test_no_header_is_brought_in(closed: Server, where: str, line: str) -> None:
    """A line's end in any part that is sent brings no header and no body into an answer."""
    evil = f"{line}Set-Cookie: evil=1{line}{line}<b>"
    target, host, cookie = "/", "127.0.0.1", "a=b"
    if where == "path":
        target = f"/{evil}"
    elif where == "query":
        target = f"/?a={evil}"
    elif where == "token":
        target = f"{closed.query}{evil}"
    elif where == "host":
        host += evil
    else:
        cookie = f"voicecount_board_{closed.port}={evil}"
    text = f"GET {target} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n"
    answer = closed.raw(text.encode("latin-1"))
    headers = checked(answer, 400, 401, 404, 421)
    assert not [value for name, value in headers if name == "set-cookie"]
    assert b"evil" not in answer
    assert b"<b>" not in answer


def test_the_right_token_with_a_line_end_after_it(closed: Server) -> None:
    """What is set as a cookie is our own token, never what was sent."""
    headers = checked(closed.get(f"{closed.query}&x=%0d%0aSet-Cookie:%20evil=1"), 303)
    (value,) = [value for name, value in headers if name == "set-cookie"]
    token = closed.query.partition("=")[2]
    assert value.startswith(f"voicecount_board_{closed.port}={token}; HttpOnly")
    assert ("location", "/") in headers


def test_several_requests_on_one_connection(server: Server) -> None:
    """One after the other, and sent all at once (RFC 9112, 9.3)."""
    one = b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
    last = b"GET /none HTTP/1.1\r\n" + HEAD + b"\r\n"
    answer = server.raw(one * 3 + last)
    assert answer.count(b"HTTP/1.1 200") == 3
    assert answer.count(b"HTTP/1.1 404") == 1
    with server.connect() as found:
        for _ in range(3):
            found.sendall(one)
            seen = b""
            while not seen.endswith(b"}"):
                seen += found.recv(4096)
            assert seen.startswith(b"HTTP/1.1 200")


def test_an_upgrade_is_not_made(server: Server) -> None:
    """No websocket and no other protocol: the answer is an ordinary one (RFC 9110, 7.8)."""
    more = ("Upgrade: websocket", "Sec-WebSocket-Version: 13", "Sec-WebSocket-Key: AAAA")
    answer = server.get("/health", "Connection: Upgrade", *more)
    checked(answer, 200)


def test_the_files_are_the_files(server: Server) -> None:
    for name in page.STATIC:
        answer = server.get(f"/static/{name}")
        checked(answer, 200)
        assert answer.partition(b"\r\n\r\n")[2] == (page.HERE / "static" / name).read_bytes()


@FEW
@given(
    method=st.sampled_from([b"GET", b"HEAD", b"POST", b"X", b"get"]),
    target=st.one_of(
        st.binary(max_size=40).map(lambda one: b"/" + one),
        st.text(max_size=20).map(lambda one: b"/static/" + one.encode("utf-8", "replace")),
        st.sampled_from([b"/health", b"/", b"/static/board.css", b"/none"]),
    ),
    headers=st.lists(
        st.tuples(
            st.sampled_from([b"Cookie", b"X", b"Content-Length", b"Accept", b"Range", b"Host"]),
            st.one_of(st.binary(max_size=30), st.sampled_from([b"0", b"bytes=0-1", b"127.0.0.1"])),
        ),
        max_size=4,
    ),
)
def test_any_bytes(
    server: Server, method: bytes, target: bytes, headers: list[tuple[bytes, bytes]]
) -> None:
    """Whatever is sent: an answer that is no fault of ours, with every header, or none at all."""
    lines = [method + b" " + target + b" HTTP/1.1", *(a + b": " + b for a, b in headers)]
    answer = server.raw(b"\r\n".join(lines) + b"\r\n" + HEAD + b"\r\n")
    if answer:
        checked(answer, 200, 400, 401, 404, 405, 413, 414, 421, 431)


@FEW
@given(st.binary(max_size=300))
def test_only_bytes(server: Server, data: bytes) -> None:
    answer = server.raw(data)
    if answer:
        checked(answer, 400)
