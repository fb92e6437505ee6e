"""The board's routes: reading only, nothing of the disk but three named files, events as they come.

Sources: HTML Living Standard 9.2 (server-sent events), RFC 9110, OWASP "Path Traversal".
"""

import asyncio
import json
from collections.abc import Awaitable, Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from board_rig import Wall
from test_account import BASE, count, line

from voicecount.board import app as board_app
from voicecount.board import hub as board_hub
from voicecount.board import page
from voicecount.board.app import BoardApp
from voicecount.board.follow import Known
from voicecount.board.guard import HEADERS
from voicecount.board.hub import MOST_VIEWERS
from voicecount.board.view import Board

ADDRESS = "http://127.0.0.1:8460"
TODAY = datetime(2026, 1, 1, 8, 0, tzinfo=UTC) + timedelta(seconds=90)


@pytest.fixture
def wall(tmp_path: Path) -> Iterator[Wall]:
    found = Wall(tmp_path / "a.vcj", BASE)
    yield found
    found.close()


def app_of(wall: Wall, token: str | None = None) -> BoardApp:
    return BoardApp(wall.following, ("127.0.0.1",), token, today=lambda: TODAY)


def get(app: BoardApp, target: str, method: str = "GET", **more: Any) -> httpx.Response:
    """Ask once, and check what every answer has."""

    async def ask() -> httpx.Response:
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url=ADDRESS) as client:
            return await client.request(method, target, **more)

    answer = asyncio.run(ask())
    for name, value in HEADERS:
        assert answer.headers.get_list(name.decode()) == [value.decode()]
    return answer


def test_the_page(wall: Wall) -> None:
    """The whole board stands in the page as it is loaded, also for one that runs no script."""
    wall.alive()
    answer = get(app_of(wall), "/")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert answer.text.startswith("<!doctype html>")
    assert "lap sponge" in answer.text
    assert 'data-fresh="yes"' in answer.text
    assert get(app_of(wall), "/", "HEAD").text == ""


def test_a_page_that_is_not_fresh_says_so(wall: Wall) -> None:
    """A page that is loaded when nobody has looked for long does not show what was as what is."""
    wall.alive()
    wall.clock.advance(5)
    answer = get(app_of(wall), "/")
    assert 'data-fresh="no"' in answer.text
    assert "Do not go by this board" in answer.text


@pytest.mark.parametrize(("seconds", "told"), [(2.04, 2.0), (0.0, 0.0), (-5.0, None)])
def test_the_age_of_the_last_record(wall: Wall, seconds: float, told: float | None) -> None:
    """A clock that was set back makes nothing young: then it is not known."""
    wall.alive()
    written = wall.following.known.written
    assert written is not None
    today = written + timedelta(seconds=seconds)
    app = BoardApp(wall.following, ("127.0.0.1",), None, today=lambda: today)
    assert app._routes._age() == told


def test_how_it_is(wall: Wall) -> None:
    app = app_of(wall)
    assert get(app, "/health").json() == {"fresh": False, "records": 0, "viewers": 0}
    wall.alive()
    assert get(app, "/health").json() == {"fresh": True, "records": len(BASE), "viewers": 0}


@pytest.mark.parametrize("name", sorted(page.STATIC))
def test_the_three_files(wall: Wall, name: str) -> None:
    answer = get(app_of(wall), f"/static/{name}")
    assert answer.status_code == 200
    assert answer.content == (page.HERE / "static" / name).read_bytes()
    assert answer.headers["content-type"] == page.STATIC[name]


@pytest.mark.parametrize(
    "target",
    [
        *("/nothing", "/static", "/static/", "/static/none.css", "/static/board.css/", "/health/"),
        *("/changes/", "/static/%2e%2e/app.py", "/%00"),
        *("/static/..%2fapp.py", "/static/%2e%2e%2fapp.py", "/static/%252e%252e%252fapp.py"),
        *("/static/%2fetc%2fpasswd", "/static//etc/passwd", "/static/board.css%00.png"),
        *("/static/..%5capp.py", "/static/%c0%ae%c0%ae/app.py", "/a.vcj", "/static/../a.vcj"),
        *("/docs", "/openapi.json", "/.git/config", "/static/BOARD.CSS", "/static/board.css%20"),
    ],
)
def test_nothing_else(wall: Wall, target: str) -> None:
    """No other path gives anything, leads anywhere, or tells of the disk."""
    answer = get(app_of(wall), target)
    assert answer.status_code == 404
    assert "location" not in answer.headers
    assert len(answer.content) < 60
    for secret in ("root:", "import ", "case_opened", str(page.HERE), str(wall.path.parent)):
        assert secret not in answer.text


