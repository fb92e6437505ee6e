"""An independent account of a whole case: a listener with pencil and paper in the room.

It hears every word as it was meant, and keeps its own books. Whatever the journal holds is to it
only a claim: it looks for the words of the people that the claim needs, and does the sums itself.
It imports nothing of ``voicecount``; events and ledgers are read by their plain field names.
"""

from dataclasses import dataclass, field
from typing import Any

Key = tuple[str, str | None]

FORM_OF = {
    "came_out": "untucked",
    "old_packing_out": "packing_out",
    "handed_over": "hand_over",
    "counted_off": "count_off",
    "added": "add",
}
"""What begins each incident, where its name and the command's differ."""
CLOSING_WORDS = {"found": "found", "not_found": "stays_missing", "explained": "explained"}
SLACK = 1e-6


class ViolationError(AssertionError):
    """The assistant did what two people did not say, or what does not add up."""


def must(holds: bool, why: str, *about: object) -> None:
    """Raise a violation when something does not hold."""
    if not holds:
        raise ViolationError(" ".join((why, *map(repr, about))))


@dataclass
class Said:
    """One utterance, as it was meant."""

    who: str
    """scrub or circulator."""
    text: str
    start: float = 0.0
    end: float = 0.0
    item: str | None = None
    place: str | None = None
    numbers: tuple[int, ...] = ()
    pieces: int | None = None
    command: str | None = None
    choice: str | None = None
    sure: bool = True
    """Whether it was understood for sure."""
    used: set[str] = field(default_factory=set)
    """The items that it confirmed."""

    @property
    def number(self) -> int | None:
        """One number, or the last of a run from one."""
        whole = self.numbers == tuple(range(1, len(self.numbers) + 1))
        return self.numbers[-1] if len(self.numbers) == 1 or (self.numbers and whole) else None


@dataclass
class Thing:
    """One item: what people know about it beforehand."""

    pack: int | None = None
    pieces: int = 1
    stated: bool = False


@dataclass
class Written:
    """One line on the paper."""

    number: int
    n: int
    end: float
    """When the words of it ended."""
    numbers: tuple[int, ...] = ()
    confirmed: bool = False
    due: bool = False


@dataclass
class Differs:
    """A difference on the paper."""

    item: str
    what: str
    """line, place or piece."""
    missing: int = 0
    """How many are short, as far as is known; below zero: over."""
    since: int = 0
    """How much had been said when that became known."""


_HIDES = {"tucked": 1, "packed": 1, "came_out": -1}
"""What nobody can count on the table from then on, and what can be counted there again."""


