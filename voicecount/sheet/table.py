"""The sheet as a table for the terminal."""

from rich.markup import escape
from rich.table import Table

from voicecount.sheet.model import Item, Sheet

_COLUMNS = ("", "group", "read back as", "also called", "expected", "package", "pieces", "note")


def sheet_table(sheet: Sheet) -> Table:
    """Show every line of a sheet, in the order of the count, then what is never counted."""
    title = escape(sheet.title if sheet.procedure is None else f"{sheet.title}: {sheet.procedure}")
    table = Table(title=title, title_justify="left")
    for column in _COLUMNS:
        right = column in {"", "expected", "package", "pieces"}
        table.add_column(column, justify="right" if right else "left")
    group = None
    for number, item in enumerate(sheet.items, start=1):
        if group not in {None, item.group}:
            table.add_section()
        shown = "" if item.group is group else item.group.value
        group = item.group
        table.add_row(str(number), shown, *(escape(cell) for cell in _cells(item)))
    if sheet.not_counted:
        table.add_section()
    for number, line in enumerate(sheet.not_counted):
        also = ", ".join(say.one for say in line.say[1:])
        cells = (line.say[0].one, also, "", "", "", line.note or "")
        shown = "not counted" if number == 0 else ""
        table.add_row("", shown, *(escape(cell) for cell in cells))
    return table


def _cells(item: Item) -> tuple[str, ...]:
    """Give the cells of one line from its name on."""
    expected = "" if item.expect is None else str(item.expect)
    if item.stated:
        expected += " stated"
    return (
        item.say[0].one,
        ", ".join(say.one for say in item.say[1:]),
        expected.strip(),
        "" if item.pack is None else str(item.pack),
        "" if item.pieces == 1 else str(item.pieces),
        item.note or "",
    )
