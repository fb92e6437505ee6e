"""The case at a glance: what it came to, counted and never judged."""

from collections.abc import Iterable, Iterator, Sequence

from voicecount.report import words
from voicecount.report.blocks import Block, Column, Facts, Heading, Notice, Table
from voicecount.report.facts import (
    CaseFacts,
    CountFacts,
    DiscrepancyFacts,
    HappeningFacts,
    ItemFacts,
)
from voicecount.report.timeline_rows import CLOCKS_AGREE


def names(facts: CaseFacts) -> dict[str, str]:
    """Give the name of each item by its id."""
    return {item.id: item.name for item in facts.items}


def came_to(one: CountFacts, name: dict[str, str]) -> str:
    """Tell what a count came to, and how much of the sheet is in it."""
    text = words.result(one.result, finished=one.finished is not None)
    if one.kind == "initial" and one.differing:
        text = f"{words.DIFFERS} {text} Unlike the sheet: {listed_items(one.differing, name)}."
    if one.not_in_it:
        text += f" Not in it: {listed_items(one.not_in_it, name)}."
    return text


def listed_items(items: Iterable[str], name: dict[str, str]) -> str:
    """Name items."""
    return words.listed(name.get(item, item) for item in items)


def is_unresolved(one: DiscrepancyFacts) -> bool:
    """Tell whether a difference is open, or was closed without the item."""
    return one.settled in {None, "not_found"}


def groups(facts: CaseFacts, items: Sequence[str]) -> tuple[tuple[int, str], ...]:
    """Give where in a list of items a group of the sheet begins, where there is more than one."""
    of = {item.id: item.group for item in facts.items}
    names_ = [of.get(item, "") for item in items]
    starts = [n for n, name in enumerate(names_) if n == 0 or name != names_[n - 1]]
    return tuple((n, names_[n]) for n in starts) if len(set(of.values())) > 1 else ()


def at_a_glance(facts: CaseFacts) -> Iterator[Block]:
    """Give what the case came to: counts, differences, items in the patient, the ledger."""
    yield Heading("The case at a glance")
    yield from _notices(facts)
    yield Facts(tuple(_sums(facts)))
    if facts.counts:
        yield _counts(facts)
    if facts.discrepancies:
        yield _differences(facts)
    if facts.items:
        yield _ledger(facts)


def _notices(facts: CaseFacts) -> Iterator[Block]:
    still = [one for one in facts.discrepancies if one.settled is None]
    if still:
        yield Notice(
            title=f"{words.DIFFERS} {words.counted(len(still), 'difference')} open at the end",
            text="; ".join(_difference(facts, one) for one in still) + ".",
        )
    given_up = [one for one in facts.discrepancies if one.settled == "not_found"]
    for title, found in (
        ("Closed without the item", [one for one in given_up if one.off_now <= 0]),
        ("Closed with too many, not explained", [one for one in given_up if one.off_now > 0]),
    ):
        if found:
            yield Notice(
                title=f"{words.DIFFERS} {title}",
                text="; ".join(_difference(facts, one) for one in found) + ".",
            )
    not_done = facts.told("count_waived")
    if not_done:
        yield Notice(
            title=f"{words.DIFFERS} {words.counted(len(not_done), 'planned count')} waived",
            text="; ".join(map(_waived, not_done)) + ".",
        )
    if facts.due and facts.closed is not None:
        yield Notice(
            title=f"{words.DIFFERS} {words.counted(len(facts.due), 'planned count')} not held",
            text=f"{words.listed(facts.due)}. Nobody gave a reason.",
        )
    if facts.closed is None:
        yield Notice(
            title="The record was not ended",
            text="The two people did not end it together. More may have happened after its last "
            "record.",
        )


def _difference(facts: CaseFacts, one: DiscrepancyFacts) -> str:
    name = names(facts).get(one.item, one.item)
    return f"{name}, {words.short_or_over(one.off_now)}, {_in_count(facts, one.count)}"


def _waived(one: HappeningFacts) -> str:
    people = words.two(one.by, one.agreed)
    told = "" if people == words.NONE else f" (told by, agreed by: {people})"
    return f"{one.title or words.NONE}, {words.said(one.reason)}{told}"


def _in_count(facts: CaseFacts, number: int) -> str:
    title = next((count.title for count in facts.counts if count.number == number), None)
    return "outside of a count" if title is None else f"count {number}, {title}"


def _sums(facts: CaseFacts) -> Iterator[tuple[str, str]]:
    yield "Lasted", _lasted(facts)
    ended = "not ended by both" if facts.closed is None else words.zoned(facts.closed)
    yield "Ended by both", ended
    yield "Counts opened", str(len(facts.counts))
    not_done = facts.told("count_waived")
    yield (
        "Planned, waived",
        words.listed(one.title or words.NONE for one in not_done) if not_done else "none",
    )
    yield "Planned, not held", _not_held(facts)
    yield "Unlike the sheet", unlike_the_sheet(facts) or "none"
    found = facts.discrepancies
    still = sum(one.settled is None for one in found)
    open_ = f"{len(found)}, {still or 'none'} of them open"
    yield "Differences", open_ if found else "none came up"
    yield "Items in the patient", _inside(facts)
    if facts.heard is not None:
        asked = words.asked_again(facts.heard)
        yield "Asked again", f"{asked}, up to {words.HEARD_UP_TO}"


