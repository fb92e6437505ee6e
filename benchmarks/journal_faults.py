"""What the journal stands: kills, power cuts, cuts, flipped bits, faults, writers, clocks.

    python -m benchmarks.journal_faults
    python -m benchmarks.journal_faults --records 20 --only kills "power cuts" --json

Each try runs a small case into a journal, spoils it at one place, opens what is left, and compares:
what was acknowledged must be recovered, in order, and nothing that was never attempted; at most one
record more than acknowledged; and the case must go on. Half-way, the cases are torn and opened
again, so that the recovery is spoiled too; the unfinished line has to be there, cut off or not.

Kills are real: forked children end by SIGKILL on the machine's own disk. Power cuts are played on a
disk in memory, where only what was synced is sure; no plug is pulled.
"""

import argparse
import copy
import errno
import json
import os
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import count
from pathlib import Path
from typing import Any, Literal

from voicecount.errors import JournalError
from voicecount.keep import course
from voicecount.keep.files import Disk, SystemDisk
from voicecount.keep.journal import Journal
from voicecount.keep.reading import Codec, read_whole_part
from voicecount.testing.clock import FakeClock
from voicecount.testing.disk import CALLS, DyingDisk, FaultyDisk, MemoryDisk, PowerCut, cut_power

Event = Mapping[str, Any]
When = Literal["before", "half", "after"]

CODEC: Codec[Event] = Codec(encode=dict, decode=dict)
RECORDS = 60
FLIPPED = 4
"""Records of the small file whose every bit is flipped."""
ERRORS = (errno.ENOSPC, errno.EIO, errno.EINTR)
NOTHING_KEPT = ("no whole record", "no such journal")
WRITERS = 4
PATIENCE = 60.0
"""Seconds after which a writer that never gets in gives up."""
TORN = b'{"hash":"torn'
"""The unfinished line that each case finds half-way."""
HERE = Path("case.vcj")
"""Where the journal is on a disk in memory."""


def event(number: int) -> Event:
    """Give the event of one number; the first opens the case."""
    return {"kind": "line", "item": "gauze", "number": number, "numbers": [1, 2, 3], "by": "scrub"}


@dataclass
class Figures:
    """What came of all tries of one sort."""

    what: str
    tries: int = 0
    attempted: int = 0
    acknowledged: int = 0
    recovered: int = 0
    extra: int = 0
    """Tries in which one record was recovered that nobody had been told of."""
    violations: list[str] = field(default_factory=list)

    def judge(self, place: str, trial: "Trial", recovered: Sequence[Event]) -> None:
        """Add a try: acknowledged within recovered within attempted, at most one more, in order."""
        self.tries += 1
        self.attempted += trial.attempted
        self.acknowledged += trial.acknowledged
        self.recovered += len(recovered)
        self.extra += len(recovered) > trial.acknowledged
        most = min(trial.attempted, trial.acknowledged + 1)
        if not trial.acknowledged <= len(recovered) <= most:
            self.wrong(
                f"{place}: {trial.acknowledged} acknowledged, {len(recovered)} recovered, "
                f"{trial.attempted} attempted"
            )
        if list(recovered) != [event(number) for number in range(1, len(recovered) + 1)]:
            self.wrong(f"{place}: not the events that were written, or not in their order")

    def wrong(self, what: str) -> None:
        """Note what must not happen."""
        self.violations.append(f"{self.what}, {what}")

    def row(self) -> str:
        """Give a row of the table."""
        cells = (self.tries, self.attempted, self.acknowledged, self.recovered, self.extra)
        numbers = " | ".join(f"{cell:,}" for cell in cells)
        return f"| {self.what} | {numbers} | {len(self.violations)} |"


HEAD = (
    "| what | tries | attempted | acknowledged | recovered | tries with one more | violations |\n"
    "|---|--:|--:|--:|--:|--:|--:|"
)


