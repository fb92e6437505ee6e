"""Who may look, and that nobody can change anything: the layer before the board's routes.

Sources: RFC 9110 (methods 9, status codes 15, Host 7.2), RFC 9112 (framing), RFC 6265 (cookies),
Content Security Policy Level 3, OWASP cheat sheets "Cross-Site Request Forgery Prevention",
"HTTP Security Response Headers" and "Session Management", OWASP on DNS rebinding (by host checks).
"""

import asyncio
import hmac
from http.cookies import SimpleCookie
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicecount.board import guard as board_guard
from voicecount.board.guard import HEADERS, POLICY, Guard

HOSTS = ("127.0.0.1", "localhost", "[::1]", "Board.Example")
TOKEN = "tok-EN_123"  # noqa: S105 - of a test
PORT = 8460
COOKIE = f"voicecount_board_{PORT}"


class Answer:
    """What came back."""

    def __init__(self) -> None:
        self.messages: list[Any] = []
        self.reached: list[Any] = []

    @property
    def status(self) -> int:
        """The status code."""
        return int(self.messages[0]["status"])

    @property
    def body(self) -> bytes:
        """The whole body."""
        return b"".join(message.get("body", b"") for message in self.messages[1:])

    def all(self, name: str) -> list[str]:
        """Give the values of a header."""
        found = self.messages[0]["headers"]
        return [value.decode("latin-1") for key, value in found if key == name.encode()]


def ask(
    path: str = "/",
    *,
    method: str = "GET",
    query: bytes = b"",
    token: str | None = None,
    host: bytes | None = b"127.0.0.1:8460",
    headers: tuple[tuple[bytes, bytes], ...] = (),
    server: tuple[str, int] | None = ("127.0.0.1", PORT),
) -> Answer:
    """Ask a guard whose application answers everything with "inside"."""
    answer = Answer()

    async def app(scope: Any, _receive: Any, send: Any) -> None:
        answer.reached.append(scope)
        start = {"type": "http.response.start", "status": 200, "headers": [(b"x-own", b"1")]}
        await send(start)
        await send({"type": "http.response.body", "body": b"inside"})

    async def send(message: Any) -> None:
        answer.messages.append(message)

    async def receive() -> Any:
        raise AssertionError  # a body is never asked for

    scope = {
        "type": "http",
        "method": method,
        "path": path,
        "raw_path": path.encode(),
        "query_string": query,
        "headers": [*([] if host is None else [(b"host", host)]), *headers],
        "server": server,
    }
    asyncio.run(Guard(app, HOSTS, token)(scope, receive, send))
    if answer.messages:
        for name, value in HEADERS:
            assert answer.all(name.decode()) == [value.decode()], "each of them, once"
    return answer


def test_a_look_is_passed_on() -> None:
    for method in ("GET", "HEAD"):
        answer = ask(method=method)
        assert (answer.status, answer.body, answer.all("x-own")) == (200, b"inside", ["1"])
        assert len(answer.reached) == 1


@pytest.mark.parametrize(
    "method",
    [
        *("POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT"),
        *("PROPFIND", "MKCOL", "COPY", "MOVE", "LOCK", "QUERY", "get", "Get", "X" * 200, ""),
    ],
)
def test_no_method_writes(method: str) -> None:
    """Of RFC 9110 (9.1: methods are case-sensitive), of WebDAV (RFC 4918), and invented ones."""
    answer = ask(method=method)
    assert (answer.status, answer.reached) == (405, [])
    assert answer.all("allow") == ["GET, HEAD"]  # RFC 9110, 15.5.6: must be sent


@pytest.mark.parametrize(
    "header",
    [
        (b"content-length", b"1"),
        (b"content-length", b"00"),
        (b"content-length", b"-1"),
        (b"content-length", b"x"),
        (b"transfer-encoding", b"chunked"),
        (b"transfer-encoding", b""),
    ],
)
def test_no_body_is_taken(header: tuple[bytes, bytes]) -> None:
    """However its length is given (RFC 9112, 6); none at all, or zero, is no body."""
    answer = ask(headers=(header,))
    assert (answer.status, answer.reached) == (413, [])
    assert ask(headers=((b"content-length", b"0"),)).status == 200


