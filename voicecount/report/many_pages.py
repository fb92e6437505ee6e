"""What many records say, from their sums to blocks, for the people who look after quality.

No sentence here says that a figure is good or bad, and none is about a person.
"""

from collections.abc import Iterator, Sequence

from voicecount.cautions import CALLED_CORRECT, MISHEARS, NEVER_SAFE, NOT_REPLACED
from voicecount.report import context, many_tables, plots, words
from voicecount.report.blocks import (
    Block,
    Facts,
    Heading,
    Notice,
    Picture,
    Points,
    Table,
    Text,
    Title,
)
from voicecount.report.context import LEFT_BEHIND, beside
from voicecount.report.context_sums import Published, Topic
from voicecount.report.many import Summary
from voicecount.report.many_figures import FEWEST, Share

KIND = "Figures of many records of surgical counts"
EVERY_PAGE = "Sums of what was said aloud. None judges a person or says that a case was safe."

_WHAT = (
    "These are sums of what people said aloud while they counted, as a program heard it and read "
    "it back. They tell nothing of what is in a patient. "
    f"{NEVER_SAFE}. They do not replace {NOT_REPLACED}."
)
_NOBODY = (
    "They are not for judging people, teams or rooms. Nobody's name is in them, and cases differ: "
    "long, urgent or changing ones have more of everything that is counted here."
)
_ALOUD = (
    "More differences, disputes or interruptions may mean that more of them are said aloud. Fewer "
    "may mean that they are kept quiet."
)
_SMALL = (
    f"Small numbers say little. Below {FEWEST} only what was counted is shown. An interval shows "
    "what chance alone would allow if all were independent; those of one case or one team are "
    "alike, so the true uncertainty is wider."
)
_MISSING = (
    "A journal that is missing is not seen here. Compare the number of cases with your list of "
    "operations. Journals that are damaged or not readable are left out, and they need not be like "
    "the others."
)
_MISHEARD = f"{MISHEARS}. What was refused or asked again is partly its doing."
CAUTIONS = (_WHAT, _NOBODY, _ALOUD, _SMALL, _MISSING, _MISHEARD)

_RETURNING = (
    f"{CALLED_CORRECT} So no figure above tells how often something was left: no record of a count "
    "can."
)
_METHOD = (
    "Each share is told with what was counted and of how many; its 95 % interval is Wilson's "
    "score interval without continuity correction (J Am Stat Assoc 1927;22:209-12). Times are "
    "rounded to whole seconds; quartiles are laid linearly between the two nearest (Hyndman and "
    "Fan's type 7). A count's time runs from its opening to the last time that somebody said it "
    "is finished, pauses in it among it; only counts that stand finished have one. Nothing is "
    "adjusted, tested, smoothed or compared."
)


Given = Sequence[tuple[str, str]]
"""What users gave to tell a collection by: labels and texts."""


def pages(
    summary: Summary, *, title: str, made: str, made_by: str, given: Given = ()
) -> tuple[Block, ...]:
    """Give the whole document. ``title`` names the collection, ``made`` is ISO 8601, UTC."""
    return tuple(_pages(summary, title, made, made_by, given))


def _pages(summary: Summary, title: str, made: str, made_by: str, given: Given) -> Iterator[Block]:
    label = f"Digits of {words.counted(summary.cases, 'record')} together"
    yield Title(title, KIND, summary.digits, EVERY_PAGE, made, label)
    yield Heading("Read this first")
    yield Points(CAUTIONS)
    yield from _rests_on(summary, made, made_by, given)
    if summary.cases:
        yield from _counts(summary)
        yield from _time(summary)
        yield from _interruptions(summary)
        yield from _lines(summary)
        yield from _differences(summary)
        yield from _asked_again(summary)
        yield from _plan_and_people(summary)
        yield from _in_the_patient(summary)
    yield Heading("What no record can show")
    yield Text(_RETURNING)
    yield _context("Counts and what was left behind, as published", *beside(Topic.AGREEING))
    yield _context("Items left behind, as published", *LEFT_BEHIND)
    yield Heading("How the figures are made")
    yield Text(_METHOD)
    yield Heading("Sources of the published figures")
    yield Text(context.CAUTION)
    yield Points(tuple(str(source) for source in context.sources()))


def _context(title: str, *found: Published) -> Table:
    return many_tables.published(title, found)


def _rests_on(summary: Summary, made: str, made_by: str, given: Given) -> Iterator[Block]:
    yield Heading("What the figures rest on")
    if not summary.cases:
        yield Notice(
            title="No case is in these figures",
            text="Not one whole journal was given, so there is nothing to add up.",
        )
    elif summary.cases < FEWEST:
        yield Notice(
            title=f"Only {words.counted(summary.cases, 'case')}",
            text="So few cases are told as what was counted. Read the records themselves.",
        )
    yield Facts((*given, *_base(summary, made, made_by)))
    if summary.damaged:
        yield many_tables.left_out("≠ Damaged or not readable, and in no figure", summary.damaged)
    if summary.copies:
        yield many_tables.left_out("Copies, counted once", summary.copies)
    if summary.alike:
        yield Notice(
            title="≠ Perhaps the same case twice",
            text="Of the same sheet and the same beginning, but with different records, both in "
            "the figures. One may be an older copy; take it out of the folder if so: "
            + "; ".join(f"{first} and {second}" for first, second in summary.alike)
            + ".",
        )