def what_is_signed(facts: CaseFacts) -> Iterator[tuple[str, str]]:
    """Say again, beside the signatures, what nobody should sign without having seen it."""
    still = [one for one in facts.discrepancies if is_unresolved(one)]
    yield (
        "Differences open, or closed without the item",
        "; ".join(f"{words.DIFFERS} {_difference(facts, one)}" for one in still) or "none",
    )
    not_done = [f"{one.title or words.NONE} (waived)" for one in facts.told("count_waived")]
    not_done += [f"{title} (not held)" for title in facts.due]
    told = f"{words.DIFFERS} {words.listed(not_done)}" if not_done else _not_held(facts)
    yield "Planned counts waived or not held", told
    yield "Items in the patient", _inside(facts)
    yield "Eight digits of the head", facts.chain.digits


def _lasted(facts: CaseFacts) -> str:
    """Tell how long it took, by the time of day too where that says something else."""
    lasted = facts.ended.at - facts.began.at
    told = f"{words.clock(lasted)} on the case's clock"
    passed = (words.wall(facts.ended.wall) - words.wall(facts.began.wall)).total_seconds()
    if abs(passed - lasted) < CLOCKS_AGREE:
        return told
    if passed < 0:
        return f"{told}; the machine's clock was set back meanwhile"
    return f"{told}, {words.clock(passed)} by the time of day"


def _not_held(facts: CaseFacts) -> str:
    if facts.due:
        return words.listed(facts.due)
    return "none" if facts.plan else "the record holds no plan"


def unlike_the_sheet(facts: CaseFacts) -> str:
    """Name lines whose initial number is not the sheet's; no later count is compared with that."""
    found = [item for item in facts.items if _is_unlike_the_sheet(item)]
    told = (f"{one.name} (initial {one.initial}, sheet {one.sheet})" for one in found)
    return f"{words.DIFFERS} {words.listed(told)}" if found else ""


def _is_unlike_the_sheet(item: ItemFacts) -> bool:
    return None not in (item.sheet, item.initial) and item.sheet != item.initial


def _inside(facts: CaseFacts) -> str:
    """Tell how many were left and tucked in; the two are never added up."""
    left = sum(one.n for one in facts.in_patient if one.on_purpose)
    tucked = sum(one.n for one in facts.in_patient if not one.on_purpose)
    told = [f"{left} left on purpose"] if left else []
    told += [f"{words.DIFFERS} {tucked} tucked in, never told to be out"] if tucked else []
    return words.listed(told) if told else "none was told"


def _counts(facts: CaseFacts) -> Table:
    name = names(facts)
    return Table(
        title="Counts",
        columns=(
            Column("No.", 0.5, number=True),
            Column("Count", 1.8),
            Column("Kind", 1.9),
            Column("Opened (UTC)", 2.0),
            Column("Finished (UTC)", 2.0),
            Column("What it came to", 4.1),
        ),
        rows=tuple(
            (
                str(one.number),
                one.title,
                words.KINDS.get(one.kind, words.plain(one.kind)),
                words.both_times(one.opened),
                words.both_times(one.finished),
                came_to(one, name),
            )
            for one in facts.counts
        ),
        marked=tuple(
            row
            for row, one in enumerate(facts.counts)
            if one.result in words.DIFFERING or one.differing
        ),
    )


def _differences(facts: CaseFacts) -> Table:
    name = names(facts)
    return Table(
        title="Differences",
        columns=(
            Column("No.", 0.6, number=True),
            Column("Item", 2.4),
            Column("In count", 2.3),
            Column("Counted", 1, number=True),
            Column("Expected", 1, number=True),
            Column("Off", 0.8, number=True),
            Column("Off last", 0.8, number=True),
            Column("How it ended", 3.6),
        ),
        rows=tuple(
            (
                f"{words.DIFFERS} {one.number}",
                name.get(one.item, one.item),
                _in_count(facts, one.count),
                str(one.counted),
                str(one.expected),
                words.signed(one.off),
                words.signed(one.off_now),
                words.settled(one.settled, one.off_now),
            )
            for one in facts.discrepancies
        ),
        marked=tuple(row for row, one in enumerate(facts.discrepancies) if is_unresolved(one)),
        note=(
            "Counted, expected and off are those when it came up; off last is how many were over "
            "or short when both closed it, or when the record ends: after recounts, and without "
            "what was found before."
        ),
    )


def _ledger(facts: CaseFacts) -> Table:
    return Table(
        title="Every line of the sheet when the record ends",
        columns=(
            Column("Item", 3),
            Column("Sheet", 1, number=True),
            Column("Initial", 1, number=True),
            Column("Added", 1, number=True),
            Column("Changed", 1.1, number=True),
            Column("Explained", 1.2, number=True),
            Column("Handed over", 1.1, number=True),
            Column("Expected", 1.2, number=True),
            Column("Passed off", 1, number=True),
            Column("In patient", 1, number=True),
        ),
        rows=tuple(_line(item) for item in facts.items),
        marked=tuple(row for row, item in enumerate(facts.items) if _is_unlike_the_sheet(item)),
        groups=groups(facts, [item.id for item in facts.items]),
        note=(
            "Expected = initial + added + changed + explained \N{MINUS SIGN} handed over, for each "
            "line by itself. Initial = what both people gave in the initial count, with what was "
            "in the patient then. In patient = left on purpose and tucked in when the record ends."
        ),
    )


def _line(item: ItemFacts) -> tuple[str, ...]:
    pieces = "" if item.pieces == 1 else f", {item.pieces} pieces each"
    return (
        f"{item.name}{pieces}",
        words.number(item.sheet),
        f"{words.DIFFERS} {item.initial}"
        if _is_unlike_the_sheet(item)
        else words.number(item.initial),
        words.signed(item.added),
        words.signed(item.changed),
        words.signed(item.explained),
        words.signed(-item.handed_over),
        words.number(item.expected),
        str(item.passed_off),
        str(item.inside + item.tucked),
    )
