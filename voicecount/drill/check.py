"""What a well-formed drill can still get wrong: what has to fit its sheet and its task. Pure."""

import difflib
from collections.abc import Iterator, Sequence

from voicecount.drill.model import FITS, Criterion, Drill, EventKind, Planted, Task, There
from voicecount.drill.steps import pack_of, packages
from voicecount.drill.vocabulary import vocabulary
from voicecount.sheet.check import Problem
from voicecount.sheet.model import Sheet
from voicecount.words.commands import BY_ID
from voicecount.words.places import BY_ID as PLACES


def near(given: str, known: Sequence[str]) -> str:
    """Tell which name may have been meant, or which there are."""
    found = difflib.get_close_matches(given, known, n=1)
    return f"did you mean {found[0]!r}?" if found else f"use one of {', '.join(known)}"


def check_drill(drill: Drill, sheet: Sheet) -> tuple[Problem, ...]:
    """Give every problem of a drill with its sheet; none for a drill that can be used."""
    known = tuple(_names(drill, sheet))
    if known:
        return known
    return (
        *_table(drill, sheet),
        *_whole(drill),
        *(
            problem
            for at, event in enumerate(drill.events)
            for problem in _event(at, event, drill, sheet)
        ),
        *_once(drill),
    )


def _names(drill: Drill, sheet: Sheet) -> Iterator[Problem]:
    """Give items and places that do not exist."""
    items = [item.id for item in sheet.items]
    lines: tuple[tuple[str, tuple[There | Planted, ...]], ...] = (
        ("table", drill.table),
        ("events", drill.events),
    )
    for field, entries in lines:
        for at, entry in enumerate(entries):
            if entry.item not in items:
                what = f"{entry.item!r} is no item of the sheet; {near(entry.item, items)}"
                yield Problem((field, at, "item"), what)
            if entry.place is not None and entry.place not in PLACES:
                what = f"{entry.place!r} is no place; {near(entry.place, list(PLACES))}"
                yield Problem((field, at, "place"), what)


def _table(drill: Drill, sheet: Sheet) -> Iterator[Problem]:
    """Give lines that do not fit the task, the sheet's places or order, or their packages."""
    order = {item.id: at for at, item in enumerate(sheet.items)}
    places = {place: at for at, place in enumerate(sheet.policy.places)}
    by_place = drill.task is Task.CLOSING_COUNT
    mixed = len({there.place is None for there in drill.table}) > 1
    before: tuple[int, int] | None = None
    for at, there in enumerate(drill.table):
        if by_place and there.place is None:
            what = f"a closing count goes by places; add one of {', '.join(places)}"
            yield Problem(("table", at, "place"), what)
        elif drill.task in {Task.FIRST_COUNT, Task.ADDITION} and there.place is not None:
            what = f"a drill of task {drill.task.value!r} has no places; take it out"
            yield Problem(("table", at, "place"), what)
        elif drill.task is Task.CONFIRM and mixed and there.place is None:
            yield Problem(("table", at, "place"), "other lines have a place; give it one too")
        if there.place is not None and there.place not in places:
            what = f"{there.place!r} is no place of this sheet's counts; use {', '.join(places)}"
            yield Problem(("table", at, "place"), what)
            continue
        here = (order[there.item], places.get(there.place or "", -1))
        if before is not None and here <= before:
            yield Problem(("table", at, "item"), _out_of_order(here, before, sheet))
        before = here
        yield from _number(at, there, drill, sheet)


def _out_of_order(here: tuple[int, int], before: tuple[int, int], sheet: Sheet) -> str:
    if here == before:
        return "this line stands twice; keep one"
    if here[0] == before[0]:
        return f"places go in the sheet's order; use {', '.join(sheet.policy.places)}"
    return (
        f"the sheet counts it before {sheet.items[before[0]].id!r}; put the table in the order"
        " of the sheet"
    )


def _number(at: int, there: There, drill: Drill, sheet: Sheet) -> Iterator[Problem]:
    """Give numbers that cannot lie there."""
    place = ("table", at, "number")
    if there.number == 0 and there.place is None:
        yield Problem(place, "is 0; a line that is not there is left out, take it out")
        return
    pack = pack_of(drill, there, sheet)
    wrong = any(
        event.kind is EventKind.WRONG_PACKAGE and event.item == there.item for event in drill.events
    )
    if pack is not None and not wrong and there.number % pack:
        what = (
            f"is {there.number}, and a package holds {pack}; give a multiple of {pack}, or plant a"
            " 'wrong_package'"
        )
        yield Problem(place, what)


def _whole(drill: Drill) -> Iterator[Problem]:
    """Give fields that do not fit each other."""
    if drill.task is Task.CONFIRM and not drill.partner:
        yield Problem(("partner",), "the partner calls in a 'confirm' drill; use true")
    if drill.pace.least >= drill.pace.most:
        what = f"is {drill.pace.least:g}, not below 'most' ({drill.pace.most:g}); use a smaller one"
        yield Problem(("pace", "least"), what)
    if drill.rubric and not any(drill.weight(row) for row in Criterion):
        yield Problem(("rubric",), "gives every row weight 0; give one row more")
    first = drill.table[0].item
    opened = [event for event in drill.events if event.kind is EventKind.BROUGHT]
    if drill.task is Task.ADDITION and not any(event.item == first for event in opened):
        what = f"an addition begins when something is brought; add a 'brought' at {first!r}"
        yield Problem(("events",), what)


