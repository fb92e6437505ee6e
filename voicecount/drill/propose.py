"""A drill proposed from a sheet: which lines lie there, what is planted, what counts. Pure.

    Sheet + Task + seed ─▶ propose(…) ─▶ Drill

Sizes come from the sheet's own ``expect`` and ``pack``; what the sheet does not say is small.
"""

from collections.abc import Sequence

from voicecount.drill.model import Criterion, Drill, EventKind, Pace, Planted, Task, There
from voicecount.drill.plant import plant
from voicecount.drill.seeded import Seeded
from voicecount.sheet.model import Item, Sheet
from voicecount.words.numbers import in_words
from voicecount.words.places import BY_ID as PLACES

MOST_LINES = 9
"""So many lines are a drill of two to three minutes. Our choice."""
_MOST_ADDED = 3
_MOST_CLOSED = 4
_LARGEST = 10
"""The largest run of a line that is not packaged. Our choice."""

_LEVELS = {Task.FIRST_COUNT: 3, Task.ADDITION: 4, Task.CLOSING_COUNT: 7, Task.CONFIRM: 7}
"""Without any event; each planted event is one level more."""

_GOALS = {
    Task.FIRST_COUNT: "The first count, line by line in the order of the sheet.",
    Task.ADDITION: "What comes later is counted at once, before it is used.",
    Task.CLOSING_COUNT: "Every line place by place, always in the same order of places.",
    Task.CONFIRM: "The number itself is said back, and a run that goes wrong is stopped.",
}
_SCENES = {
    Task.FIRST_COUNT: "You are the scrub; the first count is due.",
    Task.ADDITION: (
        'The operation goes on. When more is brought, open the addition ("add to the count"), then'
        " call what came."
    ),
    Task.CLOSING_COUNT: "The wound will be closed. Call each line place by place.",
    Task.CONFIRM: (
        "You are the circulator: your partner calls each line, and you say its number back. Where a"
        ' run is not right, object at once ("no, that is not right").'
    ),
}
_SHOWN = {
    Task.FIRST_COUNT: (),
    Task.ADDITION: (),
    Task.CLOSING_COUNT: (),
    Task.CONFIRM: (Criterion.ORDER, Criterion.CADENCE, Criterion.PACE, Criterion.FLUENCY),
}
"""Rows that say nothing in a task: shown, and not weighed."""


def propose(sheet: Sheet, sheet_name: str, *, task: Task, seed: int) -> Drill:
    """Propose a drill: the same sheet, task and seed always give the same one."""
    seeded = Seeded(f"{task.value}/{seed}")
    table = _TABLES[task](sheet, seeded)
    table, events = plant(table, sheet, task, seeded)
    return Drill(
        title=f"{sheet.title}: {task.value.replace('_', ' ')}",
        level=_LEVELS[task] + len(events),
        task=task,
        sheet=sheet_name,
        about=_about(sheet, task, table, events),
        goal=_GOALS[task],
        table=table,
        events=events,
        pace=Pace(longest_pause=2.5) if _talks(events) else Pace(),
        rubric=_rubric(task, events),
    )


def _first(sheet: Sheet, seeded: Seeded) -> tuple[There, ...]:
    """Give some lines of every group, as many as a first count of the sheet would find."""
    chosen = _some(sheet, seeded, MOST_LINES)
    return tuple(There(item=item.id, number=_many(item, seeded)) for item in chosen)


def _added(sheet: Sheet, seeded: Seeded) -> tuple[There, ...]:
    """Give a package and a few single things, such as may be brought later."""
    wanted = [item for item in sheet.items if item.pack is not None or item.stated]
    chosen = seeded.some(wanted or sheet.items, _MOST_ADDED, _id)
    order = [item for item in sheet.items if item in chosen]
    return tuple(
        There(item=item.id, number=item.pack or seeded.whole(2, 4, f"added {item.id}"))
        for item in order
    )