@pytest.mark.parametrize("target", ["/", "/changes", "/health", "/static/board.js", "/none"])
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"])
def test_there_is_no_way_to_write(wall: Wall, target: str, method: str) -> None:
    before = wall.path.read_bytes()
    assert get(app_of(wall), target, method).status_code == 405
    assert wall.path.read_bytes() == before
    assert sorted(path.name for path in wall.path.parent.iterdir()) == ["a.vcj"]


def test_with_a_token(wall: Wall) -> None:
    """Each route needs it; with the cookie of the first answer all are open."""
    app = app_of(wall, "abc")
    for target in ("/", "/changes", "/health", "/static/board.js", "/none"):
        assert get(app, target).status_code == 401
    answer = get(app, "/?token=abc")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    ((name, value),) = answer.cookies.items()
    assert get(app, "/health", headers={"cookie": f"{name}={value}"}).json()


def test_a_fault_of_ours_tells_nothing(wall: Wall, monkeypatch: pytest.MonkeyPatch) -> None:
    """An error in the program is a bare 500, with every header (OWASP Error Handling)."""

    def broken(*_: Any) -> str:
        raise RuntimeError(str(wall.path))

    monkeypatch.setattr(page, "page", broken)

    async def ask() -> httpx.Response:
        transport = httpx.ASGITransport(app=app_of(wall), raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url=ADDRESS) as client:
            return await client.get("/")

    answer = asyncio.run(ask())
    assert (answer.status_code, answer.text) == (500, "Internal Server Error")
    for name, value in HEADERS:
        assert answer.headers[name.decode()] == value.decode()


# What changes


class Stream:
    """One who watches, spoken to as a server speaks to an application (ASGI 3)."""

    def __init__(self, app: BoardApp, method: str = "GET") -> None:
        self.sent: asyncio.Queue[Any] = asyncio.Queue()
        self.gone = asyncio.Event()
        scope = {
            "type": "http",
            "asgi": {"spec_version": "2.3"},
            "method": method,
            "path": "/changes",
            "raw_path": b"/changes",
            "query_string": b"",
            "headers": [(b"host", b"127.0.0.1")],
        }
        self.task = asyncio.create_task(app(scope, self._receive, self.sent.put))  # type: ignore[arg-type]

    async def _receive(self) -> Any:
        await self.gone.wait()
        return {"type": "http.disconnect"}

    async def next(self) -> Any:
        """Give the next message."""
        return await asyncio.wait_for(self.sent.get(), 5)

    async def event(self) -> tuple[str, Any]:
        """Give the next event that is sent: its name and what it holds."""
        text = (await self.next())["body"].decode()
        name, data, *rest = text.split("\n")
        assert rest == ["", ""]  # HTML Living Standard, 9.2.6: an empty line ends an event
        return name.removeprefix("event: "), json.loads(data.removeprefix("data: "))


def running(app: BoardApp, work: Callable[[], Awaitable[None]]) -> None:
    """Do something while the application runs, as a server begins and ends it."""

    async def run() -> None:
        to_app: asyncio.Queue[Any] = asyncio.Queue()
        from_app: asyncio.Queue[Any] = asyncio.Queue()
        life = asyncio.create_task(app({"type": "lifespan"}, to_app.get, from_app.put))
        await to_app.put({"type": "lifespan.startup"})
        assert (await from_app.get())["type"] == "lifespan.startup.complete"
        try:
            async with asyncio.timeout(20):
                await work()
        finally:
            app.end()
            await to_app.put({"type": "lifespan.shutdown"})
            assert (await from_app.get())["type"] == "lifespan.shutdown.complete"
            await life

    asyncio.run(run())


