"""Requests made from a description, to a board that asks for a token: every answer comes up.

The description is that of test_board_fuzz.py, with tokens, cookies, names of hosts and headers that
are right in some requests. Which statuses have to come is from RFC 9110 and RFC 6585, by hand.
"""

import shutil
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import requests
import schemathesis
from board_rig import WHOLE
from board_server import Server, serving
from hypothesis import HealthCheck, Phase, given, settings
from test_board_fuzz import DESCRIPTION, NAME, route

from voicecount.board import page
from voicecount.board.app import BoardApp
from voicecount.board.follow import Following
from voicecount.board.guard import HEADERS
from voicecount.commands.journals import CODEC
from voicecount.testing.clock import FakeClock

RIGHT = "the-right-one"
"""Stands for the token, which nobody knows before the server has begun."""
KEY = {"type": "string", "pattern": f"^({RIGHT}|[A-Za-z0-9_-]{{0,30}})$"}
TOKEN = {"name": "token", "in": "query", "required": False, "schema": KEY}
COOKIE = {"name": "ours", "in": "cookie", "required": False, "schema": KEY}
HOST = {"name": "Host", "in": "header", "required": False}
HOST |= {"schema": {"enum": ["127.0.0.1", "127.0.0.1:80", "localhost", "board.example"]}}
LONG = {"name": "X-Long", "in": "header", "required": False}
LONG |= {"schema": {"enum": ["", "x" * 7000, "x" * 9000]}}
MORE = {
    "/": ("text/html", ()),
    "/changes": ("text/event-stream", ()),
    "/health": ("application/json", ()),
    "/static/{name}": ("text/css", (NAME,)),
}


OFTEN = settings(
    max_examples=100,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)


def described() -> Any:
    """Describe the same routes with what may be sent besides."""
    paths = {}
    for path, (kind, more) in MORE.items():
        one = route(kind, *more)
        own = [TOKEN, COOKIE, HOST, LONG, *more]
        paths[path] = {"get": {**one["get"], "parameters": own}}
    return schemathesis.openapi.from_dict({**DESCRIPTION, "paths": paths})


@pytest.fixture(scope="module")
def closed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    journal = tmp_path_factory.mktemp("fuzz") / "a.vcj"
    shutil.copy(WHOLE, journal)
    with serving(journal, "--listen", "0.0.0.0") as found:  # noqa: S104 - of a test
        yield found
        assert found.process.poll() is None
        assert len(found.told) == 1


def asked(server: Server, case: Any) -> requests.Response:
    """Ask with the true token and the true name of the cookie, where the case has them."""
    token = server.query.partition("token=")[2]
    sent = case.as_transport_kwargs(base_url=f"http://127.0.0.1:{server.port}")
    given_token, given_cookie = (case.query or {}).get("token"), (case.cookies or {}).get("ours")
    if given_token == RIGHT:
        sent["params"] = {**sent.get("params", {}), "token": token}
    sent["cookies"] = {}
    if given_cookie is not None:
        value = token if given_cookie == RIGHT else given_cookie
        sent["cookies"] = {f"voicecount_board_{server.port}": value}
    return requests.request(**sent, stream=True, allow_redirects=False, timeout=10)


@pytest.mark.parametrize("path", MORE)
def test_a_closed_board(closed: Server, path: str) -> None:
    """Else a way in without the token, or an answer without its headers, is met by nobody here."""
    seen: dict[int, int] = defaultdict(int)

    @OFTEN
    @given(case=described()[path]["GET"].as_strategy())
    def ask(case: Any) -> None:
        with asked(closed, case) as answer:
            seen[answer.status_code] += 1
            for name, value in HEADERS:
                assert answer.headers[name.decode()] == value.decode()
            ours = (case.query or {}).get("token"), (case.cookies or {}).get("ours")
            if answer.status_code in {200, 303}:
                assert RIGHT in ours
            if answer.status_code == 303:
                assert answer.headers["location"] == "/"

    ask()
    wanted = {200, 303, 401, 421, 431} | ({404} if "{" in path else set())
    assert set(seen) >= wanted, dict(seen)
    assert set(seen) <= wanted | {400, 404}, dict(seen)


def test_every_route_is_described(tmp_path: Path) -> None:
    """Else a route that is added one day is never asked for by anything that is made up."""
    following = Following(tmp_path / "a.vcj", CODEC, FakeClock().monotonic)
    app = BoardApp(following, ("127.0.0.1",), None)
    routes = {getattr(one, "path", None) for one in app._routes.app.routes}
    assert routes == set(DESCRIPTION["paths"]) == set(MORE)


def test_every_file_is_asked_for() -> None:
    """Else the right names of files are never guessed, and only "no such page" is ever seen."""
    names: set[str] = set()

    @OFTEN
    @given(case=described()["/static/{name}"]["GET"].as_strategy())
    def look(case: Any) -> None:
        names.add(case.path_parameters["name"])

    look()
    assert names > set(page.STATIC)