def _closed(sheet: Sheet, seeded: Seeded) -> tuple[There, ...]:
    """Give a few lines, each shared out over one to three of the sheet's places."""
    found: list[There] = []
    for item in _some(sheet, seeded, _MOST_CLOSED):
        left = _many(item, seeded)
        most = min(3, left, len(sheet.policy.places))
        where = seeded.some(
            sheet.policy.places, seeded.whole(1, most, f"places {item.id}"), str, item.id
        )
        at = [place for place in sheet.policy.places if place in where]
        for still, place in zip(range(len(at) - 1, -1, -1), at, strict=True):
            here = (
                left - still if still == 0 else seeded.whole(1, left - still, f"{item.id} {place}")
            )
            found.append(There(item=item.id, place=place, number=here))
            left -= here
    return tuple(found)


_TABLES = {
    Task.FIRST_COUNT: _first,
    Task.ADDITION: _added,
    Task.CLOSING_COUNT: _closed,
    Task.CONFIRM: _first,
}


def _some(sheet: Sheet, seeded: Seeded, most: int) -> list[Item]:
    """Choose lines, one of every group first, in the order of the sheet."""
    groups = dict.fromkeys(item.group for item in sheet.items)
    chosen = [seeded.one(sheet.items_in_group(group), f"first of {group}") for group in groups]
    rest = [item for item in sheet.items if item not in chosen]
    chosen += seeded.some(rest, max(0, most - len(chosen)), _id)
    kept = seeded.some(chosen, most, _id)
    return [item for item in sheet.items if item in kept]


def _id(item: Item) -> str:
    return item.id


def _many(item: Item, seeded: Seeded) -> int:
    """Give how many of an item lie there: what is expected, at most two packages or a short run."""
    if item.pack is not None:
        most = max(1, min(2, (item.expect or item.pack) // item.pack))
        return item.pack * seeded.whole(1, most, f"packages of {item.id}")
    if not item.expect:
        return seeded.whole(1, 4, f"number of {item.id}")
    return min(item.expect, _LARGEST)


def _about(sheet: Sheet, task: Task, table: Sequence[There], events: Sequence[Planted]) -> str:
    """Tell the scene, and what lies where; not to a circulator, who is to listen."""
    scene = f"{sheet.title}. {_SCENES[task]}"
    if task is Task.CONFIRM:
        return scene
    if any(event.kind is EventKind.WRONG_PACKAGE for event in events):
        scene += " Count what really lies there, whatever is printed on it."
    lead = "What is brought" if task is Task.ADDITION else "What lies there"
    return f"{scene} {lead}: {'; '.join(listed(table, sheet))}."


def listed(table: Sequence[There], sheet: Sheet) -> tuple[str, ...]:
    """Give every line of a table in words."""
    return tuple(_line(there, sheet) for there in table)


def _line(there: There, sheet: Sheet) -> str:
    name = sheet.item(there.item).name(there.number)
    where = "" if there.place is None else f" {PLACES[there.place].phrases[0]}"
    return f"{in_words(there.number)} {name}{where}"


def _talks(events: Sequence[Planted]) -> bool:
    return any(event.kind is EventKind.INTERRUPTION for event in events)


def _rubric(task: Task, events: Sequence[Planted]) -> dict[Criterion, float]:
    """Weigh what the drill is about; what it cannot show has weight 0."""
    weights = dict.fromkeys(Criterion, 1.0)
    weights |= {Criterion.CADENCE: 3.0, Criterion.NUMBERS: 3.0, Criterion.COMPLETE: 2.0}
    weights[Criterion.EVENTS] = 4.0 if events else 0.0
    weights[Criterion.CONFIRMING] = 4.0 if task is Task.CONFIRM else 0.0
    if task is Task.CLOSING_COUNT:
        weights[Criterion.ORDER] = 3.0
    return weights | dict.fromkeys(_SHOWN[task], 0.0)
