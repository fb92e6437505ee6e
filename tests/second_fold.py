"""A second way from a journal's lines to the numbers of its report, sharing no code with the first.

It reads raw JSON lines and imports nothing of ``voicecount``. It was written from what
docs/case.md, docs/journal.md and the docstrings of the events say, and works the other way round:
it keeps no state from event to event, but asks for every number anew which records bear on it.

One rule is taken from the meaning of the words alone. An item's initial number is what both people
gave; what happened to the item before the oldest of the lines that make up this number was called
is in it already, and what happened after that comes on top.
"""

import json
from collections import Counter
from pathlib import Path
from typing import Any

Record = dict[str, Any]
ON_LINES = {"line_stored", "line_confirmed", "line_disputed", "recount_called", "line_taken_back"}
"""What changes the lines of a count, so that it is finished no longer."""


def read(path: Path) -> list[Record]:
    """Give the whole lines of a journal, each with its event's fields."""
    lines = path.read_bytes().split(b"\n")[:-1]
    found = [json.loads(line) for line in lines]
    return [{**one["payload"], "kind": one["kind"], "seq": one["seq"]} for one in found]


_INTO_PATIENT = {"tucked": 1, "packed": 1, "came_out": -1}
"""What brings an item into the patient, or out again."""


def _makes_more(told: Record) -> bool:
    """Tell whether there are more of an item after an incident than before."""
    n = told["n"]
    return bool(
        told["incident"] in {"cut", "added"}
        or (told["incident"] == "broken" and n > 1)
        or (told["incident"] == "other_number" and n > told["printed"])
    )


