"""Every count: what it came to, each line by place, each sum, and what it is marked with."""

from collections.abc import Iterator

from voicecount.report import words
from voicecount.report.blocks import Block, Column, Facts, Heading, Table, Text
from voicecount.report.facts import CaseFacts, CountFacts, LineFacts, Moment, SumFacts
from voicecount.report.pages_case import came_to, groups, names
from voicecount.report.pages_people import held_by

_WIDE = 5
"""Places from which on they share one column: more columns would not fit on paper."""

_TOLD_BY_STATE = frozenset({"not_confirmed", "recount_due"})
"""Marks that have a column of their own."""


def counts(facts: CaseFacts) -> Iterator[Block]:
    """Give every count that was opened, in order."""
    yield Heading("Counts")
    if not facts.counts:
        yield Text("No count was opened.")
        return
    yield Text(
        "Sums stand line by line: numbers of one line over its places, never of several lines. A "
        "line is confirmed when the other person has said its number. Times of lines run from the "
        "beginning of the case; the list of all records has their times of day."
    )
    name = names(facts)
    for one in facts.counts:
        yield Heading(f"Count {one.number}: {one.title}", level=2)
        yield Facts((*_about(one, name), *held_by(facts, one)))
        yield from _numbers(one, name, groups(facts, [line.item for line in one.sums]))


def _numbers(
    one: CountFacts, name: dict[str, str], begin: tuple[tuple[int, str], ...]
) -> Iterator[Block]:
    if one.sums:
        yield _sums(one, name, begin)
    if not one.lines:
        yield Text("Nothing was stored in it.")
        return
    yield _lines(one, name)


def _about(one: CountFacts, name: dict[str, str]) -> Iterator[tuple[str, str]]:
    yield "What it came to", came_to(one, name)
    yield "Kind", words.KINDS.get(one.kind, words.plain(one.kind))
    end = "not finished" if one.finished is None else f"to {words.zoned(one.finished)}"
    yield "Held", f"{words.zoned(one.opened)} {end}"
    if one.places:
        yield "Places", words.listed(map(words.place, one.places))
    for label, ids in (
        ("Not counted", one.left),
        ("Not confirmed", one.unconfirmed),
        (f"{words.DIFFERS} Differed at the end", one.differing),
    ):
        if ids:
            yield label, words.listed(name.get(item, item) for item in ids)
    told = (
        (one.refused, "call not stored", "calls not stored"),
        (one.disputed, "dispute", "disputes"),
        (one.recounted, "line counted again", "lines counted again"),
        (one.interruptions, "interruption", "interruptions"),
    )
    asides = words.listed(words.counted(n, *nouns) for n, *nouns in told if n)
    if asides != words.NONE:
        yield "On the way", asides


def _sums(one: CountFacts, name: dict[str, str], begin: tuple[tuple[int, str], ...]) -> Table:
    each = 0 < len(one.places) < _WIDE
    first = [Column("Item", 2.6)]
    if each:
        first += [Column(words.place(place).capitalize(), 1, number=True) for place in one.places]
    elif one.places:
        first += [Column("At each place", 3.4)]
    in_patient = any(line.inside or line.tucked for line in one.sums)
    patient = [Column("In patient", 1, number=True)] if in_patient else []
    return Table(
        title=f"Sums of count {one.number}",
        columns=(
            *first,
            Column("Counted", 1.1, number=True),
            *patient,
            Column("Expected", 1.15, number=True),
            Column("Off", 0.8, number=True),
            Column("By both", 1.5),
            Column("Marked", 2.2),
        ),
        rows=tuple(
            (
                name.get(line.item, line.item),
                *_places(line, one.places, each=each),
                words.number(line.counted),
                *((_patient(line),) if in_patient else ()),
                words.number(line.expected),
                words.off(line.off),
                "confirmed" if line.confirmed else "not confirmed",
                words.listed(
                    words.plain(flag) for flag in line.flags if flag not in _TOLD_BY_STATE
                ),
            )
            for line in one.sums
        ),
        marked=tuple(row for row, line in enumerate(one.sums) if line.off),
        groups=begin,
        note=_explained(one),
    )


def _places(line: SumFacts, places: tuple[str, ...], *, each: bool) -> tuple[str, ...]:
    found = dict(line.places)
    if each:
        return tuple(words.number(found.get(place)) for place in places)
    if not places:
        return ()
    return (
        words.listed(f"{words.place(place)} {words.number(found.get(place))}" for place in places),
    )


def _patient(line: SumFacts) -> str:
    return str(line.inside + line.tucked)


def _explained(one: CountFacts) -> str:
    """Say once what each mark of this count means."""
    flags = dict.fromkeys(
        flag for line in one.sums for flag in line.flags if flag not in _TOLD_BY_STATE
    )
    meanings = [f"{words.plain(flag).capitalize()}: {words.flag(flag)}." for flag in flags]
    return " ".join(meanings)


def _lines(one: CountFacts, name: dict[str, str]) -> Table:
    placed = any(line.place for line in one.lines)
    return Table(
        title=f"Lines of count {one.number}",
        columns=(
            Column("Line", 0.7, number=True),
            Column("Item", 1.9),
            *((Column("Place", 1.6),) if placed else ()),
            Column("Heard", 1.25),
            Column("Counts", 0.9, number=True),
            Column("How", 2.0),
            Column("Called", 1.75),
            Column("Answered", 2.3),
            Column("At the end", 2.5),
        ),
        rows=tuple(
            (
                str(line.line),
                name.get(line.item, line.item),
                *((words.place(line.place),) if placed else ()),
                _heard(line),
                str(line.counted),
                _how(line),
                _said(line.stored, line.by),
                _answered(line),
                _state(line),
            )
            for line in one.lines
        ),
    )


def _heard(line: LineFacts) -> str:
    pieces = f", {line.pieces} pieces" if line.pieces is not None and line.pieces > 1 else ""
    return f"{words.run(line.numbers)}{pieces}"


def _how(line: LineFacts) -> str:
    how = words.FORMS.get(line.form, words.plain(line.form))
    if line.entry == "first":
        return how
    return f"{how}; {words.ENTRIES.get(line.entry, words.plain(line.entry))}"


def _said(when: Moment | None, role: str | None) -> str:
    """Tell when, on the case's clock, and by whom."""
    if when is None:
        return words.NONE
    return words.clock(when.at) if role is None else f"{words.clock(when.at)} {words.plain(role)}"


def _answered(line: LineFacts) -> str:
    """Tell what the other person said to it: its number, or another one."""
    dropped = line.dropped
    if dropped is None or dropped.how != "disputed":
        return _said(line.answered, line.answered_by)
    number = "no" if dropped.number is None else str(dropped.number)
    return f"{_said(dropped.when, dropped.by)}: {words.DIFFERS} {number}"


def _state(line: LineFacts) -> str:
    """Tell how a line stood when its count ended, and why where it does not stand."""
    how = "" if line.dropped is None else words.DROPPED[line.dropped.how]
    if line.stands:
        return "confirmed" if line.confirmed else how or "not confirmed"
    return f"stands no longer: {how}" if how else "stands no longer"
