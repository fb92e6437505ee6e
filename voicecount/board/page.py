"""The board as HTML, and as the messages that bring a page up to date.

Everything is rendered here, with every text escaped; a page puts the parts in their places and
runs nothing that it is sent.
"""

import json
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from voicecount.board import lines, words
from voicecount.board.cut import short
from voicecount.board.view import Board

HERE = Path(__file__).parent
STATIC = {
    "board.css": "text/css; charset=utf-8",
    "board.js": "text/javascript; charset=utf-8",
    "board.svg": "image/svg+xml",
}
"""What may be fetched, by name; nothing else is ever looked up on the disk."""


@cache
def _templates() -> Environment:
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["short"] = short
    made.globals.update(words=words)
    return made


@cache
def static(name: str) -> bytes:
    """Give a file of STATIC."""
    return (HERE / "static" / name).read_bytes()


def page(board: Board) -> str:
    """Give the whole page."""
    return _templates().get_template("board.html").render(**_values(board))


def parts(board: Board) -> str:
    """Give what changes of it."""
    return _templates().get_template("parts.html").render(**_values(board))


def message(board: Board, age: float | None) -> bytes:
    """Give a server-sent event that brings a page up to date (HTML Living Standard, 9.2)."""
    told = f"{board.next.who}: {board.next.what}. {board.hears_words}."
    data = {"html": parts(board), "fresh": board.fresh, "told": told, "age": age}
    return b"event: board\ndata: " + json.dumps(data).encode("ascii") + b"\n\n"


def still(age: float | None) -> bytes:
    """Give a server-sent event that tells only that the board is not cut off."""
    return b"event: still\ndata: " + json.dumps({"age": age}).encode("ascii") + b"\n\n"


def _values(board: Board) -> dict[str, object]:
    tables = lines.tables(board)
    return {
        "board": board,
        "tables": tables.parts,
        "hidden": words.more(tables.hidden),
        "hidden_by_words": words.by_words(tables.hidden),
        "size": tables.size,
        "change": any(one.row.change for part in tables.parts for one in part),
        "inside": any(one.row.inside for part in tables.parts for one in part),
    }