class Paper:
    """What is on the listener's paper."""

    def __init__(
        self,
        things: dict[str, Thing],
        plan: list[tuple[str, str]],
        *,
        glance: int,
        tucked: str,
        yes_confirms: bool,
    ) -> None:
        self.things = things
        self.plan = plan
        """Ids and kinds of the planned counts."""
        self.glance = glance
        self.tucked_until = tucked
        """The last kind of count in which something tucked in may still be in the patient."""
        self.yes_confirms = yes_confirms
        self.said: list[Said] = []
        self.assistant = ""
        """What it said last."""
        self.lines: dict[Key, list[Written]] = {}
        self.book: dict[str, list[tuple[str, int]]] = {}
        """Why there should be how many, one entry for each reason."""
        self.happened: dict[str, list[tuple[int, str, int]]] = {}
        """All that makes more or fewer of an item: how many lines were stored by then, why, n."""
        self.tucked: dict[str, int] = {}
        self.inside: dict[str, int] = {}
        self.off_field: dict[str, int] = {}
        self.count = ("initial", "initial")
        self.items: tuple[str, ...] = tuple(things)
        self.places: tuple[str, ...] = ()
        self.tucked_may_stay = True
        self.counting = True
        self.held: set[str] = set()
        self.open: dict[int, Differs] = {}
        self.closed_here: dict[str, tuple[str, int]] = {}
        """How a difference was closed in this count, and how many were found, by item."""
        self.recount_owed: set[str] = set()
        """Items of closed differences whose lines were confirmed anew since."""
        self.place_closed: set[str] = set()
        """Items with a difference off the field that was closed, not counted since."""
        self.not_found: list[int] = []
        self.opened_so_far = 0
        self.ended = False
        self.standing_by = False
        self.stored = 0
        self.ways: list[str] = []
        """How differences were closed, in order."""
        self.results: list[str] = []

    # What people said.

    def hear(self, said: Said) -> None:
        """Listen."""
        self.said.append(said)

    def by(self, who: str, after: float = -1.0) -> list[Said]:
        """Give what a person said for sure since a moment, oldest first."""
        return [one for one in self.said if one.who == who and one.sure and one.start >= after]

    def since(self, *commands: str) -> list[Said]:
        """Give everything since one of some commands was said last; nothing when it never was."""
        for at in range(len(self.said) - 1, -1, -1):
            if self.said[at].sure and self.said[at].command in commands:
                return self.said[at:]
        return []

    # The sums.

    def total(self, key: Key) -> int:
        """Add up a line of the tally."""
        return sum(line.n for line in self.lines.get(key, ()))

    def done(self, key: Key) -> bool:
        """Tell whether both people gave a line's number, and it stands."""
        lines = self.lines.get(key, [])
        return bool(lines) and all(line.confirmed and not line.due for line in lines)

    def keys(self, item: str) -> list[Key]:
        """Give the lines of an item in this count."""
        return [(item, place) for place in self.places] if self.places else [(item, None)]

    def whole(self, item: str) -> bool:
        """Tell whether every place of an item is done."""
        return all(self.done(key) for key in self.keys(item))

    def expected(self, item: str) -> int | None:
        """Add up why there should be how many."""
        entries = self.book.get(item, [])
        if not any(why == "initial" for why, _ in entries):
            return None
        n = sum(n for _, n in entries)
        if self.counting and self.count[1] == "addition":
            n += sum(line.n for line in self.lines.get((item, None), ()) if line.confirmed)
        return n

    def there(self, item: str) -> int:
        """Add up what was counted of an item over all places, and what is in the patient."""
        seen = sum(self.total(key) for key in self.keys(item)) + self.inside.get(item, 0)
        return seen + (self.tucked.get(item, 0) if self.tucked_may_stay else 0)

    def short(self, item: str) -> int:
        """Tell how many are missing; below zero: over."""
        return (self.expected(item) or 0) - self.there(item)

    def owed(self) -> list[str]:
        """Give the items whose whole count differs, with no difference open or closed for it."""
        if not self.places or not self.counting:
            return []
        lines = {one.item for one in self.open.values() if one.what == "line"}
        return [
            item
            for item in self.items
            if self.whole(item)
            and self.expected(item) is not None
            and self.short(item)
            and item not in lines
            and (item not in self.closed_here or item in self.recount_owed)
        ]

    def owed_off_field(self) -> list[str]:
        """Give the items of which fewer lie off the field than were passed off it, unnoticed."""
        if "off_field" not in self.places or not self.counting:
            return []
        known = {one.item for one in self.open.values() if one.what == "place"} | self.place_closed
        return [
            item
            for item in self.items
            if self.whole(item)
            and self.expected(item) is not None
            and not self.short(item)
            and self.total((item, "off_field")) < self.off_field.get(item, 0)
            and item not in known
        ]

    # Claims.

    def claim(self, event: Any) -> None:
        """Take a record of the journal as a claim: look for its words, do its sums."""
        must(not self.ended, "a record after the end", event.kind)
        if self.standing_by:
            must(event.kind == "carried_on", "a record while standing by", event.kind)
        getattr(self, f"_{event.kind}")(event)

    def _case_opened(self, event: Any) -> None:
        must(not self.said and not event.by, "opened by words")

    def _stood_by(self, event: Any) -> None:
        self._now(event.by, "stand_by")
        self.standing_by = True

    def _carried_on(self, event: Any) -> None:
        self._now(event.by, "carry_on")
        self.standing_by = False

    def _now(self, who: str, *commands: str) -> None:
        last = self.said[-1]
        must(last.sure and last.who == who and last.command in commands, "not said", who, commands)

    def _line_stored(self, event: Any) -> None:
        key = (event.item, event.place)
        thing = self.things[event.item]
        must(event.item in self.items, "not in this count", key)
        must(event.place in (self.places or (None,)), "no place of this count", key)
        self.stored += 1
        must(event.line == self.stored, "lines are numbered one by one", event.line)
        if event.start == event.end:  # none anywhere else
            last = self.said[-1]
            must(last.who == "scrub" and last.command == "none_elsewhere", "none was not called")
            must(event.counted == 0, "none is nothing", event.counted)
        elif not self._gone_on(event):
            self._called(event, thing)
        must(event.counted == event.numbers[-1], "the last number counts", event.numbers)
        standing = self.lines.setdefault(key, [])
        for number in event.replaces:
            gone = next(line for line in standing if line.number == number)
            standing.remove(gone)
            again = gone.due or not gone.confirmed or self.since("recount")
            must(bool(again), "a confirmed line was replaced", key)
        for line in standing:
            line.confirmed = line.confirmed and not line.due
        standing.append(Written(event.line, event.counted, event.end, event.numbers))
        must(event.total == self.total(key), "the sum of its lines", key, event.total)
        self.counting = True

    def _gone_on(self, event: Any) -> bool:
        """Tell whether a line goes on with one that it replaces, by the scrub's own words."""
        before = [
            line
            for line in self.lines.get((event.item, event.place), ())
            if line.number in event.replaces and not line.confirmed
        ]
        if len(before) != 1 or event.numbers[: len(before[0].numbers)] != before[0].numbers:
            return False
        rest = event.numbers[len(before[0].numbers) :]
        later = [n for one in self.by("scrub", before[0].end - SLACK) for n in one.numbers]
        return bool(rest) and tuple(later[-len(rest) :]) == rest

    def _called(self, event: Any, thing: Thing) -> None:
        """Find the scrub's own words for a line."""
        heard = [
            one
            for one in self.by("scrub", event.start - SLACK)
            if one.end <= event.end + SLACK and (one.numbers or one.pieces)
        ]
        parts = [one.numbers for one in heard if one.numbers]
        # "How many pieces?" may be answered by a bare number.
        run = tuple(n for part in parts for n in part)
        short = tuple(n for part in parts[:-1] for n in part)
        alone = (1,) if thing.pieces > 1 and not run else None
        must(event.numbers in {run, short, alone}, "the scrub called", run, "not", event.numbers)
        one_by_one = event.numbers == tuple(range(1, len(event.numbers) + 1))
        seen = len(event.numbers) == 1 and (thing.stated or event.numbers[0] <= self.glance)
        must(one_by_one or seen, "not counted one by one", event.numbers)
        if thing.pieces > 1 and event.counted:
            must(event.pieces == thing.pieces, "its pieces", event.pieces)
        if not self.places and thing.pack:
            must(event.counted % thing.pack == 0, "no whole package", event.counted)

    def _line_confirmed(self, event: Any) -> None:
        key = (event.item, event.place)
        lines = self.lines[key]
        must(lines[-1].number == event.line, "not the newest line", key)
        must(not any(line.due for line in lines), "confirmed though due", key)
        if event.number is None:
            must(self.yes_confirms, "no number", key)
            must(self.said[-1].start >= lines[-1].end - SLACK, "a yes before the line", key)
            self._now("circulator", "yes")
        else:
            self._number_said(event, key, lines)
        for line in lines:
            line.confirmed = True
        if self.whole(event.item):
            self.place_closed.discard(event.item)
            if event.item in self.closed_here:
                self.recount_owed.add(event.item)

    def _number_said(self, event: Any, key: Key, lines: list[Written]) -> None:
        """Find the circulator's own words for a confirmation."""
        none = "none_elsewhere"
        must(event.number == self.total(key), "another number", event.number, self.total(key))
        heard = [
            one
            for one in self.by("circulator", lines[-1].end - SLACK)
            if (one.numbers == (event.number,) or (one.command == none and not event.number))
            and one.item in {None, event.item}
            and one.place in {None, event.place}
            and one.used <= {event.item}
        ]
        must(bool(heard), "the circulator did not say the number", key, event.number)
        heard[-1].used.add(event.item)

    def _line_disputed(self, event: Any) -> None:
        must(self.said[-1].who == "circulator", "disputed by", self.said[-1].who)
        for line in self.lines[event.item, event.place]:
            line.due = True

    def _recount_called(self, event: Any) -> None:
        for line in self.lines[event.item, event.place]:
            line.due = line.due or line.number in event.lines

    def _line_refused(self, event: Any) -> None:
        """Nothing is stored by it."""

    def _package_set_aside(self, event: Any) -> None:
        lines = self.lines.setdefault((event.item, event.place), [])
        for line in list(lines):
            if line.number in event.replaces:
                must(not line.confirmed, "a confirmed line was set aside", event.item)
                lines.remove(line)

    def _line_taken_back(self, event: Any) -> None:
        self._both(event, "take_back")
        key = (event.item, event.place)
        self.lines[key] = [one for one in self.lines[key] if one.number not in event.lines]

    def _both(self, event: Any, *commands: str, number: int | None = None) -> None:
        """Find the word of one person and, just now, the same of the other."""
        by, agreed, last = event.by, event.agreed, self.said[-1]
        must({by, agreed} == {"scrub", "circulator"}, "it takes two", by, agreed)
        must(last.sure and last.who == agreed, "the other one did not speak last", agreed)
        told = [one for one in self.since(*commands)[:-1] if one.who == by and one.sure]
        if number is None:
            must(last.command == "yes", "no yes", last.text)
            must(bool(told), "the first one said nothing of it", by, commands)
            return
        by_yes = self.yes_confirms and last.command == "yes"
        must(by_yes or last.number == number, "the other one said", last.number, "not", number)
        must(number in {one.number for one in told}, "only one person said", number, commands)

    def _count_opened(self, event: Any) -> None:
        must(not self.counting, "opened within another count", event.count)
        last = self.said[-1]
        begun = (
            last.command in {"begin", "add", "ask_count"} or (last.command or "")[:6] == "begin:"
        )
        must(begun or event.count_kind == "relief", "nobody began it", last.text)
        self.count = (event.count, str(event.count_kind))
        self.items, self.places = event.items, event.places
        out = {"cavity": ("closing", "final"), "closing": ("final",)}[self.tucked_until]
        self.tucked_may_stay = self.count[1] not in out
        must(event.tucked_counts == self.tucked_may_stay, "whether tucked ones count", event.count)
        self.lines, self.closed_here, self.recount_owed = {}, {}, set()
        self.place_closed = set()
        self.counting = True

    def _count_finished(self, event: Any) -> None:
        id_, kind = self.count
        must(event.count == id_, "another count", event.count)
        must(set(event.open) == set(self.open), "open differences are named", event.open)
        must(not self.owed(), "a difference is not open", self.owed())
        result = str(event.result)
        self._judge(result, kind)
        for item in self.items if not self.places else ():
            entries = self.book.setdefault(item, [])
            if kind == "addition":
                entries.append(("added", self.total((item, None))))
            else:
                entries[:] = [one for one in entries if one[0] != "initial"]
                if self.done((item, None)):
                    lines = [line.number for line in self.lines[item, None]]
                    oldest, newest = min(lines), max(lines)
                    happened = self.happened.get(item, ())
                    on_top = [
                        (why, n)
                        for stored, why, n in happened
                        if why not in _HIDES and (stored >= newest or (stored >= oldest and n > 0))
                    ]
                    hidden = sum(
                        _HIDES[why] * n
                        for stored, why, n in happened
                        if why in _HIDES
                        and (stored < oldest or (stored < newest and _HIDES[why] > 0))
                    )
                    entries[:] = [("initial", self.total((item, None)) + hidden), *on_top]
        if result != "incomplete" and id_ in {one for one, _ in self.plan}:
            self.held.add(id_)
        self.results.append(result)
        self.counting = False

    def _judge(self, result: str, kind: str) -> None:
        """See that a result is no better than the lines; what it says is never that all is well."""
        if result in {"incomplete", "differs"}:
            return
        if not self.places:
            must(result == "baseline", "a result of another kind of count", result)
            some = self.items if kind != "addition" else [key[0] for key in self.lines]
            must(
                all(
                    self.done((item, None)) or not self.lines.get((item, None), kind != "addition")
                    for item in some
                ),
                "a line is not confirmed",
            )
            return
        must(not {one.item for one in self.open.values()} & set(self.items), "a difference is open")
        for item in self.items:
            way, found = self.closed_here.get(item, ("", 0))
            must(self.whole(item), "a line is not confirmed", item)
            must(self.expected(item) is not None, "no initial count", item)
            must(self.short(item) in {0, found}, "the line differs", item, self.short(item), way)
            must(way != "not_found", "it was not found", item)
            must(result == "reconciled" or not way, "there was a difference", item)
        purposely = any(self.inside.get(item) for item in self.items)
        must(result != "agrees" or not purposely, "something is left inside", result)

    def _count_waived(self, event: Any) -> None:
        self._both(event, "waive")
        self.held.add(event.count)
        if event.count == self.count[0]:
            self.counting = False

    def _incident_told(self, event: Any) -> None:
        incident, n, item = str(event.incident), event.n, event.item
        form = FORM_OF.get(incident, incident)
        self._both(event, form, number=n)
        words = self.since(form)
        must(any(one.item == item for one in words), "the item was not named", item)
        if event.printed is not None:
            must(any(one.number == event.printed for one in words), "printed", event.printed)
        if event.site is not None:
            must(any(one.choice == event.site for one in words), "the site was not said")
        if event.reason is not None:
            must(any(one.choice == event.reason for one in words), "the reason was not said")
        more = {"cut": n, "broken": n - 1, "added": n, "handed_over": -n}.get(incident, 0)
        if incident == "other_number":
            more = n - event.printed
        self.happened.setdefault(item, []).append(
            (self.stored, incident, n if incident in _HIDES else more)
        )
        initial = self.counting and self.count[1] == "initial"
        if not initial or self.expected(item) is not None:  # else it is counted with the rest
            self.book.setdefault(item, []).append((incident, more))
        for here, kind in ((self.tucked, "tucked"), (self.inside, "packed")):
            if incident == kind:
                here[item] = here.get(item, 0) + n
        if incident == "came_out":
            first = min(n, self.tucked.get(item, 0))
            self.tucked[item] = self.tucked.get(item, 0) - first
            self.inside[item] = self.inside.get(item, 0) - (n - first)
            must(self.inside[item] >= 0, "more came out than went in", item)
        if incident in {"counted_off", "dropped"}:
            self.off_field[item] = self.off_field.get(item, 0) + n

    def _discrepancy_opened(self, event: Any) -> None:
        self.opened_so_far += 1
        must(event.number == self.opened_so_far, "differences are numbered", event.number)
        missing = event.expected - event.counted
        what = str(event.differs)
        told = {one.number for one in self.since("one_too_many")}
        if what == "line" and -missing in told and not self._short_now(event):
            must(event.by in {one.who for one in self.since("one_too_many")}, "told by", event.by)
        elif what == "line":
            must(self.whole(event.item), "opened before the line was whole", event.item)
            must(missing == self.short(event.item), "short", missing, self.short(event.item))
        elif what == "place":
            must(event.expected == self.off_field.get(event.item, 0), "passed off", event.item)
            must(event.counted == self.total((event.item, "off_field")), "off", event.item)
        self.open[event.number] = Differs(event.item, what, missing)
        self.recount_owed.discard(event.item)

    def _short_now(self, event: Any) -> bool:
        return self.whole(event.item) and event.expected - event.counted == self.short(event.item)

    def _step_told(self, event: Any) -> None:
        one = self.open[event.discrepancy]
        if event.step == "recount" and event.n is not None:
            must(self.whole(one.item), "counted again before all was", one.item)
            one.since = len(self.said)
            if one.what == "line":
                must(event.n == self.there(one.item), "the recount's sum", event.n)
                one.missing = self.short(one.item)
            else:
                must(event.n == self.total((one.item, "off_field")), "off the field", event.n)
                one.missing = self.off_field.get(one.item, 0) - event.n
            return
        if event.found:
            self._both_found(event)
            one.missing -= event.found
            return
        must(self.said[-1].who == event.by, "a step was told by", event.by)

    def _both_found(self, event: Any) -> None:
        last = self.said[-1]
        told = [said for said in self.since("found")[:-1] if said.who == event.by]
        by_yes = self.yes_confirms and last.command == "yes"
        must(last.who != event.by, "found by one", event.by)
        must(by_yes or last.number == event.found, "the other one said", last.number)
        must(event.found in {said.number for said in told}, "only one found", event.found)

    def _discrepancy_closed(self, event: Any) -> None:
        one = self.open.pop(event.discrepancy)
        way = str(event.settled)
        if way == "recounted":
            last, by = self.said[-1], event.by
            must({by, event.agreed} == {"scrub", "circulator"}, "it takes two", by)
            must(last.who == event.agreed and last.command == "yes", "no second yes")
            later = self.said[one.since : -1]
            first = [said for said in later if said.who == by and said.command == "yes"]
            must(bool(first), "no first yes")
            must(one.missing == 0, "recounted, and still missing", one.missing)
            if one.what == "line" and self.places and one.item in self.items:
                must(self.short(one.item) == 0, "the line differs", one.item)
        elif way == "found":
            self._both(event, "found", number=event.n)
            must(event.n == one.missing, "found", event.n, "missing", one.missing)
        else:
            self._both(event, CLOSING_WORDS[way])
        if one.what == "place":
            self.place_closed.add(one.item)
        if way == "not_found":
            self.not_found.append(event.discrepancy)
        if way == "explained" and one.what == "line":
            self.happened.setdefault(one.item, []).append((self.stored, "explained", -one.missing))
            self.book.setdefault(one.item, []).append(("explained", -one.missing))
        if way == "explained" and one.what == "place":
            self.off_field[one.item] = self.off_field.get(one.item, 0) - one.missing
        found = self.short(one.item) if way == "found" and one.what == "line" else 0
        self.closed_here[one.item] = (way, found if self.places else 0)
        self.recount_owed.discard(one.item)
        self.ways.append(way)

    def _people_changed(self, event: Any) -> None:
        if event.back:
            self._both(event, "back")
        else:
            start = "change" if event.permanent else "break"
            self._both(event, f"{start}_{event.role}")

    def _turned_open(self, event: Any) -> None:
        self._both(event, "turn_open")

    def _case_closed(self, event: Any) -> None:
        self._both(event, "end_case")
        must(set(event.open) == set(self.open), "open differences are named", event.open)
        must(list(event.not_found) == self.not_found, "not found are named", event.not_found)
        due = [id_ for id_, _ in self.plan if id_ not in self.held]
        must(list(event.due) == due, "counts that are due", event.due, due)
        tucked = [item for item in self.things if self.tucked.get(item)]
        must(list(event.tucked) == tucked, "tucked in", event.tucked, tucked)
        inside = [item for item in self.things if self.inside.get(item)]
        must(list(event.inside) == inside, "left inside", event.inside, inside)
        self.ended = True

    # What must hold after every step.

    def compare(self, ledger: Any, *, whole_step: bool = True) -> None:
        """See that a ledger says what is on the paper."""
        must(set(ledger.discrepancies) == set(self.open), "open", tuple(ledger.discrepancies))
        for number, one in self.open.items():
            must(ledger.discrepancies[number].item == one.item, "open difference", number)
            must(-ledger.discrepancies[number].off == one.missing, "missing", number, one.missing)
        for item in self.things:
            must(ledger.expected(item) == self.expected(item), "expected", item)
            for key in self.keys(item):
                tally = ledger.tally(*key)
                lines = self.lines.get(key, [])
                must(tally.counted == (self.total(key) if lines else None), "sum", key)
                must((str(tally.state) == "confirmed") == self.done(key), "confirmed", key)
        must(ledger.closed == self.ended, "ended", self.ended)
        must(ledger.standing_by == self.standing_by, "standing by")
        if whole_step:
            must(not self.owed(), "a difference is not open", self.owed())
            must(not self.owed_off_field(), "one off the field is not open", self.owed_off_field())