def _base(summary: Summary, made: str, made_by: str) -> Iterator[tuple[str, str]]:
    yield "Journals read", f"{summary.seen:,}"
    yield "Cases in the figures", f"{summary.cases:,}"
    yield "Damaged or not readable, left out", f"{len(summary.damaged):,}"
    yield "Copies, left out", f"{len(summary.copies):,}"
    if summary.days is not None:
        first, last = summary.days
        yield "Cases began", first if first == last else f"from {first} to {last} (UTC)"
        yield "Ended by both people", str(summary.of_cases(summary.closed))
        yield "One microphone for each person", str(summary.of_cases(summary.roles_told_apart))
    if summary.software:
        versions = sorted(summary.software.items())
        yield (
            "Recorded by",
            "; ".join(f"{name}: {summary.of_cases(n)}" for name, n in versions),
        )
    yield "Made", f"{words.date_and_time(made)}, by {made_by}"
    yield "Digits", f"{summary.digits}, made of the heads of all these records; the head of none"


def _counts(summary: Summary) -> Iterator[Block]:
    yield Heading("Counts")
    if not summary.kinds:
        yield Text("No count was opened in these cases.")
        return
    yield many_tables.counts_held(summary)
    yield many_tables.results(summary)


def _time(summary: Summary) -> Iterator[Block]:
    yield Heading("Time for counting")
    drawn = plots.times(summary)
    yield Picture(
        svg=drawn.svg,
        alternative=drawn.alternative,
        caption="Each finished count is a ring. Where there are enough, the box holds the middle "
        "half, the thick line is the median, and the thin one reaches over all. "
        f"Beyond {plots.MOST_POINTS} counts of a kind the rings are left out.",
    )
    if summary.kinds:
        yield many_tables.times_by_kind(summary)
    yield _context("Time for counting, as published", *beside(Topic.TIME))


def _interruptions(summary: Summary) -> Iterator[Block]:
    yield Heading("Interruptions")
    yield Text(
        "An interruption is a stand-by inside a count, or a call that was cut off. What nobody "
        "told the program, and what did not stop a call, is not in it."
    )
    drawn = plots.interruptions(summary)
    yield Picture(
        svg=drawn.svg,
        alternative=drawn.alternative,
        caption="Share of the counts of each kind that were interrupted at least once, with its "
        "95 % interval.",
    )
    if summary.kinds:
        yield many_tables.interrupted(summary)
        yield many_tables.interruptions_per_hour(summary)
    yield _context("Interruptions, as published", *beside(Topic.INTERRUPTIONS))


def _lines(summary: Summary) -> Iterator[Block]:
    whole = summary.all_counts
    if not summary.kinds:
        return
    yield Heading("Lines")
    yield Facts(
        (
            ("Lines stored", f"{whole.lines:,}"),
            ("Stood when their count ended", f"{whole.stood:,} of {whole.lines:,}"),
            ("Confirmed by the other person", f"{whole.confirmed:,} of {whole.lines:,}"),
        )
    )
    yield from many_tables.lines(summary)
    yield _context("Reading back, as published", *beside(Topic.READ_BACK))


def _differences(summary: Summary) -> Iterator[Block]:
    yield Heading("Differences")
    whole = summary.all_counts
    yield many_tables.shares(
        "How often a difference came up",
        "In",
        "In all",
        (
            ("cases", summary.of_cases(summary.cases_with_difference)),
            ("counts", Share(whole.with_difference, whole.held)),
        ),
        note=f"{words.counted(summary.differences, 'difference')} altogether; a case and a count "
        "can have several.",
    )
    yield _context("How often, as published", *beside(Topic.HOW_OFTEN))
    drawn = plots.differences(summary)
    yield Picture(
        svg=drawn.svg,
        alternative=drawn.alternative,
        caption="Differences by group of items; the hatch tells what differed.",
    )
    yield many_tables.what_differed(summary)
    yield many_tables.by_group(summary)
    yield _context("What differed, as published", *beside(Topic.WHAT_DIFFERS))
    yield many_tables.where_found(summary)
    yield many_tables.how_they_ended(summary)
    yield _context("What was behind differences, as published", *beside(Topic.BEHIND))
    yield many_tables.times(
        "From a difference's coming up to its end",
        "Differences",
        (("closed by both", summary.resolving),),
    )


def _asked_again(summary: Summary) -> Iterator[Block]:
    yield Heading("Asked to say again")
    if not summary.telling:
        yield Text("No record here tells how often something was heard and asked again.")
        return
    yield many_tables.rates(
        "Questions to say something again",
        "In cases that tell",
        "Utterances",
        (("all reasons", summary.asked_again),),
    )
    yield Text(f"Each case is told up to {words.HEARD_UP_TO}.")
    names = {code: words.why_asked(code) for code in sorted(summary.asked)}
    yield many_tables.counted_parts("Why it was asked", "Reason", "Questions", summary.asked, names)


def _plan_and_people(summary: Summary) -> Iterator[Block]:
    yield Heading("Planned counts and people")
    planned = summary.waived_share.n
    yield many_tables.shares(
        "Planned counts that were not held",
        "What became of them",
        "Planned counts",
        (
            ("waived, with a reason", summary.waived_share),
            ("neither held nor waived", Share(summary.not_held, planned)),
        ),
    )
    yield many_tables.per_case(
        "People who took over and stayed", "In one case", summary.takeovers, summary.cases
    )
    yield many_tables.per_case(
        "People relieved for a break", "In one case", summary.breaks, summary.cases
    )


def _in_the_patient(summary: Summary) -> Iterator[Block]:
    yield Heading("Items in the patient")
    yield many_tables.shares(
        "Cases with items in the patient at the record's end",
        "Which",
        "Cases",
        (
            ("left on purpose", summary.of_cases(summary.cases_with_left)),
            ("tucked in, and never told to be out", summary.of_cases(summary.cases_never_out)),
        ),
        note=f"{words.counted(summary.left.total(), 'item')} left on purpose, "
        f"{words.counted(summary.never_out, 'item')} tucked in and never told to be out.",
    )
