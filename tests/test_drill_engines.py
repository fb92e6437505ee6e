"""The same work with the same results on this machine's cores and on a cluster, whatever ends."""

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import distributed
import pytest

from voicecount.drill.cluster import DaskEngine, _Tasks
from voicecount.drill.engines import (
    Engine,
    EngineError,
    Failure,
    LocalEngine,
    attempted,
    cores,
    serve,
)
from voicecount.testing import work

pytestmark = [
    # The tests' own cluster opens servers of the library in this process; when it closes them it
    # leaves sockets, loops and unfinished coroutines to the garbage collector.
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


def things(folder: Path, *hows: str) -> list[work.Thing]:
    return [(number, how, str(folder)) for number, how in enumerate(hows)]


def results(engine: Engine, todo: Sequence[work.Thing]) -> list[Any]:
    """Give all results in the order of the things, without the processes' numbers."""
    found = dict(engine.map(work.doubled, todo, work.carried))
    assert sorted(found) == list(range(len(todo)))
    return [one if isinstance(one, Failure) else one[0] for _, one in sorted(found.items())]


def begun(folder: Path, number: int) -> int:
    """Give in how many processes a thing was begun."""
    return len(list(folder.glob(f"{number}.*")))


# One worker process after the other, on this machine.


def test_all_cores_are_used_by_default() -> None:
    """Without a number there is one process for each core that this process may use."""
    assert LocalEngine().workers == cores() >= 1
    assert LocalEngine(1).name == "1 process on this machine"
    assert LocalEngine(2).name == "2 processes on this machine"


def test_each_result_comes_with_its_place_from_more_than_one_process(tmp_path: Path) -> None:
    """Two processes share the work, and places tell which result is whose."""
    todo = things(tmp_path, *["slow"] * 6)
    found = dict(LocalEngine(2).map(work.doubled, todo))
    assert [found[place][0] for place in range(6)] == [0, 2, 4, 6, 8, 10]
    assert len({process for _, process in found.values()}) == 2
    assert os.getpid() not in {process for _, process in found.values()}


def test_an_error_in_one_thing_stops_no_other(tmp_path: Path) -> None:
    """An unforeseen error is told with its kind, one that is meant for people as it is."""
    found = results(LocalEngine(2), things(tmp_path, "fine", "wrong", "bad", "fine"))
    assert found == [
        0,
        Failure("an error in the program (ZeroDivisionError: no number)"),
        Failure("thing 2: an empty file; record it again"),
        6,
    ]


def test_a_killed_process_is_replaced_and_its_thing_tried_again(tmp_path: Path) -> None:
    """A process that is killed in the middle loses nothing."""
    found = results(LocalEngine(2), things(tmp_path, "fine", "dies", "fine", "dies", "fine"))
    assert found == [0, 2, 4, 6, 8]
    assert (begun(tmp_path, 1), begun(tmp_path, 3), begun(tmp_path, 4)) == (2, 2, 1)


def test_a_thing_that_ends_every_process_is_given_up_after_three(tmp_path: Path) -> None:
    """It is tried twice again, then told, and the rest is done."""
    found = results(LocalEngine(1), things(tmp_path, "always dies", "fine"))
    assert found == [Failure("its worker process ended 3 times (by SIGKILL)"), 2]
    assert begun(tmp_path, 0) == 3


def test_nothing_to_do_starts_nothing() -> None:
    """No thing, no result."""
    assert results(LocalEngine(2), []) == []


def test_workers_end_when_nobody_wants_more(tmp_path: Path) -> None:
    """Who stops in the middle leaves no process behind."""
    found = LocalEngine(2).map(work.doubled, things(tmp_path, *["slow"] * 8))
    next(found)
    assert multiprocessing.active_children()
    found.close()  # type: ignore[attr-defined]
    assert not multiprocessing.active_children()


def test_a_process_that_cannot_be_started_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line tells what to do where the system refuses a process."""

    def refuse(_: object) -> None:
        raise OSError(11, "Resource temporarily unavailable")

    context = multiprocessing.get_context("spawn")
    monkeypatch.setattr(context.Process, "start", refuse)
    with pytest.raises(EngineError, match="fewer by --workers"):
        results(LocalEngine(1), things(tmp_path, "fine"))


def test_sums_have_one_thread_in_each_worker(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The setting is there before the worker loads anything, and is not left behind here."""
    monkeypatch.delenv("OMP_NUM_THREADS", raising=False)
    assert dict(LocalEngine(1).map(os.getenv, ["OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"])) == {
        0: "1",
        1: "1",
    }
    assert "OMP_NUM_THREADS" not in os.environ
    assert tmp_path.is_dir()


def test_workers_end_with_a_parent_that_was_killed(tmp_path: Path) -> None:
    """A power cut for the parent leaves no orphan that goes on working."""
    script = tmp_path / "parent.py"
    script.write_text(
        textwrap.dedent(
            f"""
            from voicecount.drill.engines import LocalEngine
            from voicecount.testing import work
            if __name__ == "__main__":
                todo = [(number, "slow", {str(tmp_path)!r}) for number in range(400)]
                for place, (_, process) in LocalEngine(2).map(work.doubled, todo):
                    print(process, flush=True)
            """
        )
    )
    with subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True) as it:
        assert it.stdout is not None
        workers = {int(it.stdout.readline()) for _ in range(3)}
        it.kill()
    until = time.monotonic() + 120
    while any(_runs(process) for process in workers):
        assert time.monotonic() < until
        time.sleep(0.05)


