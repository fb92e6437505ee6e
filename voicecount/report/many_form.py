"""The JSON of many cases, field by field: its JSON Schema in docs is made from these classes.

A figure never stands alone: each share, rate and spread has with it what it was computed from.
"""

from pydantic import Field

from voicecount.report.facts import Fact

FORM = "voicecount.report.many/2"


class ShareForm(Fact):
    """How many of how many."""

    k: int
    """Those in it."""
    n: int
    """All of which they are."""
    share: float | None
    """k / n, from 0 to 1; None for fewer than five."""
    interval: tuple[float, float] | None
    """Its 95 % interval (Wilson's score interval); None for fewer than five."""


class RateForm(Fact):
    """How many over a base that they are no part of."""

    k: int
    base: float
    """In unit."""
    unit: str
    """What the base counts: hours, or utterances."""
    n: int
    """How many cases or counts it rests on."""
    of: str
    """Which of the two."""
    per: int
    """For how many of unit the rate is told."""
    rate: float | None
    """per * k / base; None where it rests on fewer than five, or where base is 0."""


class TimesForm(Fact):
    """Times in whole seconds."""

    n: int
    """How many."""
    total: int
    """All of them together."""
    low: int | None
    """The shortest; None where there is none."""
    first_quartile: float | None
    """None for fewer than five, as the median, the third quartile and the mean."""
    median: float | None
    third_quartile: float | None
    high: int | None
    mean: float | None
    unusable: int
    """Times below zero, of a clock that was set back; they are in no other number here."""


class LeftOutForm(Fact):
    """A journal that is in no figure."""

    journal: str
    why: str


class HeldForm(Fact):
    """All counts, or all of one kind."""

    held: int
    """Those that were opened. finished and waived are of these; the rest is not finished."""
    finished: int
    """Those that stand finished, with a result."""
    waived: int
    """Waived while they were open."""
    results: dict[str, int]
    """How the finished ones ended, by code."""
    seconds: TimesForm
    """From the opening to the last time that somebody said it is finished; finished ones only."""
    interrupted: ShareForm
    """With at least one interruption, of those held."""
    interruptions: int
    """In all that were held."""
    interruptions_per_hour: RateForm
    """In the finished ones whose time is known, per hour of it."""
    lines: int
    """Stored, whether they stand or not."""
    standing: int
    """Of lines: those that stood when their count ended."""
    confirmed: int
    """Of lines: those that stood and were confirmed by the other person."""
    refused: int
    """Calls that were not stored; they are no lines."""
    disputed: int
    """How often the other person said another number, or no."""
    recounted: int
    """Of lines: those stored as counted again."""
    with_difference: ShareForm
    """In which at least one difference came up, of those held."""
    unlike_sheet: int
    """Initial counts with a number that is not the sheet's; no difference is opened for it."""


class DifferencesForm(Fact):
    """All differences; each of the four lists adds up to n."""

    n: int
    cases: ShareForm
    """Cases with at least one."""
    what: dict[str, int]
    """By what differs."""
    group: dict[str, int]
    """By the group of the item."""
    ended: dict[str, int]
    """By how it ended."""
    found_in: dict[str, int]
    """By the kind of count in which it came up."""
    seconds: TimesForm
    """From its coming up to its end, of those that are closed."""


class PlannedForm(Fact):
    """What became of planned counts."""

    held: int
    waived: ShareForm
    """Of those held, waived, or neither."""
    not_held: int
    """Neither held nor waived."""


class PeopleForm(Fact):
    """How many cases had 0, 1, 2 … people who took over; each list adds up to all cases."""

    to_stay: dict[str, int]
    for_a_break: dict[str, int]


class InsideForm(Fact):
    """Items in the patient when the record ends."""

    left_on_purpose: dict[str, int]
    """Items by group."""
    cases_left_on_purpose: ShareForm
    tucked_not_out: int
    """Items tucked in that nobody said are out."""
    cases_tucked_not_out: ShareForm


class HeardManyForm(Fact):
    """How often something was asked to be said again."""

    cases: int
    """Cases whose record tells; the other numbers are of these alone."""
    utterances: int
    """All that was heard, talk in the room among it."""
    asked_again: dict[str, int]
    """Questions by reason (docs/reasons.md)."""
    rate: RateForm
    """All of them per hundred utterances."""


class ManyFigures(Fact):
    """The figures of many cases."""

    form: str = Field(default=FORM)
    title: str
    """Which collection."""
    given: tuple[tuple[str, str], ...]
    """What the user gave to tell the collection by: label and text."""
    made: str
    """When this was made, ISO 8601, UTC."""
    made_by: str
    """Name and version of the program that made this."""
    digits: str
    """Eight digits of the heads of all records in the figures together; the head of none."""
    cautions: tuple[str, ...]
    seen: int
    """Journals read: cases, damaged and copies together."""
    cases: int
    """Those in the figures."""
    damaged: tuple[LeftOutForm, ...]
    """Damaged, not readable, or no journal."""
    copies: tuple[LeftOutForm, ...]
    """With the same records as another one."""
    alike: tuple[tuple[str, str], ...]
    """Pairs of one sheet and one beginning with different records; both are in the figures."""
    began: tuple[str, str] | None
    """The first and the last day on which a case began, UTC; None where there is no case."""
    closed: ShareForm
    """Cases that both people ended."""
    roles_told_apart: ShareForm
    """Cases with a microphone for each person."""
    software: dict[str, int]
    """Cases by what recorded them."""
    sheet_lines: dict[str, int]
    """Lines on the sheets of all cases, by group."""
    counts: HeldForm
    """Counts of all kinds together."""
    kinds: dict[str, HeldForm]
    """Counts by kind."""
    case_seconds: TimesForm
    """Of each case with a finished count, the times of its finished counts together."""
    differences: DifferencesForm
    planned: PlannedForm
    people: PeopleForm
    inside: InsideForm
    heard: HeardManyForm