def test_what_changes_comes_at_once(wall: Wall, monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole board first; a record that is kept comes by itself; then a sign that nothing does.

    Source: HTML Living Standard, 9.2.5 and 9.2.6: text/event-stream in UTF-8, lines of fields.
    """
    monkeypatch.setattr(board_hub, "LOOK_SECONDS", 0.005)
    monkeypatch.setattr(board_hub, "REPEAT_SECONDS", 0.05)
    app = app_of(wall.alive())

    async def work() -> None:
        stream = Stream(app)
        start = await stream.next()
        kind = dict(start["headers"])[b"content-type"]
        assert (start["status"], kind) == (200, b"text/event-stream; charset=utf-8")
        name, data = await stream.event()
        assert (name, data["fresh"], data["age"]) == ("board", True, 90.0)
        assert data["told"][3].startswith("Nobody: Next on the plan: ")
        wall.journal.append(line(4, "lap", 1)[0])
        while (found := await stream.event())[0] == "still":
            assert found[1] == {"age": 90.0}
        assert found[0] == "board"
        assert f"{len(BASE) + 1}, head" in found[1]["html"]
        while (await stream.event())[0] != "still":
            pass
        stream.gone.set()
        await asyncio.wait_for(stream.task, 5)
        assert app._routes.hub.viewers == 0

    running(app, work)


def test_what_cannot_be_shown_is_told_and_looked_at_again(
    wall: Wall, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error that nobody foresaw ends neither the looks nor the page."""
    monkeypatch.setattr(board_hub, "LOOK_SECONDS", 0.005)
    monkeypatch.setattr(board_hub, "REPEAT_SECONDS", 0.05)
    app = app_of(wall.alive())
    real = board_app.board

    def fails(known: Known) -> Board:
        if known.ledger.opened is not None:
            raise ZeroDivisionError
        return real(known)

    async def work() -> None:
        stream = Stream(app)
        await stream.next()
        _, data = await stream.event()
        assert data["fresh"]
        monkeypatch.setattr(board_app, "board", fails)
        wall.journal.append(count())
        while (found := await stream.event())[0] == "still":
            pass
        assert not found[1]["fresh"]
        assert "cannot be shown by this version (ZeroDivisionError)" in found[1]["html"]
        assert "lap sponge" not in found[1]["html"]
        shown = app._routes._drawn(lambda drawn: page.page(drawn).encode())
        assert b"cannot be shown" in shown
        monkeypatch.setattr(board_app, "board", real)
        wall.journal.append(line(4, "lap", 3, "field")[0])
        while not ((found := await stream.event())[0] == "board" and found[1]["fresh"]):
            pass
        stream.gone.set()
        await asyncio.wait_for(stream.task, 5)

    running(app, work)


def test_a_look_that_fails_is_not_the_last(wall: Wall, monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_of(wall.alive())
    real = app._routes._following.look
    monkeypatch.setattr(app._routes._following, "look", lambda: 1 // 0)
    message = app._routes._look()
    assert message is not None
    assert b"cannot be shown by this version" in message
    monkeypatch.setattr(app._routes._following, "look", real)
    app._routes._look()


def test_a_head_of_what_changes_ends(wall: Wall) -> None:
    """It has no body, and takes no place of a viewer (RFC 9110, 9.3.2)."""
    app = app_of(wall.alive())

    async def work() -> None:
        stream = Stream(app, "HEAD")
        await asyncio.wait_for(stream.task, 5)
        assert (await stream.next())["status"] == 200
        assert (await stream.next())["body"] == b""
        assert app._routes.hub.viewers == 0

    running(app, work)


def test_more_viewers_than_may(wall: Wall) -> None:
    """A further one is told so, also when all ask in the same moment; all are let go at the end."""
    app = app_of(wall.alive())

    async def work() -> None:
        streams = [Stream(app) for _ in range(MOST_VIEWERS + 3)]
        starts = [await stream.next() for stream in streams]
        assert [start["status"] for start in starts].count(200) == MOST_VIEWERS
        assert [start["status"] for start in starts].count(503) == 3
        for start in starts:
            assert set(HEADERS) <= set(start["headers"])
        at = [start["status"] for start in starts].index(503)
        refused = streams[at]
        assert b"as many are watching as may" in (await refused.next())["body"]
        streams[0].gone.set()
        await asyncio.wait_for(streams[0].task, 5)
        streams.append(Stream(app))
        assert (await streams[-1].next())["status"] == 200
        app.end()
        for stream in streams:
            await asyncio.wait_for(stream.task, 5)
        assert app._routes.hub.viewers == 0

    running(app, work)


def test_a_case_without_any_record_has_no_age(tmp_path: Path) -> None:
    path = tmp_path / "a.vcj"
    wall = Wall(path, BASE)
    app = app_of(wall)
    assert app._routes._age() is None
    wall.look()
    assert app._routes._age() == 90.0
    wall.close()
