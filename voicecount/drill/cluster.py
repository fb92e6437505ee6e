"""The same work on the machines of a Dask cluster that a school already runs.

    scheduler's address ─▶ Client ─▶ is every worker as we are? ─▶ a few things ahead of the workers

The scheduler gives a lost worker's things to another one. Only a few are handed over ahead, so that
recordings that have to be sent are not all in memory at once.
"""

import contextlib
import gc
import logging
import queue
import time
import uuid
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import dask
import distributed

from voicecount.drill.engines import (
    EngineError,
    Failure,
    Made,
    OutOfReach,
    Thing,
    failure,
)

CONNECT_SECONDS = 10.0
LOST_SECONDS = 60.0
"""Seconds without any worker after which the work ends; what was made by then is kept."""
_LOOK_SECONDS = 0.5
_AHEAD = 2
"""Things handed over for each thread of the cluster."""
_LOGGERS = ("distributed", "distributed.client", "distributed.comm", "tornado.application")


class DaskEngine:
    """Workers of a running cluster; each should have one thread (``--nthreads 1``).

    ``same`` is called here and on every worker, by its name, and has to give the same everywhere:
    the version of what works.
    """

    def __init__(
        self,
        address: str,
        same: Callable[[], str] | None = None,
        *,
        connect_seconds: float = CONNECT_SECONDS,
        lost_seconds: float = LOST_SECONDS,
    ) -> None:
        self._address = address
        self._same = same
        self._connect_seconds = connect_seconds
        self._lost_seconds = lost_seconds

    @property
    def name(self) -> str:
        """What it is, in a few words."""
        return f"the cluster at {self._address}"

    def map(
        self,
        work: Callable[[Thing], Made],
        todo: Sequence[Thing],
        carry: Callable[[Thing], Thing] | None = None,
    ) -> Iterator[tuple[int, Made | Failure]]:
        """Give each result as it comes; see Engine."""
        with _quiet(), self._client() as client:
            self._check(client)
            tasks = _Tasks(client, work, todo, carry)
            try:
                yield from self._results(client, tasks)
            finally:
                tasks.cancel()

    def _client(self) -> Any:
        make: Any = distributed.Client  # its own types are half there
        try:
            with dask.config.set({"distributed.comm.timeouts.connect": self._connect_seconds}):
                return make(self._address, timeout=self._connect_seconds, set_as_default=False)
        except (OSError, ValueError, RuntimeError, TypeError, ImportError) as error:
            why = " ".join(str(error).split()) or type(error).__name__
        # A client that came to nothing closes itself when it is collected, and waits for ever if
        # that happens while another one is being made: so it is collected here.
        gc.collect()
        raise EngineError(
            f"no Dask scheduler answers at {self._address} ({_short(why)}); look at the "
            "address that it told when it started, such as tcp://10.0.0.5:8786"
        )

    def _check(self, client: Any) -> None:
        """Raise EngineError where there is no worker, or one that is not as we are."""
        try:
            client.wait_for_workers(1, timeout=self._connect_seconds)
            versions = client.get_versions(check=False)
            theirs = client.run(_whoami, self._same, on_error="return")
        except (OSError, ValueError, RuntimeError) as error:
            why = " ".join(str(error).split()) or type(error).__name__
            raise EngineError(
                f"{self._address}: no worker of the cluster answers ({_short(why)}); start one by "
                f"'dask worker {self._address} --nthreads 1'"
            ) from None
        here = _versions(versions["client"])
        for worker, about in versions["workers"].items():
            there = _versions(about)
            if there != here:
                raise EngineError(
                    f"{self._address}: the worker at {worker} has {there}, and here is {here}; "
                    "install the same on all machines"
                )
        ours = _whoami(self._same)
        for worker, answer in theirs.items():
            if answer != ours:
                told = "no voicecount" if isinstance(answer, ImportError) else "another voicecount"
                raise EngineError(
                    f"{self._address}: the worker at {worker} has {told} than here "
                    f"({_short(' '.join(str(answer).split()))}); install the same version on all "
                    "machines and start the workers again"
                )

    def _results(self, client: Any, tasks: "_Tasks") -> Iterator[tuple[int, Any | Failure]]:
        seen = time.monotonic()
        while tasks.fill(_AHEAD * max(1, _threads(client))):
            if _threads(client) and client.status == "running":
                seen = time.monotonic()
            elif time.monotonic() - seen > self._lost_seconds or client.status == "closed":
                raise EngineError(
                    f"{self._address}: the cluster was lost (no worker is left, or its scheduler "
                    "does not answer); start it again and repeat the command"
                )
            yield from tasks.take()


