"""What was told between and inside counts: additions, incidents, and every difference by steps."""

from collections.abc import Iterator

from voicecount.report import words
from voicecount.report.blocks import Block, Column, Facts, Heading, Table, Text
from voicecount.report.facts import CaseFacts, DiscrepancyFacts, HappeningFacts
from voicecount.report.pages_case import names
from voicecount.report.pages_people import two

_ELSEWHERE = frozenset({"people_changed", "count_waived"})
"""Told under headings of their own."""


def incidents(facts: CaseFacts) -> Iterator[Block]:
    """Give what was added and what happened, in order."""
    yield Heading("Additions and incidents")
    name = names(facts)
    added = [
        (words.both_times(one.opened), one.number, name.get(line.item, line.item), line.counted)
        for one in facts.counts
        if one.kind == "addition"
        for line in one.sums
        if line.counted
    ]
    if added:
        yield Table(
            title="Added in counts of their own",
            columns=(
                Column("When (UTC)", 1.6),
                Column("Count", 0.8, number=True),
                Column("Added", 0.9, number=True),
                Column("Item", 6.7),
            ),
            rows=tuple((when, str(count), str(n), item) for when, count, item, n in added),
        )
    told = [one for one in facts.happenings if one.what not in _ELSEWHERE]
    if told:
        yield Table(
            title="What happened",
            columns=(
                Column("When (UTC)", 1.6),
                Column("Count", 0.8, number=True),
                Column("Item", 1.8),
                Column("Number", 0.9, number=True),
                Column("What", 4),
                Column("Told by, agreed by", 1.9),
            ),
            rows=tuple(
                (
                    words.both_times(one.when),
                    words.number(one.count),
                    words.NONE if one.item is None else name.get(one.item, one.item),
                    words.number(one.n),
                    _what(one),
                    two(one),
                )
                for one in told
            ),
        )
    if not added and not told:
        yield Text("Nothing was added, and no incident was told.")


def _what(one: HappeningFacts) -> str:
    parts = [words.HAPPENINGS.get(one.what, words.plain(one.what.rpartition(".")[2]))]
    if one.printed is not None:
        parts.append(f"printed on it: {one.printed}")
    parts += [words.said(code) for code in (one.site, one.reason) if code is not None]
    return "; ".join(parts)


def differences(facts: CaseFacts) -> Iterator[Block]:
    """Give every difference with its steps and its end."""
    yield Heading("Differences")
    if not facts.discrepancies:
        yield Text("No difference came up.")
        return
    name = names(facts)
    titles = {count.number: count.title for count in facts.counts}
    for one in facts.discrepancies:
        item = name.get(one.item, one.item)
        yield Heading(f"{words.DIFFERS} Difference {one.number}: {item}", level=2)
        yield Facts(tuple(_about(one, titles)))
        if one.steps:
            yield _steps(one)
        else:
            yield Text("No step was told.")


def _about(one: DiscrepancyFacts, titles: dict[int, str]) -> Iterator[tuple[str, str]]:
    what = words.DIFFERENCES.get(one.differs, words.plain(one.differs))
    numbers = f"counted {one.counted}, expected {one.expected}, {words.short_or_over(one.off)}"
    yield "What differs", f"{what}: {numbers}"
    if one.place is not None:
        yield "Place", words.place(one.place)
    title = titles.get(one.count)
    yield "Came up", f"{words.zoned(one.opened)}, {_in(one.count, title)}"
    last = "When the record ends" if one.closed is None else "When both closed it"
    yield last, words.short_or_over(one.off_now)
    yield "How it ended", _end(one)
    if one.closed is not None:
        yield "Closed", f"{words.zoned(one.closed)}, by {_both(one)}"
        yield "Open for", f"{words.clock(one.closed.at - one.opened.at)} on the case's clock"


def _in(number: int, title: str | None) -> str:
    if not number:
        return "outside of a count"
    return f"in count {number}" if title is None else f"in count {number}, {title}"


def _end(one: DiscrepancyFacts) -> str:
    parts = [words.settled(one.settled, one.off_now)]
    found = [str(one.n)] if one.n else []
    found += [words.place(one.where)] if one.where is not None else []
    if found:
        parts[0] += f" ({', '.join(found)})"
    if one.reason is not None:
        parts.append(words.said(one.reason))
    sign = f"{words.DIFFERS} " if one.settled in {None, "not_found"} else ""
    return f"{sign}{'; '.join(parts)}"


def _both(one: DiscrepancyFacts) -> str:
    return f"{words.plain(one.by)} and {words.plain(one.agreed)}"


def _steps(one: DiscrepancyFacts) -> Table:
    return Table(
        title=f"Steps of difference {one.number}",
        columns=(
            Column("When (UTC)", 1.6),
            Column("Step", 2.4),
            Column("Where", 1.4),
            Column("What came of it", 4),
        ),
        rows=tuple(
            (
                words.both_times(step.when),
                words.STEPS.get(step.step, words.plain(step.step)),
                words.NONE if step.where is None else words.place(step.where),
                "; ".join(words.came_of(step)),
            )
            for step in one.steps
        ),
    )