def test_long_requests() -> None:
    """RFC 9110, 15.5.15 (414) and RFC 6585, 5 (431)."""
    assert ask("/" + "a" * 511).status == 200
    assert ask("/" + "a" * 512).status == 414
    assert ask("/", query=b"a" * 511).status == 200
    assert ask("/", query=b"a" * 512).status == 414
    name, value = b"x-long", b"a" * 8192
    assert ask(headers=((name, value),)).status == 431
    assert ask(headers=tuple((b"x-%d" % n, b"a" * 80) for n in range(100))).status == 431
    assert ask(headers=((name, value[:8000]),)).status == 200


@pytest.mark.parametrize(
    "host",
    [
        *(b"127.0.0.1", b"127.0.0.1:8460", b"localhost:1", b"LOCALHOST", b"[::1]", b"[::1]:8460"),
        *(b"board.example", b"BOARD.EXAMPLE:80", b"127.0.0.1:"),
    ],
)
def test_our_names(host: bytes) -> None:
    """A name in any case, an address, with a port or none (RFC 9110, 4.2.3 and 7.2)."""
    assert ask(host=host).status == 200


@pytest.mark.parametrize(
    "host",
    [
        *(None, b"", b"evil.example", b"evil.example:8460", b"127.0.0.1.evil.example"),
        *(b"localhost.", b"localhost.evil.example", b"evil@127.0.0.1", b"127.0.0.1@evil.example"),
        *(b"[::1", b"::1", b"[::1]evil.example", b"[::1]:80x", b"[::2]", b"[]", b"[", b"]"),
        *(b"127.0.0.1:80:80", b"127.0.0.1 ", b" localhost", b"localhost/", b"http://localhost"),
        *(b"127.0.0.1\tx", b"127.0.0.1\x00", b"127.1", b"0x7f.1", b"2130706433", b"\xff", b":80"),
        *(b"localhost\r\nx: y", b"localhost\n", b"127.0.0.1:80a", b"127.0.0.1,evil.example"),
    ],
)
def test_another_name(host: bytes | None) -> None:
    """A name that somebody else points at this machine is refused (DNS rebinding)."""
    answer = ask(host=host)
    assert (answer.status, answer.reached) == (421, [])  # RFC 9110, 15.5.20


@pytest.mark.parametrize(
    ("server", "hosts"),
    [
        ("10.1.1.5", (b"10.1.1.5", b"10.1.1.5:8460")),
        ("::ffff:10.1.1.5", (b"10.1.1.5", b"[::ffff:10.1.1.5]", b"[::ffff:a01:105]")),
        ("fd00::7", (b"[fd00::7]", b"[FD00:0::7]:8460", b"[fd00:0:0:0:0:0:0:7]")),
        ("fe80::7%eth0", (b"[fe80::7]:8460",)),
        ("fe80::7", (b"[fe80::7]",)),
    ],
)
def test_the_address_that_a_request_came_to(server: str, hosts: tuple[bytes, ...]) -> None:
    """This machine's own, literally: no name can be pointed at it so. No other address is ours.

    Sources: RFC 9110, 7.2; RFC 4291, 2.2 (ways to write an address) and 2.5.5.2 (IPv4-mapped).
    """
    for host in hosts:
        assert ask(host=host, server=(server, PORT)).status == 200
        assert ask(host=host, server=("10.1.1.6", PORT)).status == 421
        assert ask(host=host, server=("/run/board", PORT)).status == 421
        assert ask(host=host, server=None).status == 421
    strange = (b"10.1.1.5.example", b"010.1.1.5", b"10.1.257", b"0.0.0.0", b"[::]", b"167837957")
    for host in (*strange, b"fd00::7", b"[10.1.1.5]", b"fe80::7", b"10.1.1.5%a", b"evil.example"):
        assert ask(host=host, server=(server, PORT)).status == 421, host


def test_what_to_do_with_a_wrong_name() -> None:
    assert b"begin it with --name and the name that was opened" in ask(host=b"a.example").body


# The token