@dataclass
class Trial:
    """How far one run of a case came."""

    attempted: int = 0
    acknowledged: int = 0
    torn: bool = False
    """Whether the unfinished line was put there."""
    tell: Callable[[bytes], object] = lambda _: None
    """Learns b"?" before an attempt, b"!" after it is acknowledged, b"~" of the unfinished line."""

    def attempt(self, append: Callable[[Event], object]) -> Any:
        """Append the next event."""
        self.attempted += 1
        self.tell(b"?")
        made = append(event(self.attempted))
        self.acknowledged += 1
        self.tell(b"!")
        return made

    def run(self, path: Path, disk: Disk, records: int, tear: Callable[[], None]) -> None:
        """Keep a case of so many events; half-way it is torn and opened again."""
        first, second = FakeClock(), FakeClock()
        with self.attempt(
            lambda opening: Journal.create(path, opening, CODEC, disk=disk, clock=first)
        ) as journal:
            while self.attempted < records // 2:
                self.attempt(journal.append)
        tear()
        self.torn = True
        self.tell(b"~")
        with Journal.open(path, CODEC, disk=disk, clock=second) as journal:
            while self.attempted < records:
                self.attempt(journal.append)


def look(figures: Figures, place: str, trial: Trial, path: Path, disk: Disk) -> None:
    """Open what is left on a disk that works, judge it, and go on with the case."""
    if trial.torn and not any(content.endswith(TORN) for content in _contents(path, disk)):
        figures.wrong(f"{place}: the unfinished line is lost")
    try:
        with Journal.open(path, CODEC, disk=disk, clock=FakeClock()) as journal:
            recovered = journal.events
            journal.append(event(len(recovered) + 1))
    except JournalError as error:
        figures.judge(place, trial, ())
        if not any(words in str(error) for words in NOTHING_KEPT):
            figures.wrong(f"{place}: {error}")
        return
    figures.judge(place, trial, recovered)
    with Journal.open(path, CODEC, disk=disk, clock=FakeClock()) as journal:
        if journal.events != (*recovered, event(len(recovered) + 1)):
            figures.wrong(f"{place}: the case does not go on")


def _contents(path: Path, disk: Disk) -> list[bytes]:
    if isinstance(disk, MemoryDisk):
        return [disk.content(file) for file in disk.files]
    return [file.read_bytes() for file in path.parent.iterdir()]


def kills(folder: Path, records: int = RECORDS) -> Figures:
    """Kill a child before, in, and after each call that changes the disk, until one survives."""
    figures = Figures("killed at every write, sync, cut")
    ways: tuple[tuple[str, When], ...] = (
        *(("write", "before"), ("write", "half"), ("write", "after")),
        *(("sync", "before"), ("sync", "after"), ("truncate", "before"), ("truncate", "after")),
        *(("sync_folder", "before"), ("sync_folder", "after")),
    )
    for call, when in ways:
        for at in count(1):
            with tempfile.TemporaryDirectory(dir=folder) as own:
                path = Path(own) / HERE
                trial, ending = _killed(path, call, at, when, records)
                place = f"{when} {call} {at}"
                if ending == 0:
                    break
                if ending != -signal.SIGKILL:
                    figures.wrong(f"{place}: the child ended with {ending}")
                    break
                look(figures, place, trial, path, SystemDisk())
    return figures


def _killed(path: Path, call: str, at: int, when: When, records: int) -> tuple[Trial, int]:
    def die() -> None:
        os.kill(os.getpid(), signal.SIGKILL)

    def child(tell: Callable[[bytes], object]) -> None:
        disk = DyingDisk(die, at, calls=(call,), when=when)
        Trial(tell=tell).run(path, disk, records, lambda: _tear(path))

    ((told, ending),) = _in_children([child])
    return Trial(told.count(b"?"), told.count(b"!"), torn=b"~" in told), ending


def _in_children(
    works: Sequence[Callable[[Callable[[bytes], object]], None]],
) -> list[tuple[bytes, int]]:
    """Run each work in a forked child, all at once; what each told and how each ended."""
    running = []
    for work in works:
        ear, mouth = os.pipe()
        child = os.fork()
        if child == 0:  # pragma: no cover - ends without a word to anyone
            try:
                os.close(ear)
                work(lambda data, mouth=mouth: os.write(mouth, data))
            except BaseException:  # noqa: BLE001 - a child must never go on as its parent
                traceback.print_exc()
                os._exit(3)
            os._exit(0)
        os.close(mouth)
        running.append((child, ear))
    told = []
    for child, ear in running:
        with open(ear, "rb") as stream:  # noqa: PTH123 - a pipe, not a path
            data = stream.read()
        told.append((data, os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])))
    return told


def _tear(path: Path) -> None:
    with path.open("ab") as file:
        file.write(TORN)


def _in_memory(disk: MemoryDisk) -> Callable[[], None]:
    return lambda: disk.put(HERE, disk.content(HERE) + TORN)


