"""HTTP by the server's own protocol, with an end to waiting, nothing in store, safe headers always.

The server waits for ever for the rest of a request's head; whoever sends a few bytes and no more
would keep a connection for good, and a handful of those keep everybody else out. So would tablets
that are gone without a word. And a system keeps megabytes for whoever reads slowly: what a viewer
reads of that is long past, and looks like now.
"""

import asyncio
import contextlib
import socket
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from voicecount.board.guard import HEADERS

REQUEST_SECONDS = 10
"""Seconds that a request's head may take, and that an idle connection is kept."""
MOST_CONNECTIONS = 128
"""A further one is closed at once."""
STALLED_SECONDS = 10.0
"""So long may a viewer take nothing of what is ready for it."""
_MOST_SENT = 1 << 16
"""Bytes that the system may have for one that are not there yet; it adds as much for itself."""
_MOST_UNSENT = 1 << 14
"""Bytes of those that may not even be on their way."""


class HeadInTime(H11Protocol):
    """Closes a connection whose next request does not become whole in time."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._late: asyncio.TimerHandle | None = None
        self._stalled: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait."""
        super().connection_made(transport)
        if len(self.connections) > MOST_CONNECTIONS:
            transport.abort()
        _keep_little(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Take what came; the time is not begun anew by a piece of a head."""
        super().data_received(data)
        if self._answering():
            self._wait_no_more()
        elif self._late is None:
            self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget it."""
        self._wait_no_more()
        self._stalled_no_more()
        super().connection_lost(exc)

    def pause_writing(self) -> None:
        """Give it some time to take what is ready."""
        super().pause_writing()
        self._stalled_no_more()
        self._stalled = self.loop.call_later(STALLED_SECONDS, self.transport.abort)

    def resume_writing(self) -> None:
        """Go on."""
        self._stalled_no_more()
        super().resume_writing()

    def send_400_response(self, msg: str) -> None:
        """Refuse what is no request, with the headers of every other answer."""
        text = msg.encode("ascii")
        headers = [
            (b"content-type", b"text/plain; charset=utf-8"),
            (b"content-length", str(len(text)).encode("ascii")),
            (b"connection", b"close"),
            *HEADERS,
        ]
        for event in (
            h11.Response(status_code=400, headers=headers, reason=b"Bad Request"),
            h11.Data(data=text),
            h11.EndOfMessage(),
        ):
            self.transport.write(self.conn.send(event) or b"")
        self.transport.close()

    def _answering(self) -> bool:
        return self.cycle is not None and not self.cycle.response_complete

    def _wait(self) -> None:
        self._late = self.loop.call_later(REQUEST_SECONDS, self._too_late)

    def _wait_no_more(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None

    def _stalled_no_more(self) -> None:
        if self._stalled is not None:
            self._stalled.cancel()
            self._stalled = None

    def _too_late(self) -> None:
        self._late = None
        self.transport.close()


def _keep_little(transport: asyncio.Transport) -> None:
    """Keep a slow viewer close to now, and let go of one that is gone without a word."""
    transport.set_write_buffer_limits(high=0)
    found = transport.get_extra_info("socket")
    wanted = [(socket.SOL_SOCKET, "SO_SNDBUF", _MOST_SENT)]
    wanted += [
        (socket.IPPROTO_TCP, "TCP_NOTSENT_LOWAT", _MOST_UNSENT),
        (socket.IPPROTO_TCP, "TCP_USER_TIMEOUT", round(STALLED_SECONDS * 1000)),  # RFC 5482
    ]
    for level, name, value in wanted:
        option = getattr(socket, name, None)  # not every system has each
        if option is not None:
            with contextlib.suppress(OSError):
                found.setsockopt(level, option, value)
