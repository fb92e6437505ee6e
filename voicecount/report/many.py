"""What many records say, taken in one case at a time. No case is kept.

What grows with the cases are a short mark and the name of each (to find copies), why some are
left out, and how often each whole second came as a time. Everything else is a count.

No figure is about a person: who counted is not looked at.
"""

import hashlib
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, fields

from voicecount.count.case_events import CountResult, Difference, Settled
from voicecount.report.facts import CaseFacts, CountFacts, DiscrepancyFacts, HappeningFacts
from voicecount.report.many_figures import Rate, Share, Times
from voicecount.sheet.plan import PLANNED, CountKind, Group

NOT_KNOWN = "not known"
OPEN = "open"
"""A difference that nobody closed."""
TOO_MANY = "too_many"
"""One that both closed without an explanation of what is over then; what is short is not found."""
OUTSIDE = "outside of a count"

KINDS = tuple(kind.value for kind in CountKind)
GROUPS = tuple(group.value for group in Group)
DIFFERENCES = tuple(kind.value for kind in Difference)
ENDS = (*(end.value for end in Settled), TOO_MANY, OPEN)


def in_order(found: Iterable[str], order: Iterable[str]) -> tuple[str, ...]:
    """Give all names of ``order``, then what else was found, by the alphabet."""
    known = tuple(order)
    return (*known, *sorted(set(found) - set(known)))


@dataclass(frozen=True)
class LeftOut:
    """A journal that is in none of the figures, and why."""

    journal: str
    why: str


@dataclass
class Held:
    """All counts of one kind."""

    held: int = 0
    finished: int = 0
    """Those that stand finished, with a result: not waived, and not changed after their end."""
    waived: int = 0
    """Waived while they were open."""
    results: Counter[str] = field(default_factory=Counter)
    """How finished counts ended, by code."""
    times: Times = field(default_factory=Times)
    """From the opening to the last "finished"."""
    interrupted: int = 0
    """Counts with at least one interruption, finished or not."""
    interruptions: int = 0
    """All of them."""
    timed_interruptions: int = 0
    """Those inside counts whose time is known."""
    lines: int = 0
    """Stored, whether they stand or not."""
    stood: int = 0
    confirmed: int = 0
    refused: int = 0
    disputed: int = 0
    recounted: int = 0
    with_difference: int = 0
    """Counts in which at least one difference came up."""
    unlike_sheet: int = 0
    """Initial counts with a number that is not the sheet's; no difference is opened for it."""

    def add(self, count: CountFacts, *, differed: bool) -> None:
        """Take one count in."""
        self.held += 1
        if count.result == CountResult.NOT_DONE:
            self.waived += 1
        elif (result := _result(count)) is not None:
            self.finished += 1
            self.results[result] += 1
            if self.times.add(_lasted(count)):
                self.timed_interruptions += count.interruptions
        self.interrupted += count.interruptions > 0
        self.interruptions += count.interruptions
        self.lines += len(count.lines)
        self.stood += sum(line.stands for line in count.lines)
        self.confirmed += sum(line.confirmed for line in count.lines)
        self.refused += count.refused
        self.disputed += count.disputed
        self.recounted += count.recounted
        self.with_difference += differed
        self.unlike_sheet += count.kind == CountKind.INITIAL and bool(count.differing)

    def add_all(self, others: "Held") -> None:
        """Take in the counts of another kind."""
        for each in fields(self):
            mine, theirs = getattr(self, each.name), getattr(others, each.name)
            if isinstance(mine, Times):
                mine.add_all(theirs)
            elif isinstance(mine, Counter):
                mine.update(theirs)
            else:
                setattr(self, each.name, mine + theirs)

    @property
    def per_hour(self) -> Rate:
        """Interruptions per hour of counting, over the counts whose time is known."""
        hours = self.times.total / 3600
        return Rate(self.timed_interruptions, hours, "hours", self.times.n, "counts")

    def per_hundred(self, k: int) -> Rate:
        """Give ``k`` per hundred stored lines."""
        return Rate(k, self.lines, "lines", self.held, "counts", 100)


