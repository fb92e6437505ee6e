"""The wall board: how soon viewers see a record, what it costs, and whether it holds for hours.

    python -m benchmarks.board
    python -m benchmarks.board --hours 8 --seconds 60 --viewers 20 --json board.json

A journal grows while an assistant that is none tells words as they are said. Measured are the
seconds from the end of a record's sync to its arrival at every viewer; the server's time and
memory; how soon a page in Chromium says that the assistant is gone, that it hangs, and that it is
cut off; and what the page's memory grows by over a case of so many hours, whose changes are sent
fast. Wants Linux, and Chromium for the page.
"""

import argparse
import asyncio
import json
import os
import random
import re
import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import numpy as np

from benchmarks.long_case import made_case, made_sheet
from tests.browser import LISTENS, Page, Room, browsing, chromium, records_with

RECORD = re.compile(rb"<dt>Record</dt>\s*<dd>(\d+),")
WORDS = "item number seven one two three four"
PARTIALS = 4
"""How often the words of an utterance change while it is said."""
STILL_SECONDS = 0.5
"""How often a page is told that it is not cut off, while nothing changes."""

_KEEP = """() => {
  window.messages = 0;
  window.kept = [];
  source.addEventListener('board', (event) => {
    window.messages += 1;
    if (event.isTrusted) window.kept = [...window.kept, event.data].slice(-40);
  });
}"""
"""Counts the changes that a page had, and keeps the last ones that came from the server."""
_CHANGE = """(n) => { for (let at = 0; at < n; at++) source.dispatchEvent(
  new MessageEvent('board', { data: window.kept[at % window.kept.length] })); }"""
_STILL = """(n) => { for (let at = 0; at < n; at++) source.dispatchEvent(
  new MessageEvent('still', { data: `{"age": ${at}}` })); }"""


@dataclass
class Spread:
    """Seconds, as they are shown."""

    n: int
    median: float
    p95: float
    max: float


def spread(seconds: Sequence[float]) -> Spread:
    """Give how seconds are spread; ValueError for none."""
    if not seconds:
        raise ValueError("nothing was measured")
    low, high = (float(np.percentile(seconds, at)) for at in (50, 95))
    return Spread(len(seconds), low, high, max(seconds))


@dataclass
class Arrivals:
    """When records were synced, and when each viewer had them; seconds of one clock."""

    synced: dict[int, float] = field(default_factory=dict)
    had: list[dict[int, float]] = field(default_factory=list)

    def add(self, viewer: int, record: int, at: float) -> None:
        """Keep that a viewer saw so many records; those before that it never saw count as well."""
        seen = self.had[viewer]
        for number in range(max(seen, default=0) + 1, record + 1):
            seen[number] = at

    def late(self) -> list[float]:
        """Give the seconds for every record and viewer; ValueError where one never came."""
        lost = [n for seen in self.had for n in self.synced if n not in seen]
        if lost:
            raise ValueError(f"{len(lost)} arrivals are missing, the first of record {lost[0]}")
        return [seen[n] - at for seen in self.had for n, at in self.synced.items()]


@dataclass(frozen=True)
class Taken:
    """What a process has taken."""

    cpu: float
    """Seconds of processor time."""
    memory: float
    """Resident, in MB."""


def taken(pid: int) -> Taken:
    """Read it from Linux."""
    stat = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()
    pages = int(Path(f"/proc/{pid}/statm").read_text("ascii").split()[1])
    ticks = int(stat[11]) + int(stat[12])
    return Taken(ticks / os.sysconf("SC_CLK_TCK"), pages * os.sysconf("SC_PAGE_SIZE") / 1e6)


async def view(address: str, viewer: int, arrivals: Arrivals, last: int) -> int:
    """Watch as a browser does until the last record has come; give how many bytes came."""
    place = urlsplit(address)
    reader, writer = await asyncio.open_connection(place.hostname, place.port, limit=1 << 22)
    writer.write(f"GET /changes HTTP/1.1\r\nHost: {place.netloc}\r\n\r\n".encode("ascii"))
    size = 0
    while arrivals.had[viewer].get(last) is None:
        line = await reader.readline()
        if not line:
            raise ConnectionError("the board has ended a viewer's messages")
        at = time.perf_counter()
        size += len(line)
        found = RECORD.search(line)
        if found:
            arrivals.add(viewer, int(found[1]), at)
    writer.close()
    await writer.wait_closed()
    return size


