"""What was told between and inside counts: additions, incidents, and every difference by steps."""

from collections.abc import Iterator, Sequence

from voicecount.report import words
from voicecount.report.blocks import Block, Column, Facts, Heading, Table, Text
from voicecount.report.facts import (
    CaseFacts,
    CountFacts,
    DiscrepancyFacts,
    HappeningFacts,
    LineFacts,
)
from voicecount.report.pages_case import is_unresolved, names, unlike_the_sheet

_ELSEWHERE = frozenset({"people_changed", "count_waived"})
"""Told under headings of their own."""


def incidents(facts: CaseFacts) -> Iterator[Block]:
    """Give what was added and what happened, in order."""
    yield Heading("Additions and incidents")
    name = names(facts)
    added = [
        (one, line)
        for one in facts.counts
        for line in one.lines
        if line.stands and (one.kind == "addition" or line.entry == "addition")
    ]
    if added:
        yield _added(added, name)
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
                    words.two(one.by, one.agreed),
                )
                for one in told
            ),
        )
    if not added and not told:
        yield Text("Nothing was added, and no incident was told.")


def _added(added: Sequence[tuple[CountFacts, LineFacts]], name: dict[str, str]) -> Table:
    return Table(
        title="Called as added",
        columns=(
            Column("When (UTC)", 1.6),
            Column("Count", 0.8, number=True),
            Column("Line", 0.8, number=True),
            Column("Item", 3),
            Column("Added", 0.9, number=True),
            Column("Called by", 1.4),
            Column("Answered", 2.5),
        ),
        rows=tuple(
            (
                words.both_times(line.stored),
                str(count.number),
                str(line.line),
                name.get(line.item, line.item),
                str(line.counted),
                words.plain(line.by),
                _confirmed(line),
            )
            for count, line in added
        ),
        marked=tuple(row for row, (_, line) in enumerate(added) if not line.confirmed),
    )


def _confirmed(line: LineFacts) -> str:
    """Tell who confirmed it; what nobody confirmed is not added to anything."""
    if not line.confirmed or line.answered is None:
        return f"{words.DIFFERS} not confirmed"
    by = "" if line.answered_by is None else f" {words.plain(line.answered_by)}"
    return f"confirmed {words.clock(line.answered.at)}{by}"


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
        unlike = unlike_the_sheet(facts)
        yield Text(
            "No difference came up."
            if not unlike
            else f"No difference came up. Initial numbers unlike the sheet: {unlike}."
        )
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
    sign = f"{words.DIFFERS} " if is_unresolved(one) else ""
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
            Column("What came of it", 3.4),
            Column("Told by", 1.2),
        ),
        rows=tuple(
            (
                words.both_times(step.when),
                words.STEPS.get(step.step, words.plain(step.step)),
                words.NONE if step.where is None else words.place(step.where),
                "; ".join(words.came_of(step)),
                words.plain(step.by),
            )
            for step in one.steps
        ),
    )