@pytest.fixture
def compared(monkeypatch: pytest.MonkeyPatch) -> list[tuple[bytes, bytes]]:
    """Give what is compared in constant time."""
    seen: list[tuple[bytes, bytes]] = []
    real = hmac.compare_digest

    def watched(one: bytes, other: bytes) -> bool:
        seen.append((one, other))
        return real(one, other)

    monkeypatch.setattr(board_guard.hmac, "compare_digest", watched)
    return seen


def cookie(value: str) -> tuple[tuple[bytes, bytes], ...]:
    return ((b"cookie", value.encode("latin-1")),)


RIGHT = f"{COOKIE}={TOKEN}"


@pytest.mark.parametrize(
    ("query", "cookies", "allowed"),
    [
        (b"", "", False),
        (b"token=", "", False),
        (b"token=wrong", "", False),
        (b"token=" + TOKEN.encode()[:-1], "", False),
        (b"token=" + TOKEN.encode() + b"x", "", False),
        (b"token=" + TOKEN.lower().encode(), "", False),
        (b"Token=" + TOKEN.encode(), "", False),
        (b"x=" + TOKEN.encode(), "", False),
        (b"token=" + TOKEN.encode(), "", True),
        (b"a=1&token=" + TOKEN.encode(), "", True),
        (b"token=wrong&token=" + TOKEN.encode(), "", False),
        (b"", RIGHT, True),
        (b"", f"other=1; {RIGHT}", True),
        (b"", f'a,b=1; (c)="; x[]=2;{RIGHT}; d', True),
        (b"", f"{COOKIE}=wrong", False),
        (b"", f"{COOKIE}=", False),
        (b"", f"{COOKIE}x={TOKEN}", False),
        (b"", TOKEN, False),
        (b"", '"; =;;\x00\xff', False),
        (b"", f"{COOKIE}[]={TOKEN}", False),
        (b"token=wrong", RIGHT, True),
        (b"token=\xff\xfe", "", False),
        (b"&".join([b"a=1"] * 20) + b"&token=" + TOKEN.encode(), "", False),
    ],
)
def test_who_has_the_token(
    compared: list[tuple[bytes, bytes]], query: bytes, cookies: str, *, allowed: bool
) -> None:
    """In the address or in a cookie; both are compared each time, in constant time.

    Source: Python's documentation of ``hmac.compare_digest`` (against timing analysis).
    """
    answer = ask(query=query, token=TOKEN, headers=cookie(cookies) if cookies else ())
    assert (answer.status == 401) is not allowed
    assert len(compared) == 2
    assert {other for _, other in compared} == {TOKEN.encode()}
    if not allowed:
        assert answer.reached == []
        assert TOKEN not in str(answer.messages)


def test_without_a_token_none_is_asked_for(compared: list[tuple[bytes, bytes]]) -> None:
    assert ask(query=b"token=x").status == 200
    assert compared == []


def test_the_token_goes_from_the_address_into_a_cookie() -> None:
    """Sent to "/" without it; the cookie is HttpOnly, SameSite=Strict, of this session only.

    Sources: RFC 6265, 5.2.6 (HttpOnly); RFC 6265bis (SameSite); RFC 9110, 15.4.4 (303).
    """
    answer = ask("/health", query=b"token=" + TOKEN.encode(), token=TOKEN)
    assert (answer.status, answer.reached) == (303, [])
    assert answer.all("location") == ["/"]
    (set_cookie,) = answer.all("set-cookie")
    (found,) = SimpleCookie(set_cookie).values()
    assert (found.key, found.value) == (COOKIE, TOKEN)
    assert (found["httponly"], found["samesite"], found["path"]) == (True, "Strict", "/")
    assert (found["domain"], found["expires"], found["max-age"]) == ("", "", "")
    assert ask(token=TOKEN, headers=cookie(f"{found.key}={found.value}")).status == 200


def test_boards_on_one_host_have_a_cookie_each() -> None:
    """RFC 6265, 8.5: cookies are not kept apart by port, so their names have to be."""
    keys = set()
    for server in (("127.0.0.1", PORT), ("127.0.0.1", PORT + 1), None):
        answer = ask(query=b"token=" + TOKEN.encode(), token=TOKEN, server=server)
        (found,) = SimpleCookie(answer.all("set-cookie")[0]).values()
        keys.add(found.key)
        for other in (("127.0.0.1", PORT), ("127.0.0.1", PORT + 1), None):
            again = ask(token=TOKEN, headers=cookie(f"{found.key}={TOKEN}"), server=other)
            assert (again.status == 200) is (other == server)
    assert len(keys) == 3


