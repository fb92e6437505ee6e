"""The case over time as one drawing, and the same in words.

Readable without colour: every kind has a shape or a hatch of its own. Of the case's texts it holds
only the titles of its counts, and all text is drawn as outlines, so that it looks the same
everywhere and needs no font. ``timeline_lanes.py`` says what stands where.
"""

import io

import matplotlib as mpl
from matplotlib.figure import Figure

from voicecount.report import words
from voicecount.report.facts import CaseFacts, CountFacts
from voicecount.report.svg_alone import UNTOLD, bare
from voicecount.report.timeline_draw import LEFT, LOOKS, RIGHT, WIDTH, draw
from voicecount.report.timeline_lanes import lanes
from voicecount.report.timeline_rows import MOST_JUMPS, jumps, scale, ticks


def timeline(facts: CaseFacts) -> str:
    """Draw the case as SVG; the same facts give the same text."""
    with mpl.rc_context(LOOKS):
        along = scale(facts, LEFT, WIDTH - RIGHT)
        return _svg(draw(lanes(facts, along), along, ticks(facts, along)))


def alternative(facts: CaseFacts) -> str:
    """Say in one paragraph what the drawing shows."""
    parts = [f"The case lasted {words.clock(facts.ended.at - facts.began.at)} on its clock."]
    if facts.counts:
        held = "; ".join(_count(one) for one in facts.counts)
        parts.append(f"{words.counted(len(facts.counts), 'count')}: {held}.")
    else:
        parts.append("No count was opened.")
    lines = [line for one in facts.counts for line in one.lines]
    answered = sum(line.answered is not None for line in lines)
    stored = words.counted(len(lines), "line")
    parts.append(f"{stored} stored, {answered} of them answered by the other person.")
    parts += [
        f"{words.DIFFERS} Difference {one.number} from {words.clock(one.opened.at)} "
        + ("to the end, open." if one.closed is None else f"to {words.clock(one.closed.at)}.")
        for one in facts.discrepancies
    ]
    told = [
        f"{words.clock(one.when.at)} {_told(one.what)}"
        for one in facts.happenings
        if one.what not in {"stood_by", "carried_on"}
    ]
    parts += [f"Told: {'; '.join(told)}."] if told else []
    pauses = sum(event.kind == "stood_by" for event in facts.events)
    parts += [f"Stood by {words.counted(pauses, 'time')}."] if pauses else []
    heard = [f"{words.clock(one.when.at)} {one.text.rstrip('.')}" for one in facts.sound]
    parts += [f"Sound: {'; '.join(heard)}."] if heard else []
    jumped = jumps(facts)
    if jumped:
        how = "; ".join(f"at {words.clock(one.at)} {one}" for one in jumped)
        if len(jumped) > MOST_JUMPS:
            how = f"{len(jumped)} times from {words.clock(jumped[0].at)} on"
        parts.append(f"{words.DIFFERS} The time of day does not go on with this clock: {how}.")
    return " ".join(parts)


def _told(what: str) -> str:
    return words.HAPPENINGS.get(what, words.plain(what)).partition(";")[0]


def _count(one: CountFacts) -> str:
    end = "not finished" if one.finished is None else f"to {words.clock(one.finished.at)}"
    return f"{one.number}, {one.title}, from {words.clock(one.opened.at)} {end}"


def _svg(figure: Figure) -> str:
    """Write the drawing; only the element itself, without what stands before it in a file."""
    written = io.StringIO()
    figure.savefig(written, format="svg", metadata=UNTOLD)
    return bare(written.getvalue())
