"""Which call belongs to which line of the plan, and what came at another place. Pure.

The alignment is the best one (a longest common subsequence), so a line that moved is one finding.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from voicecount.drill.judge_calls import Call
from voicecount.drill.judge_plan import Line, PlanOfLines
from voicecount.sheet.plan import Group


@dataclass
class Ordered:
    """Calls by lines."""

    by_line: dict[int, list[Call]] = field(default_factory=dict)
    """By ``Line.at``, in time; a line that is not in it was never named."""
    place: dict[int, Call] = field(default_factory=dict)
    """The call of each line that gives it its place in the order."""
    wrong_place: dict[int, Call] = field(default_factory=dict)
    unexpected: list[Call] = field(default_factory=list)
    orphans: list[Call] = field(default_factory=list)
    """Runs without a name."""
    moved: list[int] = field(default_factory=list)
    groups: list[tuple[Group, int]] = field(default_factory=list)
    """Groups that came at another place, with the line of theirs that was called first."""


def order(plan: PlanOfLines, calls: Sequence[Call]) -> Ordered:
    """Align calls with the plan."""
    found = Ordered()
    _assign(plan, calls, found)
    counted = {
        at: [call for call in own if call.values] or own[:1] for at, own in found.by_line.items()
    }
    row = sorted(
        ((call.start, at, call) for at, own in counted.items() for call in own),
        key=lambda one: one[:2],
    )
    kept = dict(_common([line.at for line in plan.lines], [at for _, at, _ in row]))
    for at, own in counted.items():
        found.place[at] = row[kept[at]][2] if at in kept else own[0]
    _find_moved(plan, sorted(found.place, key=lambda at: (found.place[at].start, at)), found)
    return found


def _assign(plan: PlanOfLines, calls: Sequence[Call], found: Ordered) -> None:
    """Give each call its line; one at a place where none is due takes a line that is missing."""
    exact = {call.key for call in calls}
    left = [line for line in plan.lines if line.key not in exact]
    before: Line | None = None
    for call in calls:
        if call.key is None:
            found.orphans.append(call)
            continue
        line = plan.by_key.get(call.key)
        if line is None and (others := plan.of_item(call.key[0])):
            free = [one for one in others if one in left]
            line = free[0] if free else before if before in others else others[0]
            if free:
                left.remove(line)
            if (free or call.key[1] is not None) and not call.place_lost:
                found.wrong_place[line.at] = call
        if line is not None:
            found.by_line.setdefault(line.at, []).append(call)
            before = line
        elif call.values and call.values != (0,):
            found.unexpected.append(call)


def _find_moved(plan: PlanOfLines, row: Sequence[int], found: Ordered) -> None:
    """Find lines and groups that came at another place; ``row`` is the order of the calls."""
    group_of = {line.at: line.group for line in plan.lines}
    called: dict[Group, list[int]] = {}
    for at in row:
        called.setdefault(group_of[at], []).append(at)
    if _in_blocks([group_of[at] for at in row]) and _in_blocks(
        [group_of[at] for at in sorted(row)]
    ):
        groups = list(called)
        first = {group: min(own) for group, own in called.items()}
        ranks = [first[group] for group in groups]
        moved = _moved(ranks, lambda rank: len(called[group_of[rank]]))
        found.groups = [(group_of[rank], called[group_of[rank]][0]) for rank in moved]
        for own in called.values():
            found.moved += _moved(own, lambda _: 1)
        return
    moved = _moved(row, lambda _: 1)
    for group, own in called.items():
        at = row.index(own[0])
        if len(own) > 1 and set(own) <= set(moved) and list(row[at : at + len(own)]) == own:
            found.groups.append((group, own[0]))
            moved = [*(one for one in moved if one not in own), *_moved(own, lambda _: 1)]
    found.moved = moved


def _in_blocks(groups: Sequence[Group]) -> bool:
    """Tell whether each group stands in one piece."""
    changes = sum(one is not two for one, two in pairwise(groups))
    return changes + 1 <= len(set(groups)) or not groups


def _moved(row: Sequence[int], weight: Callable[[int], int]) -> list[int]:
    """Give the fewest that have to move for the row to rise; of two that changed places, one."""
    ranks = sorted(row)
    differ = [one for one, right in zip(row, ranks, strict=True) if one != right]
    if len(differ) == 2:
        return differ[:1]
    kept = {at for at, _ in _common(ranks, row, weight)}
    return [at for at in row if at not in kept]


def _common(
    plan: Sequence[int], row: Sequence[int], weight: Callable[[int], int] = lambda _: 1
) -> list[tuple[int, int]]:
    """Give the heaviest common subsequence: (entry of the plan, its index in the row)."""
    best = [[0] * (len(row) + 1) for _ in range(len(plan) + 1)]
    for i, one in enumerate(plan, start=1):
        for j, two in enumerate(row, start=1):
            best[i][j] = max(best[i - 1][j], best[i][j - 1])
            if one == two:
                best[i][j] = max(best[i][j], best[i - 1][j - 1] + weight(one))
    found: list[tuple[int, int]] = []
    i, j = len(plan), len(row)
    while i and j:
        if best[i][j] == best[i - 1][j]:
            i -= 1
        elif best[i][j] == best[i][j - 1]:
            j -= 1
        else:
            found.append((plan[i - 1], j - 1))
            i, j = i - 1, j - 1
    return found[::-1]
