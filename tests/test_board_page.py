"""What the page's script does with what it is sent: when it says that it is cut off, and how old.

The script runs in a real Chromium with a server that is none: messages are given to it by hand, and
Playwright's clock stands still until it is told to go on. Nothing here hangs on how a board looks.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from board_rig import board_of
from browser import MISSING, browsing, chromium

from benchmarks.long_case import Talk, made_sheet
from voicecount.board import page as board_page
from voicecount.board.view import Board

pytestmark = pytest.mark.skipif(chromium() is None, reason=MISSING)

ADDRESS = "http://board.test/"
NO_SERVER = """
window.sources = [];
window.EventSource = class {
  static CLOSED = 2;
  constructor(address) { this.address = address; this.readyState = 1; this.on = {};
    window.sources.push(this); }
  addEventListener(name, call) { this.on[name] = call; }
  close() { this.readyState = 2; }
};
window.send = (name, data) => {
  const call = window.sources.at(-1).on[name];
  if (call) call({ data: JSON.stringify(data) });
};
"""


def of_lines(lines: int) -> Board:
    """Give a board of so many lines, with a last record whose time is known."""
    written = "2026-03-02T08:00:00+00:00"
    return replace(board_of(Talk(made_sheet(lines)).events), written=written)


def sent(board: Board) -> dict[str, Any]:
    """Give what the server sends of a board."""
    return dict(json.loads(board_page.message(board, 1.0).partition(b"data: ")[2]))


FIVE_LINES = of_lines(5)


class Script:
    """A page whose messages and whose time are given by hand."""

    def __init__(self, context: Any, html: str) -> None:
        self.page = context.new_page()
        self.page.clock.install()
        self.page.add_init_script(NO_SERVER)
        self.page.route("**/*", lambda route: self._answer(route, html))
        self.page.goto(ADDRESS)
        self.page.clock.pause_at(self.page.evaluate("Date.now() + 1000"))

    def _answer(self, route: Any, html: str) -> None:
        name = route.request.url.removeprefix(f"{ADDRESS}static/")
        if name in board_page.STATIC:
            kind = board_page.STATIC[name]
            route.fulfill(body=board_page.static(name), content_type=kind)
        else:
            route.fulfill(body=html, content_type="text/html; charset=utf-8")

    def board(self, age: float | None = 1.0, *, fresh: bool = True, told: str = "Words.") -> None:
        """Send a board."""
        self.send({**sent(FIVE_LINES), "fresh": fresh, "told": [told], "age": age})

    def send(self, data: dict[str, Any]) -> None:
        """Send what a server would."""
        self.page.evaluate(f"send('board', {json.dumps(data)})")

    def still(self, age: float | None = 1.0) -> None:
        """Send that nothing has changed."""
        self.page.evaluate(f"send('still', {json.dumps({'age': age})})")

    def wait(self, seconds: float) -> None:
        """Let time go on."""
        self.page.clock.run_for(round(1000 * seconds))

    def text(self, name: str) -> str:
        """Give what stands in a place."""
        return str(self.page.evaluate(f"document.getElementById('{name}').textContent"))

    def is_cut(self) -> bool:
        """Whether it says that it is cut off."""
        return not self.page.evaluate("document.getElementById('cut').hidden")


@pytest.fixture(scope="module")
def context() -> Iterator[Any]:
    with browsing() as browser:
        yield browser.new_context()


@pytest.fixture
def script(context: Any) -> Iterator[Script]:
    found = Script(context, board_page.page(FIVE_LINES))
    yield found
    found.page.close()


def test_an_idle_page_is_not_cut_off(script: Script) -> None:
    """Else a quiet room is told, all the time, not to go by its board."""
    script.board()
    for _ in range(8):
        script.wait(0.5)
        script.still()
        assert not script.is_cut()
    script.wait(1.5)
    assert not script.is_cut()


def test_a_page_without_news_is_cut_off_in_time(script: Script) -> None:
    """Else what was is shown as what is; for how long goes on, and all ends with the next news."""
    script.board()
    script.wait(1.25)
    assert not script.is_cut()
    script.wait(0.75)
    assert script.is_cut()
    for seconds, more in ((2, 0.25), (3, 1), (4, 1), (7, 3)):
        script.wait(more)
        (told,) = re.findall(r"cut off for (\d+) s\.$", script.text("cut").strip())
        assert int(told) == seconds
        assert script.text("cut").strip().startswith("Do not go by this board")
        assert script.page.get_attribute("#board", "data-cut") == "yes"
    script.still()
    assert script.is_cut()  # until it has the whole of the board again
    script.board()
    assert not script.is_cut()
    assert script.page.get_attribute("#board", "data-cut") == "no"


def test_a_page_that_is_cut_off_asks_again(script: Script) -> None:
    """Else a tablet whose network was gone for a while stays dead until somebody loads it anew."""
    script.board()
    script.wait(12)
    addresses = script.page.evaluate("sources.map((one) => one.address)")
    assert len(addresses) > 1
    assert set(addresses) == {"/changes"}
    assert script.page.evaluate("sources.slice(0, -1).every((one) => one.readyState === 2)")
    script.board()
    assert not script.is_cut()


@pytest.mark.parametrize("kind", ["board", "still"])
def test_the_age_is_the_servers_and_goes_on(script: Script, kind: str) -> None:
    """Else a record of an hour ago looks like one of this moment."""
    script.board(0.0)
    assert script.text("age") == ", 0 s old"
    (script.board if kind == "board" else script.still)(37.0)
    assert script.text("age") == ", 37 s old"
    script.wait(5)
    assert script.text("age") == ", 42 s old"


def test_an_age_that_is_not_known_is_told(script: Script) -> None:
    """Else, after a clock was set back, the last age that was known stays there as if it held."""
    script.board(37.0)
    script.still(None)
    assert script.text("age") == ", age not known"
    script.wait(1)
    assert script.text("age") == ", age not known"
    script.board(None)
    assert script.text("age") == ", age not known"


@pytest.mark.parametrize(
    ("age", "told"),
    [
        *((119, "119 s"), (120, "2 min"), (179, "2 min"), (720, "12 min"), (3600, "60 min")),
        *((7199, "119 min"), (7200, "2 h"), (10799, "2 h"), (43200, "12 h")),
    ],
)
def test_ages_in_their_units(script: Script, age: float, told: str) -> None:
    """Else minutes are read as hours, or as none."""
    script.board(age)
    assert script.text("age") == f", {told} old"


def test_what_is_next_is_told_to_screen_readers(script: Script) -> None:
    """Else whoever does not see the wall hears nothing of it."""
    assert script.text("told") == ""
    for told in ("Scrub: Call lap sponge. It listens.", "Circulator: Say the number. It listens."):
        script.board(told=told)
        assert script.text("told") == told
        script.still()
        assert script.text("told") == told


def test_whether_it_is_fresh_goes_with_each_board(script: Script) -> None:
    """Else a stale board keeps the look of a live one, or a live one that of a stale."""
    for fresh in (False, True, False):
        script.board(fresh=fresh)
        told = script.page.get_attribute("#board", "data-fresh")
        assert told == ("yes" if fresh else "no")


RANKS = """[true, false].map((hidden) => [...document.querySelectorAll('[data-rank]')]
  .filter((one) => one.hidden === hidden).map((one) => Number(one.dataset.rank)))"""


def test_the_least_pressing_rows_are_left_out_first(context: Any) -> None:
    """Else a long sheet on a small screen hides what differs and shows what both have said.

    How many have room on which screen hangs on the page's look: some have to be left out on one.
    """
    script = Script(context, board_page.page(of_lines(60)))
    script.send(sent(of_lines(60)))
    left_out = 0
    for width, height in ((800, 1080), (600, 900), (400, 700), (800, 200), (400, 200)):
        script.page.set_viewport_size({"width": width, "height": height})
        script.page.evaluate("fit()")
        hidden, shown = script.page.evaluate(RANKS)
        assert shown
        assert max(shown) < min(hidden, default=1000)
        left_out += len(hidden)
    assert left_out
    script.page.close()
