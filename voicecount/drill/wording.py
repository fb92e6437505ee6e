"""A sentence for each finding and each step: simple, kind and exact. Pure.

Nothing here says that a count is safe, or right for a patient: a drill is practice.
"""

from collections.abc import Callable, Mapping, Sequence

from voicecount.drill.judgement import Fault, Finding, Result, StepJudged
from voicecount.drill.model import Drill
from voicecount.drill.steps import Step, StepKind, steps
from voicecount.sheet.model import Sheet
from voicecount.talk.text import capital, within
from voicecount.talk.text import number as _number
from voicecount.words.places import BY_ID

Told = Callable[[Finding, Drill, Sheet], str]


def told(finding: Finding, drill: Drill, sheet: Sheet) -> str:
    """Give one plain sentence, with names and numbers in the words of the sheet."""
    text = _TOLD[finding.fault](finding, drill, sheet)
    name = line_name(finding.item, finding.place, sheet)
    return capital(f"{name}: {text}." if name else f"{text}.")


def line_name(item: str | None, place: str | None, sheet: Sheet) -> str:
    """Give the name of a line with its place: "lap sponges on the field"; empty without an item."""
    if item is None:
        return ""
    known = next((one for one in sheet.items if one.id == item), None)
    name = item.replace("_", " ") if known is None else known.name(2)
    where = BY_ID.get(place or "")
    return name if where is None else f"{name} {where.phrases[0]}"


def told_step(judged: StepJudged, drill: Drill, sheet: Sheet) -> str:
    """Give one sentence on what became of a step."""
    step = next((one for one in steps(drill, sheet) if one.id == judged.step), None)
    if step is None:
        return capital(f"{judged.step}: not part of this drill.")
    name = line_name(step.item, step.place, sheet)
    if step.package is not None:
        name = f"{name}, package {within(step.package)}".rstrip(",")
    return capital(f"{name}: {_DONE[step.kind]}{_BECAME[judged.result]}.")


_DONE: Mapping[StepKind, str] = {
    StepKind.CALL: "the call ",
    StepKind.CONFIRM: "the confirmation ",
    StepKind.OBJECT: "the objection ",
    StepKind.ANSWER: "the answer ",
}
_BECAME: Mapping[Result, str] = {
    Result.RIGHT: "was as it should be",
    Result.FAULTY: "was heard, and there is something to improve",
    Result.MISSING: "is missing",
    Result.NOT_HEARD: "was not heard well enough to be judged",
    Result.NOT_JUDGED: "was not judged, because what it answers is not in the recording",
}


def number(value: int) -> str:
    """Say a number in the middle of a sentence."""
    return _number(value).split(",")[0]


def numbers(values: Sequence[int]) -> str:
    """Say some numbers: "three", "three and four", "three to six"."""
    if len(values) > 2:
        return f"{number(values[0])} to {number(values[-1])}"
    return " and ".join(number(value) for value in values)


def seconds(value: float | None) -> str:
    """Say a time to a tenth of a second."""
    return f"{value or 0.0:.1f} seconds"


def _first(finding: Finding) -> str:
    return number(finding.heard[0]) if finding.heard else "another number"


def _last(finding: Finding) -> str:
    return number(finding.heard[-1]) if finding.heard else "another number"


def _expected(finding: Finding) -> str:
    return number(finding.expected or 0)


def _rate(finding: Finding) -> str:
    return f"{finding.value or 0.0:.0f} numbers a minute"


def _due_after(finding: Finding, drill: Drill, sheet: Sheet) -> str:
    """Tell where a line belongs: after the line before it in the drill."""
    before: Step | None = None
    for step in steps(drill, sheet):
        if step.kind is not StepKind.CALL:
            continue
        if (step.item, step.place) == (finding.item, finding.place):
            break
        before = step
    if before is None:
        return "it comes first"
    return f"it comes after {line_name(before.item, before.place, sheet)}"


def _missed(finding: Finding, _drill: Drill, _sheet: Sheet) -> str:
    package = (finding.step or "").rpartition(".")[2]
    if finding.heard:
        return f"a run to {_last(finding)} was heard here, without the name"
    if package.isdigit():
        return f"package {number(int(package))} was not called"
    return "this line was not called"