def talk(room: Room, records: Sequence[bytes], every: float, arrivals: Arrivals) -> None:
    """Say words, then write the record that they become; on and on."""
    words = WORDS.split()
    for number, record in enumerate(records, start=2):
        for at in range(PARTIALS):
            said = " ".join(words[: 3 + at])
            room.assistant.tell(partial={"role": "scrub", "text": said, "item": None, "at": 9e9})
            time.sleep(every / PARTIALS)
        room.assistant.add(record)
        arrivals.synced[number] = time.perf_counter()


def lateness(records: Sequence[bytes], folder: Path, viewers: int, every: float) -> dict[str, Any]:
    """Measure how soon viewers have a record, and what the server takes for it."""
    arrivals = Arrivals(had=[{} for _ in range(viewers)])

    async def watch() -> list[int]:
        address, last = room.server.address, len(records)
        views = [asyncio.create_task(view(address, n, arrivals, last)) for n in range(viewers)]
        await asyncio.sleep(1.0)
        writing = threading.Thread(target=talk, args=(room, records[1:], every, arrivals))
        writing.start()
        sizes = await asyncio.gather(*views)
        writing.join()
        return sizes

    with Room(folder, records[:1]) as room:
        before, began = taken(room.server.pid), time.perf_counter()
        sizes = asyncio.run(asyncio.wait_for(watch(), 4 * every * len(records) + 60))
        after, wall = taken(room.server.pid), time.perf_counter() - began
    return {
        "viewers": viewers,
        "records": len(arrivals.synced),
        "seconds": wall,
        "late": asdict(spread(arrivals.late())),
        "cpu_share": (after.cpu - before.cpu) / wall,
        "memory_before": before.memory,
        "memory_after": after.memory,
        "bytes_a_viewer": sum(sizes) / viewers,
    }


def signs(browser: Any, records: Sequence[bytes], folder: Path, times: int) -> dict[str, Any]:
    """Measure how soon a page says that the assistant is gone, hangs, and that it is cut off."""
    dice = random.Random(1)
    gone, hangs, cut = [], [], []
    with Room(folder, records[:2]) as room, Page(browser, room.server.address) as page:
        for _ in range(times):
            page.until(LISTENS)
            page.until("document.getElementById('cut').hidden")
            time.sleep(dice.random())  # at any moment of the beats and messages
            last = room.assistant.die()
            gone.append(page.since("gone") - last)
            room.assistant.beat()
            page.until(LISTENS)
            time.sleep(dice.random())
            since = room.assistant.hang()
            hangs.append(page.since("slow") - since)
            room.assistant.die()
            room.assistant.beat()
            page.until(LISTENS)
            time.sleep(dice.random())
            killed = time.time()
            room.server.kill()
            cut.append(page.since("cut") - killed)
            room.server.start()
    return {
        "gone": asdict(spread(gone)),
        "hangs": asdict(spread(hangs)),
        "cut": asdict(spread(cut)),
    }


def memory(page: Page) -> dict[str, float]:
    """Give what a page holds once everything that it let go of is collected."""
    client = page.page.context.new_cdp_session(page.page)
    client.send("Performance.enable")
    for _ in range(2):
        client.send("HeapProfiler.collectGarbage")
    found = {one["name"]: one["value"] for one in client.send("Performance.getMetrics")["metrics"]}
    client.detach()
    return {
        "heap_mb": found["JSHeapUsedSize"] / 1e6,
        "nodes": found["Nodes"],
        "listeners": found["JSEventListeners"],
    }


