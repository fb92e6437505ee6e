"""Packages: items that are counted by the number they are packed in. Pure.

A package that does not hold its number is set aside whole and none of it is counted (AORN FAQ
2015 on counting by pack size; setting it aside: WHO and AORN, from memory).
"""


def is_whole(counted: int, pack: int | None) -> bool:
    """Tell whether a count is made of whole packages; true for what has no packages."""
    return pack is None or counted % pack == 0


def packages_to_come(total: int, expect: int | None, pack: int | None) -> int:
    """How many whole packages the sheet still expects on top of a total.

    0 when the rest is no whole number of packages, or when nothing is expected: such a
    difference is told at once, because no further package can settle it.
    """
    if pack is None or expect is None or total >= expect or (expect - total) % pack:
        return 0
    return (expect - total) // pack
