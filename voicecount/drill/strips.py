"""The attempt over time, in strips like lines of music: what was expected, called, found and heard.

Each strip has one axis of time for all its rows, and the same in words. It is read without colour:
what was called is filled, the partner is hatched, what is missing is dashed, and each finding has
the shape of its row of the rubric and a letter.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from matplotlib.axes import Axes

from voicecount.drill.judgement import Result
from voicecount.drill.strip_layout import Strip, cut, fitting, free, rows, slots
from voicecount.drill.strip_pen import LEFT, RIGHT, WIDTH, Pen, Scale, Span, measured
from voicecount.drill.strip_words import alternative
from voicecount.drill.svg import FILL, INK, LINE, MARK, PAPER, QUIET, VOICE, Plot, drawn
from voicecount.drill.view import MARKERS, Found, View
from voicecount.drill.view import Line as Step
from voicecount.drill.waveform import Envelope
from voicecount.report.timeline_text import drawable, width
from voicecount.words.numbers import NUMBER_WORDS

_TOP = 0.03
_FOUND = 0.19
_EXPECTED = 0.24
_TIES = 0.16
"""Room between what was expected and what was called, where something was called elsewhere."""
_CALLED = 0.36
_PARTNER = 0.2
_SOUND = 0.52
_AXIS = 0.2
_PAD = 0.03
_PEAKS = 420
_TICKS = {20.0: 2, 30.0: 5, 45.0: 5, 60.0: 10, 90.0: 15, 120.0: 20, 180.0: 30, 300.0: 60}
_STYLES = {
    Result.RIGHT: ("-", 0.7),
    Result.FAULTY: ("-", 1.5),
    Result.MISSING: ((0, (4, 2)), 0.9),
    Result.NOT_HEARD: (":", 0.9),
    Result.NOT_JUDGED: (":", 0.7),
}


@dataclass(frozen=True)
class Drawing:
    """One strip as a picture, and where its time lies in it."""

    plot: Plot
    start: float
    end: float
    left: float
    right: float
    """Shares of the picture's width, of ``start`` and ``end``."""


def strips(view: View, sound: Envelope | None) -> list[Drawing]:
    """Draw an attempt; without ``sound`` the strips have no waveform."""
    where = slots([_moment(one) for one in view.lines], view.seconds)
    return [_strip(view, sound, where, number, one) for number, one in enumerate(cut(view.seconds))]


def _moment(step: Step) -> Span | None:
    return None if step.start is None else (step.start, max(step.start, step.end or step.start))


def _strip(
    view: View,
    sound: Envelope | None,
    where: Sequence[Span],
    number: int,
    strip: Strip,
) -> Drawing:
    found = [one for one in view.found if strip.holds(one.start)]
    scale = Scale(strip)
    lanes = _lanes(found, scale)
    ties = [one for one in zip(view.lines, where, strict=True) if _moved(*one, strip)]
    height = _TOP + _FOUND * max(1, max(lanes, default=0) + 1) + _EXPECTED + _CALLED + _AXIS
    height += _TIES if ties else 0.0
    height += (_PARTNER if view.said else 0.0) + (_SOUND if sound else 0.0)
    draw = partial(_draw, view=view, sound=sound, where=where, strip=strip, ties=ties)
    svg = drawn(f"strip-{number}", (WIDTH, height), draw)
    left, right = scale.x(strip.start) / WIDTH, scale.x(strip.end) / WIDTH
    return Drawing(Plot(svg, alternative(view, strip)), strip.start, strip.end, left, right)


def _lanes(found: Sequence[Found], scale: Scale) -> list[int]:
    """Give each mark a row in which its letter touches no other."""
    spans = []
    for one in found:
        x = scale.x(one.start)
        spans.append((x - 0.06, x + 0.08 + width(one.letter)))
    return rows(spans, 0.03)