class Case:
    """A case as its records tell it. ``before`` and ``to`` are numbers of records, from 1."""

    def __init__(self, records: list[Record]) -> None:
        self.records = records
        self.opening = records[0]
        self.items = {item["id"]: item for item in self.opening["items"]}
        starts = [one for one in records if one["kind"] in {"case_opened", "count_opened"}]
        ends = [one["seq"] for one in starts[1:]] + [len(records) + 1]
        self.counts = [OneCount(self, start, end) for start, end in zip(starts, ends, strict=True)]

    def of(self, *kinds: str, before: int, **fields: Any) -> list[Record]:
        """Give the records of some kinds before one, with these fields."""
        return [
            one
            for one in self.records[: before - 1]
            if one["kind"] in kinds and all(one[name] == value for name, value in fields.items())
        ]

    # What is expected of an item.

    def initial(self, item: str, before: int) -> tuple[int | None, int, int]:
        """Give the initial number, and the records of the oldest and the newest line of it."""
        first = self.counts[0]
        said = first.said_finished(before)
        lines = first.standing((item, None), said[-1]["seq"]) if said else {}
        if not lines or not all(one["both"] for one in lines.values()):
            return None, 0, 0
        called = [one["seq"] for one in lines.values()]
        # What was in the patient when these lines were called could not be counted with them; what
        # went in between two of them may have been counted or not: then more are expected.
        hidden = sum(
            one["n"] * _INTO_PATIENT[one["incident"]]
            for one in self.of("incident_told", before=max(called), item=item)
            if one["seq"] < min(called) or _INTO_PATIENT.get(one["incident"]) == 1
            if one["incident"] in _INTO_PATIENT
        )
        return sum(one["n"] for one in lines.values()) + hidden, min(called), max(called)

    def account(self, item: str, before: int) -> dict[str, int | None]:
        """Give what there should be of an item, and why."""
        initial, oldest, newest = self.initial(item, before)
        told = [
            one
            for one in self.of("incident_told", before=before, item=item)
            if one["seq"] > newest or (one["seq"] > oldest and _makes_more(one))
            if initial is not None or not self.counts[0].is_open(one["seq"])
        ]
        n: Counter[str] = Counter()
        for one in told:
            n[one["incident"]] += one["n"]
        found = {
            "initial": initial,
            "added": n["added"] + sum(self._additions(item, before)),
            "changed": n["cut"]
            + sum(one["n"] - 1 for one in told if one["incident"] == "broken")
            + sum(one["n"] - one["printed"] for one in told if one["incident"] == "other_number"),
            "explained": self._explained(item, "line", (oldest, newest), before),
            "handed_over": n["handed_over"],
        }
        more = sum(found[part] or 0 for part in ("added", "changed", "explained"))
        less = found["handed_over"] or 0
        return {**found, "expected": None if initial is None else initial + more - less}

    def _additions(self, item: str, before: int) -> list[int]:
        """Give what both people gave of an item in each addition."""
        found = []
        for count in self.counts:
            if count.kind == "addition" and count.start < before:
                lines = count.standing((item, None), min(before, count.end)).values()
                found.append(sum(one["n"] for one in lines if one["said"]))
        return found

    def passed_off(self, item: str, before: int) -> int:
        """Give how many left the field: dropped, or in a counted group."""
        told = self.of("incident_told", before=before, item=item)
        off = sum(one["n"] for one in told if one["incident"] in {"dropped", "counted_off"})
        return off + self._explained(item, "place", (0, 0), before)

    # Differences.

    def _explained(self, item: str, differs: str, lines: tuple[int, int], before: int) -> int:
        """Give by how much both people corrected an expected number, beside these lines."""
        oldest, newest = lines
        found = 0
        for end in self.of("discrepancy_closed", before=before, settled="explained"):
            opened = self.came_up(end)
            off = self._off(opened, end["seq"])
            counts = end["seq"] > newest or (end["seq"] > oldest and off > 0)
            if counts and (opened["item"], opened["differs"]) == (item, differs):
                found += off
        return found

    def came_up(self, step: Record) -> Record:
        """Give the coming up of the difference that a record is about."""
        (found,) = self.of("discrepancy_opened", before=step["seq"], number=step["discrepancy"])
        return found

    def _off(self, opened: Record, before: int) -> int:
        """Give how many are over or short: as last counted again, with what was found since."""
        off = opened["counted"] - opened["expected"]
        for step in self.of("step_told", before=before, discrepancy=opened["number"]):
            if step["n"] is not None:
                off = step["n"] - self._right(opened, step["seq"])
            off += step["found"]
        return off

    def _last_off(self, opened: Record, end: int) -> int:
        """Give how many were over or short when both closed it; while it is open, at the end."""
        closed = self.of("discrepancy_closed", before=end, discrepancy=opened["number"])
        return self._off(opened, closed[0]["seq"] if closed else end)

    def _right(self, opened: Record, before: int) -> int:
        if opened["differs"] == "place":
            return self.passed_off(opened["item"], before)
        return self.account(opened["item"], before)["expected"] or 0

    # In the patient.

    def in_patient(self, before: int) -> dict[tuple[str, str, bool], int]:
        """Give how many are in the patient by item, site, and whether on purpose."""
        there: dict[tuple[str, str, bool], int] = {}
        for one in self.of("incident_told", before=before):
            item, site = one["item"], one["site"]
            if one["incident"] in {"tucked", "packed"}:
                key = (item, site or "not_said", one["incident"] == "packed")
                there[key] = there.get(key, 0) + one["n"]
            for _ in range(one["n"] if one["incident"] == "came_out" else 0):
                mine = [key for key in there if key[0] == item]
                # the named site first, and what was to come out before what was to stay
                key = min(mine, key=lambda key: (key[1] != (site or key[1]), key[2]))
                there[key] -= 1
                if not there[key]:
                    del there[key]
        return there

    def in_item(self, item: str, before: int, *, purpose: bool) -> int:
        """Give how many of an item are in the patient, on purpose or not."""
        there = self.in_patient(before).items()
        return sum(n for (what, _, meant), n in there if (what, meant) == (item, purpose))

    # What a report shows.

    def numbers(self) -> dict[str, Any]:
        """Give every number."""
        end = len(self.records) + 1
        return {
            "items": {item: self._item(item, end) for item in self.items},
            "counts": [count.numbers() for count in self.counts],
            "discrepancies": [
                (
                    *(one["number"], one["item"], one["counted"], one["expected"]),
                    *(one["counted"] - one["expected"], self._last_off(one, end)),
                )
                for one in self.of("discrepancy_opened", before=end)
            ],
            "in_patient": self.in_patient(end),
            "refused": len(self.of("line_refused", before=end)),
            "disputed": len(self.of("line_disputed", before=end)),
            "recounted": len(self.of("line_stored", before=end, entry="recount")),
        }

    def _item(self, item: str, end: int) -> dict[str, int | None]:
        return {
            **self.account(item, end),
            "tucked": self.in_item(item, end, purpose=False),
            "inside": self.in_item(item, end, purpose=True),
            "passed_off": self.passed_off(item, end),
        }


