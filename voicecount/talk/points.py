"""What is open: never a judgement, and nothing where nothing is."""

from voicecount.count.compare import differing
from voicecount.count.standing import Ledger
from voicecount.count.tally import State
from voicecount.sheet.model import Item, Sheet
from voicecount.sheet.plan import CountKind
from voicecount.talk import wording, wording_case, wording_differences


def open_points(sheet: Sheet, ledger: Ledger) -> list[str]:
    """Give a sentence for each thing that is open: never a judgement, and nothing when none is."""
    said = not_confirmed(sheet, ledger, State.WAITING)
    again = ledger.keys(State.RECOUNT)
    if again:
        items = dict.fromkeys(key.item for key in again)
        said.append(wording.again([sheet.item(item) for item in items]))
    other = [
        (sheet.item(line.key.item), line.counted, line.expected)
        for line in differing(ledger)
        if line.counted is not None and line.expected is not None
    ]
    if other and ledger.count is not None and ledger.count.kind is CountKind.INITIAL:
        said.append(wording.differing(other))
    if ledger.left():
        left = dict.fromkeys(key.item for key in ledger.left())
        said.append(wording.left([sheet.item(item) for item in left]))
    return [*said, *open_differences(sheet, ledger)]


def summary(sheet: Sheet, ledger: Ledger) -> str:
    """Say at the end what is open, and how many lines are confirmed."""
    done = len(ledger.keys(State.CONFIRMED))
    total = len(ledger.keys(*State))
    return " ".join([*open_points(sheet, ledger), wording.finished(done, total)])


def not_confirmed(sheet: Sheet, ledger: Ledger, *states: State) -> list[str]:
    """Say which lines wait for their number, with their places where they have some."""
    keys = ledger.keys(*states)
    lines = [(sheet.item(key.item), ledger.tally(*key).total) for key in keys]
    if not lines:
        return []
    where = [wording_case.at_place(key.place) for key in keys if key.place is not None]
    if where:
        placed = [(*line, place) for line, place in zip(lines, where, strict=True)]
        return [wording_case.not_confirmed_at(placed)]
    return [wording.not_yet_confirmed(lines)]


def open_differences(sheet: Sheet, ledger: Ledger) -> list[str]:
    """Say which differences are open, and which were closed without the item."""
    said = []
    if ledger.discrepancies:
        lines = [
            (sheet.item(one.item), one.opened.differs, one.off)
            for one in ledger.discrepancies.values()
        ]
        said.append(wording_differences.open_discrepancies(lines))
    lost = [one for one in ledger.settled.values() if one.number in ledger.not_found]
    for words, over in (
        (wording_differences.were_not_found, False),
        (wording_differences.were_not_explained, True),
    ):
        names = [sheet.item(one.item).name(2) for one in lost if (one.off > 0) is over]
        said += [words(names)] if names else []
    return said


def with_counts(sheet: Sheet, ledger: Ledger, *states: State) -> list[tuple[Item, int]]:
    """Give the lines in these states with what stands."""
    return [(sheet.item(key.item), ledger.tally(*key).total) for key in ledger.keys(*states)]