class Summary:
    """The figures of many cases."""

    def __init__(self) -> None:
        self.seen = 0
        self.cases = 0
        """Those in the figures."""
        self.damaged: list[LeftOut] = []
        self.copies: list[LeftOut] = []
        self.alike: list[tuple[str, str]] = []
        """Journals of one sheet and one beginning that hold different records: both are in."""
        self.closed = 0
        """Cases that both people ended."""
        self.roles_told_apart = 0
        self.days: tuple[str, str] | None = None
        """The first and the last day on which a case began, UTC."""
        self.software: Counter[str] = Counter()
        self.kinds: dict[str, Held] = {}
        self.sheet_lines: Counter[str] = Counter()
        """Lines on the sheets of all cases, by group."""
        self.differs: Counter[tuple[str, str]] = Counter()
        """Differences by what differs and the item's group."""
        self.ended: Counter[str] = Counter()
        self.found_in: Counter[str] = Counter()
        """By the kind of count in which they came up."""
        self.case_times: Times = Times()
        """Of each case with a finished count, the times of its finished counts together."""
        self.resolving: Times = Times()
        """From a difference's coming up to its end."""
        self.cases_with_difference = 0
        self.telling = 0
        """Cases whose record tells what was heard."""
        self.utterances = 0
        self.asked: Counter[str] = Counter()
        """What was asked to be said again, by reason."""
        self.left: Counter[str] = Counter()
        """Items left in the patient on purpose, by group."""
        self.cases_with_left = 0
        self.never_out = 0
        """Items tucked in that nobody said are out."""
        self.cases_never_out = 0
        self.waived = 0
        self.not_held = 0
        """Planned counts that were neither held nor waived."""
        self.planned_held = 0
        self.takeovers: Counter[int] = Counter()
        """How many cases had 0, 1, 2 … people taking over to stay."""
        self.breaks: Counter[int] = Counter()
        """The same for a break; the return is not counted again."""
        self._heads: dict[str, str] = {}
        self._beginnings: dict[tuple[str, str], str] = {}

    @classmethod
    def of(cls, cases: Iterable[CaseFacts]) -> "Summary":
        """Take in every case, one after another."""
        summary = cls()
        for case in cases:
            summary.add(case)
        return summary

    def leave_out(self, journal: str, why: str) -> None:
        """Name a journal in which not even the opening of a case is whole."""
        self.seen += 1
        self.damaged.append(LeftOut(journal, why))

    def add(self, case: CaseFacts) -> str | None:
        """Take one case in, or leave it out, damaged or a copy, and tell why; None if it is in."""
        if not case.chain.whole:
            why = case.chain.damage or NOT_KNOWN
            self.leave_out(case.journal, why)
            return why
        self.seen += 1
        if (first := self._heads.get(case.chain.head)) is not None:
            why = f"the same records as {first}"
            self.copies.append(LeftOut(case.journal, why))
            return why
        self._heads[case.chain.head] = case.journal
        self._alike(case)
        self.cases += 1
        self.closed += case.closed is not None
        self.roles_told_apart += case.roles_told_apart
        day = case.began.wall[:10]
        first_day, last_day = self.days or (day, day)
        self.days = (min(first_day, day), max(last_day, day))
        self.software[case.software] += 1
        group = {item.id: item.group for item in case.items}
        self.sheet_lines.update(group.values())
        self._counts(case)
        self._differences(case.discrepancies, group, case.counts)
        self._inside(case, group)
        self._people(case.happenings)
        if case.heard is not None:
            self.telling += 1
            self.utterances += case.heard.utterances
            self.asked.update(dict(case.heard.asked))
        return None

    def _alike(self, case: CaseFacts) -> None:
        beginning = (case.sheet, case.began.wall)
        if (first := self._beginnings.get(beginning)) is not None:
            self.alike.append((first, case.journal))
        self._beginnings.setdefault(beginning, case.journal)

    def _counts(self, case: CaseFacts) -> None:
        differed = {one.count for one in case.discrepancies}
        for count in case.counts:
            held = self.kinds.setdefault(count.kind, Held())
            held.add(count, differed=count.number in differed)
        timed = [one for one in case.counts if _result(one) and _lasted(one) >= 0]
        if timed:
            self.case_times.add(sum(map(_lasted, timed)))
        self.planned_held += len({one.id for one in case.counts if _planned(one)})
        self.waived += len(case.told("count_waived"))
        self.not_held += len(case.due)

    def _differences(
        self,
        found: Iterable[DiscrepancyFacts],
        group: dict[str, str],
        counts: Iterable[CountFacts],
    ) -> None:
        kinds = {count.number: count.kind for count in counts} | {0: OUTSIDE}
        before = self.differences
        for one in found:
            self.differs[one.differs, group.get(one.item, NOT_KNOWN)] += 1
            self.ended[how_it_ended(one)] += 1
            self.found_in[kinds.get(one.count, NOT_KNOWN)] += 1
            if one.closed is not None:
                self.resolving.add(one.closed.at - one.opened.at)
        self.cases_with_difference += self.differences > before

    def _inside(self, case: CaseFacts, group: dict[str, str]) -> None:
        left = [one for one in case.in_patient if one.on_purpose]
        tucked = [one for one in case.in_patient if not one.on_purpose]
        for one in left:
            self.left[group.get(one.item, NOT_KNOWN)] += one.n
        self.cases_with_left += bool(left)
        self.never_out += sum(one.n for one in tucked)
        self.cases_never_out += bool(tucked)

    def _people(self, happenings: Iterable[HappeningFacts]) -> None:
        changes = [one for one in happenings if one.what == "people_changed" and not one.back]
        self.takeovers[sum(bool(one.permanent) for one in changes)] += 1
        self.breaks[sum(not one.permanent for one in changes)] += 1

    @property
    def digits(self) -> str:
        """Eight digits that tell these records from others, in whatever order they came."""
        heads = "\n".join(sorted(self._heads))
        return hashlib.sha256(heads.encode()).hexdigest()[:8]

    @property
    def differences(self) -> int:
        """All differences."""
        return self.differs.total()

    def differences_by(self, part: int) -> Counter[str]:
        """Count differences by what differs (0) or by the item's group (1)."""
        found: Counter[str] = Counter()
        for pair, times in self.differs.items():
            found[pair[part]] += times
        return found

    @property
    def all_counts(self) -> Held:
        """The counts of every kind together."""
        whole = Held()
        for held in self.kinds.values():
            whole.add_all(held)
        return whole

    @property
    def asked_again(self) -> Rate:
        """Questions to say something again per hundred utterances, in cases that tell."""
        return Rate(
            self.asked.total(), self.utterances, "utterances", self.telling, "cases", per=100
        )

    def of_cases(self, k: int) -> Share:
        """Give ``k`` as a share of the cases in the figures."""
        return Share(k, self.cases)

    @property
    def waived_share(self) -> Share:
        """Planned counts that were waived, of those held, waived, or neither."""
        return Share(self.waived, self.planned_held + self.waived + self.not_held)


def _lasted(count: CountFacts) -> float:
    """Give the seconds from a finished count's opening to its end."""
    return count.finished.at - count.opened.at if count.finished is not None else 0.0


def _result(count: CountFacts) -> str | None:
    """Give what a count came to that stands finished; None for one waived, open, or changed."""
    done = count.finished is not None and count.result != CountResult.NOT_DONE
    return count.result if done else None


def _planned(count: CountFacts) -> bool:
    """Tell whether it is a count of the plan that was held, and not waived while it was open."""
    return count.kind in PLANNED and count.result != CountResult.NOT_DONE


def how_it_ended(one: DiscrepancyFacts) -> str:
    """Give the code of a difference's end, one of ``ENDS``."""
    if one.settled == Settled.NOT_FOUND and one.off_now > 0:
        return TOO_MANY
    return one.settled or OPEN
