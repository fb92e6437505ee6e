"""Consoles: colour and width where a person looks, plain text where another program reads."""

import sys
from typing import TextIO

from rich.console import Console

_PLAIN_WIDTH = 120
"""Columns where there is no terminal to ask."""


def console(stream: TextIO | None = None) -> Console:
    """Give a console for a stream, standard output by default."""
    stream = stream or sys.stdout
    width = None if stream.isatty() else _PLAIN_WIDTH
    return Console(file=stream, width=width, highlight=False, emoji=False)


def printable(text: str) -> str:
    """Give the text without characters that could steer a terminal."""
    return "".join(character if character.isprintable() else "?" for character in text)


def notice(line: str) -> None:
    """Tell a person one line beside the output."""
    text = f"voicecount: {printable(line)}"
    console(sys.stderr).print(text, markup=False, soft_wrap=True)


def clock_time(seconds: float) -> str:
    """Write seconds as minutes, seconds and tenths: ``2:05.3``."""
    tenths = round(max(0.0, seconds) * 10)
    return f"{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"