def _group(finding: Finding, drill: Drill, sheet: Sheet) -> str:
    group = next((one.group for one in sheet.items if one.id == finding.item), None)
    what = "the whole group" if group is None else f"the whole group, {group.value},"
    return f"{what} was called out of order; {_due_after(finding, drill, sheet)}"


def _skipped(finding: Finding, _drill: Drill, _sheet: Sheet) -> str:
    if not finding.heard:
        return "a number was left out"
    were = "were" if len(finding.heard) > 1 else "was"
    after = number(finding.heard[0] - 1)
    return f"{numbers(finding.heard)} {were} left out after {after}"


def _plain(make: Callable[[Finding], str]) -> Told:
    return lambda finding, _drill, _sheet: make(finding)


_TOLD: Mapping[Fault, Told] = {
    Fault.MISSED_ITEM: _missed,
    Fault.WRONG_ORDER: lambda f, d, s: f"called out of order; {_due_after(f, d, s)}",
    Fault.WRONG_GROUP: _group,
    Fault.WRONG_PLACE: _plain(lambda _: "not called at its place; say the place with the name"),
    Fault.UNEXPECTED_ITEM: _plain(lambda _: "called, although none lie on this table"),
    Fault.NOT_FROM_ONE: _plain(lambda f: f"the run began with {_first(f)}; begin with one"),
    Fault.SKIPPED: _skipped,
    Fault.REPEATED: _plain(lambda f: f"{_last(f)} was said twice"),
    Fault.BACKWARDS: _plain(lambda f: f"{_last(f)} was said after {_first(f)}"),
    Fault.STATED: _plain(lambda f: f"{_last(f)} was stated; count one by one, from one"),
    Fault.TOO_FEW: _plain(lambda f: f"called as {_last(f)}; {_expected(f)} lie there"),
    Fault.TOO_MANY: _plain(lambda f: f"called as {_last(f)}; {_expected(f)} lie there"),
    Fault.OTHER_NAME: lambda f, _, s: (
        f"{_said_name(f)} was said; the sheet's first name is {_sheets(f, s)}"
    ),
    Fault.NO_NUMBER: _plain(lambda _: "the name was said without a number"),
    Fault.TOO_FAST: _plain(lambda f: f"at {_rate(f)}, too fast to follow here"),
    Fault.TOO_SLOW: _plain(lambda f: f"at {_rate(f)}, slower than this drill asks for"),
    Fault.UNEVEN: _plain(lambda _: "the numbers came unevenly; keep a steady beat"),
    Fault.LONG_PAUSE: _plain(lambda f: f"a pause of {seconds(f.value)} inside the line"),
    Fault.FALSE_START: _plain(lambda _: "begun, and begun again"),
    Fault.CALLED_TWICE: _plain(lambda _: "called twice; the last call is taken"),
    Fault.TOO_QUIET: _plain(lambda f: f"only {f.value or 0.0:.0f} dB above the room; speak up"),
    Fault.UNEVEN_LOUDNESS: _plain(lambda _: "the loudness differs much from line to line"),
    Fault.CONFIRMED_WITHOUT_NUMBER: _plain(
        lambda f: f"confirmed without its number; say {_expected(f)}"
    ),
    Fault.CONFIRMED_WRONG: _plain(
        lambda f: (
            f"confirmed with {_last(f)}; {_expected(f)} was called"
            if f.heard[-1:] != (f.expected,)
            else "confirmed with the name of another line"
        )
    ),
    Fault.NOT_CONFIRMED: _plain(lambda f: f"not confirmed; say {_expected(f)}"),
    Fault.NOT_NOTICED: _plain(lambda _: "what the partner said here was not answered"),
    Fault.TOO_LATE: _plain(lambda f: f"answered after {seconds(f.value)}, which is late"),
    Fault.WRONG_ANSWER: _plain(lambda _: "answered, but not with the words that are due here"),
    Fault.NOT_BEGUN_AGAIN: _plain(
        lambda f: f"interrupted after {_last(f)}; begin again after an interruption"
    ),
}


def _sheets(finding: Finding, sheet: Sheet) -> str:
    return line_name(finding.item, None, sheet) or "another"


def _said_name(finding: Finding) -> str:
    return f"“{finding.words}”" if finding.words else "another name"
