"""Who may look: this machine, or whoever has the token. Nothing can be changed by anyone.

An ASGI layer around the board's routes. It refuses, before anything else is looked at: methods that
write, bodies, long requests, names of hosts that are not ours (a page elsewhere could else read the
board through a name that it points at this machine), and whoever lacks the token.
"""

import hmac
import ipaddress
import re
from collections.abc import Collection
from urllib.parse import parse_qs

from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE = "voicecount_board"
"""The name begins so, and ends with the port: browsers give a cookie to every port of a host (RFC
6265, 8.5), so boards beside each other would else throw each other's viewers out."""
_LONGEST_TARGET = 512
"""Bytes of path and query."""
_LONGEST_HEADERS = 8192
"""Bytes of all headers together."""

_HOST = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[^\[\]:/@\s]+)(?::[0-9]*)?")
"""RFC 9110, 7.2: a name or an address, then a port or none."""

_NOT_OURS = (
    "this is not a name of this board: open the address that was printed when it began, or begin "
    "it with --name and the name that was opened here"
)
_ASK_WITH = "open the address with the token that was printed when the board began"

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""Content Security Policy, level 3: only our own script and style, and no other address at all."""

HEADERS = (
    (b"content-security-policy", POLICY.encode("ascii")),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
    (b"cache-control", b"no-store"),
)
"""Sent with every answer, errors among them."""
OPENER = (b"cross-origin-opener-policy", b"same-origin")
"""Sent besides where a browser heeds it, on this machine. Elsewhere, over plain HTTP, it would only
complain (HTML Living Standard, 7.1.3; Secure Contexts, 3.1)."""


class Guard:
    """An ASGI application around another one. ``token`` is None where none is needed."""

    def __init__(self, app: ASGIApp, hosts: Collection[str], token: str | None) -> None:
        self._app = app
        self._hosts = frozenset(host.lower() for host in hosts)
        self._token = token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what may be asked; answer the rest."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return

        more = (*HEADERS, OPENER) if _trusted_by_browsers(scope) else HEADERS

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", ()), *more]
            await send(message)

        refused = self._refused(scope)
        if refused is None and self._brings_token(scope):
            await _answer(guarded, 303, "", self._cookie(scope))
        elif refused is not None:
            # What came with a refused request is never taken for a further one.
            await _answer(guarded, *refused, [(b"connection", b"close")])
        else:
            await self._app(scope, receive, guarded)

    def _refused(self, scope: Scope) -> tuple[int, str] | None:
        headers = _headers(scope)
        target = len(scope.get("raw_path") or b"") + len(scope.get("query_string", b""))
        size = sum(len(name) + len(value) for name, value in scope["headers"])
        body = headers.get("content-length", "0") != "0" or "transfer-encoding" in headers
        host = _host_of(headers.get("host", ""))
        stranger = host not in self._hosts and not _is_own_address(host, scope)
        checks = (
            (scope["method"] not in {"GET", "HEAD"}, 405, "only reading is possible"),
            (body, 413, "a request has no body here"),
            (target > _LONGEST_TARGET, 414, "the address is too long"),
            (size > _LONGEST_HEADERS, 431, "the headers are too long"),
            (stranger, 421, _NOT_OURS),
            (self._token is not None and not self._allowed(scope, headers), 401, _ASK_WITH),
        )
        return next(((status, text) for wrong, status, text in checks if wrong), None)

    def _allowed(self, scope: Scope, headers: dict[str, str]) -> bool:
        given = [_query_token(scope), _cookie_token(headers.get("cookie", ""), _cookie_name(scope))]
        # Every one is compared, each in constant time.
        fits = [_same(one, self._token or "") for one in given]
        return any(fits)

    def _brings_token(self, scope: Scope) -> bool:
        return self._token is not None and bool(_query_token(scope))

    def _cookie(self, scope: Scope) -> list[tuple[bytes, bytes]]:
        """Move the token from the address, which people photograph, to a cookie."""
        value = f"{_cookie_name(scope)}={self._token}; HttpOnly; SameSite=Strict; Path=/"
        return [(b"set-cookie", value.encode("ascii")), (b"location", b"/")]


def _headers(scope: Scope) -> dict[str, str]:
    return {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}


def _host_of(header: str) -> str:
    """Give the name or address of a Host header, without its port; empty where it is none."""
    found = _HOST.fullmatch(header)
    return found[1].lower() if found is not None else ""


def _is_own_address(host: str, scope: Scope) -> bool:
    """Tell whether a host is the very address that the request came to.

    No name is an address: a name that somebody points at this machine stays a stranger.
    """
    server = scope.get("server")
    ours = None if server is None else _address(server[0].partition("%")[0])
    return ours is not None and _address(host) == ours


def _address(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    """Read an address; one of version 4 that came to a socket of version 6 is the former."""
    bare = host.removeprefix("[").removesuffix("]") if ":" in host else host
    try:
        found = ipaddress.ip_address(bare)
    except ValueError:
        return None
    return getattr(found, "ipv4_mapped", None) or found


def _trusted_by_browsers(scope: Scope) -> bool:
    """Tell whether a browser takes where it was asked for to be this machine."""
    host = _host_of(_headers(scope).get("host", ""))
    ip = _address(host)
    return host == "localhost" or host.endswith(".localhost") or (ip is not None and ip.is_loopback)


def _query_token(scope: Scope) -> str:
    try:
        found = parse_qs(scope.get("query_string", b"").decode("ascii"), max_num_fields=8)
    except (UnicodeDecodeError, ValueError):
        return ""
    return str(found.get("token", [""])[0])


def _cookie_name(scope: Scope) -> str:
    """Name this board's cookie by the port it listens on."""
    server = scope.get("server")
    return f"{COOKIE}_{server[1]}" if server is not None else COOKIE


def _cookie_token(header: str, ours: str) -> str:
    """Read our cookie beside whatever other cookies this machine's name has (RFC 6265, 4.2.1)."""
    pairs = (pair.strip().partition("=") for pair in header.split(";"))
    return next((value for name, _, value in pairs if name == ours), "")


def _same(given: str, token: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "replace"), token.encode("ascii"))


async def _answer(
    send: Send, status: int, text: str, more: list[tuple[bytes, bytes]] | None = None
) -> None:
    body = f"{text}\n".encode() if text else b""
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode("ascii")),
        *(more or ()),
    ]
    if status == 405:
        headers.append((b"allow", b"GET, HEAD"))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