class OneCount:
    """One count of a case: its records, from its opening to the next one's."""

    def __init__(self, case: Case, start: Record, end: int) -> None:
        first = start["kind"] == "case_opened"
        self.case = case
        self.start, self.end = start["seq"], end
        self.id = start["count"]
        self.kind = "initial" if first else start["count_kind"]
        self.places = () if first else tuple(start["places"])
        self.items = tuple(case.items) if first else tuple(start["items"])
        self.tucked_counts = first or start["tucked_counts"]

    def of(self, *kinds: str, before: int | None = None) -> list[Record]:
        """Give this count's records of some kinds."""
        upto = self.end if before is None else min(before, self.end)
        return [one for one in self.case.of(*kinds, before=upto) if one["seq"] > self.start]

    def said_finished(self, before: int) -> list[Record]:
        """Give the times at which somebody said that it is finished."""
        return self.of("count_finished", before=before)

    def is_open(self, at: int) -> bool:
        """Tell whether lines are counted in it at a record: nothing ended it, or it goes on."""
        ended = [*self.said_finished(at), *self._waivers(at)]
        last = max((one["seq"] for one in ended), default=0)
        changed = self.of(*ON_LINES, before=at)
        return at <= self.end and not (last and all(one["seq"] < last for one in changed))

    def _waivers(self, before: int) -> list[Record]:
        return [one for one in self.of("count_waived", before=before) if one["count"] == self.id]

    def last(self) -> int:
        """Give the record before which the count is as its report shows it."""
        if self.is_open(self.end):
            return self.end
        said = [one["seq"] for one in self.said_finished(self.end)]
        waived = [one["seq"] for one in self._waivers(self.end) if self.is_open(one["seq"])]
        return max(said + waived)

    def standing(self, key: tuple[str, str | None], before: int) -> dict[int, dict[str, Any]]:
        """Give the lines that stand: how many each counts, and whether both people gave it.

        ``said``: the other person said the number; ``both``: and it is not to be counted again.
        """
        lines: dict[int, dict[str, Any]] = {}
        for one in self.of(*ON_LINES, "package_set_aside", before=before):
            if (one["item"], one["place"]) != key:
                continue
            gone = one.get("replaces", one["lines"] if one["kind"] == "line_taken_back" else ())
            lines = {number: line for number, line in lines.items() if number not in gone}
            if one["kind"] == "line_stored":
                new = {"n": one["counted"], "said": False, "again": False, "seq": one["seq"]}
                lines[one["line"]] = new
            for number, line in lines.items():
                line["said"] |= one["kind"] == "line_confirmed"
                line["again"] |= one["kind"] == "line_disputed"
                line["again"] |= one["kind"] == "recount_called" and number in one["lines"]
        for line in lines.values():
            line["both"] = line["said"] and not line["again"]
        return lines

    def place(self, item: str, place: str | None) -> tuple[int | None, bool]:
        """Give what stands of an item at a place, and whether both people gave it."""
        lines = self.standing((item, place), self.last()).values()
        both = bool(lines) and all(one["both"] for one in lines)
        return (sum(one["n"] for one in lines) if lines else None), both

    def numbers(self) -> dict[str, Any]:
        """Give the numbers of this count."""
        cut_off = [one for one in self.of("line_refused") if one["refusal"] == "interrupted"]
        sums = {item: self._sum(item) for item in self.called()}
        # words to stand by that cut a call off are one interruption: both are of the same time
        cut_at = {one["at"] for one in cut_off}
        stood_by = [one for one in self.of("stood_by") if self.is_open(one["seq"])]
        stood_by = [one for one in stood_by if one["at"] not in cut_at]
        return {
            "sums": sums,
            "lines": [self._line(one) for one in self.of("line_stored")],
            "unconfirmed": {item for item in self.items if self._waits(item)},
            "differing": {item for item in self.items if sums.get(item, {}).get("off")},
            "left": self._left(),
            "refused": len(self.of("line_refused")),
            "disputed": len(self.of("line_disputed")),
            "recounted": sum(one["entry"] == "recount" for one in self.of("line_stored")),
            "interruptions": len(cut_off) + len(stood_by),
        }

    def called(self) -> tuple[str, ...]:
        """Give the items of this count; of an addition only those that somebody called in it."""
        if self.kind != "addition":
            return self.items
        calls = [
            one
            for one in self.of("line_stored", "package_set_aside", "line_refused")
            if one.get("refusal") in {None, "interrupted"}
        ]
        return tuple(item for item in self.items if item in {one["item"] for one in calls})

    def _line(self, stored: Record) -> tuple[int, int, bool, bool]:
        """Give a line's number, what it counts, and whether it stands and both people gave it."""
        lines = self.standing((stored["item"], stored["place"]), self.last())
        line = lines.get(stored["line"])
        return stored["line"], stored["counted"], line is not None, bool(line and line["both"])

    def _sum(self, item: str) -> dict[str, Any]:
        places = {place: self.place(item, place) for place in self.places or (None,)}
        known = [n for n, _ in places.values() if n is not None]
        counted = sum(known) if known else None
        both = all(both for _, both in places.values())
        inside = tucked = 0
        expected = self.case.items[item]["expect"] if self.kind == "initial" else None
        if self.places:
            inside = self.case.in_item(item, self.last(), purpose=True)
            if self.tucked_counts:
                tucked = self.case.in_item(item, self.last(), purpose=False)
            expected = self.case.account(item, self.last())["expected"]
        off = None
        if counted is not None and expected is not None and (both or not self.places):
            off = counted + inside + tucked - expected
        return {
            "places": {place: n for place, (n, _) in places.items()} if self.places else {},
            "given": {place: both for place, (_, both) in places.items()} if self.places else {},
            "counted": counted,
            "inside": inside,
            "tucked": tucked,
            "expected": expected,
            "off": off,
            "confirmed": both,
        }

    def _waits(self, item: str) -> bool:
        found = [self.place(item, place) for place in self.places or (None,)]
        return any(n is not None and not both for n, both in found)

    def _left(self) -> set[str]:
        """Give the items with nothing at a place, and those that the turn to open brought in."""
        left = {
            item
            for item in self.called()
            if any(self.place(item, place)[0] is None for place in self.places or (None,))
        }
        plan = [one for one in self.case.opening.get("plan", ()) if one["id"] == self.id]
        if self.places and plan:
            out = set(plan[0]["leaves_out"])
            if plan[0]["unless_open"] and self.case.of("turned_open", before=self.last()):
                out = set()
            left |= {item for item, one in self.case.items.items() if one["group"] not in out}
            left -= {item for item in self.items if self._all_there(item)}
        return left

    def _all_there(self, item: str) -> bool:
        return all(self.place(item, place)[0] is not None for place in self.places)


