"""A made case of twelve hours and 5,000 events: how long its replay takes, and one event more.

    python -m benchmarks.long_case

Printed are medians over repeats. "One more event" is measured on the same exchanges at both ends
of the case, in one run and by turns: a full count by place of the same lines, once as the first
count after the initial one and once after all 5,000 events. A ratio of 1 means that it costs the
same at the end as at the start.
"""

import argparse
import random
import statistics
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from voicecount.commands.journals import CODEC
from voicecount.count.events import Event
from voicecount.count.ledger import Ledger, apply, fold
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.hear.heard import Heard, Outcome
from voicecount.keep.journal import Journal
from voicecount.keep.reading import load_whole_part
from voicecount.sheet.model import Sheet
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Step
from voicecount.words.meaning import Form, Meaning

EVENTS = 5000
HOURS = 12.0
LINES = 40
CHANNEL = {Role.SCRUB: 0, Role.CIRCULATOR: 1}
GROUPS = ("sponges", "sharps", "miscellaneous", "instruments")
GAP = 15.0
"""Seconds between two exchanges, so that the whole takes about twelve hours."""


def made_sheet(lines: int = LINES) -> Sheet:
    """Give a sheet in four groups; every line takes a stated total."""
    return Sheet.model_validate(
        {
            "title": "A long case",
            "items": [
                {
                    "id": f"item-{at}",
                    "say": [f"item number {at}"],
                    "group": GROUPS[at * len(GROUPS) // lines],
                    "expect": 4 + at % 7,
                    "stated": True,
                }
                for at in range(lines)
            ],
        }
    )


class Talk:
    """Speaks to a dialogue and keeps its events in memory."""

    def __init__(self, sheet: Sheet, ledger: Ledger | None = None, now: float = 0.0) -> None:
        self.sheet = sheet
        self.now = now
        self.events: list[Event] = []
        self.costs: list[float] = []
        """Seconds of each utterance, from the words to the reply."""
        self.dialogue = Dialogue(sheet, told_apart=True, ledger=ledger)
        if ledger is None:
            self._take(
                Step(
                    (
                        open_case(
                            sheet,
                            at=0.0,
                            software="benchmark",
                            recogniser="none",
                            voice="none",
                            told_apart=True,
                        ),
                    )
                )
            )

    @property
    def ledger(self) -> Ledger:
        """What stands."""
        return self.dialogue.ledger

    def say(self, who: Role, meaning: Meaning) -> None:
        """Say something, and let the call in hand be over."""
        start, self.now = self.now + 0.5, self.now + 2.0
        heard = Heard(CHANNEL[who], start, self.now, Outcome.ACCEPTED, meaning, "")
        began = time.perf_counter()
        self._take(self.dialogue.hear(heard, who))
        deadline = self.dialogue.next_deadline
        if deadline is not None:
            self.now = max(self.now, deadline)
            self._take(self.dialogue.settle(self.now))
        self.costs.append(time.perf_counter() - began)

    def command(self, who: Role, command: str) -> None:
        """Say a command."""
        self.say(who, Meaning(Form.COMMAND, command=command))

    def both(self, item: str, n: int, place: str | None = None) -> None:
        """Call a line and confirm it."""
        form = Form.TOTAL if n else Form.NONE
        self.say(Role.SCRUB, Meaning(form, item=item, numbers=(n,), place=place))
        self.say(Role.CIRCULATOR, Meaning(Form.RUN, numbers=(n,)))
        self.now += GAP - 4.0

    def initial(self) -> None:
        """Hold the initial count."""
        for item in self.sheet.items:
            self.both(item.id, item.expect or 1)
        self.command(Role.CIRCULATOR, "finish")

    def count(self, short: str | None = None) -> None:
        """Hold a full count by place, each line at its place as expected, or one of them short."""
        self.command(Role.CIRCULATOR, "ask_count")
        for item in self.sheet.items:
            for place in self.ledger.places:
                missing = item.id == short and place == "mayo"
                self.both(item.id, max(0, self.due(item.id, place) - missing), place)
            if self.ledger.discrepancies:
                self.difference(item.id)
        self.command(Role.CIRCULATOR, "finish")

    def due(self, item: str, place: str) -> int:
        """Give what lies at a place: half on the back table, what was passed off where it is."""
        account = self.ledger.account(item)
        off = min(account.passed_off, account.expected or 0)
        rest = (account.expected or 0) - off - account.tucked_in
        return {"off_field": off, "back_table": rest // 2, "mayo": rest - rest // 2}.get(place, 0)

    def difference(self, item: str) -> None:
        """Pause, tell, count again, agree."""
        self.command(Role.CIRCULATOR, "done")
        self.command(Role.CIRCULATOR, "done")
        for place in self.ledger.places:
            self.both(item, self.due(item, place), place)
        for who in (Role.SCRUB, Role.CIRCULATOR):
            self.command(who, "yes")

    def incident(self, form: str, item: str, n: int, site: str | None = None) -> None:
        """Tell what happened; the other one says the same number."""
        self.command(Role.SCRUB, form)
        self.say(Role.SCRUB, Meaning(Form.TOTAL, item=item, numbers=(n,)))
        if site is not None:
            self.say(Role.SCRUB, Meaning(Form.CHOICE, choice=site))
        self.say(Role.CIRCULATOR, Meaning(Form.RUN, numbers=(n,)))
        self.now += GAP

    def addition(self, item: str, n: int) -> None:
        """Add something to the field."""
        self.command(Role.SCRUB, "add")
        self.both(item, n)
        self.command(Role.CIRCULATOR, "finish")

    def _take(self, step: Step) -> None:
        if step.events:
            self.dialogue.commit(step.events)
            self.events += step.events


def made_case(sheet: Sheet, seed: int, least: int = EVENTS) -> list[Event]:
    """Play a case of so many events or a few more: counts, additions, incidents, differences."""
    dice = random.Random(seed)
    talk = Talk(sheet)
    talk.initial()
    items = [item.id for item in sheet.items]
    while len(talk.events) < least:
        for _ in range(12):
            what = dice.choice(("added", "count_off", "dropped", "cut", "tucked", "refused"))
            item = dice.choice(items)
            if what == "added":
                talk.addition(item, 1)
            elif what == "tucked":
                talk.incident("tucked", item, 1, sheet.where_inside[0].id)
                talk.incident("untucked", item, 1)
            elif what == "refused":
                talk.command(Role.CIRCULATOR, "stand_by")
                talk.command(Role.CIRCULATOR, "carry_on")
            elif what == "cut" or talk.due(item, "mayo"):
                talk.incident(what, item, 1)
        talk.count(short=dice.choice(items))
    return talk.events


def median_ms(once: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Give the median of some runs, in milliseconds: on the wall, and of the processor."""
    walls, cpus = [], []
    for _ in range(repeats):
        wall, cpu = time.perf_counter(), time.process_time()
        once()
        walls.append(1000 * (time.perf_counter() - wall))
        cpus.append(1000 * (time.process_time() - cpu))
    return statistics.median(walls), statistics.median(cpus)


def replay_cost(path: Path, repeats: int) -> None:
    """Measure reading, checking and folding a journal's file."""
    events = load_whole_part(path, CODEC).events
    size = path.stat().st_size
    print(f"journal: {len(events):,} events, {size / 1e6:.1f} MB, {events[-1].at / 3600:.1f} h")
    kinds = Counter(event.kind for event in events)
    print("  " + ", ".join(f"{kind} {n:,}" for kind, n in kinds.most_common()))
    reading = median_ms(lambda: load_whole_part(path, CODEC), repeats)
    folding = median_ms(lambda: fold(events), repeats)
    print(f"medians of {repeats} repeats; processor time is free of what else runs")
    both = [one + other for one, other in zip(reading, folding, strict=True)]
    for what, (wall, cpu) in (
        ("reading and checking every record", reading),
        ("folding", folding),
        ("both: a replay", both),
    ):
        print(f"{what:34} {wall:6.0f} ms on the wall, {cpu:6.0f} ms of the processor")


def one_count(sheet: Sheet, ledger: Ledger, now: float) -> Talk:
    """Hold one full count, as expected, on top of a ledger."""
    talk = Talk(sheet, ledger, now)
    talk.count()
    return talk


def fold_cost(ledger: Ledger, events: list[Event]) -> float:
    """Give the median cost of one event on top of a ledger, in microseconds."""
    costs = []
    for event in events:
        began = time.perf_counter()
        ledger = apply(ledger, event)
        costs.append(1e6 * (time.perf_counter() - began))
    return statistics.median(costs)


def more_cost(sheet: Sheet, events: list[Event], repeats: int) -> None:
    """Measure the same count at the start and at the end of the case, by turns."""
    first = next(at for at, event in enumerate(events) if event.kind == "count_finished") + 1
    ends = {"start": fold(events[:first]), "end": fold(events)}
    steps: dict[str, list[float]] = {name: [] for name in ends}
    folds: dict[str, list[float]] = {name: [] for name in ends}
    n = {}
    for _ in range(repeats):
        for name, ledger in ends.items():
            talk = one_count(sheet, ledger, events[-1].at)
            steps[name].append(1e6 * statistics.median(talk.costs))
            folds[name].append(fold_cost(ledger, talk.events))
            n[name] = (len(talk.costs), len(talk.events))
    for what, found, at in (
        ("utterance, words to reply", steps, 0),
        ("fold of one event", folds, 1),
    ):
        start, end = (statistics.median(found[name]) for name in ends)
        print(
            f"{what:28} start {start:8.0f} us (n {n['start'][at]})  end {end:8.0f} us "
            f"(n {n['end'][at]})  ratio {end / start:.2f}  ({repeats} repeats)"
        )


def append_cost(folder: Path, events: list[Event], rounds: int) -> Path:
    """Write a short and a long journal; then append the same event to each, by turns."""
    path, again = folder / "long.vcj", folder / "again.vcj"
    with Journal.create(path, events[0], CODEC) as journal:
        for event in events[1:]:
            journal.append(event)
    again.write_bytes(path.read_bytes())
    one = next(event for event in events if event.kind == "line_stored")
    costs: dict[str, list[float]] = {"start": [], "end": []}
    with (
        Journal.create(folder / "short.vcj", events[0], CODEC) as short,
        Journal.open(again, CODEC) as long,
    ):
        for _ in range(rounds):
            for name, journal in (("start", short), ("end", long)):
                began = time.perf_counter()
                journal.append(one)
                costs[name].append(1e6 * (time.perf_counter() - began))
    start, end = (statistics.median(costs[name]) for name in costs)
    print(
        f"{'append with sync':28} start {start:8.0f} us (n {rounds})  end {end:8.0f} us "
        f"(n {rounds})  ratio {end / start:.2f}  (by turns)"
    )
    return path


def main() -> None:
    """Make the case, and measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=7)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="where the journals are written")
    args = parser.parse_args()
    sheet = made_sheet()
    events = made_case(sheet, args.seed)
    with tempfile.TemporaryDirectory(dir=args.folder) as folder:
        path = append_cost(Path(folder), events, 300)
        more_cost(sheet, events, args.repeats)
        replay_cost(path, args.repeats)


if __name__ == "__main__":
    main()
