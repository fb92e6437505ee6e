"""Names of files and folders as arguments; what is no name is told at once."""

import argparse
from pathlib import Path


def given(text: str) -> str:
    """Read a name. An empty one would be the current folder, which nobody asked for."""
    if not text:
        raise argparse.ArgumentTypeError("the name is empty; give the name of a file or folder")
    return text


def path(text: str) -> Path:
    """Read the name of a file or folder."""
    return Path(given(text))


def to_write(text: str) -> Path:
    """Read the name of a file that is made: put in its place whole, so it cannot be a pipe."""
    if text == "-":
        raise argparse.ArgumentTypeError(
            "'-' is no file; this is put in its place whole, not sent through a pipe; name a file"
        )
    return path(text)
