"""Times and limits that the board's promises hang on, and which addresses ask for a token.

Two seconds to be told that what is shown is no longer so are the project's own promise.
"""

import asyncio
import contextlib
import re
import subprocess
import threading
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn
from board_rig import Wall, keep
from test_account import BASE

from voicecount.board import address as board_address
from voicecount.board import head, hub, page
from voicecount.board import serve as board_serve
from voicecount.board.address import Address
from voicecount.board.app import BoardApp
from voicecount.board.hub import Hub
from voicecount.board.now import BEAT_SECONDS
from voicecount.commands import board as board_command
from voicecount.commands.journals import CODEC
from voicecount.keep.journal import Journal
from voicecount.testing.clock import FakeClock

SCRIPT = page.static("board.js").decode()
PROMISED = 2.0
"""Seconds."""


def in_script(pattern: str) -> float:
    """Give a number that stands in the page's script."""
    (found,) = re.findall(pattern, SCRIPT, re.MULTILINE)
    return float(found)


def test_a_page_that_is_cut_off_says_so_in_time() -> None:
    """Else a frozen board looks like a live one for longer than is promised."""
    cut = in_script(r"^const CUT_SECONDS = ([0-9.]+);$")
    looks = in_script(r"^\}, ([0-9]+)\);$") / 1000
    assert 0 < looks <= 0.5
    assert cut + looks < PROMISED


def test_a_page_that_is_not_cut_off_has_time_to_be_told_so() -> None:
    """Else an idle room's board flickers between what is so and "cut off"; one may come late."""
    cut = in_script(r"^const CUT_SECONDS = ([0-9.]+);$")
    assert cut > 2 * (hub.REPEAT_SECONDS + hub.LOOK_SECONDS)


def test_times_that_nothing_else_holds() -> None:
    """Else whoever asks half a question keeps a place for minutes, and a look comes too late."""
    assert head.REQUEST_SECONDS == 10
    assert head.STALLED_SECONDS == 10.0
    assert hub.REPEAT_SECONDS == 0.5
    assert hub.LOOK_SECONDS == 0.05
    assert BEAT_SECONDS == 0.4
    assert board_serve._END_SECONDS == 4.0


def test_how_often_it_repeats(monkeypatch: pytest.MonkeyPatch) -> None:
    """Else the pages of an idle room say that they are cut off."""
    monkeypatch.setattr(hub, "LOOK_SECONDS", 0.001)
    monkeypatch.setattr(hub, "REPEAT_SECONDS", 0.02)
    looks, told_at = [0], [0]

    def look() -> None:
        looks[0] += 1

    enough = asyncio.Event()

    def repeat() -> bytes:
        told_at.append(looks[0])
        if len(told_at) == 4:
            enough.set()
        return b"still"

    async def run() -> None:
        work = asyncio.create_task(Hub(look, repeat, lambda: b"whole").run())
        await asyncio.wait_for(enough.wait(), 10)
        work.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await work

    asyncio.run(run())
    # Twenty looks, and two more at most: the one that finds the time is up, and a rounding.
    between = [later - earlier for earlier, later in pairwise(told_at[1:])]
    assert all(20 <= n <= 22 for n in between), between


def app_of(wall: Wall) -> BoardApp:
    return BoardApp(wall.following, ("127.0.0.1",), None)


def test_a_disk_that_hangs_holds_up_no_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else one hanging disk takes the whole board away, and nobody can be told why."""
    wall = Wall(tmp_path / "a.vcj", BASE)
    app = app_of(wall)
    free, in_look = threading.Event(), threading.Event()

    def hang(_: object) -> None:
        in_look.set()
        free.wait(2)

    async def run() -> tuple[int, float]:
        monkeypatch.setattr(type(wall.following), "look", hang)
        began = time.monotonic()
        work = asyncio.create_task(app._routes.hub.run())
        assert await asyncio.to_thread(in_look.wait, 10)
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
            status = (await client.get("/health")).status_code
        took = time.monotonic() - began
        free.set()
        work.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await work
        return status, took

    status, took = asyncio.run(run())
    assert (status, took < 1) == (200, True)
    wall.close()


def test_records_are_told_and_not_events(tmp_path: Path) -> None:
    """Else whoever compares the board with the journal's end finds another number, and doubts."""
    path = tmp_path / "a.vcj"
    wall = Wall(path, BASE)
    wall.journal.close()
    with Journal.open(path, CODEC, clock=FakeClock(), session="s2"):
        pass
    lines = len(path.read_bytes().splitlines())
    assert lines > len(BASE)  # the journal's own record of its resuming
    found = wall.look()
    assert (found.records, found.events) == (lines, len(BASE))

    async def ask() -> Any:
        transport = httpx.ASGITransport(app=app_of(wall))
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
            return (await client.get("/health")).json()

    assert asyncio.run(ask())["records"] == lines