CUTS: Mapping[str, tuple[int, bool]] = {
    "nothing unsynced kept": (0, False),
    "one byte kept": (1, False),
    "a hundred bytes kept": (100, False),
    "all kept": (10**9, False),
    "zeros in place of it": (0, True),
    "a hundred bytes, then zeros": (100, True),
}
"""What a power cut leaves of that which was not synced: bytes, and whether the file had grown."""


def power_cuts(records: int = RECORDS, disk: Callable[[], MemoryDisk] = MemoryDisk) -> Figures:
    """Cut the power before, in, and after every call; only what was synced is sure to be left."""
    figures = Figures("power cut at every call (in memory)")
    whens: tuple[When, ...] = ("before", "half", "after")
    for when in whens:
        for at in count(1):
            memory, trial = disk(), Trial()
            dying = DyingDisk(cut_power, at, when=when, disk=memory)
            try:
                trial.run(HERE, dying, records, _in_memory(memory))
            except PowerCut:
                pass
            else:
                break
            if when == "half" and dying.calls[at - 1] != "write":
                continue
            for words, (keep, holes) in CUTS.items():
                left = copy.deepcopy(memory)
                left.power_cut(keep, holes=holes)
                look(figures, f"{when} call {at}, {words}", trial, HERE, left)
    return figures


def faults(records: int = RECORDS) -> Figures:
    """Let every call fail in every way, and let writes and reads take too little."""
    figures = Figures("error or short write at every call")
    ways: list[tuple[str, dict[str, Any]]] = [
        *((call, {"error": error}) for call in CALLS for error in ERRORS),
        *((call, {"short": short}) for call in ("write", "read") for short in (0, 1, 130, -1)),
    ]
    for call, how in ways:
        for at in count(1):
            for power in (True, False):
                memory, trial = MemoryDisk(), Trial()
                faulty = FaultyDisk(call, at, disk=memory, **how)
                with suppress(JournalError):
                    trial.run(HERE, faulty, records, _in_memory(memory))
                if not faulty.happened:
                    break
                if not power:
                    memory.power_cut()
                look(figures, f"{call} {at} {how}, power {power}", trial, HERE, memory)
            if not faulty.happened:
                break
    return figures


def truncations(records: int = RECORDS) -> Figures:
    """Cut the file at every byte; the records whose lines are whole come back."""
    figures = Figures("cut at every byte")
    data = _plain(records)
    for size in range(len(data)):
        memory = MemoryDisk()
        memory.put(HERE, data[:size])
        whole = data[:size].count(b"\n")
        look(figures, f"byte {size}", Trial(min(whole + 1, records), whole), HERE, memory)
    return figures


def flips(records: int = FLIPPED) -> Figures:
    """Flip every bit: never taken for whole, and the line is named; what stands before is given."""
    figures = Figures("every bit flipped")
    data = _plain(records)
    for index in range(len(data)):
        before = data[:index].count(b"\n")
        start = data.rfind(b"\n", 0, index) + 1
        for bit in range(8):
            changed = bytearray(data)
            changed[index] ^= 1 << bit
            reading = read_whole_part(bytes(changed), CODEC)
            damage = reading.damage
            figures.judge(f"bit {bit} of byte {index}", Trial(records, before), reading.events)
            if damage is None or (damage.line, damage.offset) != (before + 1, start):
                figures.wrong(f"bit {bit} of byte {index}: {damage}")
    return figures


def clocks(records: int = RECORDS) -> Figures:
    """Set the wall clock back by a day before every record; a new session's clock begins at 0."""
    figures = Figures("clock set back at every record")
    for at in range(2, records + 1):
        memory, clock, later = MemoryDisk(), FakeClock(), FakeClock()
        clock.advance(1e6)
        first = Journal.create(HERE, event(1), CODEC, disk=memory, clock=clock)
        with first as journal:
            for number in range(2, records + 1):
                clock.advance(1)
                if number == at:
                    clock.set_wall(clock.wall() - timedelta(days=1))
                journal.append(event(number))
        with Journal.open(HERE, CODEC, disk=memory, clock=later):
            pass
        reading = read_whole_part(memory.content(HERE), CODEC)
        figures.judge(f"record {at}", Trial(records, records), reading.events)
        if [back.record for back in course.set_back(reading.records)] != [at, records + 1]:
            figures.wrong(f"record {at}: not told where the clock went back")
        if reading.damage is not None or course.impossible(reading.records) is not None:
            figures.wrong(f"record {at}: taken for damage")
    return figures


