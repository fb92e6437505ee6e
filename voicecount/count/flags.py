"""What a line of the tally is marked with, one code each; docs/flags.md is made from here."""

from enum import StrEnum


class Flag(StrEnum):
    """A mark on a line of the tally. None of them says that a count is right."""

    OUT_OF_ORDER = "out_of_order"
    DIFFERS_FROM_SHEET = "differs_from_sheet"
    NOT_CONFIRMED = "not_confirmed"
    RECOUNT_DUE = "recount_due"
    RECOUNTED = "recounted"
    FURTHER_PACKAGE = "further_package"
    PACKAGE_SET_ASIDE = "package_set_aside"
    ADDITION = "addition"
    STATED = "stated"
    INTERRUPTED = "interrupted"
    DISPUTED = "disputed"
    TAKEN_BACK = "taken_back"
    ROLES_NOT_TOLD_APART = "roles_not_told_apart"


MEANINGS: dict[Flag, str] = {
    Flag.OUT_OF_ORDER: "first stored after a line that stands later on the sheet",
    Flag.DIFFERS_FROM_SHEET: "the stored count is not the sheet's number",
    Flag.NOT_CONFIRMED: "stored, but the circulator has not said its number",
    Flag.RECOUNT_DUE: "the stored count no longer stands and is to be counted again",
    Flag.RECOUNTED: "counted again; the record keeps both counts",
    Flag.FURTHER_PACKAGE: "made of more than one package, each counted from one",
    Flag.PACKAGE_SET_ASIDE: "a package did not hold its number; none of it is counted",
    Flag.ADDITION: "part of it was called an addition",
    Flag.STATED: "a total was said; it was not counted one by one",
    Flag.INTERRUPTED: "a call was cut off, and nothing of it was stored",
    Flag.DISPUTED: "the two people said different numbers at some time",
    Flag.TAKEN_BACK: "a stored line was taken back by both people",
    Flag.ROLES_NOT_TOLD_APART: "one channel only: who spoke is known from the turn, not the voice",
}
"""What each code means, in words for a person."""

LASTING = frozenset(
    {
        *(Flag.OUT_OF_ORDER, Flag.RECOUNTED, Flag.FURTHER_PACKAGE, Flag.PACKAGE_SET_ASIDE),
        *(Flag.ADDITION, Flag.STATED, Flag.INTERRUPTED, Flag.DISPUTED, Flag.TAKEN_BACK),
    }
)
"""Flags that tell what happened and never go away; the others tell how things stand now."""
