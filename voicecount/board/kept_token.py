"""A token that outlives the board, in a file of its owner only, for those who go on watching."""

import os
import re
import secrets
import stat
import sys
from pathlib import Path

from voicecount.errors import UsageError

_FITS = re.compile(rb"[A-Za-z0-9._~-]{22,200}")
"""Unreserved in an address (RFC 3986, 2.3) and allowed in a cookie (RFC 6265, 4.1.1); 22 characters
of base64 hold 128 bits."""


def new_token() -> str:
    """Make one that is not guessed: 18 bytes in 24 characters."""
    return secrets.token_urlsafe(18)


def kept_token(path: Path) -> str:
    """Give the token that a file keeps; make both where there is no file.

    UsageError where it cannot be read or made, where others may know it, or where it is none.
    """
    try:
        try:
            fd = _open(path)
        except FileNotFoundError:
            _make(path)
            fd = _open(path)
        try:
            _check(path, os.fstat(fd))
            token = os.read(fd, 1024)
        finally:
            os.close(fd)
    except OSError as error:
        raise UsageError(
            f"{path}: cannot keep the board's token ({error.strerror or error}); check its folder, "
            "or name another file by --token"
        ) from error
    token = token.removesuffix(b"\n").removesuffix(b"\r")
    if _FITS.fullmatch(token) is None:
        raise UsageError(
            f"{path}: it holds no token for the board (one line of 22 to 200 letters, digits, "
            "hyphens, dots, _ or ~); name another file by --token, or remove this one, and a new "
            "one is made"
        )
    return token.decode("ascii")


def _open(path: Path) -> int:
    return os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))  # a pipe must not hold it up


def _make(path: Path) -> None:
    fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(fd, "wb") as file:
        file.write(new_token().encode("ascii") + b"\n")


def _check(path: Path, state: os.stat_result) -> None:
    if not stat.S_ISREG(state.st_mode):
        raise UsageError(f"{path}: it is not a file; name one by --token that keeps the token")
    if sys.platform == "win32":  # pragma: no cover - modes mean nothing there
        return
    if state.st_uid != os.geteuid():
        raise UsageError(
            f"{path}: it belongs to another user, who knows the board's token; name another file "
            "by --token"
        )
    if stat.S_IMODE(state.st_mode) & 0o077:
        raise UsageError(
            f"{path}: others than its owner may read or change it, so the board's token may be "
            "known; remove it, and a new one is made"
        )
