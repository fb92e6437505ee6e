"""A rig for the wall board in a real browser: a server, an assistant that is none, a Chromium.

The board runs as people start it, in a process of its own, on a free port. The assistant only beats
and writes records that are there already, so that every moment can be held as long as it takes. A
watched page keeps what a visitor never should cause: messages of the console, violations of the
page's policy, requests to anything but the board.
"""

import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self
from urllib.parse import urlsplit

from board_rig import WALK

from voicecount.board.now import BEAT_SECONDS
from voicecount.commands.journals import CODEC
from voicecount.count.events import Event
from voicecount.keep.journal import Journal
from voicecount.keep.now import NowFile

MISSING = (
    "optional: no browser here; the board's page needs Chromium (Debian: chromium) and the "
    "package playwright"
)
GOLDEN = Path(__file__).parent / "golden" / "whole_case_2026_11_26.vcj"
_NAMES = ("chromium", "chromium-browser", "google-chrome")
_QUIET = (
    *("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"),
    *("--disable-component-update", "--disable-sync", "--enable-precise-memory-info"),
)
_WAIT = 20.0
"""Seconds after which something that has to come is taken never to come."""

LISTENS = "document.querySelector('[class=\"hears hears\"]') !== null"
"""Whether a page says that the assistant listens."""

_WATCH = """
window.violations = [];
document.addEventListener('securitypolicyviolation',
  (event) => window.violations.push(`${event.violatedDirective} ${event.blockedURI}`));
"""

SIGNS = """
(() => {
  const shown = { gone: null, cut: null, slow: null };
  const look = () => {
    const gone = document.querySelector('.hears.gone') !== null;
    const slow = document.querySelector('.hears.slow') !== null;
    const cut = !document.getElementById('cut').hidden;
    for (const [name, there] of [['gone', gone], ['cut', cut], ['slow', slow]]) {
      if (!there) shown[name] = null;
      else if (shown[name] === null) shown[name] = Date.now() / 1000;
    }
  };
  new MutationObserver(look).observe(document.body,
    { subtree: true, childList: true, attributes: true, characterData: true });
  look();
  window.shown = shown;
})();
"""
"""Keeps the time, in seconds of the day's clock, since when a page says each of three things."""


def chromium() -> str | None:
    """Give the browser's file; None where it, or what drives it, is not installed."""
    try:
        import playwright.sync_api  # noqa: F401, PLC0415 (only where there is one)
    except ModuleNotFoundError:
        return None
    found = (shutil.which(name) for name in _NAMES)
    return next((one for one in found if one is not None), None)


@contextmanager
def browsing() -> Iterator[Any]:
    """Have a browser for as long as the block lasts; LookupError where there is none."""
    path = chromium()
    if path is None:
        raise LookupError(MISSING)
    from playwright.sync_api import sync_playwright  # noqa: PLC0415

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=path, args=list(_QUIET))
        try:
            yield browser
        finally:
            browser.close()


class Server:
    """``voicecount board`` of one journal, in a process of its own."""

    def __init__(self, journal: Path) -> None:
        self._journal = journal
        self._port = 0
        self._process: subprocess.Popen[bytes] | None = None
        self.address = ""

    def start(self) -> None:
        """Start it, on the same port as before if there was one, and wait until it answers."""
        out = self._journal.with_name("board.out")
        command = [sys.executable, "-m", "voicecount", "board", str(self._journal)]
        with out.open("wb") as file:
            self._process = subprocess.Popen(
                [*command, "--port", str(self._port)],
                stdin=subprocess.DEVNULL,
                stdout=file,
                stderr=file,
            )
        until = time.monotonic() + _WAIT
        while "http://" not in (told := out.read_text("utf-8")):
            if self._process.poll() is not None or time.monotonic() > until:
                raise RuntimeError(f"the board does not start: {told}")
            time.sleep(0.02)
        self.address = f"http://{told.partition('http://')[2].split()[0]}"
        self._port = urlsplit(self.address).port or 0

    @property
    def pid(self) -> int:
        """The process."""
        if self._process is None:
            raise RuntimeError("the board is not running")
        return self._process.pid

    def kill(self) -> None:
        """End it as a power cut would."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(_WAIT)
            self._process = None


class Assistant:
    """Beats beside a journal, and writes the records of another one into it."""

    def __init__(self, journal: Path) -> None:
        self._journal = journal
        self._file = NowFile(journal)
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._beat = 0
        self._still_at: float | None = None
        self.last_beat = 0.0
        """When it beat last, in seconds of the day's clock."""
        self.state: dict[str, Any] = {
            "speaking": False,
            "hears": True,
            "walk": WALK,
            "partial": None,
            "heard": None,
            "said": None,
            "noise": {"state": "fine", "above": 27.2},
        }

    def begin(self, records: Iterable[bytes]) -> None:
        """Put a new journal in the place of the one before."""
        new = self._journal.with_name("new.part")
        new.write_bytes(b"".join(records))
        new.replace(self._journal)
        with self._lock:
            self._file = NowFile(self._journal)  # each case has an assistant of its own

    def add(self, *records: bytes) -> None:
        """Write records, each with its own sync, as the journal does."""
        with self._journal.open("ab", buffering=0) as file:
            for record in records:
                file.write(record)
                os.fsync(file.fileno())

    def tell(self, **changes: Any) -> None:
        """Tell this moment."""
        with self._lock:
            self.state.update(changes)
            self._write()

    def beat(self) -> None:
        """Beat from now on, and go on with the work."""
        self._stop.clear()
        self._still_at = None
        self.tell()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def die(self) -> float:
        """Beat no more, the file staying as it is; give when the last beat was."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join()
        return self.last_beat

    def hang(self) -> float:
        """Go on to beat, and with nothing else; give since when, day's clock."""
        with self._lock:
            self._still_at = time.time()
            return self._still_at

    def _run(self) -> None:
        while not self._stop.wait(BEAT_SECONDS):
            self.tell()

    def _write(self) -> None:
        self._beat += 1
        still = 0.0 if self._still_at is None else round(time.time() - self._still_at, 1)
        self._file.write({"beat": self._beat, "still": still, **self.state})
        self.last_beat = time.time()


