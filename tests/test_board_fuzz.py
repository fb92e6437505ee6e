"""Requests made from a description of the board's routes: right ones, wrong ones, and odd ones.

The description is OpenAPI 3.1 (spec.openapis.org); schemathesis makes the requests and, by it,
checks what comes back. It is a tool of its own, and knows nothing of the board.
"""

import re
import shutil
from collections.abc import Iterator
from typing import Any

import pytest
import requests
import schemathesis
from board_rig import WHOLE
from board_server import Server, serving
from hypothesis import HealthCheck, Phase, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    status_code_conformance,
    unsupported_method,
)

from voicecount.board import page
from voicecount.board.guard import HEADERS

REFUSED = {
    str(status): {"description": why, "content": {"text/plain": {"schema": {"type": "string"}}}}
    for status, why in (
        (400, "no request"),
        (401, "no token"),
        (404, "no such page"),
        (405, "only reading"),
        (413, "no body here"),
        (414, "too long an address"),
        (421, "no name of this board"),
        (431, "too long headers"),
    )
}
TOKEN = {"name": "token", "in": "query", "required": False, "schema": {"type": "string"}}
COOKIE = {"name": "voicecount_board_80", "in": "cookie", "schema": {"type": "string"}}
FILES = "|".join(map(re.escape, sorted(page.STATIC)))
NAME: dict[str, Any] = {"name": "name", "in": "path", "required": True}
NAME |= {"schema": {"type": "string", "pattern": rf"^(({FILES})|[\s\S]*)$"}}
"""Free text, and the right names often: of a choice of schemas only the widest would be left."""


def route(kind: str, *parameters: dict[str, Any], schema: Any = None) -> dict[str, Any]:
    """Describe one route that is read."""
    right = {"description": "read", "content": {kind: {"schema": schema or {"type": "string"}}}}
    answers = {"200": right, **REFUSED}
    if kind == "text/css":
        answers["200"] = {
            "description": "a file",
            "content": {one.partition(";")[0]: {} for one in page.STATIC.values()},
        }
    return {"get": {"parameters": [TOKEN, COOKIE, *parameters], "responses": answers}}


HEALTH = {
    "type": "object",
    "required": ["fresh", "records", "viewers"],
    "additionalProperties": False,
    "properties": {
        "fresh": {"type": "boolean"},
        "records": {"type": "integer", "minimum": 0},
        "viewers": {"type": "integer", "minimum": 0},
    },
}
DESCRIPTION = {
    "openapi": "3.1.0",
    "info": {"title": "The wall board", "version": "1"},
    "paths": {
        "/": route("text/html"),
        "/changes": route("text/event-stream"),
        "/health": route("application/json", schema=HEALTH),
        "/static/{name}": route("text/css", NAME),
    },
}
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    unsupported_method,
]


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    journal = tmp_path_factory.mktemp("fuzz") / "a.vcj"
    shutil.copy(WHOLE, journal)
    with serving(journal) as found:
        yield found
        assert found.process.poll() is None
        assert len(found.told) == 1


schema = schemathesis.openapi.from_dict(DESCRIPTION)


@schema.parametrize()
@settings(
    max_examples=40,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_what_the_description_says(server: Server, case: schemathesis.Case) -> None:
    """No answer is a fault of ours; each is of a kind that is described, and has every header."""
    base = f"http://127.0.0.1:{server.port}"
    if case.path == "/changes":  # it does not end by itself
        asked = case.as_transport_kwargs(base_url=base)
        with requests.request(**asked, stream=True, timeout=10) as stream:
            assert stream.status_code in {200, 400, 404, 405, 413, 414, 431}
            for name, value in HEADERS:
                assert stream.headers[name.decode()] == value.decode()
        return
    answer = case.call(base_url=base, timeout=10)
    assert answer.status_code < 500
    for name, value in HEADERS:
        assert answer.headers[name.decode()] == [value.decode()]
    case.validate_response(answer, checks=CHECKS)
    for secret in ("root:x:", "import asyncio", "case_opened", "Traceback"):
        assert secret not in answer.text