def _draw(
    axes: Axes,
    *,
    view: View,
    sound: Envelope | None,
    where: Sequence[Span],
    strip: Strip,
    ties: Sequence[tuple[Step, Span]],
) -> None:
    pen = Pen(axes, strip)
    found = [one for one in view.found if strip.holds(one.start)]
    lanes = _lanes(found, pen)
    top = _TOP
    below = top + _FOUND * max(1, max(lanes, default=0) + 1)
    calls = below + _EXPECTED + (_TIES if ties else 0.0)
    bottom = calls + _CALLED + (_PARTNER if view.said else 0.0) + (_SOUND if sound else 0.0)
    _axis(pen, bottom)
    for one, lane in zip(found, lanes, strict=True):
        _mark(pen, one, top + _FOUND * (lane + 0.5), bottom)
    _title(pen, "found", top + _FOUND / 2, quiet=not found)
    _row(pen, below)
    _title(pen, "expected", below + _EXPECTED / 2)
    for place, (step, slot) in enumerate(zip(view.lines, where, strict=True)):
        after = where[place + 1][0] if place + 1 < len(where) else strip.end
        _expected(pen, step, slot, after, below)
    _row(pen, calls)
    _title(pen, "called", calls + _CALLED / 2)
    _called(pen, view, calls)
    for step, slot in ties:
        _tie(pen, step, slot, (below + _EXPECTED - _PAD, calls + _PAD))
    at = calls + _CALLED
    if view.said:
        _row(pen, at)
        _title(pen, "partner", at + _PARTNER / 2)
        _partner(pen, view, at)
        at += _PARTNER
    if sound is not None:
        _row(pen, at)
        _title(pen, "sound", at + _SOUND / 2)
        for cue in view.said:
            part = strip.part(cue.start, cue.end)
            if part:
                pen.hatched(part, (at + _PAD, at + _SOUND - _PAD))
        for one in found:
            part = strip.part(one.start, one.end)
            if part:
                pen.box(part, (at, at + _SOUND), facecolor=FILL, edgecolor="none")
        _wave(pen, sound, at)


def _axis(pen: Pen, bottom: float) -> None:
    strip = pen.strip
    step = _TICKS.get(strip.length, strip.length / 6)
    pen.line((LEFT, pen.x(strip.end)), (bottom, bottom))
    at = strip.start
    while at <= strip.end + 1e-6:
        x = pen.x(at)
        pen.line((x, x), (_TOP, bottom), color=LINE, linewidth=0.3, zorder=0)
        pen.line((x, x), (bottom, bottom + 0.035))
        pen.text(x, bottom + 0.11, clock(at), ha="center", color=QUIET)
        at += step


def clock(seconds: float) -> str:
    """Write whole seconds as ``2:05``."""
    return f"{round(seconds) // 60}:{round(seconds) % 60:02d}"


def _row(pen: Pen, top: float) -> None:
    pen.line((0, WIDTH - RIGHT), (top, top), color=LINE, linewidth=0.5, zorder=0)


def _title(pen: Pen, words: str, middle: float, *, quiet: bool = False) -> None:
    pen.text(0, middle, words, color=QUIET if quiet else INK)


def _mark(pen: Pen, found: Found, y: float, bottom: float) -> None:
    x = pen.x(found.start)
    pen.line((x, x), (y, bottom), color=MARK, linewidth=0.6, linestyle=(0, (1, 1.5)), zorder=1)
    pen.axes.plot(
        [x],
        [y],
        linestyle="none",
        marker=MARKERS[found.row],
        markersize=5.2,
        markerfacecolor=MARK,
        markeredgecolor=PAPER,
        markeredgewidth=0.5,
        zorder=6,
        clip_on=False,
    )
    pen.text(x + 0.065, y, found.letter, color=MARK)


def _expected(pen: Pen, step: Step, slot: Span, after: float, top: float) -> None:
    """Draw a step; its label may reach to where the next one begins, ``after``."""
    part = pen.strip.part(*slot)
    if part is None:
        return
    looks = _STYLES[step.result]
    ys = (top + _PAD, top + _EXPECTED - _PAD)
    pen.box(part, ys, facecolor=PAPER, linestyle=looks[0], linewidth=looks[1])
    name = {Result.MISSING: "✗ ", Result.NOT_HEARD: "? "}.get(step.result, "")
    label = f"{name}{step.number} {drawable(step.name)}"
    pen.label(part, after, (ys[0] + ys[1]) / 2, (label, f"{step.number}"))


