"""What is planted in a proposed drill: events that fit, each at a line of its own. Pure."""

from collections.abc import Callable, Sequence

from voicecount.drill.model import FITS, EventKind, Planted, Task, There
from voicecount.drill.seeded import Seeded
from voicecount.drill.steps import step_id
from voicecount.sheet.model import Sheet
from voicecount.words.numbers import LARGEST, in_words
from voicecount.words.places import BY_ID as PLACES
from voicecount.words.soundalike import twins

_TALK = (
    "Excuse me, which of you has the key to the store room?",
    "Has anybody seen the next form?",
    "Can we begin soon, please?",
    "Somebody wants to know how long it will take.",
    "Could you look at this lamp for me?",
)
_FALLEN = (
    "Oh, one {name} has fallen to the floor.",
    "I am sorry, one {name} slipped off the table.",
    "One {name} is on the floor, I am afraid.",
)
_LABEL = "The label of the last package says {pack}. What shall we do with it?"
_BROUGHT = "I have more for the table: {names}."
_LEAST_PACK = 3
"""A smaller package with one missing is no package that anybody would take for whole."""
_LEAST_RUN = 4
"""A shorter run is over before anybody could talk into it."""
_LEAST_WRONG = 3
"""In a shorter run no number in the middle can be left out or said twice."""

_Found = tuple[tuple[There, ...], Planted]
_Maker = Callable[[Sequence[There], There, Sheet, Seeded], _Found | None]


def plant(
    table: tuple[There, ...], sheet: Sheet, task: Task, seeded: Seeded
) -> tuple[tuple[There, ...], tuple[Planted, ...]]:
    """Plant one event of every kind that fits the task and finds a line; MISCOUNT twice.

    Gives the events in the order of the table, and the table, in which a wrong package may lie now.
    """
    events: list[Planted] = []
    taken: set[tuple[str, str | None]] = set()
    for kind in (*FITS[task], *((EventKind.MISCOUNT,) if task is Task.CONFIRM else ())):
        first = kind is EventKind.BROUGHT
        for there in table[:1] if first else seeded.some(table, len(table), step_id, kind.value):
            if (there.item, there.place) in taken and not first:
                continue
            found = _MAKERS[kind](table, there, sheet, seeded)
            if found is None:
                continue
            table = found[0]
            events.append(found[1])
            if not first:
                taken.add((there.item, there.place))
            break
    at = {(there.item, there.place): place for place, there in enumerate(table)}
    return table, tuple(sorted(events, key=lambda event: at[event.item, event.place]))


def _wrong_package(
    table: Sequence[There], there: There, sheet: Sheet, _seeded: Seeded
) -> _Found | None:
    """Take one out of the last package."""
    pack = sheet.item(there.item).pack
    if pack is None or pack < _LEAST_PACK or there.number % pack:
        return None
    fewer = there.model_copy(update={"number": there.number - 1})
    event = Planted(
        kind=EventKind.WRONG_PACKAGE,
        item=there.item,
        number=pack,
        says=_LABEL.format(pack=in_words(pack)),
        expect=("hand_over", "take_back"),
    )
    return tuple(fewer if one == there else one for one in table), event


def _dropped(table: Sequence[There], there: There, sheet: Sheet, seeded: Seeded) -> _Found | None:
    says = seeded.one(_FALLEN, "fallen").format(name=sheet.item(there.item).name(1))
    return _found(table, there, EventKind.DROPPED, says=says)


def _interruption(
    table: Sequence[There], there: There, sheet: Sheet, seeded: Seeded
) -> _Found | None:
    pack = sheet.item(there.item).pack if there.place is None else None
    run = there.number if pack is None else min(there.number, pack)
    if run < _LEAST_RUN:
        return None
    after = seeded.whole(2, run - 2, "after")
    says = seeded.one(_TALK, "talk")
    return _found(table, there, EventKind.INTERRUPTION, says=says, after=after)


def _misread(table: Sequence[There], there: There, sheet: Sheet, seeded: Seeded) -> _Found | None:
    """Read one more or less back, or what the number sounds like."""
    near = {there.number - 1, there.number + 1} | twins(there.number)
    number = seeded.one(sorted(one for one in near if 0 < one <= LARGEST), "misread")
    name, many = sheet.item(there.item).name(number), there.number
    where = "" if there.place is None else f" {PLACES[there.place].phrases[0]}"
    lie = "lies" if many == 1 else "lie"
    read = f"The circulator read {in_words(number)} {name}{where} back"
    says = f"{read}, and {in_words(many)} {lie} there."
    return _found(table, there, EventKind.MISREAD, says=says, number=number)


def _miscount(table: Sequence[There], there: There, sheet: Sheet, seeded: Seeded) -> _Found | None:
    """Leave a number out of a run, or say one twice."""
    pack = sheet.item(there.item).pack
    if there.number < _LEAST_WRONG or (pack is not None and there.number > pack):
        return None
    run = tuple(range(1, there.number + 1))
    at = seeded.whole(2, there.number - 1, f"miscount {there.item}")
    name, said = sheet.item(there.item).name(2), in_words(at)
    if seeded.one((True, False), f"left out {there.item}"):
        wrong, says = (*run[: at - 1], *run[at:]), f"The scrub left out {said} of the {name}."
    else:
        wrong = (*run[:at], *run[at - 1 : -1])
        says = f"The scrub said {said} twice at the {name}."
    return _found(table, there, EventKind.MISCOUNT, says=says, run=wrong)


def _brought(table: Sequence[There], there: There, sheet: Sheet, _seeded: Seeded) -> _Found | None:
    names = ", and ".join(sheet.item(one.item).name(2) for one in table)
    return _found(table, there, EventKind.BROUGHT, says=_BROUGHT.format(names=names))


def _found(
    table: Sequence[There],
    there: There,
    kind: EventKind,
    *,
    says: str,
    after: int | None = None,
    number: int | None = None,
    run: tuple[int, ...] = (),
) -> _Found:
    return tuple(table), Planted(
        kind=kind,
        item=there.item,
        place=there.place,
        after=after,
        number=number,
        run=run,
        says=says,
    )


_MAKERS: dict[EventKind, _Maker] = {
    EventKind.WRONG_PACKAGE: _wrong_package,
    EventKind.DROPPED: _dropped,
    EventKind.INTERRUPTION: _interruption,
    EventKind.MISREAD: _misread,
    EventKind.MISCOUNT: _miscount,
    EventKind.BROUGHT: _brought,
}
