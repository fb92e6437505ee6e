"""The lanes of the drawing of a case: what stands in each, with which shape. All in inches."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from voicecount.report import words
from voicecount.report.facts import CaseFacts
from voicecount.report.marks import bare
from voicecount.report.timeline_rows import MOST_JUMPS, Bar, Scale, in_rows, jumps
from voicecount.report.timeline_text import drawable, width

GAP = 0.05
_LEAST = 0.03
"""A bar is at least that wide, so that it is seen."""
_LONGEST = 30
"""Characters of a title that are drawn."""
_TITLE_ROWS = 5
"""With more rows than this, counts have their numbers only."""
_ROWS = 8
"""With more rows than this, some counts, differences and marks have no label."""
_HALF = 0.05
"""Half as wide as a mark."""

STORED = "stored"
ANSWERED = "answered"
ADDED = "added"
HAPPENED = "happened"
WAIVED = "waived"
PERSON = "person"
CHECK = "check"
NOISE = "noise"
MICROPHONE = "microphone"
CLOCK = "clock"
COUNT = "count"
ADDITION = "addition count"
DIFFERENCE = "difference"
PAUSE = "pause"

MEANINGS = {
    COUNT: "count",
    ADDITION: "count of an addition",
    STORED: "line stored",
    ANSWERED: "line answered by the other person",
    ADDED: "addition",
    HAPPENED: "incident",
    WAIVED: "count waived",
    DIFFERENCE: "≠ difference, from its coming up to its end",
    PERSON: "change of people",
    PAUSE: "standing by",
    CHECK: "sound check",
    NOISE: "noise changed",
    MICROPHONE: "microphone changed",
    CLOCK: "≠ time of day does not go on with the minutes",
}
"""What each shape is called in the legend."""

HATCHES = {COUNT: "", ADDITION: "....", DIFFERENCE: "/////", PAUSE: "-----"}
_SHORT = {
    "packed": "left on purpose",
    "tucked": "tucked in",
    "came_out": "came out",
    "incomplete": "piece lacking",
    "one_too_many": "one too many",
}
"""What incidents are called here where their code does not say it."""
_LANES_OF_THEIR_OWN = frozenset({"people_changed", "stood_by", "carried_on"})
_SOUNDS = {"sound_checked": CHECK, "noise_changed": NOISE, "microphone_changed": MICROPHONE}


@dataclass(frozen=True)
class Mark:
    """Something of one moment."""

    x: float
    kind: str
    label: str = ""
    text_at: float = 0.0
    """Where the label begins."""
    row: int = 0


@dataclass(frozen=True)
class Lane:
    """One lane: bars in rows, or marks on a line."""

    title: str
    bars: tuple[Bar, ...] = ()
    marks: tuple[Mark, ...] = ()

    @property
    def rows(self) -> int:
        """How many rows it takes; a lane with nothing in it takes one."""
        rows = [bar.row for bar in self.bars] + [mark.row for mark in self.marks]
        return 1 + max(rows, default=0)

    @property
    def empty(self) -> bool:
        """Whether nothing is in it."""
        return not self.bars and not self.marks


def lanes(facts: CaseFacts, along: Scale) -> list[Lane]:
    """Give all lanes, from the top; empty ones too, so that a lack can be seen."""
    found = [
        Lane("Counts", bars=tuple(_counts(facts, along))),
        Lane("Lines", marks=tuple(_lines(facts, along))),
        Lane("Additions,\nincidents", marks=_labelled(list(_told(facts, along)), along)),
        Lane("Differences", bars=tuple(_differences(facts, along))),
        Lane("People", marks=_labelled(list(_people(facts, along)), along)),
        Lane("Standing by", bars=tuple(_pauses(facts, along))),
        Lane("Sound", marks=tuple(_sound(facts, along))),
    ]
    jumped = _labelled(list(_jumps(facts, along)), along)
    return [*found, Lane("Time of day", marks=jumped)] if jumped else found


def kinds(found: Sequence[Lane]) -> list[str]:
    """Give the kinds of shapes that are drawn, in the order of the legend."""
    used = {mark.kind for lane in found for mark in lane.marks}
    used |= {kind for lane in found for bar in lane.bars for kind in HATCHES if _is(bar, kind)}
    return [kind for kind in MEANINGS if kind in used]


def _is(bar: Bar, kind: str) -> bool:
    return bar.hatch == HATCHES[kind]


def _bar(along: Scale, span: tuple[float, float], label: str, *, kind: str, name: str) -> Bar:
    """Make a bar; its label stands in it, right of it, or left of it where the paper ends."""
    left = min(along.x(span[0]), along.right - _LEAST)
    right = max(along.x(span[1]), left + _LEAST)
    wide = width(label) + GAP
    bar = Bar(left, right, label, left + GAP, inside=True, name=name, hatch=HATCHES[kind])
    if not label or (wide + GAP <= right - left and not HATCHES[kind]):
        return bar
    if right + wide <= along.right:
        return replace(bar, text_at=right + GAP, inside=False)
    return replace(bar, text_at=left - wide, inside=False)


def _counts(facts: CaseFacts, along: Scale) -> list[Bar]:
    """Label counts by number and title, by number where that takes too many rows."""
    titled = in_rows(_count_bars(facts, along, titles=True), width, GAP)
    if max((bar.row for bar in titled), default=0) < _TITLE_ROWS:
        return titled
    numbered = in_rows(_count_bars(facts, along, titles=False), width, GAP)
    return [replace(bar, row=0, label="") if bar.row >= _ROWS else bar for bar in numbered]


def _count_bars(facts: CaseFacts, along: Scale, *, titles: bool) -> list[Bar]:
    found = []
    for one in facts.counts:
        end = one.finished.at if one.finished is not None else facts.ended.at
        label = f"{one.number} {_short(one.title)}" if titles else str(one.number)
        kind = ADDITION if one.kind == "addition" else COUNT
        name = f"count-{one.number}"
        found.append(_bar(along, (one.opened.at, end), label, kind=kind, name=name))
    return found


def _short(title: str) -> str:
    text = drawable(bare(title))
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"


def _lines(facts: CaseFacts, along: Scale) -> Iterator[Mark]:
    for one in facts.counts:
        for line in one.lines:
            yield Mark(along.x(line.stored.at), STORED)
            if line.answered is not None:
                yield Mark(along.x(line.answered.at), ANSWERED)


def _told(facts: CaseFacts, along: Scale) -> Iterator[Mark]:
    for one in facts.counts:
        if one.kind == "addition":
            yield Mark(along.x(one.opened.at), ADDED)
        else:
            added = (line for line in one.lines if line.entry == "addition" and line.stands)
            yield from (Mark(along.x(line.stored.at), ADDED) for line in added)
    for told in facts.happenings:
        if told.what in _LANES_OF_THEIR_OWN:
            continue
        kind = {"incident.added": ADDED, "count_waived": WAIVED}.get(told.what, HAPPENED)
        code = told.what.rpartition(".")[2]
        label = "" if kind == ADDED else _SHORT.get(code, words.plain(code))
        yield Mark(along.x(told.when.at), kind, label)


def _differences(facts: CaseFacts, along: Scale) -> list[Bar]:
    found = []
    for one in facts.discrepancies:
        end = one.closed.at if one.closed is not None else facts.ended.at
        label = f"{words.DIFFERS} {one.number}{'' if one.closed is not None else ' open'}"
        name = f"difference-{one.number}"
        found.append(_bar(along, (one.opened.at, end), label, kind=DIFFERENCE, name=name))
    placed = in_rows(found, width, GAP)
    return [replace(bar, row=0, label="") if bar.row >= _ROWS else bar for bar in placed]


def _people(facts: CaseFacts, along: Scale) -> Iterator[Mark]:
    for told in facts.happenings:
        if told.what == "people_changed":
            yield Mark(along.x(told.when.at), PERSON, words.plain(told.role))


def _pauses(facts: CaseFacts, along: Scale) -> Iterator[Bar]:
    """Give what lay between a stand-by and the next listening again, or the end."""
    spans: list[tuple[float, float]] = []
    since: float | None = None
    for event in facts.events:
        if event.kind == "stood_by" and since is None:
            since = event.when.at
        elif event.kind == "carried_on" and since is not None:
            spans.append((since, event.when.at))
            since = None
    if since is not None:
        spans.append((since, facts.ended.at))
    for number, span in enumerate(spans, start=1):
        yield _bar(along, span, "", kind=PAUSE, name=f"pause-{number}")


def _sound(facts: CaseFacts, along: Scale) -> Iterator[Mark]:
    for one in facts.sound:
        yield Mark(along.x(one.when.at), _SOUNDS.get(one.what, CHECK))


def _jumps(facts: CaseFacts, along: Scale) -> Iterator[Mark]:
    """Tell each jump of the clock; many, as of a case that was not played in its time, at once."""
    found = jumps(facts)
    if len(found) > MOST_JUMPS:
        yield Mark(along.x(found[0].at), CLOCK, f"{words.DIFFERS} {len(found)} jumps from here on")
        return
    for one in found:
        yield Mark(along.x(one.at), CLOCK, f"{words.DIFFERS} {one}")


def _labelled(marks: Sequence[Mark], along: Scale) -> tuple[Mark, ...]:
    """Set marks with their labels in rows without overlap; the label of one that has none is lost.

    A label stands right of its mark, or left of it where the paper ends.
    """
    ends: list[float] = []
    found = []
    for mark in sorted((_beside(one, along) for one in marks), key=_reach):
        left, right = _reach(mark)
        row = next((at for at, end in enumerate(ends) if end + GAP <= left), len(ends))
        if row == _ROWS:
            found.append(replace(mark, label=""))
            continue
        ends[row : row + 1] = [right]
        found.append(replace(mark, row=row))
    return tuple(sorted(found, key=lambda one: one.x))


def _beside(mark: Mark, along: Scale) -> Mark:
    wide = width(mark.label)
    right = mark.x + 1.6 * GAP
    fits = right + wide <= along.right
    return replace(mark, text_at=right if fits else mark.x - 1.6 * GAP - wide)


def _reach(mark: Mark) -> tuple[float, float]:
    """Give from where to where a mark reaches, its label included."""
    left, right = mark.x - _HALF, mark.x + _HALF
    if not mark.label:
        return left, right
    return min(left, mark.text_at), max(right, mark.text_at + width(mark.label))
