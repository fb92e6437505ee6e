"""``phrases``: everything that can be said besides a count, as a table or as the page in docs."""

from collections.abc import Iterator, Sequence
from pathlib import Path

from rich.table import Table

from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.sheet.plan import DEFAULT_PLAN
from voicecount.show.console import console, printable
from voicecount.words import choices
from voicecount.words.choices import Choice
from voicecount.words.commands import CASE_COMMANDS, COMMANDS, HUSH, When
from voicecount.words.places import PLACES

_HEAD = """\
# What can be said

Made by `voicecount phrases --markdown`; `voicecount phrases SHEET` shows a sheet's own.
The first phrase of each row is the one that we teach. Several words are heard better than one.
"""

_WHEN = {
    When.ALWAYS: "In every count",
    When.CASE: "During a case",
    When.PLACES: "In a count that goes place by place",
    When.DISCREPANCY: "While a difference is open",
}

_ANSWERS: tuple[tuple[str, tuple[Choice, ...]], ...] = (
    ("Why a count is not done", choices.WAIVE),
    ("Why an item leaves the count", choices.HAND_OVER),
    ("When packing is to come out", choices.REMOVAL),
    ("What an image shows", choices.IMAGE),
    ("Who read it", choices.READER),
    ("Why no image is taken", choices.NO_IMAGE),
    ("What was decided about what is not found", choices.DECISION),
    ("Why the expected number was not right", choices.EXPLAINED),
)

Rows = Iterator[tuple[str, str]]


def phrases(sheet: Path | None, *, as_markdown: bool) -> None:
    """Print all phrases; with a sheet, its own counts, sites and people as well."""
    own = None if sheet is None else load_sheet(sheet)
    if as_markdown:
        print(markdown(own), end="")  # noqa: T201 - this is the output
        return
    out = console()
    for title, rows in _parts(own):
        table = Table(title=title, title_justify="left")
        table.add_column("say")
        table.add_column("what it does" if title in _WHEN.values() else "id")
        for said, means in rows:
            table.add_row(printable(said), printable(means))
        out.print(table)


def markdown(sheet: Sheet | None = None) -> str:
    """Give docs/phrases.md."""
    parts = [_HEAD]
    for title, rows in _parts(sheet):
        head = "what it does" if title in _WHEN.values() else "id in the record"
        lines = [f"\n## {title}\n", f"| say | {head} |", "|---|---|"]
        parts.append("\n".join([*lines, *(f"| {said} | {means} |" for said, means in rows)]) + "\n")
    return "".join(parts)


def _parts(sheet: Sheet | None) -> Iterator[tuple[str, Rows]]:
    for when, title in _WHEN.items():
        yield title, _commands(when)
    yield "While the assistant speaks", iter([(_said(HUSH.phrases), HUSH.does)])
    plan = DEFAULT_PLAN if sheet is None else sheet.plan
    begins = ((f"“begin the {count.say}”", count.id) for count in plan)
    yield "Counts of the plan", begins
    yield "Places", ((_said(place.phrases), place.label) for place in PLACES)
    for title, answers in _ANSWERS:
        yield title, _choices(answers)
    yield "Sites in the patient", _choices(choices.SITES if sheet is None else sheet.where_inside)
    if sheet is not None and sheet.people:
        yield "People", _choices(sheet.people)


def _commands(when: When) -> Rows:
    for command in (*COMMANDS, *CASE_COMMANDS):
        if command.when is when:
            yield _said(command.phrases), command.does


def _choices(answers: Sequence[Choice]) -> Rows:
    for choice in answers:
        yield _said(choice.phrases), choice.id


def _said(texts: Sequence[str]) -> str:
    return ", ".join(f"“{text}”" for text in texts)