@pytest.mark.parametrize("path", ["/", "/changes", "/health", "/static/board.js", "/nothing"])
def test_nothing_is_given_without_it(path: str) -> None:
    answer = ask(path, token=TOKEN)
    assert (answer.status, answer.reached) == (401, [])
    assert b"the address with the token" in answer.body


@given(st.binary(max_size=60), st.binary(max_size=60), st.binary(max_size=60))
@settings(max_examples=150, deadline=None)
def test_anything_at_all(query: bytes, cookies: bytes, host: bytes) -> None:
    """Whatever the bytes, there is one answer, with every header, and no way in."""
    answer = ask(query=query, token=TOKEN, host=host, headers=((b"cookie", cookies),))
    assert answer.status in {401, 421}
    answer = ask(query=query, token=TOKEN, headers=((b"cookie", cookies),))
    assert answer.status == 401
    assert answer.reached == []
    for _, value in answer.messages[0]["headers"]:
        assert b"\r" not in value
        assert b"\n" not in value


# Headers


def test_the_policy() -> None:
    """Only our own script and style; nothing else is loaded, framed, sent or run.

    Source: Content Security Policy Level 3 (6: directives); OWASP Content Security Policy Cheat
    Sheet (default-src 'none', frame-ancestors, base-uri, form-action; no 'unsafe-…', no wildcard).
    """
    found = dict(one.strip().split(" ", 1) for one in POLICY.split(";"))
    ours, none = "'self'", "'none'"
    assert found == {
        "default-src": none,
        "script-src": ours,
        "style-src": ours,
        "connect-src": ours,
        "img-src": ours,
        "base-uri": none,
        "form-action": none,
        "frame-ancestors": none,
    }


def test_the_other_headers() -> None:
    """Source: OWASP HTTP Security Response Headers Cheat Sheet; OWASP Secure Headers Project."""
    found = {name.decode(): value.decode() for name, value in HEADERS}
    assert found.pop("content-security-policy") == POLICY
    assert found == {
        "x-content-type-options": "nosniff",
        "referrer-policy": "no-referrer",
        "cross-origin-resource-policy": "same-origin",
        "permissions-policy": "camera=(), microphone=(), geolocation=()",
        "cache-control": "no-store",
    }


@pytest.mark.parametrize(
    ("host", "heeded"),
    [
        *((b"127.0.0.1", True), (b"localhost:8460", True), (b"[::1]", True), (b"LOCALHOST", True)),
        *((b"a.localhost", True), (b"127.8.9.1", True), (b"board.example", False)),
        *((b"10.1.1.5:8460", False), (b"[fd00::7]", False), (b"localhost.example", False)),
        *((b"", False), (None, False), (b"\xff", False)),
    ],
)
def test_the_header_that_browsers_heed_on_this_machine_only(
    host: bytes | None, *, heeded: bool
) -> None:
    """Cross-Origin-Opener-Policy is of trustworthy origins; elsewhere a browser complains of it.

    Sources: HTML Living Standard, 7.1.3 ("if the reserved environment is a non-secure context");
    Secure Contexts, 3.1 (localhost, names below it, 127.0.0.0/8 and ::1 are trustworthy).
    """
    answer = ask(host=host)
    assert answer.all("cross-origin-opener-policy") == (["same-origin"] if heeded else [])


def test_what_is_no_request() -> None:
    """A websocket is not answered and reaches nothing; the server's own lifespan does."""
    reached: list[str] = []

    async def app(scope: Any, _receive: Any, _send: Any) -> None:
        reached.append(scope["type"])

    async def nothing(*_: Any) -> Any:
        raise AssertionError

    for kind in ("websocket", "lifespan"):
        asyncio.run(Guard(app, HOSTS, None)({"type": kind}, nothing, nothing))
    assert reached == ["lifespan"]
