"""The same work on many things at once: on this machine's cores here, on a cluster in cluster.py.

An engine knows nothing of recordings. It gives each result as it comes, with the place of its
thing, so that whoever asked can keep it at once and put all into one order, whatever did the work.
"""

import contextlib
import multiprocessing
import os
import signal
import threading
from collections import Counter, deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnContext
from typing import Any, Protocol, TypeVar

from voicecount.errors import VoicecountError

Thing = TypeVar("Thing")
Made = TypeVar("Made")

TRIES = 3
"""A thing whose worker process ended is tried again, twice at most."""
_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""Each worker has one core: threads inside of it would only get in each other's way."""
_GOODBYE = 5.0
"""Seconds that an idle worker has to end by itself."""
_GONE = object()
"""The answer of a process that has ended."""


class EngineError(VoicecountError):
    """The work cannot be done where it was to be done."""


class OutOfReach(Exception):  # noqa: N818 - it asks for the thing to be sent whole
    """Raised by a work whose worker cannot see a file that its thing names."""


@dataclass(frozen=True)
class Failure:
    """What is given for a thing that could not be worked on."""

    why: str


class Engine(Protocol):
    """The port."""

    @property
    def name(self) -> str:
        """What it is, in a few words: ``2 processes on this machine``."""
        ...

    def map(
        self,
        work: Callable[[Thing], Made],
        todo: Sequence[Thing],
        carry: Callable[[Thing], Thing] | None = None,
    ) -> Iterator[tuple[int, Made | Failure]]:
        """Give the place of each thing in ``todo`` and what came of it, as it comes.

        ``work`` and the things are picklable, ``work`` by its name. An error in it, or a worker
        that ends each time, is a Failure and does not stop the rest. ``carry`` gives the same thing
        with everything inside it, for a worker that raised OutOfReach. Raises EngineError.
        """
        ...


def cores() -> int:
    """Give how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1  # pragma: no cover - other systems


class LocalEngine:
    """Processes of this machine, each with one thing at a time and started once.

    Each has a pipe of its own, so that it is known which thing a process had when it was killed,
    and so that the processes end with this one, however it ends.
    """

    def __init__(self, workers: int | None = None) -> None:
        self.workers = cores() if workers is None else workers

    @property
    def name(self) -> str:
        """What it is, in a few words."""
        return f"{self.workers} process{'' if self.workers == 1 else 'es'} on this machine"

    def map(
        self,
        work: Callable[[Thing], Made],
        todo: Sequence[Thing],
        carry: Callable[[Thing], Thing] | None = None,  # noqa: ARG002 - it sees all files
    ) -> Iterator[tuple[int, Made | Failure]]:
        """Give each result as it comes; see Engine."""
        waiting = deque(range(len(todo)))
        tries: Counter[int] = Counter()
        hands: list[_Hand] = []
        done = False
        try:
            while waiting or any(hand.place is not None for hand in hands):
                if waiting and len(hands) < self.workers:
                    hands.append(_Hand(work))
                for hand in hands:
                    if waiting and hand.place is None:
                        hand.give(waiting[0], todo[waiting[0]])
                        waiting.popleft()
                if waiting and len(hands) < self.workers:
                    continue
                for hand in _ready(hands):
                    place, answer = hand.take()
                    if answer is _GONE:
                        hands.remove(hand)
                        tries[place] += 1
                        if tries[place] < TRIES:
                            waiting.appendleft(place)
                            continue
                        answer = Failure(f"its worker process ended {TRIES} times ({hand.ended()})")
                    yield place, answer
            done = True
        finally:
            for hand in hands:
                hand.dismiss(now=not done)


def _ready(hands: Sequence["_Hand"]) -> list["_Hand"]:
    busy: dict[Any, _Hand] = {hand.pipe: hand for hand in hands if hand.place is not None}
    return [busy[pipe] for pipe in wait(list(busy))]


class _Hand:
    """One worker process, seen from here."""

    def __init__(self, work: Callable[[Any], Any]) -> None:
        context = multiprocessing.get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self.place: int | None = None
        try:
            self._process = _started(context, theirs, work)
        except OSError as error:
            self.pipe.close()
            raise EngineError(
                f"no further worker process can be started ({error.strerror or error}); ask for "
                "fewer by --workers"
            ) from None
        finally:
            theirs.close()

    def give(self, place: int, thing: object) -> None:
        """Hand over a thing; a worker that is gone is seen when its answer is taken."""
        self.place = place
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            self.pipe.send(thing)

    def take(self) -> tuple[int, Any]:
        """Give the place of the thing with its answer, _GONE where the process has ended."""
        place, self.place = self.place, None
        if place is None:
            raise ValueError("this worker was given nothing")
        try:
            return place, self.pipe.recv()
        except (EOFError, OSError):
            self.dismiss(now=True)
            return place, _GONE

    def ended(self) -> str:
        """Say how the process ended."""
        code = self._process.exitcode
        if code is None or code >= 0:
            return f"exit code {code}"
        with contextlib.suppress(ValueError):
            return f"by {signal.Signals(-code).name}"
        return f"by signal {-code}"

    def dismiss(self, *, now: bool) -> None:
        """Let an idle process end by itself, or end it ``now``."""
        self.pipe.close()
        if not now:
            self._process.join(_GOODBYE)
        self._process.kill()
        self._process.join(_GOODBYE)


def _started(
    context: SpawnContext, theirs: "Connection[Any, Any]", work: Callable[[Any], Any]
) -> Any:
    """Start a process with one thread for sums: set before it loads anything."""
    process = context.Process(target=_begin, args=(theirs, work), daemon=True)
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    try:
        process.start()
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
    return process


def _begin(
    pipe: "Connection[Any, Any]", work: Callable[[Any], Any]
) -> None:  # pragma: no cover - runs in the worker process
    """Serve until the other side is gone. A key stops the one who asked, and so this one."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()
    serve(pipe, work)


def _end_with(parent: int) -> None:  # pragma: no cover - runs in the worker process
    """End at once, in the middle of a thing too, when the process that asked is gone."""
    wait([parent])
    os._exit(1)


def serve(pipe: "Connection[Any, Any]", work: Callable[[Any], Any]) -> None:
    """Work on what comes through the pipe, one thing after the other, until it is closed."""
    while True:
        try:
            thing = pipe.recv()
        except EOFError:
            return
        try:
            pipe.send(attempted(work, thing))
        except BrokenPipeError:
            return


def attempted(work: Callable[[Thing], Made], thing: Thing) -> Made | Failure:
    """Do the work, or say why it could not be done."""
    try:
        return work(thing)
    except Exception as error:  # noqa: BLE001 - one thing must not stop the others
        return failure(error)


def failure(error: BaseException) -> Failure:
    """Say what went wrong in one line; what is meant for people as it is."""
    line = " ".join(str(error).split())
    if isinstance(error, VoicecountError | OutOfReach):
        return Failure(line)
    return Failure(f"an error in the program ({type(error).__name__}: {line})")