class _Tasks:
    """What was handed over and has not come back."""

    def __init__(
        self,
        client: Any,
        work: Callable[[Any], Any],
        todo: Sequence[Any],
        carry: Callable[[Any], Any] | None,
    ) -> None:
        self._client = client
        self._work = work
        self._todo = todo
        self._carry = carry
        self._carrying = False
        self._next = 0
        self._suspects: deque[tuple[int, bool]] = deque()
        self._alone: int | None = None
        self._failed: list[tuple[int, Failure]] = []
        self._out: dict[str, tuple[Any, int, bool]] = {}
        self._done: queue.Queue[str] = queue.Queue()

    def fill(self, most: int) -> bool:
        """Hand things over until ``most`` are out; False when nothing is left to wait for.

        The scheduler blames all that a lost worker had, also what only waited there: these are
        tried again in the end, each with nothing else beside it.
        """
        while len(self._out) < most and self._next < len(self._todo):
            self._submit(self._next, carried=self._carrying)
            self._next += 1
        if not self._out and self._suspects:
            self._alone, carried = self._suspects.popleft()
            self._submit(self._alone, carried=carried)
        return bool(self._out or self._failed)

    def take(self) -> Iterator[tuple[int, Any | Failure]]:
        """Give what came back within a short time."""
        failed, self._failed = self._failed, []
        yield from failed
        with contextlib.suppress(queue.Empty):
            future, place, carried = self._out.pop(self._done.get(timeout=_LOOK_SECONDS))
            answer = self._answer(future)
            if isinstance(answer, OutOfReach) and self._carry is not None and not carried:
                self._carrying = True
                self._submit(place, carried=True)
            elif isinstance(answer, distributed.KilledWorker):
                if place != self._alone:
                    self._suspects.append((place, carried))
                else:
                    yield place, Failure("its worker ended each time that it was tried")
            elif answer is _LATER:
                self._submit(place, carried=carried)
            else:
                yield place, failure(answer) if isinstance(answer, BaseException) else answer

    def cancel(self) -> None:
        """Give up what is still out."""
        with contextlib.suppress(Exception):  # the scheduler may be gone
            self._client.cancel([future for future, _, _ in self._out.values()])
        self._out.clear()

    def _submit(self, place: int, *, carried: bool) -> None:
        thing = self._todo[place]
        if carried and self._carry is not None:
            try:
                thing = self._carry(thing)
            except Exception as error:  # noqa: BLE001 - one thing must not stop the others
                self._failed.append((place, failure(error)))
                return
        key = f"voicecount-{place}-{uuid.uuid4().hex}"
        future = self._client.submit(self._work, thing, key=key, pure=False)
        self._out[key] = (future, place, carried)
        future.add_done_callback(lambda _: self._done.put(key))

    @staticmethod
    def _answer(future: Any) -> Any:
        """Give a result, an error in the work, or _LATER where the cluster lost it on the way."""
        if future.status == "error":
            return future.exception()
        if future.status == "finished":
            with contextlib.suppress(TimeoutError, OSError, distributed.CancelledError):
                return future.result(timeout=CONNECT_SECONDS)
        return _LATER


_LATER = object()


def _whoami(same: Callable[[], str] | None) -> str:
    """Run on every worker, and here."""
    return "" if same is None else same()


def _versions(about: Any) -> str:
    """Give the versions that have to be the same for things to be handed over."""
    python = ".".join(about["host"]["python"].split(".")[:2])
    return f"Python {python}, distributed {about['packages']['distributed']}"


def _threads(client: Any) -> int:
    """Give the threads of all workers that are there now."""
    if client.status == "running":
        with contextlib.suppress(OSError, RuntimeError):  # the scheduler may just be going
            return sum(client.nthreads().values())
    return 0


def _short(text: str) -> str:
    return text if len(text) <= 160 else f"{text[:159]}…"


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep what the library logs of a lost connection from the terminal: it is told in one line."""
    loggers = [logging.getLogger(name) for name in _LOGGERS]
    before = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for logger, level in zip(loggers, before, strict=True):
            logger.setLevel(level)