def _runs(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().split()[2] != "Z"
    except OSError:
        return False


def test_a_worker_serves_until_its_pipe_is_closed() -> None:
    """The loop of a worker, here in a thread: answers in turn, errors too, and then the end."""
    ours, theirs = multiprocessing.get_context("spawn").Pipe()
    thread = threading.Thread(target=serve, args=(theirs, len))
    thread.start()
    for thing, answer in (("four", 4), ((), 0)):
        ours.send(thing)
        assert ours.recv() == answer
    ours.send(None)
    assert "TypeError" in ours.recv().why
    ours.close()
    thread.join(10)
    assert not thread.is_alive()
    theirs.close()


def test_an_answer_that_nobody_takes_ends_a_worker() -> None:
    """A worker whose answer has nowhere to go stops."""
    ours, theirs = multiprocessing.get_context("spawn").Pipe()
    ours.send("thing")
    ours.close()
    serve(theirs, len)
    theirs.close()


def test_what_is_no_error_of_the_work_is_not_held_up() -> None:
    """A key that stops everything is not taken for a failure of one thing."""

    def stop(_: object) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        attempted(stop, None)


# A cluster of Dask, whose scheduler and workers are processes that the test starts.


class Cluster:
    """A scheduler and workers, each a process of its own as a school would start it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._processes: list[subprocess.Popen[bytes]] = []
        self.workers: list[subprocess.Popen[bytes]] = []
        told = folder / "scheduler.json"
        self.scheduler = self._start(
            "scheduler", "--port", "0", "--no-dashboard", "--scheduler-file", str(told)
        )
        until = time.monotonic() + 120
        while not told.is_file() or not told.read_text().strip():
            assert time.monotonic() < until
            time.sleep(0.05)
        self.address = str(json.loads(told.read_text())["address"])

    def add_worker(self) -> subprocess.Popen[bytes]:
        arguments = (self.address, "--nthreads", "1", "--no-nanny", "--no-dashboard")
        worker = self._start("worker", *arguments, "--local-directory", str(self._folder))
        self.workers.append(worker)
        return worker

    def _start(self, *arguments: str) -> subprocess.Popen[bytes]:
        out = self._folder / f"{arguments[0]}-{len(self._processes)}.out"
        with out.open("wb") as file:
            process = subprocess.Popen(
                [sys.executable, "-m", f"distributed.cli.dask_{arguments[0]}", *arguments[1:]],
                stdin=subprocess.DEVNULL,
                stdout=file,
                stderr=file,
            )
        self._processes.append(process)
        return process

    def close(self) -> None:
        for process in self._processes:
            process.kill()
            process.wait(20)


@contextmanager
def cluster(folder: Path, workers: int) -> Iterator[Cluster]:
    folder.mkdir()
    made = Cluster(folder)
    try:
        for _ in range(workers):
            made.add_worker()
        yield made
    finally:
        made.close()


@pytest.fixture(scope="module")
def two_workers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    with cluster(tmp_path_factory.mktemp("dask") / "cluster", 2) as made:
        yield made


def test_a_cluster_gives_what_this_machine_gives(two_workers: Cluster, tmp_path: Path) -> None:
    """The same results in the same order, errors among them."""
    here, there = tmp_path / "here", tmp_path / "there"
    hows = ("slow", "fine", "wrong", "bad", *["slow"] * 6)
    for folder in (here, there):
        folder.mkdir()
    engine = DaskEngine(two_workers.address, work.version)
    assert two_workers.address in engine.name
    assert results(engine, things(there, *hows)) == results(LocalEngine(2), things(here, *hows))


def test_both_workers_of_a_cluster_work(two_workers: Cluster, tmp_path: Path) -> None:
    """The work is shared by the processes of the cluster."""
    found = dict(DaskEngine(two_workers.address).map(work.doubled, things(tmp_path, *["slow"] * 8)))
    processes = {process for _, process in found.values()}  # type: ignore[misc]
    assert processes == {worker.pid for worker in two_workers.workers}


def test_a_thing_out_of_reach_is_carried(two_workers: Cluster, tmp_path: Path) -> None:
    """A worker that cannot see a file gets it sent; what cannot be sent is told."""
    hows = ["far", *["fine"] * 12, "far", "far"]
    found = results(DaskEngine(two_workers.address), things(tmp_path, *hows))
    assert found[13] == Failure("an error in the program (ValueError: thirteen)")
    assert [one for at, one in enumerate(found) if at != 13] == [
        2 * number for number in range(15) if number != 13
    ]


def test_a_thing_that_cannot_be_carried_is_told(two_workers: Cluster, tmp_path: Path) -> None:
    """Without a way to carry it, a thing that is out of reach is a failure."""
    found = dict(DaskEngine(two_workers.address).map(work.doubled, things(tmp_path, "far")))
    assert found == {0: Failure("thing 0 is not here")}


def test_a_worker_killed_in_the_middle_loses_nothing(tmp_path: Path) -> None:
    """What a killed worker had is done by the other one; the results are the same."""
    marks = tmp_path / "marks"
    marks.mkdir()
    with cluster(tmp_path / "cluster", 2) as made:
        killed = made.workers[0]
        found: dict[int, Any] = {}
        engine = DaskEngine(made.address)
        for place, answer in engine.map(work.doubled, things(marks, *["slow"] * 24)):
            found[place] = answer
            if answer[1] == killed.pid and killed.poll() is None:
                killed.kill()
    assert killed.poll() == -signal.SIGKILL
    assert [found[place][0] for place in range(24)] == [2 * number for number in range(24)]
    assert sum(answer[1] == killed.pid for answer in found.values()) < 12


def test_a_thing_that_ends_every_worker_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is given up in the end, and what only waited at the same worker is done.

    Two things end their workers, so that what waits at both would be blamed twice.
    """
    monkeypatch.setenv("DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES", "0")
    marks = tmp_path / "marks"
    marks.mkdir()
    with cluster(tmp_path / "cluster", 5) as made:
        todo = things(marks, "always dies", "always dies", *["fine"] * 6)
        found = results(DaskEngine(made.address), todo)
    told = Failure("its worker ended each time that it was tried")
    assert found == [told, told, 4, 6, 8, 10, 12, 14]
    assert 1 <= begun(marks, 0) <= 2
    assert 1 <= begun(marks, 1) <= 2


class Promise:
    """What a thing comes to, once it is settled."""

    def __init__(self, thing: int) -> None:
        self.thing = thing
        self.status = "pending"
        self._told: list[Callable[[Promise], None]] = []

    def add_done_callback(self, told: "Callable[[Promise], None]") -> None:
        self._told.append(told)

    def settle(self, status: str) -> None:
        self.status = status
        for told in self._told:
            told(self)

    def exception(self) -> Exception:
        return distributed.KilledWorker("a thing", None, 0)

    def result(self, timeout: float) -> int:
        assert timeout > 0
        return 2 * self.thing


def test_what_waited_beside_a_deadly_thing_is_never_blamed() -> None:
    """A scheduler that blames all that is out, each time, still gets all that can be had."""
    deadly = {1, 4}
    out: list[Promise] = []
    rounds: list[list[int]] = []

    class Scheduler:
        def submit(self, _: object, thing: int, **__: object) -> Promise:
            out.append(Promise(thing))
            return out[-1]

    tasks = _Tasks(Scheduler(), abs, range(6), None)
    found: dict[int, Any] = {}
    while tasks.fill(4):
        now, out[:] = list(out), []
        rounds.append([one.thing for one in now])
        for one in now:
            one.settle("error" if deadly & set(rounds[-1]) else "finished")
        for _ in now:
            found.update(tasks.take())
    told = Failure("its worker ended each time that it was tried")
    assert found == {0: 0, 1: told, 2: 4, 3: 6, 4: told, 5: 10}
    assert rounds == [[0, 1, 2, 3], [4, 5], *([one] for one in range(6))]


def killing(found: Iterator[object], process: subprocess.Popen[bytes]) -> None:
    """Take all results, and kill a process as soon as there is one."""
    for _ in found:
        process.kill()


def test_a_cluster_without_any_worker_left_is_told(tmp_path: Path) -> None:
    """When the last worker has gone and none comes, the work ends with one line."""
    marks = tmp_path / "marks"
    marks.mkdir()
    with cluster(tmp_path / "cluster", 1) as made:
        engine = DaskEngine(made.address, lost_seconds=2.0)
        with pytest.raises(EngineError, match=r"the cluster was lost.*repeat the command"):
            killing(engine.map(work.doubled, things(marks, *["slow"] * 8)), made.workers[0])


def test_a_scheduler_that_goes_is_told(tmp_path: Path) -> None:
    """When the scheduler has gone, the work ends with one line."""
    marks = tmp_path / "marks"
    marks.mkdir()
    with cluster(tmp_path / "cluster", 1) as made:
        engine = DaskEngine(made.address, lost_seconds=2.0)
        with pytest.raises(EngineError, match="the cluster was lost"):
            killing(engine.map(work.doubled, things(marks, *["slow"] * 8)), made.scheduler)


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense://here", "", "::::"])
def test_a_wrong_address_is_told_in_one_line(address: str, tmp_path: Path) -> None:
    """Nobody there, no such protocol, nothing at all: one line, soon."""
    with pytest.raises(EngineError, match="no Dask scheduler answers") as told:
        results(DaskEngine(address, connect_seconds=1.0), things(tmp_path, "fine"))
    assert "\n" not in str(told.value)


def test_a_cluster_without_workers_is_told(tmp_path: Path) -> None:
    """A scheduler alone does no work."""
    with cluster(tmp_path / "cluster", 0) as made:
        engine = DaskEngine(made.address, connect_seconds=3.0)
        with pytest.raises(EngineError, match=r"no worker of the cluster answers.*dask worker"):
            results(engine, things(tmp_path, "fine"))


def test_workers_of_another_version_are_refused(two_workers: Cluster, tmp_path: Path) -> None:
    """What works has to be the same here and there."""
    engine = DaskEngine(two_workers.address, work.process)
    with pytest.raises(EngineError, match="has another voicecount than here"):
        results(engine, things(tmp_path, "fine"))


def test_another_version_of_the_cluster_is_refused(
    two_workers: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Machines with another version of the library may not understand each other."""
    from distributed import versions  # noqa: PLC0415

    real = versions.get_versions

    def older(*arguments: Any, **names: Any) -> Any:
        told = real(*arguments, **names)
        told["packages"]["distributed"] = "2020.1"
        return told

    monkeypatch.setattr("distributed.client.version_module.get_versions", older)
    with (
        pytest.warns(Warning, match="Mismatched versions"),
        pytest.raises(EngineError, match=r"and here is Python .*2020.1; install the same"),
    ):
        results(DaskEngine(two_workers.address), things(tmp_path, "fine"))
