"""The tables of many records: every row has its numerator, its denominator and its n."""

from collections import Counter
from collections.abc import Mapping, Sequence

from voicecount.report import words
from voicecount.report.blocks import Column, Table
from voicecount.report.context_sums import CHECKED, Published
from voicecount.report.many import (
    DIFFERENCES,
    ENDS,
    GROUPS,
    KINDS,
    OPEN,
    OUTSIDE,
    TOO_MANY,
    Held,
    LeftOut,
    Summary,
    in_order,
)
from voicecount.report.many_figures import FEWEST, Rate, Share, Times, duration
from voicecount.report.plots import kind_name, shown_kinds
from voicecount.sheet.plan import CountKind

ALL_KINDS = "all kinds together"

_FEW = f"With fewer than {FEWEST} there is only what was counted."


def share_row(name: str, share: Share) -> tuple[str, ...]:
    """Give name, how many, of how many, percent, interval."""
    if share.value is None or share.interval is None:
        return (name, f"{share.k:,}", f"{share.n:,}", words.NONE, words.NONE)
    low, high = (100 * limit for limit in share.interval)
    percent = f"{100 * share.value:.1f} %"
    return (name, f"{share.k:,}", f"{share.n:,}", percent, f"{low:.1f} to {high:.1f} %")


def shares(
    title: str, what: str, of: str, rows: Sequence[tuple[str, Share]], note: str = ""
) -> Table:
    """Give a table of shares, each with its 95 % interval."""
    return Table(
        title=title,
        columns=(
            Column(what, 3.4),
            Column("How many", 1, number=True),
            Column(of, 1.3, number=True),
            Column("Share", 1, number=True),
            Column("95 % interval", 1.7, number=True),
        ),
        rows=tuple(share_row(*row) for row in rows),
        note=" ".join(part for part in (note, _FEW if _few(rows) else "") if part),
    )


def counted_parts(
    title: str, what: str, of: str, found: Counter[str], names: Mapping[str, str]
) -> Table:
    """Give a table of the parts of one whole, in the order of ``names``."""
    n = found.total()
    order = in_order(found, names)
    rows = [(names.get(part, words.plain(part)), Share(found[part], n)) for part in order]
    return shares(title, what, of, rows)


def left_out(title: str, rows: Sequence[LeftOut]) -> Table:
    """Name the journals that are in no figure."""
    return Table(
        title=title,
        columns=(Column("Journal", 2), Column("Why it is left out", 4)),
        rows=tuple((one.journal, one.why) for one in rows),
    )


def counts_held(summary: Summary) -> Table:
    """Give counts by kind: how many were held, finished, waived, left unfinished."""
    kinds = [*shown_kinds(summary)]
    rows = [(kind_name(kind), held) for kind, held in kinds]
    rows.append((ALL_KINDS, summary.all_counts))
    return Table(
        title="Counts by kind",
        columns=(
            Column("Kind of count", 3),
            Column("Held", 1, number=True),
            Column("Finished", 1, number=True),
            Column("Waived while open", 1.3, number=True),
            Column("Not finished", 1.2, number=True),
            Column("A difference came up", 1.4, number=True),
        ),
        rows=tuple(
            (
                name,
                f"{held.held:,}",
                f"{held.finished:,}",
                f"{held.waived:,}",
                f"{held.held - held.finished - held.waived:,}",
                f"{held.with_difference:,} of {held.held:,}",
            )
            for name, held in rows
        ),
        note="Not finished: nobody said that it is finished, a line was changed afterwards, or the "
        "record is of the first version, which keeps no result. Counts that were waived before "
        f"they were opened are told further below. {_unlike_the_sheet(summary)}",
    )


def _unlike_the_sheet(summary: Summary) -> str:
    """Tell of how many initial counts a number was not the sheet's."""
    initial = summary.kinds.get(CountKind.INITIAL, Held())
    return (
        "An initial count is compared with the sheet, and no difference is opened for it: "
        f"{initial.unlike_sheet:,} of {initial.held:,} had a number unlike the sheet."
    )


def results(summary: Summary) -> Table:
    """Give what finished counts came to."""
    whole = summary.all_counts
    order = in_order(whole.results, words.RESULTS)
    rows = [
        (_result(code), Share(whole.results[code], whole.finished))
        for code in order
        if whole.results[code]
    ]
    note = "What agrees is numbers that were said. It tells nothing of the wound."
    return shares("What finished counts came to", "Result", "Finished counts", rows, note)


def times(title: str, what: str, rows: Sequence[tuple[str, Times]]) -> Table:
    """Give mean, median, quartiles and range of times; of a few all of them."""
    unusable = sum(one.unusable for _, one in rows)
    note = f"{words.counted(unusable, 'time')} below zero left out: a clock was set back."
    return Table(
        title=title,
        columns=(
            Column(what, 2.4),
            Column("n", 0.7, number=True),
            Column("Mean", 1.4, number=True),
            Column("Median", 1.4, number=True),
            Column("Middle half", 2.4, number=True),
            Column("Range", 2.4, number=True),
        ),
        rows=tuple((name, *_spread(one)) for name, one in rows),
        note=note if unusable else "",
    )


def _spread(one: Times) -> tuple[str, ...]:
    spread = one.spread()
    if spread is None:
        return ("0", *(words.NONE,) * 4)
    if not spread.told or one.mean is None:
        return (str(spread.n), *(words.NONE,) * 3, "only " + ", ".join(map(duration, one)))
    return (
        f"{spread.n:,}",
        duration(one.mean),
        duration(spread.median),
        f"{duration(spread.first)} to {duration(spread.third)}",
        f"{duration(spread.low)} to {duration(spread.high)}",
    )


