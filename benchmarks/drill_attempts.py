"""Attempts of drills that are made of synthetic speech, with faults planted and times known.

Half of them are joined: each name and each number is spoken alone and set at a time of our
choosing, so that the true onsets and the true pace are known, at 35 to 110 numbers a minute. The
other half is spoken line by line as the voice does by itself, which sounds more natural.

The tuning part and the test part share no sheet, no name, no voice and no maker of noise. The
voices are those of ``speakers.py``. Nothing of it is kept but the clean clips in .cache/clips.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from benchmarks.phrases import sheet_for
from benchmarks.rooms import MAKERS, pink
from benchmarks.speakers import VOICES
from training.voices import RATE, Samples
from voicecount.drill.model import Drill, Task, There
from voicecount.drill.steps import step_id
from voicecount.sheet.model import Item, Sheet
from voicecount.sound.level import STEP, step_levels
from voicecount.words.numbers import in_words
from voicecount.words.places import BY_ID

CONDITIONS = ("quiet", "pink 20 dB", "suction 20 dB")
"""The rooms of a student who practises: taken in turn."""
IN_LINE = ("skipped", "repeated", "stated", "too_few", "restart")
"""Faults of one line."""
ACROSS = ("order", "missed")
"""Faults of the whole attempt: two neighbouring lines change places, a line is left out."""
MAIN = ("skipped", "repeated", "order", "missed")
"""The faults that the bar is about."""

_LEAST, _MOST = 4, 9
"""Numbers of a line."""
_EDGE = 1.0
"""Seconds of quiet before the first line and after the last one."""
_QUIET_DB = 45.0
"""How far the room of the condition "quiet" lies under the voice."""
_NEAR_LOUD_DB = 25.0
"""A clip begins where it first comes so near to its loudest step."""
_LEAD = 0.02
"""Seconds kept before that."""


@dataclass(frozen=True)
class Plant:
    """One planted fault."""

    kind: str
    step: str
    """The id of the line's step."""
    other: str | None = None
    """ORDER: the line that it changed places with."""
    number: int | None = None
    """SKIPPED: the number left out; REPEATED: the one said twice; RESTART: the last before it."""


@dataclass(frozen=True)
class Line:
    """One line as it is called."""

    step: str
    name: str
    place: str | None
    numbers: tuple[int, ...]
    total: int | None = None
    """What is stated in the place of a run."""


@dataclass(frozen=True)
class Script:
    """What is said in an attempt, and how."""

    drill: Drill
    sheet: Sheet
    lines: tuple[Line, ...]
    plants: tuple[Plant, ...]
    voice: str
    condition: str
    joined: bool
    pace: float
    """Numbers a minute of joined lines; the voice's own speed, 1.0 being usual, of others."""


@dataclass(frozen=True)
class Made:
    """The sound of an attempt."""

    sound: Samples
    onsets: tuple[tuple[float, ...], ...]
    """Seconds at which the numbers of each line begin; empty where the lines are not joined."""

    @property
    def paces(self) -> tuple[float, ...]:
        """Numbers a minute of each joined line of three numbers and more."""
        return tuple(
            60 * (len(line) - 1) / (line[-1] - line[0]) for line in self.onsets if len(line) >= 3
        )