def writers(folder: Path, records: int = RECORDS) -> Figures:
    """Let several processes make and write one file at once: one at a time gets in."""
    figures = Figures("several writers at once")
    each = max(1, records // WRITERS)
    with tempfile.TemporaryDirectory(dir=folder) as own:
        path = Path(own) / HERE
        makers = _in_children([_maker(path)] * WRITERS)
        if sum(told == b"!" for told, _ in makers) != 1 or any(ending for _, ending in makers):
            figures.wrong(f"{makers}: not made by exactly one")
        told = _in_children([_writer(path, writer, each) for writer in range(WRITERS)])
        reading = read_whole_part(path.read_bytes(), CODEC)
    events = reading.events[1:]
    mine = [[one for one in events if one["by"] == writer] for writer in range(WRITERS)]
    for writer, ((data, ending), kept) in enumerate(zip(told, mine, strict=True)):
        figures.tries += 1
        figures.attempted += data.count(b"?")
        figures.acknowledged += data.count(b"!")
        figures.recovered += len(kept)
        if [one["number"] for one in kept] != list(range(data.count(b"!"))) or ending != 0:
            figures.wrong(f"writer {writer} ended with {ending}, and kept {len(kept)}")
    if reading.damage is not None or reading.torn or sum(map(len, mine)) != len(events):
        figures.wrong(f"the file is not whole: {reading.damage}")
    return figures


def _maker(path: Path) -> Callable[[Callable[[bytes], object]], None]:
    def work(tell: Callable[[bytes], object]) -> None:
        try:
            Journal.create(path, event(1), CODEC).close()
        except JournalError:
            tell(b"x")
        else:
            tell(b"!")

    return work


def _writer(path: Path, writer: int, events: int) -> Callable[[Callable[[bytes], object]], None]:
    def work(tell: Callable[[bytes], object]) -> None:
        until = time.monotonic() + PATIENCE
        for number in range(events):
            while not _kept(path, {**event(number), "by": writer}, tell):
                if time.monotonic() > until:
                    raise TimeoutError
                time.sleep(0.0005)

    return work


def _kept(path: Path, mine: Event, tell: Callable[[bytes], object]) -> bool:
    """Write one event, alone; False while another writer is in."""
    try:
        journal = Journal.open(path, CODEC)
    except JournalError as error:
        if "another running" not in str(error):
            raise
        return False
    with journal:
        tell(b"?")
        journal.append(mine)
        tell(b"!")
    return True


def _plain(records: int) -> bytes:
    """Give the bytes of a journal of so many events, kept in one go."""
    memory = MemoryDisk()
    with Journal.create(HERE, event(1), CODEC, disk=memory, clock=FakeClock()) as journal:
        for number in range(2, records + 1):
            journal.append(event(number))
    return memory.content(HERE)


def sweeps(folder: Path, records: int) -> dict[str, Callable[[], Figures]]:
    """Give every sort of try by its short name."""
    return {
        "kills": lambda: kills(folder, records),
        "power cuts": lambda: power_cuts(records),
        "faults": lambda: faults(records),
        "truncations": lambda: truncations(records),
        "flips": flips,
        "writers": lambda: writers(folder, records),
        "clocks": lambda: clocks(records),
    }


def measure(folder: Path, records: int, only: Sequence[str]) -> Iterator[Figures]:
    """Run the chosen sorts, all of them where none is chosen."""
    for name, sweep in sweeps(folder, records).items():
        if not only or name in only:
            yield sweep()


def main() -> int:
    """Print the table; 1 when anything was violated."""
    names = list(sweeps(Path(), RECORDS))
    parser = argparse.ArgumentParser(description="Try the journal on everything that can happen.")
    parser.add_argument("--records", type=int, default=RECORDS, help="events of one case")
    parser.add_argument("--only", nargs="+", choices=names, default=[], help="sorts of tries")
    parser.add_argument("--json", action="store_true", help="one JSON object a sort")
    arguments = parser.parse_args()
    violated = False
    if not arguments.json:
        print(HEAD)
    with tempfile.TemporaryDirectory() as folder:
        for figures in measure(Path(folder), arguments.records, arguments.only):
            print(json.dumps(vars(figures)) if arguments.json else figures.row(), flush=True)
            violated = violated or bool(figures.violations)
            for violation in figures.violations[:5]:
                print(violation, file=sys.stderr)
    return int(violated)


if __name__ == "__main__":
    sys.exit(main())
