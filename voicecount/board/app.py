"""The board's routes: the page, its style and script, what changes, and how it is. Reading only."""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Collection
from dataclasses import replace
from datetime import UTC, datetime

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import (
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Route
from starlette.types import Receive, Scope, Send

from voicecount.board import page
from voicecount.board.follow import Following, Known
from voicecount.board.guard import Guard
from voicecount.board.hub import Hub, TooManyViewersError
from voicecount.board.view import Board, board
from voicecount.count.standing import Ledger


class BoardApp:
    """The application for one journal. ``hosts`` are the names by which it may be asked for.

    ``today`` gives the time of day, for the age of the last record.
    """

    def __init__(
        self,
        following: Following,
        hosts: Collection[str],
        token: str | None,
        *,
        today: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self._routes = _Routes(following, today)
        self._guard = Guard(self._routes.app, hosts, token)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request (ASGI 3)."""
        await self._guard(scope, receive, send)

    def end(self) -> None:
        """Let every viewer go, so that the server can end."""
        self._routes.hub.end()


class _Routes:
    def __init__(self, following: Following, today: Callable[[], datetime]) -> None:
        self._following = following
        self._today = today
        self.hub = Hub(self._look, lambda: page.still(self._age()), self._whole)
        routes = [
            Route("/", self._show),
            Route("/changes", self._changes),
            Route("/health", self._health),
            Route("/static/{name}", self._asset),
        ]
        self.app = Starlette(routes=routes, lifespan=self._running)
        self.app.router.redirect_slashes = False

    def _age(self) -> float | None:
        """Give the last record's age; None where it is not known, as after a clock set back."""
        written = self._following.known.written
        age = -1.0 if written is None else (self._today() - written).total_seconds()
        return round(age, 1) if age >= 0.0 else None

    def _whole(self) -> bytes:
        return self._drawn(lambda shown: page.message(shown, self._age()))

    def _look(self) -> bytes | None:
        try:
            changed = self._following.look() is not None
        except Exception as error:  # noqa: BLE001 - as below
            return page.message(_unshowable(self._following.known, error), None)
        return self._whole() if changed else None

    async def _show(self, _: Request) -> Response:
        return HTMLResponse(self._drawn(lambda shown: page.page(shown).encode()))

    def _drawn(self, draw: Callable[[Board], bytes]) -> bytes:
        """Draw what is known; whatever cannot be drawn, the page says so and goes on looking."""
        try:
            return draw(board(self._following.known))
        except Exception as error:  # noqa: BLE001 - of a record that nobody foresaw
            return draw(_unshowable(self._following.known, error))

    async def _asset(self, request: Request) -> Response:
        name = request.path_params["name"]
        kind = page.STATIC.get(name)
        if kind is None:
            return PlainTextResponse("there is no such page\n", 404)
        return Response(page.static(name), media_type=kind)

    async def _changes(self, request: Request) -> Response:
        if request.method == "HEAD":  # it has no body that could ever end
            return Response(media_type="text/event-stream")
        try:
            return _Changes(self.hub)
        except TooManyViewersError:
            return PlainTextResponse("as many are watching as may; try later\n", 503)

    async def _health(self, _: Request) -> Response:
        known = self._following.known
        state = {"fresh": known.fresh, "records": known.records, "viewers": self.hub.viewers}
        return JSONResponse(state)

    @contextlib.asynccontextmanager
    async def _running(self, _: Starlette) -> AsyncIterator[None]:
        await asyncio.to_thread(self._following.look)
        work = asyncio.create_task(self.hub.run())
        try:
            yield
        finally:
            work.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await work


def _unshowable(known: Known, error: Exception) -> Board:
    """Give a board that shows nothing of a journal but that it cannot be shown."""
    why = f"what it holds cannot be shown by this version ({type(error).__name__})"
    return board(replace(known, ledger=Ledger(), trouble=why, now=None, lost=()))


class _Changes(StreamingResponse):
    """One viewer's messages. Its place is given back however it ends."""

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._viewer = hub.join()
        super().__init__(hub.messages(self._viewer), media_type="text/event-stream")

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await super().__call__(scope, receive, send)
        finally:
            self._hub.leave(self._viewer)
