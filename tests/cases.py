"""Whole cases in typed words: an initial count, and counts that go place by place."""

from collections.abc import Iterator, Mapping
from typing import Any

from playing import Play, sheet_of

from voicecount.count.events import Event
from voicecount.sheet.model import Sheet
from voicecount.words.numbers import in_words
from voicecount.words.places import BY_ID

LAPS: dict[str, Any] = {"id": "lap", "say": ["lap sponge"], "pack": 5, "expect": 10}
NEEDLES: dict[str, Any] = {
    "id": "needle",
    "say": ["suture needle"],
    "group": "sharps",
    "expect": 4,
    "stated": True,
}
CLAMPS: dict[str, Any] = {"id": "clamp", "group": "instruments", "expect": 2}
TIPS: dict[str, Any] = {"id": "tip", "say": ["suction tip"], "group": "miscellaneous"}
TIPS |= {"pieces": 2, "expect": 1}
CAVITY = {"id": "uterus", "kind": "cavity", "say": "uterine count"}
INITIAL = {"id": "initial", "kind": "initial", "say": "initial count"}
CLOSING = {"id": "closing", "kind": "closing", "say": "closing count"}
FINAL = {"id": "final", "kind": "final", "say": "final count"}
TEAM = [{"id": "ada", "say": "Ada Field"}, {"id": "ben", "say": "Ben Moss"}]


def case_of(*items: dict[str, Any], plan: tuple[dict[str, Any], ...] = (), **more: Any) -> Sheet:
    """Make a sheet of a whole case; without items, lap sponges and suture needles."""
    return sheet_of(*(items or (LAPS, NEEDLES)), plan=list(plan or (INITIAL, CLOSING)), **more)


CASE = case_of()


def run(n: int) -> str:
    """Count from one: "one two three"; "none" for nothing."""
    return " ".join(in_words(at) for at in range(1, n + 1)) or "none"


def called(sheet: Sheet, item: str, n: int, place: str = "") -> list[str]:
    """Say a line as the scrub calls it, and its number as the circulator says it."""
    line = sheet.item(item)
    where = f" {BY_ID[place].phrases[0]}" if place else ""
    pieces = f" in {in_words(line.pieces)} pieces" if line.pieces > 1 and n else ""
    pack = line.pack if line.pack and not place else 0
    packs = [run(pack)] * (n // pack) if pack and n else [run(n)]
    calls = [f"scrub: {line.name(2)}{where} {packs[0]}{pieces}"]
    return [*calls, *(f"scrub: {more}" for more in packs[1:]), "(wait)", f"circ: {said(n)}"]


def said(n: int) -> str:
    """Say a number as the circulator does."""
    return in_words(n) if n else "none"


def first_count(sheet: Sheet, **numbers: int) -> Iterator[str]:
    """Say a whole initial count; what the sheet expects, where nothing else is given."""
    for item in sheet.items:
        yield from called(sheet, item.id, numbers.get(item.id, item.expect or 0))
    yield "circ: the count is finished"


def placed(sheet: Sheet, lines: Mapping[str, tuple[int, ...]]) -> Iterator[str]:
    """Say lines place by place, in the policy's order."""
    for item, numbers in lines.items():
        for place, n in zip(sheet.policy.places, numbers, strict=True):
            yield from called(sheet, item, n, place)


def begun(sheet: Sheet = CASE, *script: str, told_apart: bool = True) -> Play:
    """Play the initial count of a case, and more."""
    return Play(sheet, told_apart).go(*first_count(sheet), *script)


def of_kind(played: Play, kind: str) -> list[Any]:
    """Give the events of a kind."""
    found: list[Event] = [event for event in played.events if event.kind == kind]
    return found


def told(played: Play, form: str, *answers: str, agreed: str, by: str = "scrub") -> Play:
    """Fill in a form by voice: its command, its answers, then the other person's words."""
    other = {"scrub": "circ", "circ": "scrub", "one": "one"}[by]
    return played.go(f"{by}: {form}", *(f"{by}: {one}" for one in answers), f"{other}: {agreed}")


def walked(played: Play, *, searched: int = 9) -> Play:
    """Go through the steps before and after the recount that people do, with nothing found."""
    for _ in range(searched):
        played.go("circ: nothing found there")
    return played


BOTH_AGREE = ("scrub: yes that is right", "circ: yes that is right")

SHORT = {"lap": (3, 0, 6, 0)}
WHOLE = {"lap": (3, 0, 7, 0)}
NEEDLES_AT: dict[str, tuple[int, ...]] = {"needle": (0, 1, 3, 0)}
DONE = "circ: that has been done"
TWO_COUNTS = case_of(plan=(INITIAL, CLOSING, FINAL))


def short(sheet: Sheet = CASE) -> Play:
    """Play a case up to a closing count in which one lap sponge is short."""
    return begun(sheet, "circ: begin the closing count", *placed(sheet, SHORT))


def recounted(sheet: Sheet = CASE) -> Play:
    """Play on through pause, telling and the recount, which is still one short."""
    return short(sheet).go(DONE, DONE, *placed(sheet, SHORT))


def closed(played: Play) -> list[Any]:
    """Give what was closed."""
    return of_kind(played, "discrepancy_closed")
