"""The board's server: an address, a token where the network may look, and one line to open."""

import asyncio
import ipaddress
import os
import secrets
import signal
import socket
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

import uvicorn

from voicecount.board.app import BoardApp
from voicecount.board.follow import Following
from voicecount.board.head import REQUEST_SECONDS, HeadInTime
from voicecount.count.events import Event
from voicecount.errors import UsageError
from voicecount.keep.clock import SystemClock
from voicecount.keep.reading import Codec

LOCAL = "127.0.0.1"
PORT = 8460
_END_SECONDS = 4.0
"""So long after it was told to end, the process is ended, whatever still holds it."""


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
    journal: Path,
    codec: Codec[Event],
    address: Address,
    tell: Callable[[str], None],
    *,
    wanted: Callable[[], bool] = lambda: True,
) -> None:
    """Serve until a key stops it, or ``wanted`` says no. ``tell`` is told the address to open.

    Raises UsageError where the address cannot be listened on, JournalError for no journal.
    """
    following = Following(journal, codec, SystemClock().monotonic)
    begun = following.begun()
    listening = _listen(address)
    port = listening.getsockname()[1]
    token = None if address.local else address.token or secrets.token_urlsafe(18)
    hosts = _hosts(address)
    app = BoardApp(following, hosts, token)
    config = uvicorn.Config(
        app,
        http=HeadInTime,
        proxy_headers=False,
        log_level="error",
        access_log=False,
        server_header=False,
        date_header=False,
        lifespan="on",
        ws="none",
        h11_max_incomplete_event_size=16384,
        timeout_keep_alive=REQUEST_SECONDS,
        timeout_graceful_shutdown=1,
    )
    query = "" if token is None else f"/?token={token}"
    tell(f"board: http://{hosts[0]}:{port}{query}")
    if not begun:
        tell(f"board: {journal.name} is empty; the board waits until a case is kept in it")
    server = _Server(config, app, wanted)
    with listening:
        asyncio.run(server.serve(sockets=[listening]))
    if server.stopped_by == signal.SIGINT:  # its own end may come before that of the loop
        raise KeyboardInterrupt


class _Server(uvicorn.Server):
    """A server whose viewers are let go before it waits for their connections."""

    def __init__(self, config: uvicorn.Config, app: BoardApp, wanted: Callable[[], bool]) -> None:
        super().__init__(config)
        self._app = app
        self._wanted = wanted
        self.stopped_by: int | None = None
        """The first signal that asked it to end."""

    async def on_tick(self, counter: int) -> bool:
        """Tell whether it has to end."""
        return await super().on_tick(counter) or not self._wanted()

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Begin to end; that it ends does not hang on the loop, nor on a disk that does not."""
        last = threading.Timer(_END_SECONDS, os._exit, (128 + sig,))
        last.daemon = True
        last.start()
        self.stopped_by = self.stopped_by or sig
        super().handle_exit(sig, frame)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Let the viewers go, then end; whoever takes nothing any more is cut off."""
        self._app.end()
        await super().shutdown(sockets)
        for connection in list(self.server_state.connections):
            connection.transport.abort()
        await asyncio.sleep(0)


def _listen(address: Address) -> socket.socket:
    family = socket.AF_INET6 if ":" in address.host else socket.AF_INET
    found = socket.socket(family, socket.SOCK_STREAM)
    try:
        if sys.platform != "win32":  # pragma: no branch - there it would share a port in use
            found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.bind((address.host, address.port))
        found.listen()
    except (OSError, OverflowError, TypeError, ValueError) as error:
        found.close()
        raise UsageError(
            f"board: cannot listen on {address.host}, port {address.port} "
            f"({getattr(error, 'strerror', None) or error}); give another one by --port, or an "
            "address of this machine by --listen"
        ) from error
    return found


def _hosts(address: Address) -> tuple[str, ...]:
    """Give the names by which the board may be asked for, the one to show first."""
    if address.local:
        found = [address.host, LOCAL, "localhost", "::1", *address.names]
    else:
        all_of_them = address.host in {"0.0.0.0", "::"}  # noqa: S104 - compared, not listened on
        own = [_own_address(), address.host] if all_of_them else [address.host]
        found = [*address.names, *own, socket.gethostname()]
    return tuple(dict.fromkeys(_as_host(name) for name in found))


def _as_host(name: str) -> str:
    return f"[{name}]" if ":" in name else name


def _own_address() -> str:
    """Give the address by which this machine is seen from its network; nothing is sent for it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # a documentation address, RFC 5737
        except OSError:
            return LOCAL
        return str(probe.getsockname()[0])