def _called(pen: Pen, view: View, top: float) -> None:
    ys = (top + _PAD, top + _CALLED - _PAD)
    upper, lower = top + 0.115, top + _CALLED - 0.1
    moments = [_moment(one) for one in view.lines]
    begins = [one[0] for one in moments if one is not None]
    begins += [one.start for one in view.unheard] + [start for start, _, _ in view.other]
    begins.sort()

    def after(start: float) -> float:
        return next((one for one in begins if one > start), pen.strip.end)

    for one, moment in zip(view.lines, moments, strict=True):
        part = pen.strip.part(*moment) if moment else None
        if moment is None or part is None or one.result is Result.NOT_HEARD:
            continue
        pen.box(part, ys, facecolor=FILL, edgecolor=VOICE, linewidth=0.8)
        labels = (f"{one.number} {drawable(_name_in(one.words))}", f"{one.number}")
        pen.label(part, after(moment[0]), upper, labels)
        _numbers(pen, one, lower)
    quiet = [(one.start, one.end, "? not heard", "?") for one in view.unheard]
    other = [(start, end, drawable(words), "…") for start, end, words in view.other]
    for start, end, words, short in (*quiet, *other):
        part = pen.strip.part(start, end)
        if part is None:
            continue
        pen.box(part, ys, facecolor=PAPER, edgecolor=QUIET, linestyle=":", linewidth=0.9)
        pen.label(part, after(start), upper, (words, short))


def _name_in(words: str) -> str:
    """Give the words without the numbers of the run: these stand at their moments."""
    return " ".join(word for word in words.split() if word.lower() not in NUMBER_WORDS)


def _numbers(pen: Pen, step: Step, middle: float) -> None:
    shown = [one for one in step.numbers if pen.strip.part(one.start, one.end)]
    spans = []
    for one in shown:
        x, half = pen.x((one.start + one.end) / 2), width(str(one.value)) / 2
        spans.append((x - half, x + half))
    for one, span, fits in zip(shown, spans, free(spans, 0.025), strict=True):
        x = (span[0] + span[1]) / 2
        if fits:
            pen.text(x, middle, str(one.value), ha="center")
        else:
            pen.line((x, x), (middle - 0.03, middle + 0.03), color=QUIET)


def _moved(step: Step, slot: Span, strip: Strip) -> bool:
    """Tell whether a step was called at another place than where it was expected."""
    if step.start is None or step.end is None or step.result is Result.NOT_HEARD:
        return False
    due, called = (slot[0] + slot[1]) / 2, (step.start + step.end) / 2
    elsewhere = slot[1] <= step.start or step.end <= slot[0]
    return elsewhere and (strip.holds(due) or strip.holds(called))


def _tie(pen: Pen, step: Step, slot: Span, ys: Span) -> None:
    """Tie a step that was called at another place to where it was expected."""
    due, called = (slot[0] + slot[1]) / 2, ((step.start or 0.0) + (step.end or 0.0)) / 2
    pen.line((pen.x(due), pen.x(called)), ys, linewidth=1.0, zorder=4)


def _partner(pen: Pen, view: View, top: float) -> None:
    """Draw when the partner speaks; the words stand beside it, up to what is said next."""
    ys = (top + _PAD, top + _PARTNER - _PAD)
    for place, cue in enumerate(view.said):
        part = pen.strip.part(cue.start, cue.end)
        if part is None:
            continue
        pen.hatched(part, ys)
        after = view.said[place + 1].start if place + 1 < len(view.said) else pen.strip.end
        left = pen.x(part[1]) + 0.04
        label = fitting(drawable(cue.words), pen.edge(after) - left - 0.04, measured)
        if label and pen.strip.holds(cue.end):
            pen.text(left, (ys[0] + ys[1]) / 2, label)


def _wave(pen: Pen, sound: Envelope, top: float) -> None:
    loudest = sound.loudest() or 1.0
    peaks = sound.between(pen.strip.start, pen.strip.end, _PEAKS)
    middle, half = top + _SOUND / 2, _SOUND / 2 - _PAD
    xs = [pen.x(at) for at, _ in peaks]
    high = [half * peak / loudest for _, peak in peaks]
    pen.axes.fill_between(
        xs,
        [middle - one for one in high],
        [middle + one for one in high],
        facecolor=VOICE,
        edgecolor=VOICE,
        linewidth=0.4,
        zorder=3,
    )
