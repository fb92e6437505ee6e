"""The board's server: an address, a token where the network may look, and one line to open."""

import asyncio
import os
import signal
import socket
import threading
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import uvicorn

from voicecount.board import address as addresses
from voicecount.board.address import Address
from voicecount.board.app import BoardApp
from voicecount.board.follow import Following
from voicecount.board.head import REQUEST_SECONDS, HeadInTime
from voicecount.board.kept_token import kept_token, new_token
from voicecount.count.events import Event
from voicecount.keep.clock import SystemClock
from voicecount.keep.reading import Codec

_END_SECONDS = 4.0
"""So long after it was told to end, the process is ended, whatever still holds it."""


def serve(
    journal: Path,
    codec: Codec[Event],
    address: Address,
    tell: Callable[[str], None],
    *,
    wanted: Callable[[], bool] = lambda: True,
) -> None:
    """Serve until a key stops it, or ``wanted`` says no. ``tell`` is told the address to open.

    Raises UsageError where the address cannot be listened on or the token cannot be kept,
    JournalError for no journal.
    """
    following = Following(journal, codec, SystemClock().monotonic)
    begun = following.begun()
    token = None if address.token_file is None else kept_token(address.token_file)
    listening = addresses.listen(address)
    if token is None and not addresses.is_local(listening):
        token = new_token()
    app = BoardApp(following, addresses.hosts(address, listening), token)
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
    tell(_to_open(address, listening, token))
    if not begun:
        tell(f"board: {journal.name} is empty; the board waits until a case is kept in it")
    server = _Server(config, app, wanted)
    with listening:
        asyncio.run(server.serve(sockets=[listening]))
    if server.stopped_by == signal.SIGINT:  # its own end may come before that of the loop
        raise KeyboardInterrupt


def _to_open(address: Address, listening: socket.socket, token: str | None) -> str:
    """Give the line with the address to open."""
    first, *more = addresses.shown(address, listening)
    query = "" if token is None else f"/?token={token}"
    also = f" (also by {', '.join(more)})" if more else ""
    return f"board: http://{first}:{listening.getsockname()[1]}{query}{also}"


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