class Room:
    """A journal with its server and its assistant; a context that ends both."""

    def __init__(self, folder: Path, records: Iterable[bytes]) -> None:
        self.journal = folder / "case.vcj"
        self.assistant = Assistant(self.journal)
        self.assistant.begin(records)
        self.server = Server(self.journal)

    def __enter__(self) -> Self:
        try:
            self.server.start()
        except BaseException:
            self.server.kill()
            raise
        self.assistant.beat()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.assistant.die()
        self.server.kill()


class Page:
    """One watched page of a board. ``page`` is Playwright's."""

    def __init__(self, browser: Any, address: str, **context: Any) -> None:
        self._context = browser.new_context(**context)
        self.page = self._context.new_page()
        self.page.set_default_timeout(1000 * _WAIT)
        self.complaints: list[str] = []
        """What the console was told, and errors that nothing caught."""
        self.asked: list[str] = []
        """Every address that was asked for."""
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("dialog", self._refuse)
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.add_init_script(_WATCH)
        self.page.goto(address)
        self.page.evaluate(SIGNS)

    def _refuse(self, dialog: Any) -> None:
        self.complaints.append(f"dialog: {dialog.message}")
        dialog.dismiss()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._context.close()

    @property
    def violations(self) -> list[str]:
        """What the page's policy stopped."""
        return list(self.page.evaluate("window.violations"))

    def text(self, selector: str = "body") -> str:
        """Give what can be read at a place, in one line; empty where there is no such place."""
        give = "(name) => [...document.querySelectorAll(name)].map((one) => one.innerText)"
        return " ".join(" ".join(self.page.evaluate(give, selector)).split())

    def until(self, condition: str) -> Any:
        """Wait until a condition of the page holds; give its value. Raises TimeoutError.

        It is asked from here: the page's policy forbids a script that waits for it in there.
        """
        until = time.monotonic() + _WAIT
        while not (found := self.page.evaluate(condition)):
            if time.monotonic() > until:
                raise TimeoutError(f"it never came to be: {condition}; there is: {self.text()}")
            self.page.wait_for_timeout(15)
        return found

    def until_record(self, number: int) -> None:
        """Wait until the page shows so many records."""
        place = "document.getElementById('board').innerText"
        self.until(rf"/\b{number}, head/.test({place})")

    def since(self, sign: str) -> float:
        """Wait for a sign (``gone``, ``cut``, ``slow``); give since when, day's clock."""
        return float(self.until(f"window.shown.{sign}"))


def records_of(path: Path = GOLDEN) -> list[bytes]:
    """Give a journal's records as they stand in its file."""
    return path.read_bytes().splitlines(keepends=True)


def records_with(folder: Path, events: Iterable[Event]) -> list[bytes]:
    """Give events as the records of a new journal."""
    first, *rest = events
    path = folder / "made.vcj"
    path.unlink(missing_ok=True)
    with Journal.create(path, first, CODEC) as journal:
        for event in rest:
            journal.append(event)
    return records_of(path)