ENTRIES = ("added", "cut", "broken", "other_number", "handed_over")
"""What makes more or fewer of an item."""


def told_before_its_number(case: Case) -> set[str]:
    """Give the items of which something was told between the initial count and its correction.

    The initial count had been finished once; then what makes more or fewer of an item was told, or
    an expected number explained; then lines that the initial number is made of were called anew.
    """
    initial, end = case.counts[0], len(case.records) + 1
    first = min((one["seq"] for one in initial.said_finished(end)), default=end)
    found = set()
    for item in case.items:
        n, since, _ = case.initial(item, end)
        later = [seq for seq in _told(case, item) if seq > first]
        if any(seq < since if n is not None else initial.is_open(seq) for seq in later):
            found.add(item)
    return found


def told_after_its_number(case: Case) -> set[str]:
    """Give the items of which something was told in the initial count, after they were counted.

    They were not counted again before it was finished.
    """
    initial, end = case.counts[0], len(case.records) + 1
    found = set()
    for item in case.items:
        n, since, _ = case.initial(item, end)
        later = [seq for seq in _told(case, item) if seq > since and initial.is_open(seq)]
        if n is not None and any(case.initial(item, seq)[0] is None for seq in later):
            found.add(item)
    return found


def _told(case: Case, item: str) -> list[int]:
    """Give the records that tell of more or fewer of an item than both people counted."""
    end = len(case.records) + 1
    told = case.of("incident_told", before=end, item=item)
    closed = case.of("discrepancy_closed", before=end, settled="explained")
    came_up = [(case.came_up(one), one["seq"]) for one in closed]
    return [
        *(one["seq"] for one in told if one["incident"] in ENTRIES),
        *(seq for one, seq in came_up if (one["item"], one["differs"]) == (item, "line")),
    ]
