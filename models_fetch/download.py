"""One file over HTTP: goes on where it was cut off, and never waits for ever."""

import http.client
import re
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from voicecount.errors import ModelError

Progress = Callable[[int, int], None]
"""Told the bytes that are there and the bytes of the whole."""

_BLOCK = 1 << 16
_AGENT = "voicecount models_fetch"
_PARTIAL_CONTENT = 206
_RANGE_REFUSED = 416
_SERVER_ERROR = 500


@dataclass(frozen=True)
class Limits:
    """How long to wait, in seconds, and how often to try."""

    stall: float = 20.0
    """Without one byte for this long, the connection is given up."""
    window: float = 60.0
    slowest: int = 256 * 1024
    """Bytes that must come within each window; a server that trickles is given up as well."""
    tries: int = 5
    """Attempts in a row that brought nothing new."""
    pause: float = 2.0
    """Between attempts."""


class _Broken(Exception):  # noqa: N818  (not an error yet: the next attempt goes on from here)
    """The connection ended too early."""


class _NoDowngrade(urllib.request.HTTPRedirectHandler):
    """Follows redirects, but never from an encrypted address to a plain one."""

    def redirect_request(  # noqa: PLR0917  (the base class has it so)
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: http.client.HTTPMessage,
        newurl: str,
    ) -> urllib.request.Request | None:
        if req.full_url.startswith("https:") and not newurl.startswith("https:"):
            raise ModelError(
                f"{req.full_url}: the server sends on to {newurl}, which is not safe; give the "
                "right address with --url"
            )
        return super().redirect_request(req, fp, code, msg, headers, newurl)


class Download:
    """Brings one file to ``part``, going on from the bytes that are there already.

    ``size`` is the file's number of bytes, or None to believe the server. What has come stays in
    ``part`` when something goes wrong, for the next time.
    """

    def __init__(
        self,
        url: str,
        part: Path,
        *,
        size: int | None,
        progress: Progress,
        limits: Limits | None = None,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        if not url.startswith(("http://", "https://")):
            raise ModelError(f"{url}: no web address; give one that begins with https://")
        self._url = url
        self._part = part
        self._size = size
        self._progress = progress
        self._limits = limits or Limits()
        self._clock = clock
        self._sleep = sleep

    def run(self) -> None:
        """Bring the file.

        Raises ModelError, one line, when the server cannot be reached, offers something else, or
        keeps breaking off.
        """
        tries = 0
        while True:
            before = self._have()
            if self._size is not None and before >= self._size:
                return
            try:
                self._attempt(before)
            except _Broken as broken:
                tries = 1 if self._have() > before else tries + 1
                if tries >= self._limits.tries:
                    raise ModelError(
                        f"{self._url}: {broken}; {self._have()} bytes are kept, run the same "
                        "command again to go on, or give a copy from elsewhere with --from"
                    ) from broken
                self._sleep(self._limits.pause)
            else:
                return

    def _attempt(self, have: int) -> None:
        headers = {"User-Agent": _AGENT, "Accept-Encoding": "identity"}
        if have:
            headers["Range"] = f"bytes={have}-"
        request = urllib.request.Request(self._url, headers=headers)  # noqa: S310  (checked above)
        opener = urllib.request.build_opener(_NoDowngrade)
        try:
            with opener.open(request, timeout=self._limits.stall) as answer:
                self._save(answer, have)
        except urllib.error.HTTPError as error:
            self._refused(error)
        except urllib.error.URLError as error:
            if isinstance(error.reason, TimeoutError):
                raise _Broken("the server does not answer") from error
            raise ModelError(
                f"{self._url}: cannot be reached ({error.reason}); is there a network? The file "
                "can also be fetched on another computer and given with --from"
            ) from error
        except TimeoutError as error:
            raise _Broken(f"nothing came for {self._limits.stall:g} s") from error
        except (http.client.HTTPException, ConnectionError) as error:
            raise _Broken(f"the connection broke off ({error or type(error).__name__})") from error

    def _refused(self, error: urllib.error.HTTPError) -> None:
        error.close()
        if error.code == _RANGE_REFUSED:
            self._part.unlink(missing_ok=True)
            raise _Broken("the server does not know the part that is there") from error
        if error.code >= _SERVER_ERROR:
            raise _Broken(f"the server answers {error.code} {error.reason}") from error
        raise ModelError(
            f"{self._url}: the server answers {error.code} {error.reason}; give another address "
            "with --url, or a copy with --from"
        ) from error

    def _save(self, answer: http.client.HTTPResponse, have: int) -> None:
        """Write what follows what is there; a server that ignores the range sends it anew."""
        goes_on = answer.status == _PARTIAL_CONTENT
        if goes_on and _starts_at(answer) != have:
            self._part.unlink(missing_ok=True)
            raise _Broken("the server sent another part than was asked for")
        start = have if goes_on else 0
        whole = self._whole(answer, start)
        with self._part.open("ab" if goes_on else "wb") as file:
            self._copy(answer, file, start, whole)

    def _whole(self, answer: http.client.HTTPResponse, start: int) -> int | None:
        """Give the size of the whole file; an offer of another size is refused at once."""
        offered = answer.getheader("Content-Length") or ""
        if not offered.isdigit():
            return self._size
        whole = start + int(offered)
        if self._size is not None and whole != self._size:
            raise ModelError(
                f"{self._url}: {whole} bytes are offered, {self._size} are expected: not the "
                "model's file; give its address with --url"
            )
        return whole

    def _copy(
        self, answer: http.client.HTTPResponse, file: IO[bytes], have: int, whole: int | None
    ) -> None:
        began, marked = self._clock(), have
        while block := answer.read1(_BLOCK):
            have += len(block)
            if whole is not None and have > whole:
                raise _Broken("more bytes came than the file has")
            file.write(block)
            self._progress(have, whole or have)
            if self._clock() - began > self._limits.window:
                if have - marked < self._limits.slowest:
                    raise _Broken(f"only {have - marked} bytes in {self._limits.window:g} s")
                began, marked = self._clock(), have
        if whole is not None and have < whole:
            raise _Broken("the connection was cut off")

    def _have(self) -> int:
        try:
            return self._part.stat().st_size
        except FileNotFoundError:
            return 0


def _starts_at(answer: http.client.HTTPResponse) -> int | None:
    found = re.match(r"bytes (\d+)-", answer.getheader("Content-Range") or "")
    return int(found[1]) if found else None