def script(part: str, at: int, seed: int) -> Script:
    """Draw attempt number ``at``; the same three always give the same."""
    rng = random.Random(f"{part} {seed} {at}")
    sheet = _sheet(part)
    voices = list(VOICES[part])
    table = _table(rng, sheet, by_place=rng.random() < 0.25)
    drill = Drill(
        title="Measuring",
        level=1,
        task=Task.FIRST_COUNT if table[0].place is None else Task.CLOSING_COUNT,
        sheet="measuring.yaml",
        about="Nothing; it serves measuring only.",
        goal="Measuring.",
        table=table,
        partner=False,
    )
    lines, plants = _planted(rng, [_line(rng, sheet, there) for there in table], sheet, drill)
    joined = at % 2 == 0
    return Script(
        drill,
        sheet,
        tuple(lines),
        tuple(plants),
        voice=voices[(at // 2) % len(voices)],
        condition=CONDITIONS[at % len(CONDITIONS)],
        joined=joined,
        pace=rng.uniform(35, 110) if joined else rng.uniform(0.8, 1.15),
    )


@lru_cache
def _sheet(part: str) -> Sheet:
    return sheet_for(part)


def _table(rng: random.Random, sheet: Sheet, *, by_place: bool) -> tuple[There, ...]:
    """Draw five to eight lines in the order of the sheet, or place by place."""

    def some(count: int) -> list[Item]:
        places = sorted(rng.sample(range(len(sheet.items)), count))
        return [sheet.items[place] for place in places]

    def many() -> int:
        return rng.randint(_LEAST, _MOST)

    if not by_place:
        return tuple(There(item=item.id, number=many()) for item in some(rng.randint(5, 8)))
    places = sorted(rng.sample(range(len(sheet.policy.places)), 2))
    items = some(rng.randint(3, 4))
    return tuple(
        There(item=item.id, number=many(), place=sheet.policy.places[place])
        for place in places
        for item in items
    )


def _line(rng: random.Random, sheet: Sheet, there: There) -> Line:
    """Give a line as it should be called; now and then by another name of the sheet's."""
    item = sheet.item(there.item)
    way = rng.choice(item.say) if rng.random() < 0.2 else item.say[0]
    run = tuple(range(1, there.number + 1))
    name = way.one if rng.random() < 0.2 else way.many
    return Line(step_id(there), name, there.place, run)


def _planted(
    rng: random.Random, lines: list[Line], sheet: Sheet, drill: Drill
) -> tuple[list[Line], list[Plant]]:
    """Plant faults, each two lines or more from the next; one attempt of seven has none."""
    if rng.random() < 1 / 7:
        return lines, []
    plants: list[Plant] = []
    free = set(range(len(lines)))
    across = rng.choice((*ACROSS, None))
    if across is not None:
        at = rng.choice([at for at in sorted(free) if _may_change(drill, at, across)])
        free -= set(range(at - 2, at + 4))
        other = lines[at + 1].step if across == "order" else None
        plants.append(Plant(across, lines[at].step, other))
    for kind in rng.sample((*IN_LINE[:2], *IN_LINE[:2], *IN_LINE[2:]), k=rng.choice((1, 2, 2))):
        may = [at for at in sorted(free) if kind != "stated" or not _stated(drill, sheet, at)]
        if not may:
            continue
        at = rng.choice(may)
        free -= {at - 1, at, at + 1}
        lines[at], number = _faulty(rng, lines[at], kind)
        plants.append(Plant(kind, lines[at].step, number=number))
    if across is not None:
        at = next(at for at, line in enumerate(lines) if line.step == plants[0].step)
        if across == "order":
            lines[at], lines[at + 1] = lines[at + 1], lines[at]
        else:
            del lines[at]
    return lines, plants


def _may_change(drill: Drill, at: int, kind: str) -> bool:
    """Tell whether a line may change places with the next one: both lie at one place."""
    if kind != "order":
        return True
    return at + 1 < len(drill.table) and drill.table[at].place == drill.table[at + 1].place


def _stated(drill: Drill, sheet: Sheet, at: int) -> bool:
    return sheet.item(drill.table[at].item).stated


def _faulty(rng: random.Random, line: Line, kind: str) -> tuple[Line, int | None]:
    run = line.numbers
    number = rng.choice(run[1:-1])
    if kind == "skipped":
        said = tuple(one for one in run if one != number)
    elif kind == "repeated":
        number = rng.choice(run)
        said = (*run[:number], *run[number - 1 :])
    elif kind == "too_few":
        return _with(line, run[: -rng.choice((1, 1, 2))]), None
    elif kind == "restart":
        said = (*run[:number], *run)
    else:
        return Line(line.step, line.name, line.place, (), len(run)), None
    return _with(line, said), number


def _with(line: Line, numbers: tuple[int, ...]) -> Line:
    return Line(line.step, line.name, line.place, numbers)


def make(part: str, given: Script, at: int, seed: int) -> Made:
    """Speak an attempt, in its room."""
    rng = np.random.default_rng([seed, at])
    parts: list[Samples] = []
    onsets: list[tuple[float, ...]] = []
    now = _EDGE
    spots: list[tuple[float, Samples]] = []
    for line in given.lines:
        gain = 10 ** (float(rng.uniform(-2, 2)) / 20)
        if given.joined:
            pieces, begun = _joined(part, given, line, rng)
        else:
            pieces, begun = [(0.0, _spoken(part, given, _text(line), given.pace))], ()
        spots += [(now + start, sound * gain) for start, sound in pieces]
        onsets.append(tuple(now + start for start in begun))
        last, sound = pieces[-1]
        now += last + len(sound) / RATE
        longest = 60 / given.pace if given.joined else 0.6
        now += max(0.95, longest * float(rng.uniform(1.2, 2.4)))
    whole = np.zeros(round((now + _EDGE) * RATE), np.float32)
    for start, sound in spots:
        first = round(start * RATE)
        whole[first : first + len(sound)] += sound
    parts.append(whole)
    return Made(_in_room(whole, given.condition, part, rng), tuple(onsets))


def _text(line: Line) -> str:
    said = f"total {in_words(line.total)}" if line.total is not None else _run(line.numbers)
    return f"{_called(line)}, {said}."


def _called(line: Line) -> str:
    return line.name if line.place is None else f"{BY_ID[line.place].phrases[0]}, {line.name}"


def _run(numbers: Sequence[int]) -> str:
    return ", ".join(map(in_words, numbers))


def _spoken(part: str, given: Script, text: str, pace: float) -> Samples:
    """Speak a text and cut the silence around it, to the loudness that all clips have."""
    sound = VOICES[part][given.voice](text, pace)
    levels = step_levels(sound)
    loud = np.flatnonzero(levels >= levels.max() - _NEAR_LOUD_DB)
    first = max(0, int(loud[0]) * STEP - round(_LEAD * RATE))
    sound = sound[first : (int(loud[-1]) + 4) * STEP]
    return np.asarray(sound * 10 ** ((-20.0 - np.percentile(levels[loud], 75)) / 20), np.float32)


def _joined(
    part: str, given: Script, line: Line, rng: np.random.Generator
) -> tuple[list[tuple[float, Samples]], tuple[float, ...]]:
    """Set a line's clips in time; gives each with its start, and the onsets of the numbers."""
    period = 60 / given.pace
    name = _spoken(part, given, _called(line) + ",", 1.0)
    pieces = [(0.0, name)]
    at = len(name) / RATE + float(rng.uniform(0.2, 0.6))
    if line.total is not None:
        return [*pieces, (at, _spoken(part, given, f"total {in_words(line.total)}.", 1.0))], ()
    onsets = []
    for number in line.numbers:
        sound = _spoken(part, given, in_words(number) + ".", 1.1)
        pieces.append((at, sound))
        onsets.append(at + _LEAD)
        at += max(period * float(rng.uniform(0.92, 1.08)), len(sound) / RATE + 0.05)
    return pieces, tuple(onsets)


def _in_room(whole: Samples, condition: str, part: str, rng: np.random.Generator) -> Samples:
    """Lay the noise of a condition over an attempt, so far under the voice's loud steps."""
    levels = step_levels(whole)
    voice = float(np.percentile(levels[levels > levels.max() - 35.0], 75))
    kind, _, under = condition.removesuffix(" dB").partition(" ")
    noise = MAKERS[part][kind](len(whole), rng) if under else pink(len(whole), rng)
    noise *= 10 ** ((voice - float(under or _QUIET_DB)) / 20) / float(np.sqrt((noise**2).mean()))
    return np.clip(whole + noise, -0.98, 0.98).astype(np.float32)


def kept_path(folder: Path, part: str, seed: int) -> Path:
    """Give the file in which what was heard of a run is kept."""
    return folder / f"drills-{part}-{seed}.jsonl"
