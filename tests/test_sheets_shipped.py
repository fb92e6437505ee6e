"""The sheets that ship, against what is published and what is common in the trade.

Package sizes: published in teaching material on surgical counts, read second-hand: lap sponges 5,
gauze 10, cotton patties 10, dissecting sponges 5, suture boots 10. Order of the groups: AST,
Recommended Standards of Practice for Counts (2006), and ORNAC, both from memory.
"""

from itertools import groupby
from pathlib import Path

import pytest

from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Item, Sheet
from voicecount.sheet.plan import Group

FOLDER = Path(__file__).parent.parent / "grammars"
SHEETS = {
    path.stem: load_sheet(path) for path in sorted(FOLDER.glob("*.yaml")) if path.stem != "policy"
}
CAESAREAN, LONG, FIRST = (SHEETS[name] for name in ("caesarean", "laparotomy", "first_try"))
BOTH = pytest.mark.parametrize("sheet", [CAESAREAN, LONG], ids=["caesarean", "laparotomy"])
EACH = pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS.keys())


def called(sheet: Sheet, name: str) -> Item:
    """Find the line that goes by a name."""
    (found,) = [item for item in sheet.items if name in {say.one.lower() for say in item.say}]
    return found


def place(sheet: Sheet, name: str) -> int:
    """Give the place of a line in the count."""
    return sheet.items.index(called(sheet, name))


@EACH
def test_order_of_groups(sheet: Sheet) -> None:
    """Sponges, then sharps, then miscellaneous, then instruments; each group is kept together.

    Source: AST 2006 and ORNAC, from memory. Items of one kind kept together: common practice, no
    source.
    """
    assert [group for group, _ in groupby(item.group for item in sheet.items)] == list(Group)


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("gauze", 10),
        ("lap sponge", 5),
        ("dissecting sponge", 5),
        ("cotton patty", 10),
        ("suture boot", 10),
    ],
)
def test_package_sizes(name: str, size: int) -> None:
    """Packages hold what published teaching material says they hold (read second-hand)."""
    holding = [
        item.pack
        for sheet in SHEETS.values()
        for item in sheet.items
        if name in {say.one for say in item.say}
    ]

    assert holding
    assert set(holding) == {size}


@EACH
def test_expected_numbers_are_whole_packages(sheet: Sheet) -> None:
    """Packaged items are expected in whole packages (AORN FAQ 2015: count by package size)."""
    for item in sheet.items:
        if item.pack is not None and item.expect is not None:
            assert item.expect % item.pack == 0, item.id


@BOTH
def test_gauze_that_shows_on_an_x_ray_comes_first(sheet: Sheet) -> None:
    """Radiopaque gauze is counted before all other sponges: common practice, no source."""
    assert sheet.items[0].name(1) == "X-ray gauze"


@BOTH
def test_ties_are_not_counted(sheet: Sheet) -> None:
    """A tie without a needle is never counted: common practice, no source."""
    (tie,) = [line for line in sheet.not_counted if line.id == "tie"]

    assert "needle" in (tie.note or "")


@BOTH
def test_tip_and_scratch_pad(sheet: Sheet) -> None:
    """An electrode tip and its scratch pad are counted one after the other: common practice, no
    source.
    """
    assert place(sheet, "scratch pad") == place(sheet, "electrode tip") + 1


@pytest.mark.parametrize("sheet", [CAESAREAN, LONG, FIRST])
def test_marking_pen_in_pieces(sheet: Sheet) -> None:
    """A marking pen counts as several pieces: common practice, no source."""
    assert called(sheet, "marking pen").pieces > 1


@BOTH
def test_suction_tip_in_two_pieces(sheet: Sheet) -> None:
    """A suction tip is one item in two pieces: common practice, no source."""
    assert called(sheet, "suction tip").pieces == 2


@BOTH
def test_sharp_and_dull_apart(sheet: Sheet) -> None:
    """Sharp and dull forms of one retractor are two lines: common practice, no source."""
    assert called(sheet, "sharp rake") is not called(sheet, "dull rake")
    assert place(sheet, "dull rake") == place(sheet, "sharp rake") + 1


@EACH
def test_suture_needles_by_printed_number(sheet: Sheet) -> None:
    """Suture needles may be stated by the number printed on the package.

    Source: ORNAC correction to the 12th edition, 3.2.61 (3 September 2015).
    """
    assert called(sheet, "suture needle").stated


def test_sizes_and_kinds() -> None:
    """There is a small sheet, a caesarean birth over all groups, and a list of 60 or more."""
    assert 5 <= len(FIRST.items) <= 6
    assert 18 <= len(CAESAREAN.items) <= 24
    assert len(LONG.items) >= 60
    assert sum(len(item.say) > 1 for item in CAESAREAN.items) >= 5
