"""The board's server: an address, a token where the network may look, and one line to open."""

import asyncio
import ipaddress
import secrets
import socket
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from voicecount.board.app import BoardApp
from voicecount.board.follow import Following
from voicecount.count.events import Event
from voicecount.errors import UsageError
from voicecount.keep.clock import SystemClock
from voicecount.keep.reading import Codec

LOCAL = "127.0.0.1"
PORT = 8460
_REQUEST_SECONDS = 10
"""Seconds that a request's head may take, and that an idle connection is kept."""
_MOST_CONNECTIONS = 128


@dataclass(frozen=True)
class Address:
    """Where the board listens."""

    host: str = LOCAL
    """An address of this machine; ``0.0.0.0`` or ``::`` for all of them."""
    port: int = PORT
    """0 for any that is free."""
    names: tuple[str, ...] = ()
    """Further names by which the board may be asked for."""
    token: str | None = None
    """None makes one, where one is needed."""

    @property
    def local(self) -> bool:
        """Whether only this machine can reach it."""
        try:
            return ipaddress.ip_address(self.host).is_loopback
        except ValueError:
            return self.host == "localhost"


def serve(
    journal: Path, codec: Codec[Event], address: Address, tell: Callable[[str], None]
) -> None:
    """Serve until a key stops it. ``tell`` is told the address to open.

    Raises UsageError where the address cannot be listened on, JournalError for no journal.
    """
    following = Following(journal, codec, SystemClock().monotonic)
    following.must_be_there()
    listening = _listen(address)
    port = listening.getsockname()[1]
    token = None if address.local else address.token or secrets.token_urlsafe(18)
    hosts = _hosts(address)
    app = BoardApp(following, hosts, token)
    config = uvicorn.Config(
        app,
        proxy_headers=False,
        log_level="error",
        access_log=False,
        server_header=False,
        date_header=False,
        lifespan="on",
        ws="none",
        h11_max_incomplete_event_size=16384,
        timeout_keep_alive=_REQUEST_SECONDS,
        timeout_graceful_shutdown=1,
        limit_concurrency=_MOST_CONNECTIONS,
    )
    query = "" if token is None else f"/?token={token}"
    shown = hosts[0] if address.local else (address.names or (_own_address(),))[0]
    tell(f"board: http://{shown}:{port}{query}")
    with listening:
        asyncio.run(_Server(config, app).serve(sockets=[listening]))


class _Server(uvicorn.Server):
    """A server whose viewers are let go before it waits for their connections."""

    def __init__(self, config: uvicorn.Config, app: BoardApp) -> None:
        super().__init__(config)
        self._app = app

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Let the viewers go, then end."""
        self._app.end()
        await super().shutdown(sockets)


def _listen(address: Address) -> socket.socket:
    try:
        family = socket.AF_INET6 if ":" in address.host else socket.AF_INET
        found = socket.socket(family, socket.SOCK_STREAM)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.bind((address.host, address.port))
    except OSError as error:
        raise UsageError(
            f"board: cannot listen on {address.host}, port {address.port} "
            f"({error.strerror or error}); give another one by --port, or an address of this "
            "machine by --listen"
        ) from error
    return found


def _hosts(address: Address) -> tuple[str, ...]:
    """Give the names by which the board may be asked for."""
    if address.local:
        return ("127.0.0.1", "localhost", "[::1]", *address.names)
    own = (address.host, _own_address(), socket.gethostname().lower())
    return tuple(dict.fromkeys((*address.names, *(f"[{x}]" if ":" in x else x for x in own))))


def _own_address() -> str:
    """Give the address by which this machine is seen from its network; nothing is sent for it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # a documentation address, RFC 5737
        except OSError:
            return LOCAL
        return str(probe.getsockname()[0])
