"""The board as HTML, and as the messages that bring a page up to date.

Everything is rendered here, with every text escaped; a page puts the parts in their places and
runs nothing that it is sent.
"""

import json
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from voicecount.board import lines, words
from voicecount.board.cut import apart, parted, short
from voicecount.board.turn import OpenLine
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
    made.filters.update(short=short, apart=apart, parted=parted)
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
    data = {
        "html": parts(board),
        "fresh": board.fresh,
        "told": _told(board),
        "alarm": "" if board.fresh else f"{words.DO_NOT} {board.hears_words}.",
        "age": age,
    }
    return b"event: board\ndata: " + json.dumps(data).encode("ascii") + b"\n\n"


def still(age: float | None) -> bytes:
    """Give a server-sent event that tells only that the board is not cut off."""
    return b"event: still\ndata: " + json.dumps({"age": age}).encode("ascii") + b"\n\n"


def _told(board: Board) -> list[str]:
    """Give what a screen reader says of the board, each part of which it says when it has changed.

    No seconds, which change by themselves, and nothing to be said over the assistant's own voice;
    an empty part says nothing.
    """
    if not board.fresh:  # that is told by the alarm
        return [""] * 5
    speaks, waits = board.hears == "speaks", board.hears == "slow"
    return [
        f"Not resolved: {'; '.join(board.differences)}." if board.differences else "",
        _stored(board.line) if board.line is not None else "",
        f"It said: {board.said.text}" if board.said is not None else "",
        "" if speaks or waits else f"{board.next.who}: {board.next.what}.",
        "" if speaks else f"{board.hears_words}.",
    ]


def _stored(line: OpenLine) -> str:
    """Say a number that is stored; one that is still being called changes with each word."""
    if line.heard or not line.number:
        return ""
    name = f"{line.item} {line.place}".strip()
    return f"{line.title}: {name}, {line.number}, {line.words}."


def _values(board: Board) -> dict[str, object]:
    tables = lines.tables(board)
    names = {row.name for group in board.groups for row in group.rows}
    return {
        "board": board,
        "tables": tables.parts,
        "hidden": words.more(tables.hidden),
        "hidden_by_words": words.by_words(tables.hidden),
        "names": frozenset((*names, *(one.rpartition(": ")[0] for one in board.differences))),
        "change": any(one.row.change for part in tables.parts for one in part),
        "inside": any(one.row.inside for part in tables.parts for one in part),
    }
