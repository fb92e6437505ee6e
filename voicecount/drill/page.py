"""The page of one attempt: what went well, what to do next, and every moment to be heard again."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from voicecount.drill import plots
from voicecount.drill.attempt import Attempt
from voicecount.drill.document import AROUND, percent, render
from voicecount.drill.judgement import Judgement, Mark, Measured
from voicecount.drill.model import Criterion, Drill
from voicecount.drill.past import Past
from voicecount.drill.progress import panels
from voicecount.drill.strips import strips
from voicecount.drill.summary import summary
from voicecount.drill.view import MARKERS, RESULTS, ROWS, SIGNS, Loaded, View, view
from voicecount.drill.waveform import Envelope, envelope
from voicecount.errors import RecordingError
from voicecount.report.marks import visible

__all__ = ["Past", "attempt_page"]

_SHOWN_BEFORE = 8


@dataclass(frozen=True)
class Row:
    """One row of the rubric, as it is shown."""

    criterion: Criterion
    name: str
    weight: str
    counted: str
    share: float | None
    letters: tuple[str, ...]


def attempt_page(
    judgement: Judgement,
    attempt: Attempt,
    loaded: Loaded,
    *,
    student: str,
    made: str,
    sound: Path | None,
    before: Sequence[Past],
    href: str | None = None,
) -> str:
    """Give the page as the text of an HTML file.

    ``sound`` is read for the waveform. The page plays it from ``href``, an address seen from where
    the page will lie; without one the recording has to lie beside the page. ``before`` are the
    student's earlier attempts; those at other drills are left out. ``made`` is ISO 8601.
    """
    shown = view(judgement, attempt, loaded)
    wave, trouble = _wave(sound)
    title = visible(loaded.drill.title)
    same = [one for one in before if visible(one.drill) == title]
    now = Past(made, title, judgement.score, judgement.marks)
    address = None if wave is None or sound is None else _address(sound, href)
    return render(
        "attempt.html",
        script=address is not None,
        title=title,
        drill=loaded.drill,
        student=visible(student),
        made=made,
        view=shown,
        summary=visible(summary(judgement, loaded.drill, loaded.sheet)),
        score=judgement.score,
        strips=strips(shown, wave),
        pace=plots.pace(shown),
        too_far=plots.too_far(shown),
        loudness=plots.loudness(shown),
        rows=[_row(one, shown) for one in judgement.marks],
        seen=[row for row in MARKERS if any(one.row is row for one in shown.found)],
        rights=sum(one.result.value == "right" for one in shown.lines),
        names=ROWS,
        results=RESULTS,
        signs=SIGNS,
        measured=_measured(judgement.measured, loaded.drill),
        address=address,
        trouble=trouble,
        around=AROUND,
        cues_known=attempt.cues_known,
        recogniser=visible(attempt.recogniser),
        room_db=attempt.room_db,
        before=same[-_SHOWN_BEFORE:],
        earlier=len(same),
        progress=panels("before", [*same, now]) if same else None,
    )


def _wave(sound: Path | None) -> tuple[Envelope | None, str]:
    """Read the recording; what keeps it from being read is told on the page."""
    if sound is None:
        return None, "The recording was not kept, so nothing can be played."
    try:
        return envelope(sound), ""
    except RecordingError as error:
        why = str(error).partition(": ")[2] or str(error)
        return None, f"The recording cannot be read, so nothing can be played: {visible(why)}."


def _address(sound: Path, href: str | None) -> str:
    """Give a relative address that is never taken for one with a scheme."""
    return f"./{quote(sound.name)}" if href is None else quote(href, safe="/.")


def _row(mark: Mark, shown: View) -> Row:
    return Row(
        mark.criterion,
        ROWS[mark.criterion],
        f"{mark.weight:g}" if mark.weight else "0, not weighed",
        f"{mark.right} of {mark.of}" if mark.of else "nothing to judge",
        mark.share,
        tuple(one.letter for one in shown.found if one.row is mark.criterion),
    )


def _measured(one: Measured, drill: Drill) -> list[tuple[str, str, str]]:
    """Give what was measured: its name, the value, and what is wanted."""
    pace, loud = drill.pace, drill.loudness
    numbers = "one number" if one.numbers == 1 else f"{one.numbers} numbers"
    return [
        (
            "Pace",
            _value(one.numbers_per_minute, ".0f", f" numbers a minute, from {numbers}"),
            f"{pace.least:g} to {pace.most:g}",
        ),
        (
            "Unevenness of the pace",
            "\N{EN DASH}" if one.unevenness is None else percent(one.unevenness),
            f"{100 * pace.unevenness:g} % at most",
        ),
        (
            "Longest pause inside a line",
            _value(one.longest_pause, ".1f", " s"),
            f"{pace.longest_pause:g} s at most",
        ),
        (
            "Loudness above the room",
            _value(one.above_room, ".0f", " dB"),
            f"{loud.above_room:g} dB at least",
        ),
        (
            "Spread of loudness from line to line",
            _value(one.loudness_spread, ".1f", " dB"),
            f"{loud.unevenness:g} dB at most",
        ),
    ]


def _value(value: float | None, form: str, unit: str) -> str:
    return "\N{EN DASH}" if value is None else f"{value:{form}}{unit}"
