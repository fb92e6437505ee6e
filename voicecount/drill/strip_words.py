"""One strip of an attempt in words."""

from voicecount.drill.judgement import Result
from voicecount.drill.strip_layout import Strip
from voicecount.drill.view import RESULTS, Line, View
from voicecount.show.console import clock_time


def alternative(view: View, strip: Strip) -> str:
    """Say what a strip shows."""
    parts = [f"From {clock_time(strip.start)} to {clock_time(strip.end)}."]
    called = [
        _called(one)
        for one in sorted(view.lines, key=lambda one: one.start or 0.0)
        if one.start is not None and one.result is not Result.NOT_HEARD and strip.holds(one.start)
    ]
    parts.append(f"Called: {'; '.join(called)}." if called else "Nothing was called.")
    other = [
        f"{clock_time(start)} “{words}”" for start, _, words in view.other if strip.holds(start)
    ]
    parts += [f"Said besides: {'; '.join(other)}."] if other else []
    said = [
        f"{clock_time(one.start)} “{one.words.rstrip('.')}”"
        for one in view.said
        if strip.holds(one.start)
    ]
    parts += [f"The partner: {'; '.join(said)}."] if said else []
    found = [
        f"{one.letter} {clock_time(one.start)} {one.sentence.rstrip('.')}"
        for one in view.found
        if strip.holds(one.start)
    ]
    parts += [f"Found: {'; '.join(found)}."] if found else []
    unheard = [clock_time(one.start) for one in view.unheard if strip.holds(one.start)]
    parts += [f"Not heard, at: {', '.join(unheard)}."] if unheard else []
    missing = [one.name for one in view.lines if one.result is Result.MISSING]
    if strip.last and missing:
        parts.append(f"Missing in the whole attempt: {', '.join(missing)}.")
    return " ".join(parts)


def _called(one: Line) -> str:
    numbers = ", ".join(str(each.value) for each in one.numbers)
    what = f"{clock_time(one.start or 0.0)} step {one.number}, {one.name}"
    return f"{what}: {numbers or one.words or 'no words'} ({RESULTS[one.result]})"