def _event(at: int, event: Planted, drill: Drill, sheet: Sheet) -> Iterator[Problem]:
    """Give what one event gets wrong."""
    fit = FITS[drill.task]
    if event.kind not in fit:
        allowed = ", ".join(kind.value for kind in fit)
        what = f"{event.kind.value!r} does not fit task {drill.task.value!r}; use {allowed}"
        yield Problem(("events", at, "kind"), what)
        return
    there = _line(event, drill)
    if there is None:
        where = "" if event.place is None else f" {PLACES[event.place].phrases[0]}"
        what = (
            f"{event.item!r}{where} is not in the table; add it there, or use a line of the table"
        )
        yield Problem(("events", at, "item"), what)
        return
    for field, what in (
        *_unused(event),
        *_interruption(event, packages(drill, there, sheet)[0]),
        *_other_number(event, there, drill, sheet),
        *_miscount(event, there, drill, sheet),
        *_answers(event, drill, sheet),
    ):
        yield Problem(("events", at, field), what)


def _line(event: Planted, drill: Drill) -> There | None:
    """Give the line that an event comes at."""
    here = (event.item, event.place)
    return next((there for there in drill.table if (there.item, there.place) == here), None)


_FIELDS = {
    "after": (EventKind.INTERRUPTION,),
    "number": (EventKind.MISREAD, EventKind.WRONG_PACKAGE),
    "run": (EventKind.MISCOUNT,),
}
"""Which kinds have which field."""


def _unused(event: Planted) -> Iterator[tuple[str, str]]:
    """Give fields that say nothing at this kind."""
    for field, kinds in _FIELDS.items():
        given = getattr(event, field)
        if given is not None and given != () and event.kind not in kinds:
            yield field, f"says nothing at a {event.kind.value!r}; take it out"
    if event.kind is EventKind.INTERRUPTION and event.expect:
        yield "expect", "an interruption has no answer, the line is begun again; take it out"


def _interruption(event: Planted, run: int) -> Iterator[tuple[str, str]]:
    if event.kind is not EventKind.INTERRUPTION:
        return
    if event.after is None:
        yield "after", "is missing; give the number of the run after which the partner talks"
    elif event.after >= run:
        yield "after", f"is {event.after}, and the run ends with {run}; give a smaller number"


def _other_number(
    event: Planted, there: There, drill: Drill, sheet: Sheet
) -> Iterator[tuple[str, str]]:
    """Give misread numbers that are right, packages that hold what they should."""
    if event.kind is EventKind.MISREAD:
        if not drill.partner:
            yield "kind", "nobody reads back where 'partner' is false; use true, or take it out"
        if event.number is None:
            yield "number", "is missing; give the wrong number that the partner reads back"
        elif event.number == there.number:
            yield "number", f"is {event.number}, and so many lie there; give another number"
    elif event.kind is EventKind.WRONG_PACKAGE:
        pack = pack_of(drill, there, sheet)
        if pack is None:
            yield "number", "is missing, and the sheet has no 'pack'; give how many it should hold"
        elif there.number % pack == 0:
            what = (
                f"{there.number} lie there, whole packages of {pack}; let another number lie there"
            )
            yield "item", what


def _miscount(
    event: Planted, there: There, drill: Drill, sheet: Sheet
) -> Iterator[tuple[str, str]]:
    if event.kind is not EventKind.MISCOUNT:
        return
    if not event.run:
        yield "run", "is missing; give the numbers as the partner calls them, such as [1, 2, 4]"
    elif event.run == tuple(range(1, there.number + 1)):
        yield "run", "is right, and so many lie there; leave a number out of it, or say one twice"
    elif event.run == tuple(
        number for held in packages(drill, there, sheet) for number in range(1, held + 1)
    ):
        yield "run", "is right, package by package; leave a number out of it, or say one twice"


def _answers(event: Planted, drill: Drill, sheet: Sheet) -> Iterator[tuple[str, str]]:
    """Give answers that are no commands, or are not listened for in this drill."""
    heard = [command.id for command in vocabulary(drill, sheet).commands]
    for answer in event.expect:
        if answer not in BY_ID:
            yield "expect", f"{answer!r} is no command; {near(answer, heard)}"
        elif answer not in heard:
            task = drill.task.value
            what = f"{answer!r} is not heard in task {task!r}; use {', '.join(heard)}"
            yield "expect", what


def _once(drill: Drill) -> Iterator[Problem]:
    """Give events that stand twice at one line."""
    seen: set[tuple[EventKind, str, str | None]] = set()
    for at, event in enumerate(drill.events):
        here = (event.kind, event.item, event.place)
        if here in seen:
            what = f"a {event.kind.value!r} is planted at this line already; keep one"
            yield Problem(("events", at, "kind"), what)
        seen.add(here)