def test_how_long_a_board_beside_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else a board that does not end keeps the count's command, with the case closed, for long."""
    waited: list[float | None] = []

    class Stuck:
        stdin = None

        def __init__(self, *_: Any, **__: Any) -> None:
            self.killed = False

        def terminate(self) -> None:
            pass

        def kill(self) -> None:
            self.killed = True

        def wait(self, timeout: float | None = None) -> int:
            waited.append(timeout)
            if not self.killed:
                raise subprocess.TimeoutExpired("board", timeout or 0.0)
            return 0

    monkeypatch.setattr(subprocess, "Popen", Stuck)
    with board_command.beside(tmp_path / "a.vcj", Address(port=0)):
        pass
    assert waited == [5, None]


# Which addresses ask for a token, and whose word is taken


class Bound:
    """A socket that listens on an address."""

    def __init__(self, address: str) -> None:
        self.address = address

    def getsockname(self) -> tuple[str, int]:
        return self.address, 8460


class Told(Exception):  # noqa: N818 - no error: it ends the call before anything is served
    """The configuration that would be served by."""


def configured(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, address: Address, bound: str
) -> tuple[str, str | None, dict[str, Any]]:
    """Give what is told, the application's token, and the server's settings."""
    path = tmp_path / "a.vcj"
    keep(path, BASE).close()
    tokens: list[str | None] = []
    told: list[str] = []
    settings: dict[str, Any] = {}

    def app(_: Any, __: Any, token: str | None) -> object:
        tokens.append(token)
        return object()

    def config(_: Any, **more: Any) -> None:
        settings.update(more)

    def server(*_: Any) -> None:
        raise Told

    monkeypatch.setattr(board_address, "listen", lambda _: Bound(bound))
    monkeypatch.setattr(board_serve, "BoardApp", app)
    monkeypatch.setattr(uvicorn, "Config", config)
    monkeypatch.setattr(board_serve, "_Server", server)
    tell: Callable[[str], None] = told.append
    with pytest.raises(Told):
        board_serve.serve(path, CODEC, address, tell)
    return told[0], tokens[0], settings


@pytest.mark.parametrize(
    ("host", "bound"),
    [
        ("192.0.2.1", "192.0.2.1"),
        ("192.168.7.7", "192.168.7.7"),
        ("::", "::"),
        ("fd00::7", "fd00::7"),
        ("fe80::1%eth0", "fe80::1%eth0"),
        ("board.example", "192.0.2.1"),
        ("localhost", "192.0.2.1"),
    ],
)
def test_whatever_the_network_reaches_needs_a_token(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, host: str, bound: str
) -> None:
    """Else everybody in the house reads a patient's count without having been let in.

    192.0.2.1 is for documentation (RFC 5737), fd00::/8 of a network's own (RFC 4193).
    """
    told, token, _ = configured(tmp_path, monkeypatch, Address(host), bound)
    assert token is not None
    assert len(token) == 24
    assert f"/?token={token}" in told


def test_nobody_is_believed_to_be_somebody_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else a header that anybody can send decides from where a request came."""
    told, token, settings = configured(tmp_path, monkeypatch, Address(), "127.0.0.1")
    assert (token, "token" in told) == (None, False)
    assert settings["proxy_headers"] is False
    assert settings["ws"] == "none"
    assert settings["timeout_keep_alive"] == head.REQUEST_SECONDS