def held(
    browser: Any, records: Sequence[bytes], folder: Path, *, hours: float, warm: int, fast: float
) -> dict[str, Any]:
    """Open a page for a case of so many hours, its records ``fast`` seconds apart.

    The server sends the newest of changes that come fast, and the signs of life take their hours:
    what a page would have had of both is made up for by events dispatched in the page, changes
    being the last messages that came, by turns.
    """
    stills = round(3600 * hours / STILL_SECONDS)
    changes = (PARTIALS + 1) * (len(records) - warm)
    with Room(folder, records[:1]) as room, Page(browser, room.server.address) as page:
        page.until_record(1)
        page.page.evaluate(_KEEP)
        nothing = Arrivals()
        talk(room, records[1:warm], fast, nothing)
        page.until_record(warm)
        page.page.evaluate("window.messages = 0")
        start, server = memory(page), taken(room.server.pid)
        began = time.perf_counter()
        talk(room, records[warm:], fast, nothing)
        page.until_record(len(records))
        messages = page.page.evaluate("window.messages")
        for at in range(messages, changes, 500):
            page.page.evaluate(_CHANGE, min(500, changes - at))
        page.page.evaluate(_STILL, stills)
        shown = page.page.evaluate("window.messages")
        end, after = memory(page), taken(room.server.pid)
    return {
        "hours": hours,
        "records": len(records) - warm,
        "sent": messages,
        "changes": shown,
        "stills": stills,
        "seconds": time.perf_counter() - began,
        "start": start,
        "end": end,
        "growth_mb": end["heap_mb"] - start["heap_mb"],
        "server_start_mb": server.memory,
        "server_end_mb": after.memory,
    }


def tell(found: dict[str, Any]) -> None:
    """Print the figures."""
    print(f"load of the machine at the start {found['load'][0]:.1f}, {os.cpu_count()} cores")
    late = found["lateness"]
    _tell_seconds("record synced to viewer", late["late"])
    print(
        f"  {late['viewers']} viewers, {late['records']} records in {late['seconds']:.0f} s, "
        f"{late['bytes_a_viewer'] / 1e6:.2f} MB a viewer; server: {late['cpu_share']:.1%} of a "
        f"core, {late['memory_before']:.1f} MB before, {late['memory_after']:.1f} MB after"
    )
    if "signs" in found:
        _tell_seconds("last beat to 'gone' shown", found["signs"]["gone"])
        _tell_seconds("hangs to 'not answered'", found["signs"]["hangs"])
        _tell_seconds("server killed to 'cut off'", found["signs"]["cut"])
    if "held" in found:
        held_ = found["held"]
        print(
            f"a page over {held_['hours']:g} h ({held_['records']} records, {held_['changes']} "
            f"changes of which {held_['sent']} came from the server, {held_['stills']} signs of "
            f"life; {held_['seconds']:.0f} s): heap "
            f"{held_['start']['heap_mb']:.2f} MB at the start, {held_['end']['heap_mb']:.2f} at "
            f"the end, growth {held_['growth_mb']:+.2f} MB; nodes {held_['start']['nodes']:.0f} "
            f"to {held_['end']['nodes']:.0f}; server {held_['server_start_mb']:.1f} to "
            f"{held_['server_end_mb']:.1f} MB"
        )


def _tell_seconds(what: str, seconds: dict[str, float]) -> None:
    print(
        f"{what:27} median {seconds['median']:.3f} s  p95 {seconds['p95']:.3f} s  "
        f"max {seconds['max']:.3f} s  (n {seconds['n']})"
    )


def main() -> None:
    """Measure, print, and write."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--viewers", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=60.0, help="how long the journal grows")
    parser.add_argument("--every", type=float, default=0.2, help="seconds from record to record")
    parser.add_argument("--hours", type=float, default=8.0, help="of the case that a page shows")
    parser.add_argument("--fast", type=float, default=0.06, help="seconds a record then takes")
    parser.add_argument("--times", type=int, default=10, help="how often a fault is made")
    parser.add_argument("--json", type=Path, help="write the figures there")
    args = parser.parse_args()
    found: dict[str, Any] = {"load": os.getloadavg()}
    events = made_case(made_sheet(), 1)
    case = [event for event in events if event.at <= 3600 * args.hours]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        records = records_with(folder, case)
        some = records[: round(args.seconds / args.every) + 1]
        found["lateness"] = lateness(some, folder, args.viewers, args.every)
        if chromium() is not None:
            with browsing() as browser:
                found["signs"] = signs(browser, records, folder, args.times)
                warm = max(2, len(records) // 20)
                found["held"] = held(
                    browser, records, folder, hours=args.hours, warm=warm, fast=args.fast
                )
    tell(found)
    if args.json is not None:
        args.json.write_text(json.dumps(found, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()