def times_by_kind(summary: Summary) -> Table:
    """Give the time per finished count, by kind."""
    rows = [(kind_name(kind), held.times) for kind, held in shown_kinds(summary)]
    whole = ("a whole case, its finished counts together", summary.case_times)
    return times("Time per finished count", "Kind of count", [*rows, whole])


def interrupted(summary: Summary) -> Table:
    """Give the share of counts that were interrupted, by kind."""
    rows = [
        (kind_name(kind), Share(held.interrupted, held.held)) for kind, held in shown_kinds(summary)
    ]
    whole = summary.all_counts
    rows.append((ALL_KINDS, Share(whole.interrupted, whole.held)))
    return shares("Counts with at least one interruption", "Kind of count", "Counts held", rows)


def rates(
    title: str, what: str, base: str, rows: Sequence[tuple[str, Rate]], note: str = ""
) -> Table:
    """Give a table of rates; all have one unit."""
    first = rows[0][1]
    unit = first.unit.removesuffix("s")
    few = any(rate.value is None for _, rate in rows)
    each = f"Per {first.per} {first.unit}" if first.per > 1 else f"Per {unit}"
    return Table(
        title=title,
        columns=(
            Column(what, 3.4),
            Column("How many", 1, number=True),
            Column(base, 1.4, number=True),
            Column(each, 1.2, number=True),
            Column(f"n ({first.of})", 1, number=True),
        ),
        rows=tuple((name, *_rate(rate)) for name, rate in rows),
        note=" ".join(part for part in (note, _FEW if few else "") if part),
    )


def _rate(rate: Rate) -> tuple[str, ...]:
    told = words.NONE if rate.value is None else f"{rate.value:.2f}"
    return (f"{rate.k:,}", rate.base_text, told, f"{rate.n:,}")


def interruptions_per_hour(summary: Summary) -> Table:
    """Give interruptions per hour of counting, by kind, over the counts whose time is known."""
    rows = [(kind_name(kind), held.per_hour) for kind, held in shown_kinds(summary)]
    whole = summary.all_counts
    rows.append((ALL_KINDS, whole.per_hour))
    note = (
        f"Only counts that stand finished have a time: {whole.times.n:,} of {whole.held:,}. "
        f"In these were {whole.timed_interruptions:,} of {whole.interruptions:,} interruptions."
    )
    title = "Interruptions in finished counts"
    return rates(title, "Kind of count", "Hours of counting", rows, note)


def lines(summary: Summary) -> Sequence[Table]:
    """Give what became of calls and lines, per hundred stored lines, by kind of count."""
    kinds = [(kind_name(kind), held) for kind, held in shown_kinds(summary)]
    kinds.append((ALL_KINDS, summary.all_counts))
    parts = (
        ("Calls that were refused", "refused"),
        ("Lines that were disputed", "disputed"),
        ("Lines that were counted again", "recounted"),
    )
    return [
        rates(
            title,
            "Kind of count",
            "Lines stored",
            [(name, held.per_hundred(getattr(held, part))) for name, held in kinds],
        )
        for title, part in parts
    ]


def what_differed(summary: Summary) -> Table:
    """Give differences by what differed."""
    names = {kind: words.DIFFERENCES[kind] for kind in DIFFERENCES}
    found = summary.differences_by(0)
    return counted_parts("By what differed", "What differed", "Differences", found, names)


def by_group(summary: Summary) -> Table:
    """Give differences by the item's group, beside how many lines of it the sheets have."""
    found = summary.differences_by(1)
    order = in_order(found.keys() | summary.sheet_lines.keys(), GROUPS)
    return rates(
        "By group of items",
        "Group",
        "Lines on the sheets of these cases",
        [
            (
                words.plain(group),
                Rate(
                    found[group], summary.sheet_lines[group], "lines", summary.cases, "cases", 100
                ),
            )
            for group in order
        ],
    )


def how_they_ended(summary: Summary) -> Table:
    """Give differences by how they ended."""
    names = {end: words.SETTLED.get(end, words.plain(end)) for end in ENDS}
    names |= {TOO_MANY: words.TOO_MANY, OPEN: words.OPEN}
    return counted_parts("By how they ended", "End", "Differences", summary.ended, names)


def where_found(summary: Summary) -> Table:
    """Give differences by the kind of count in which they came up."""
    names = {kind: kind_name(kind) for kind in KINDS} | {OUTSIDE: OUTSIDE}
    title = "By the count in which they came up"
    return counted_parts(title, "Kind of count", "Differences", summary.found_in, names)


def per_case(title: str, what: str, found: Counter[int], cases: int) -> Table:
    """Give how many cases had 0, 1, 2 … of something."""
    rows = [(str(times), Share(found[times], cases)) for times in sorted(found)]
    return shares(title, what, "Cases", rows)


def published(title: str, found: Sequence[Published]) -> Table:
    """Give published figures, with source, what they were computed from, how far checked."""
    return Table(
        title=title,
        columns=(
            Column("What was counted there", 3.2),
            Column("Figure", 2.6),
            Column("As printed", 1.5),
            Column("Source", 1.7),
            Column("Checked", 3.2),
        ),
        rows=tuple(
            (
                one.says,
                one.figure,
                one.printed or words.NONE,
                one.source.short,
                "; ".join(part for part in (CHECKED[one.checked], one.note) if part),
            )
            for one in found
        ),
        note="Context from other places, by other methods: no target and no comparison.",
    )


def _few(rows: Sequence[tuple[str, Share]]) -> bool:
    return any(not share.told for _, share in rows)


def _result(code: str) -> str:
    text = words.RESULTS.get(code, words.plain(code))
    return f"{words.DIFFERS} {text}" if code in words.DIFFERING else text
