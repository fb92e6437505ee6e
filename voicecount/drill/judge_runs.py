"""A line's numbers: runs from one, the package that each belongs to, and what is wrong. Pure."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median

from voicecount.drill.attempt import Said
from voicecount.drill.judge_calls import Call, Chunk
from voicecount.drill.judgement import Fault, Number
from voicecount.words.meaning import Form

_LEFT_OUT = 3.0
"""Cost of a package without a run, beside 1 for a run that was given up or ends at another number:
a package is only found missing where no run can be its own."""
_UNHEARD = 1.0
"""The same where its run may be in something that was not understood."""

_SHORT = 2
"""How short of all packages the only run of a line may end and still go through them."""
_ROOM = 0.5
"""Share of a beat, for each missing number, from which it may have been there. Half: our choice."""
_LENGTHS_FROM = 2
"""The fewest times from number to number of a run that tell how long one of them is."""
_AFTER_NAME = 0.6
"""Seconds that a student may wait between a name and its first number; our choice."""


@dataclass(frozen=True)
class Spot:
    """One number of a run and the utterance that it is in."""

    number: Number
    chunk: Chunk


@dataclass
class Run:
    """Numbers in a row that should go from one, or a name that no number followed."""

    chunks: list[Chunk] = field(default_factory=list)
    spots: list[Spot] = field(default_factory=list)
    base: int = 0
    """The number before the first; above 0 where the run goes on over a further package."""
    before: "Spot | None" = None
    """Of a run that goes through all packages: the last number of the package before."""
    after: "Spot | None" = None
    """And the first number of the next one, where the last of its own was left out."""

    @property
    def start(self) -> float:
        """Give its start, with its name."""
        return self.chunks[0].start if self.leads else self.spots[0].number.start

    @property
    def leads(self) -> bool:
        """Whether its first utterance begins with it, and not with another run."""
        numbers = self.chunks[0].spoken.numbers
        return not (self.spots and numbers) or numbers[0] is self.spots[0].number

    @property
    def end(self) -> float:
        """Give the end of its last word."""
        return self.spots[-1].number.end if self.spots else self.chunks[-1].end

    @property
    def values(self) -> tuple[int, ...]:
        """Give its numbers."""
        return tuple(spot.number.value for spot in self.spots)

    @property
    def counted(self) -> int | None:
        """Give how many it comes to; None without numbers."""
        return self.spots[-1].number.value - self.base if self.spots else None

    @property
    def total(self) -> bool:
        """Whether it is one number alone that is more than one."""
        return len(self.spots) == 1 and self.spots[0].number.value > 1 and not self.base

    @property
    def glanced(self) -> bool:
        """Whether it is a number before its name: "two vessel loops"."""
        return self.total and self.spots[0].chunk.spoken.meaning.form is Form.NUMBER_FIRST


def runs_of(calls: Sequence[Call], talked: Sequence[Said], holds: Sequence[int]) -> list[Run]:
    """Part a line's calls into runs; ``talked``: the partner's words into it."""
    found: list[Run] = []
    for call in calls:
        for at, chunk in enumerate(call.chunks):
            _take(found, chunk, new_call=at == 0, talked=talked, holds=holds)
    return found


def _take(
    found: list[Run],
    chunk: Chunk,
    *,
    new_call: bool,
    talked: Sequence[Said],
    holds: Sequence[int],
) -> None:
    if not chunk.spoken.numbers:
        if not found or found[-1].spots:
            if found and not new_call and not chunk.fresh:
                found[-1].chunks.append(chunk)  # the name once more, in the middle of its run
                return
            found.append(Run())
        found[-1].chunks.append(chunk)
        return
    for at, number in enumerate(chunk.spoken.numbers):
        first = at == 0
        now = found[-1] if found else None
        package = now is not None and first and _next_package(found, number, holds)
        if (
            now is None
            or package
            or _begins(now, chunk, number, talked, first=first, new_call=first and new_call)
        ):
            found.append(Run())
        if not found[-1].chunks or found[-1].chunks[-1] is not chunk:
            found[-1].chunks.append(chunk)
        found[-1].spots.append(Spot(number, chunk))


def _next_package(found: Sequence[Run], number: Number, holds: Sequence[int]) -> bool:
    """Tell whether a lower number after a whole package begins the next, although not from one."""
    whole = [run for run in found if run.spots and run.spots[-1].number.value in holds]
    if not whole or whole[-1] is not found[-1] or len(whole) >= len(holds):
        return False
    last = found[-1].spots[-1].number.value
    return number.value < last == holds[len(whole) - 1]


def _begins(
    now: Run, chunk: Chunk, number: Number, talked: Sequence[Said], *, first: bool, new_call: bool
) -> bool:
    """Tell whether a number begins another run."""
    if not now.spots:
        return first and (chunk.named or new_call) and now.chunks[-1] is not chunk
    last = now.spots[-1].number
    goes_on = number.value == last.value + 1
    if first and (chunk.fresh or (new_call and not goes_on)):
        return True
    if number.value == 0 or (number.value == 1 and last.value != 1):
        return not goes_on
    if first and chunk.named and not goes_on:
        return len(chunk.spoken.numbers) == 1 or number.value <= last.value
    between = any(last.start < one.start < number.start for one in talked)
    return number.value == 1 and between


def by_package(
    runs: Sequence[Run],
    holds: Sequence[int],
    excused: Callable[[Run, Run], bool],
    *,
    unheard: bool = False,
) -> list[list[Run]]:
    """Share a line's runs out to its packages, in order, at the least cost; the last one counts.

    A run that goes through all packages, or nearly, is parted at their ends. ``unheard``: something
    that was not understood may have been one.
    """
    left_out = _UNHEARD if unheard else _LEFT_OUT
    parted: list[Run] = []
    for run in runs:
        short = sum(holds) - (run.counted or 0)
        near = len(runs) == 1 and 0 < short <= min(_SHORT, holds[-1] - 1)
        whole = len(holds) > 1 and (short == 0 or near) and not run.total
        parted += _parted(run, holds) if whole else [run]
    many, packs = len(parted), len(holds)
    costs: list[list[tuple[float, int]]] = [[(0.0, 0)] + [(float("inf"), 0)] * many]
    for at, hold in enumerate(holds, start=1):
        row: list[tuple[float, int]] = []
        for end in range(many + 1):
            ways = (
                (costs[at - 1][begin][0] + _cost(parted[begin:end], hold, excused, left_out), begin)
                for begin in range(end, -1, -1)
            )
            row.append(min(ways, key=lambda way: way[0]))
        costs.append(row)
    found: list[list[Run]] = []
    end = many
    for at in range(packs, 0, -1):
        begin = costs[at][end][1]
        found.append(parted[begin:end])
        end = begin
    return found[::-1]


def _cost(
    runs: Sequence[Run], hold: int, excused: Callable[[Run, Run], bool], left_out: float
) -> float:
    if not runs:
        return left_out
    again = sum(not excused(one, two) for one, two in pairwise(runs))
    return again + (runs[-1].counted != hold)


def _parted(run: Run, holds: Sequence[int]) -> list[Run]:
    found: list[Run] = []
    tops: list[int] = []
    base = 0
    for at, hold in enumerate(holds):
        top = base + hold
        last = at == len(holds) - 1
        spots = [spot for spot in run.spots if base < spot.number.value]
        spots = [spot for spot in spots if last or spot.number.value <= top]
        chunks = [one for one in run.chunks if any(spot.chunk is one for spot in spots)]
        if spots and not base:
            chunks = [one for one in run.chunks if one.start <= spots[-1].chunk.start]
        if spots:
            found.append(Run(chunks, spots, base))
            tops.append(top)
        base = top
    for (one, two), top in zip(pairwise(found), tops, strict=False):
        two.before = one.spots[-1]
        if two.before.number.value < top:
            one.after = two.spots[0]
    return found


def beats(run: Run) -> list[float]:
    """Give the seconds from onset to onset where the run goes on by one; none without times."""
    if not all(spot.chunk.spoken.timed for spot in run.spots):
        return []
    return [
        two.number.start - one.number.start
        for one, two in pairwise(run.spots)
        if two.number.value == one.number.value + 1
    ]


def lengths(runs: Iterable[Run]) -> dict[int, float]:
    """Give how long each number usually lasts until the next one begins, in beats of its run.

    "Seven" takes longer than "two", and the faster the count is, the more. None is given as less
    than a beat: of a short one the times are not that exact.
    """
    found: dict[int, list[float]] = {}
    for run in runs:
        own = beats(run)
        if len(own) < _LENGTHS_FROM:
            continue
        beat = median(own)
        for one, two in pairwise(run.spots):
            if two.number.value == one.number.value + 1:
                lasts = (two.number.start - one.number.start) / beat
                found.setdefault(one.number.value, []).append(lasts)
    return {value: max(1.0, median(lasts)) for value, lasts in found.items()}


def has_room(run: Run, one: Spot | None, two: Spot, beat: float, length: float) -> bool:
    """Tell whether the numbers missing before ``two`` may have been said, and lost.

    What was left out leaves no room: the next number comes a beat later. ``beat``: seconds.
    ``length``: how many beats ``one`` usually lasts.
    """
    missing = two.number.value - (run.base if one is None else one.number.value) - 1
    if missing < 1 or not two.chunk.spoken.timed:
        return False
    if one is not None:
        return two.number.start - one.number.start > beat * (length + _ROOM * missing)
    named = run.chunks[0]
    if not named.named:
        return named.spoken.words_before
    if not run.leads:
        return False
    return two.number.start - named.spoken.name_end > _AFTER_NAME + _ROOM * beat * missing


@dataclass(frozen=True)
class Wrong:
    """One fault of a run."""

    fault: Fault
    heard: tuple[int, ...]
    start: float
    end: float


def cadence(run: Run, doubtful: Callable[[Spot | None, Spot], bool]) -> list[Wrong]:
    """Find everything wrong in a run that has to go from one; a doubtful place is passed over.

    Two numbers that changed places are one fault: the second was said late. What is left out where
    one package ends and the next begins is told of the package that the first of it belongs to.
    """
    found: list[Wrong] = []
    said: set[int] = set()
    before = run.before
    spots = run.spots
    if before is not None and before.number.value < run.base:
        before, spots = spots[0], spots[1:]
    if run.after is not None:
        spots = [*spots, run.after]
    for spot in spots:
        value, last = spot.number.value, run.base if before is None else before.number.value
        wrong = None if doubtful(before, spot) else _wrong(before, spot, last, said)
        if wrong is not None:
            late = Wrong(Fault.SKIPPED, (value,), 0.0, 0.0)
            if wrong.fault is Fault.BACKWARDS:
                found = [one for one in found if (one.fault, one.heard) != (late.fault, late.heard)]
            found.append(wrong)
        said.add(value)
        before = spot
    return found


def _wrong(before: Spot | None, spot: Spot, last: int, said: set[int]) -> Wrong | None:
    number = spot.number
    if number.value == last + 1:
        return None
    if before is None:
        return Wrong(Fault.NOT_FROM_ONE, (number.value,), number.start, number.end)
    moment = (before.number.start, number.end)
    if number.value == last:
        return Wrong(Fault.REPEATED, (last,), *moment)
    if number.value < last:
        return Wrong(Fault.BACKWARDS, (last, number.value), *moment)
    missing = tuple(one for one in range(last + 1, number.value) if one not in said)
    return Wrong(Fault.SKIPPED, missing, *moment) if missing else None
